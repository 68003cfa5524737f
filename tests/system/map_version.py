"""The register map against the one of the version before: every difference has its CHANGE() row in regmap.def, and every such
row speaks of something that is there. map-1.json is what `kniferail map --format json` said of version 1, without the
sentences: a changed sentence is not a changed meaning, and whether a meaning changed only people can tell.

    map_version.py KNIFERAIL
"""
import json
import pathlib
import subprocess
import sys
import unittest

KNIFERAIL = sys.argv.pop(1)
BEFORE = json.loads((pathlib.Path(__file__).parent / "map-1.json").read_text())


def rows(table, *identity):
    return {".".join(str(row[key]) for key in identity): row for row in table}


def inside(row, block):
    return row["area"] == block["area"] and block["first"] <= row["address"] < block["first"] + block["words"]


class Version(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        said = subprocess.run([KNIFERAIL, "map", "--format", "json"], capture_output=True, text=True, timeout=30, check=True)
        cls.now = json.loads(said.stdout)
        cls.kinds = {}
        for row in cls.now["changes"]:
            cls.kinds.setdefault(row["name"], set()).add(row["kind"])

    def named(self, kind, name):
        return kind in self.kinds.get(name, set())

    def assert_named(self, kind, name, why):
        self.assertTrue(self.named(kind, name), f"{name} {why}, and no row CHANGE({kind}, {name}, ...) says so")

    def judge(self, before, now, is_covered=lambda row: False):
        """Rows by name: which are gone, which differ in something that the older row said, which are new. A new row that is
        covered needs no row of its own."""
        for name, row in before.items():
            if name not in now:
                self.assert_named("GONE", name, "is gone")
            elif any(now[name].get(key) != value for key, value in row.items()):
                self.assert_named("CHANGED", name, "differs")
        for name, row in now.items():
            if name not in before and not is_covered(row):
                self.assert_named("NEW", name, "is new")

    def test_the_version_is_the_next_one(self):
        self.assertEqual(self.now["map_version"], BEFORE["map_version"] + 1)
        self.assert_named("CHANGED", "MAP_VERSION", "differs")

    def test_blocks(self):
        self.judge(rows(BEFORE["blocks"], "name"), rows(self.now["blocks"], "name"))

    def test_registers(self):
        new = [block for block in self.now["blocks"] if self.named("NEW", block["name"])]
        self.judge(rows(BEFORE["registers"], "name"), rows(self.now["registers"], "name"),
                   lambda row: any(inside(row, block) for block in new))

    def test_rows_of_bits(self):
        self.judge(rows(BEFORE["bits"], "name"), rows(self.now["bits"], "name"))

    def test_numbers_and_bits_of_lists(self):
        """A number that is added to a list misleads nobody: it needs no row."""
        before = {f"{name}.{word}": {"number": number} for name, word, number in BEFORE["numbers"]}
        now = {f"{name}.{word}": {"number": row["number"]} for name, words in self.now["numbers"].items()
               for word, row in words.items()}
        lists = {name.split(".")[0] for name in before}
        self.judge(before, {name: row for name, row in now.items() if name in before})
        for whole in {name.split(".")[0] for name in now} - lists:
            self.assert_named("NEW", whole, "is a new list")

    def test_results_and_alarms_keep_their_numbers_and_kinds(self):
        for table, keys in (("results", ("name", "item", "value")), ("alarms", ("name", "item", "value", "reaction"))):
            now = {row["code"]: row for row in self.now[table]}
            for code, *before in BEFORE[table]:
                if [now.get(code, {}).get(key) for key in keys] != before:
                    self.assert_named("CHANGED", f"{table}.{before[0]}", "differs")

    def test_each_row_speaks_of_something(self):
        known = {name for map_ in (BEFORE, self.now) for table in ("blocks", "registers", "bits") for name in rows(map_[table], "name")}
        known |= {f"{name}.{word}" for name, word, _ in BEFORE["numbers"]} | set(self.now["numbers"])
        known |= {f"{name}.{word}" for name, words in self.now["numbers"].items() for word in words}
        known |= {f"{table}.{row[1]}" for table in ("results", "alarms") for row in BEFORE[table]}
        self.assertEqual(set(self.kinds) - known, set())
        self.assertLessEqual({kind for kinds in self.kinds.values() for kind in kinds}, {"NEW", "CHANGED", "GONE"})


unittest.main()
