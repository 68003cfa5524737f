"""Every alarm of provoke.def that a person provokes at the machine (BY_HAND) or nobody provokes (NOT_PROVOKED) is raised by the
test that its row names, and that test's source names the alarm. test_provocations does the others.

Called with the folder in which those tests have noted what their stations raise (note_alarm() in rig.c). ctest runs them
before this one.
"""
import re
import sys
import unittest
from pathlib import Path

NOTED = Path(sys.argv.pop(1))
ROOT = Path(__file__).resolve().parents[2]


def read(path):
    return (ROOT / path).read_text(encoding="utf-8")


ROWS = dict(re.findall(r'(?m)^(?:BY_HAND|NOT_PROVOKED)\((\w+), "(\w+)",', read("include/kniferail/provoke.def")))
NUMBERS = {name: int(number) for name, number in re.findall(r"(?m)^    X\((\w+), (\d+), ", read("include/kniferail/alarm.h"))}


def code_of(test):
    """The test's source without its comments."""
    return re.sub(r"/\*.*?\*/", "", read(f"tests/unit/{test}.c"), flags=re.DOTALL)


def raised_by(test):
    return {int(line) for line in (NOTED / test).read_text(encoding="utf-8").split()}


class NotProvoked(unittest.TestCase):
    def test_every_row_is_read(self):
        table = read("include/kniferail/provoke.def")
        self.assertEqual(len(ROWS), table.count("\nNOT_PROVOKED(") + table.count("\nBY_HAND("))
        self.assertGreater(len(ROWS), 20)

    def test_each_is_raised_by_the_test_that_its_row_names(self):
        for test in sorted(set(ROWS.values())):
            raised, code = raised_by(test), code_of(test)
            for name in sorted(name for name, named in ROWS.items() if named == test):
                with self.subTest(alarm=name, test=test):
                    self.assertIn(NUMBERS[name], raised, f"in {test} no station raises {name}")
                    self.assertRegex(code, rf"\bKR_ALARM_{name}\b", f"{test} asserts nothing about {name}")


if __name__ == "__main__":
    unittest.main(verbosity=2)
