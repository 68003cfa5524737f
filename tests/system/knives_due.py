"""kniferail knives due: for how many orders knives will do, reckoned here by Python's statistics and SQL from the same book.

    knives_due.py KNIFERAIL YEAR_BOOK
"""
import json
import math
import os
import pathlib
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import unittest

KNIFERAIL, YEAR_BOOK = (os.path.abspath(sys.argv.pop(1)) for _ in range(2))
ROOT = pathlib.Path(__file__).resolve().parents[2]
STATION = "heron mill, slitter 2"
LIMITS = {"upper": 400000, "lower": 90000}
KNIVES = (  # name, kind, place, rail, holder, metres; holders with even numbers cut in every order of that book
    ("cuts", "upper", "holder", 1, 2, 20000), ("sometimes", "upper", "holder", 1, 6, 310000), ("never", "upper", "holder", 1, 3, 399999),
    ("due", "lower", "holder", 2, 4, 90000), ("long due", "lower", "holder", 2, 8, 123456), ("ready", "lower", "shelf", "", "", 500),
    ("no limit", "odd", "holder", 2, 10, 10**6), ("away", "upper", "grinder", "", "", 10**6), ("broken", "upper", "broken", "", "", 10**6))


def knives(*arguments):
    return subprocess.run([KNIFERAIL, "knives", *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False)



class Due(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="kr_due_")
        cls.book, cls.config = (pathlib.Path(cls.folder.name) / name for name in ("book.db", "station.cfg"))
        subprocess.run([YEAR_BOOK, cls.book, STATION, "20"], check=True, timeout=60)
        cls.write_config(", ".join(f'{{ kind = "{kind}"; due_metres = {metres}; }}' for kind, metres in LIMITS.items()))
        rows = ["name,kind,place,rail,holder,metres,edge_um"] + [",".join(map(str, row)) + ("," if row[3] == "" else ",0") for row in KNIVES]
        path = pathlib.Path(cls.folder.name) / "list.csv"
        path.write_text("\r\n".join(rows) + "\r\n", encoding="ascii")
        taken = knives("import", path, "--book", cls.book)
        assert taken.returncode == 0, taken.stderr
        with sqlite3.connect(cls.book) as book:  # every third order does without holder 6; changed by hand, and meant so
            book.execute("UPDATE changeover_holder SET cut = 0, seal = NULL WHERE rail = 1 AND holder = 6 AND changeover % 3 = 0")

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    @classmethod
    def write_config(cls, kinds):
        text = (ROOT / "config/small-shear.cfg").read_text(encoding="utf-8").replace('name = "small-shear"', f'name = "{STATION}"')
        text = text.replace('    rails_move = "together";', f'    rails_move = "together";\n    knife_kinds = ( {kinds} );')
        cls.config.write_text(f'{text}\nbook = "{cls.book}";\n', encoding="utf-8")

    def due(self, *arguments):
        answer = knives("due", "--config", self.config, "--format", "json", *arguments)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        return json.loads(answer.stdout)["due"]

    def orders(self, rail, holder, last):
        """Metres of each of the last orders that were run until the next changeover, 0 where the holder did not cut."""
        with sqlite3.connect(f"file:{self.book}?mode=ro", uri=True) as book:
            rows = book.execute("SELECT id, cut_metres FROM changeover WHERE job = 1 ORDER BY id").fetchall()
            cuts = {row[0] for row in book.execute("SELECT changeover FROM changeover_holder WHERE rail = ? AND holder = ? AND cut > 0", (rail, holder))}
        ran = [(i, after - before) for (i, before), (_, after) in zip(rows, rows[1:]) if after > before]
        self.assertGreater(len({metres for _, metres in ran}), 20)
        return [metres if i in cuts else 0 for i, metres in ran][-last:]

    def expect(self, row, last):
        left = LIMITS[row["kind"]] - row["metres"]
        self.assertEqual((row["due_metres"], row["left_metres"]), (LIMITS[row["kind"]], left))
        if row["rail"] is None:
            self.assertEqual((row["metres_an_order"], row["orders"], row["of_orders"]), (None, None, None))
            return
        metres = self.orders(row["rail"], row["holder"], last)
        mean, sd, n = statistics.mean(metres), statistics.stdev(metres), len(metres)
        self.assertEqual(row["of_orders"], n)
        self.assertAlmostEqual(row["metres_an_order"], mean, 6)
        if mean == 0:
            self.assertIsNone(row["orders"])
            return
        left = max(0, left)
        orders, deviation = left / mean, math.sqrt(left * sd**2 / mean**3 + (left * sd / mean**2) ** 2 / n)
        for column, value in (("orders", orders), ("orders_sd", deviation), ("orders_from", max(0, orders - 1.959963984540054 * deviation)),
                              ("orders_to", orders + 1.959963984540054 * deviation)):
            self.assertAlmostEqual(row[column], value, 6, (row["name"], column))

    def test_each_knife_with_a_limit_has_its_forecast_the_next_to_be_due_first(self):
        for last in (50, 20, 2):
            rows = self.due("--orders", last)
            for row in rows:
                self.expect(row, last)
            self.assertEqual([row["name"] for row in rows[:2]], ["long due", "due"])
            self.assertEqual({row["name"] for row in rows}, {"cuts", "sometimes", "never", "due", "long due", "ready"})
            foretold = [row["orders"] for row in rows if row["orders"] is not None]
            self.assertEqual(foretold, sorted(foretold))
            self.assertTrue(all(row["orders"] is None for row in rows[len(foretold):]))

    def test_the_text_says_in_about_how_many_orders_and_of_a_few_orders_that_they_say_little(self):
        text = knives("due", "--config", self.config).stdout
        self.assertRegex(text, r"long due +lower +holder +2 +8 ")
        self.assertIn("orders: after about so many the knife is due, with 95 % confidence between", text)
        self.assertNotIn("caution", text)
        self.assertIn("caution: fewer than 20 orders say little", knives("due", "--config", self.config, "--orders", 19).stdout)

    def test_a_part_of_the_station_and_what_cannot_be_asked(self):
        self.assertEqual([row["name"] for row in self.due("--rail", 1, "--holder", 2)], ["cuts"])
        for arguments in (("--book", self.book), ("--config", self.config, "--orders", 1), ("--config", self.config, "--orders", "many")):
            self.assertEqual(knives("due", *arguments).returncode, 2, arguments)
        self.assertEqual(knives("list", "--config", self.config, "--orders", 5).returncode, 2)

    def test_without_limits_nothing_is_due_and_that_is_said(self):
        self.write_config("")
        answer = knives("due", "--config", self.config)
        self.write_config(", ".join(f'{{ kind = "{kind}"; due_metres = {metres}; }}' for kind, metres in LIMITS.items()))
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))
        self.assertIn("the station has no knife_kinds", answer.stderr)


if __name__ == "__main__":
    unittest.main(verbosity=2)
