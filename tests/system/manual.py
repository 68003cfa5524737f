"""The manual pages against the programs: every option and command that a program's own help names stands in its page, and
none else; the cautions and the exit statuses are there; and groff has nothing to warn of.

    manual.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM KNIFERAIL-PANEL
"""
import pathlib
import re
import subprocess
import sys
import unittest

KNIFERAILD, KNIFERAIL, SIMULATOR, PANEL = (sys.argv.pop(1) for _ in range(4))
ROOT = pathlib.Path(__file__).resolve().parents[2]
PAGES = {"kniferail": ROOT / "src/cli/kniferail.1", "kniferaild": ROOT / "src/daemon/kniferaild.8",
         "kniferail-sim": ROOT / "sim/kniferail-sim.1", "kniferail-panel": ROOT / "src/panel/kniferail-panel.1"}
MADE = pathlib.Path(KNIFERAIL).resolve().parent / "package"  # the pages that the build writes from tables
OPTION = r"(?<![\w-])--[a-z][a-z-]*"


def said(*command):
    return subprocess.run(command, capture_output=True, text=True, timeout=30, check=True).stdout


def shown(page):
    """As plain text, as a reader sees it; groff's warnings are failures."""
    done = subprocess.run(["groff", "-man", "-ww", "-Tascii", "-P-cbou", "-rLL=1000n", page], capture_output=True, text=True,
                          timeout=30, check=True)
    if done.stderr:
        raise AssertionError(done.stderr)
    return done.stdout


def helps():
    commands = re.findall(r"^  kniferail (\w+)", said(KNIFERAIL, "help"), re.M)
    return {"kniferail": "\n".join(said(KNIFERAIL, "help", c) for c in commands if c not in ("help", "version")),
            "kniferaild": said(KNIFERAILD, "--help"), "kniferail-sim": said(SIMULATOR, "--help"), "kniferail-panel": said(PANEL, "--help")}, commands


class Manual(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.help, cls.commands = helps()
        cls.page = {name: shown(path) for name, path in PAGES.items()}

    def test_page_and_help_name_the_same_options(self):
        for name, page in self.page.items():
            self.assertEqual(sorted(set(re.findall(OPTION, page))), sorted(set(re.findall(OPTION, self.help[name]))), name)

    def test_every_command_has_its_entry(self):
        for command in self.commands:
            self.assertRegex(self.page["kniferail"], rf"(?m)^ +(kniferail )?{command}\b")
        answer = subprocess.run([SIMULATOR, "--config", ROOT / "config/wired-shear.cfg", "--listen", "127.0.0.1:0"],
                                input="help\nquit\n", capture_output=True, text=True, timeout=30, check=True).stdout
        known = re.findall(r"^(break|mend|[a-z]+)(?= |$)(?!.*:)", answer, re.M)
        self.assertIn("counts", known)
        for command in known:
            self.assertRegex(self.page["kniferail-sim"], rf"(?m)^ +(\w+, )?{command}\b", command)

    def test_cautions_and_exit_statuses_are_there(self):
        for name, page in self.page.items():
            for word in ("not a safety function", "Lock out", "gloves", "nobody in the zone", "reduced speed", "EXIT STATUS"):
                self.assertIn(word, page, name)

    def test_the_cautions_are_the_same_text_in_every_page_and_every_help(self):
        caution = re.search(r"Moving knives hurt people\..*reduced speed\.", " ".join(said(KNIFERAIL, "help").split())).group()
        for name in PAGES:
            self.assertIn(caution, " ".join(self.page[name].split()), name)
            self.assertIn(caution, " ".join(self.help[name].split()), name)

    def test_every_table_of_the_book_is_told(self):
        page = self.page["kniferaild"].partition("THE BOOK")[2]
        for table in re.findall(r"CREATE TABLE (\w+)\(", (ROOT / "src/book/versions.c").read_text()):
            self.assertRegex(page, rf"\b{table}\b", table)

    def test_what_a_page_sees_also_exists(self):
        for name, page in self.page.items():
            for other, section in re.findall(r"([\w-]+)\((\d)\)", page.partition("SEE ALSO")[2].splitlines()[1]):
                path = PAGES.get(other, MADE / f"{other}.{section}")
                self.assertTrue(path.name == f"{other}.{section}" and path.exists(), f"{name} sees {other}({section})")

    def test_the_pages_of_section_5_are_seen_from_those_of_the_programs(self):
        for name, other in (("kniferail", "kniferail-station(5)"), ("kniferaild", "kniferail-station(5)"),
                            ("kniferail-sim", "kniferail-faults(5)")):
            self.assertIn(other, self.page[name].partition("SEE ALSO")[2], name)


if __name__ == "__main__":
    unittest.main(verbosity=2)
