"""kniferail history of a rail, a holder and a knife, against the same book read here row by row, without its queries.

The book is one that year_book.c makes (changeovers, moves, alarms); which knives were on which holders, and what was asked
for them, is entered here, by a seed.

    knife_history.py KNIFERAIL YEAR_BOOK
"""
import bisect
import json
import os
import random
import re
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import unittest

KNIFERAIL, YEAR_BOOK = (os.path.abspath(sys.argv.pop(1)) for _ in range(2))
STATION = "heron mill, slitter 2"
DAYS, KNIVES, HOLDERS = 30, 9, 6
# KR_EDIT_KINDS and KR_KNIFE_PLACES of map.h
ENTER, MOUNT, DISMOUNT, REGROUND, BROKEN, OFFSET, REGRIND, BENCH, TEST_CUT = 24, 25, 26, 27, 28, 1, 2, 18, 10
ON_HOLDER, SHELF, GRINDER, IS_BROKEN = 1, 2, 3, 4
UM_OF = {"mm": 1000, "in": 25400}


def history(*arguments):
    return subprocess.run([KNIFERAIL, "history", *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False)


class Story:
    """Between the changeovers people mount knives and take them off, and ask for other things, too."""

    def __init__(self, book, seed):
        self.book, self.rng = book, random.Random(seed)
        self.times = [at for (at,) in book.execute("SELECT ended_at FROM changeover ORDER BY id")]
        self.place = {}  # of each knife: (rail, holder), or None
        self.knife = {}  # on each (rail, holder)
        self.number = 0

    def between(self, changeover):
        """A time of a maintenance request behind that changeover, each time another one."""
        self.number += 1
        return f"{self.times[changeover][:14]}{15 + self.number % 40:02}:{self.number % 60:02}.{self.number % 1000:03}Z"

    def ask(self, at, kind, rail, holder, code=0):
        self.book.execute("INSERT INTO edit_request(station, at, session, number, kind, rail, holder, class, edge_offset_um, position_um, "
                          "origin, code, result_rail, result_item, result_value, result_limit, sentence) "
                          "VALUES(1, ?, 1, ?, ?, ?, ?, 1, 9000, 0, '192.0.2.17', ?, 0, 0, 0, 0, 'as told')", (at, self.number, kind, rail, holder, code))

    def come_with_a_list(self, knife):
        """Ground on a holder of another book, and then on one of this."""
        self.book.execute("INSERT INTO knife VALUES(?, 1, ?, ?, 'upper 130', 130000, 5000, 0, 1, 1, ?, 0, 100, 1, NULL)",
                          (knife, self.times[3], f"K-{knife}0", HOLDERS + 1))
        for at, kind, holder in ((self.times[1], REGROUND, 2), (self.between(3), 0, HOLDERS + 1)):
            self.tell(at, knife, kind, 1, holder, ON_HOLDER, "list")

    def tell(self, at, knife, kind, rail, holder, place, origin="192.0.2.17"):
        self.book.execute("INSERT INTO knife_event(station, at, origin, knife, kind, rail, holder, place, metres, left_metres, diameter_before_um, "
                          "diameter_um, thickness_before_um, thickness_um, cause, fragments) VALUES(1, ?, ?, ?, ?, ?, ?, ?, 100, 0, 0, 0, 0, 0, 0, 0)",
                          (at, origin, knife, kind, rail, holder, place))

    def both(self, changeover, knife, kind, rail, holder, place):
        at = self.between(changeover)
        self.ask(at, kind, rail, holder)
        self.tell(at, knife, kind, rail, holder, place)

    def enter_all(self):
        for knife in range(1, KNIVES + 1):
            self.book.execute("INSERT INTO knife VALUES(?, 1, ?, ?, 'upper 130', 130000, 5000, NULL, 2, 0, 0, 0, 0, 0, NULL)",
                              (knife, self.times[0], f"K-{knife}0"))
            self.both(0, knife, ENTER, 0, 0, SHELF)
            self.place[knife] = None

    def something(self, changeover):
        rail, holder = 1, self.rng.randint(1, HOLDERS)
        there = self.knife.get((rail, holder))
        ashore = [knife for knife, place in self.place.items() if place is None]
        what = self.rng.random()
        if what < 0.25:  # of a holder or a rail, whatever stands there; refused ones, too
            self.ask(self.between(changeover), *self.rng.choice([(OFFSET, rail, holder), (BENCH, rail, 0), (BENCH, 2, 0), (TEST_CUT, 0, 0), (MOUNT, rail, holder, 155)]))
        elif there is None and ashore:
            knife = self.rng.choice(ashore)
            self.both(changeover, knife, MOUNT, rail, holder, ON_HOLDER)
            self.place[knife], self.knife[rail, holder] = (rail, holder), knife
        elif there is not None and what < 0.5:
            self.both(changeover, there, self.rng.choice([REGROUND, REGRIND]), rail, holder, ON_HOLDER)
        elif there is not None:
            self.both(changeover, there, DISMOUNT, rail, holder, self.rng.choice([SHELF, GRINDER]))
            self.place[there] = self.knife[rail, holder] = None
        elif ashore:
            self.both(changeover, self.rng.choice(ashore), REGROUND, 0, 0, SHELF)

    def write(self):
        self.enter_all()
        self.come_with_a_list(KNIVES + 1)
        for changeover in range(1, len(self.times)):
            self.something(changeover)
        self.book.commit()


class Reading:
    """What a knife's history has to be: rows of the book, put together by hand."""

    def __init__(self, book):
        book.row_factory = sqlite3.Row
        self.events = [dict(row) for row in book.execute("SELECT * FROM knife_event ORDER BY id")]
        self.requests = [dict(row) for row in book.execute("SELECT * FROM edit_request ORDER BY id")]
        self.alarms = [dict(row) for row in book.execute("SELECT * FROM alarm ORDER BY id")]
        self.changeovers = [dict(row) for row in book.execute("SELECT * FROM changeover ORDER BY id")]
        self.edits = [dict(row) for row in book.execute("SELECT * FROM edit ORDER BY id")]
        self.moves, self.holders = {}, {}
        for row in book.execute("SELECT * FROM changeover_move ORDER BY changeover, move"):
            self.moves.setdefault((row["changeover"], row["rail"], row["holder"]), []).append(dict(row))
        for row in book.execute("SELECT * FROM changeover_holder"):
            self.holders[row["changeover"], row["rail"], row["holder"]] = dict(row)

    def stays(self, knife):
        """A walk along its events."""
        stays, now = [], None
        for event in self.events:
            if event["knife"] != knife or (event["origin"] == "list" and event["kind"] != 0):
                continue
            if event["place"] == ON_HOLDER and now is None:
                now = [event["rail"], event["holder"], event["at"], None]
                stays.append(now)
            elif event["place"] != ON_HOLDER and now is not None:
                now[3], now = event["at"], None
        return stays

    def is_on(self, knife, rail, holder, at):
        return any((r, h) == (rail, holder) and since <= at and (until is None or at <= until) for r, h, since, until in self.stays(knife))

    def moved(self, knife):
        found = []
        for c in self.changeovers:
            for rail in (1, 2):
                for holder in range(1, HOLDERS + 2):
                    moves = self.moves.get((c["id"], rail, holder))
                    if moves and self.is_on(knife, rail, holder, c["ended_at"]):
                        found.append((c["ended_at"], c["order_number"], rail, holder, len(moves), moves[0]["from_um"], moves[-1]["to_um"],
                                      self.holders[c["id"], rail, holder]["deviation_um"]))
        return found

    def asked(self, knife):
        found = []
        for q in self.requests:
            own = any(e["knife"] == knife and (e["at"], e["origin"], e["kind"]) == (q["at"], q["origin"], q["kind"]) for e in self.events)
            names_rail = q["kind"] != TEST_CUT
            on = any(names_rail and q["rail"] == r and q["holder"] in (0, h) and since <= q["at"] and (until is None or q["at"] <= until)
                     for r, h, since, until in self.stays(knife))
            changed = any((e["at"], e["origin"]) == (q["at"], q["origin"]) and self.is_on(knife, e["rail"], e["holder"], e["at"]) for e in self.edits)
            if own or on or changed:
                found.append(q["at"])
        return found

    def alarmed(self, knife):
        return [(a["at"], a["code"]) for a in self.alarms if self.is_on(knife, a["rail"], a["item"], a["at"])]

    def errors(self, knife, holder):
        return [row[7] for row in self.moved(knife) if row[3] == holder and row[7] is not None]


class OfAKnife(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="kr_system_", dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None)
        cls.path = cls.folder.name + "/book.db"
        subprocess.run([YEAR_BOOK, cls.path, STATION, str(DAYS)], check=True, timeout=300)
        cls.book = sqlite3.connect(cls.path)
        Story(cls.book, 21).write()
        cls.reading = Reading(cls.book)

    @classmethod
    def tearDownClass(cls):
        cls.book.close()
        cls.folder.cleanup()

    def json(self, *arguments):
        answer = history("--book", self.path, "--format", "json", *arguments)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        return json.loads(answer.stdout)

    def test_it_is_what_happened_to_its_holders_while_it_was_there(self):
        seen = {"changeovers": 0, "edits": 0, "alarms": 0, "stays": 0}
        for knife in range(1, KNIVES + 2):
            name, told = f"K-{knife}0", self.json("--knife", f"K-{knife}0")
            self.assertEqual([(row["knife"], row["rail"], row["holder"], row["mounted_at"], row["off_at"]) for row in told["stays"]],
                             sorted(((name, *stay) for stay in self.reading.stays(knife)), key=lambda stay: stay[3]))
            self.assertEqual([(row["ended_at"], row["order_number"], row["rail"], row["holder"], row["moves"], row["from_um"], row["to_um"], row["deviation_um"])
                              for row in told["changeovers"]], self.reading.moved(knife))
            self.assertEqual([row["at"] for row in told["edits"]], self.reading.asked(knife))
            self.assertEqual([(row["at"], row["code"]) for row in told["alarms"]], self.reading.alarmed(knife))
            self.assertEqual([(row["rail"], row["holder"]) for row in told["holders"]], sorted({(r, h) for r, h, _, _ in self.reading.stays(knife)}))
            self.assertEqual(told["audit"], [])
            for row in told["holders"]:
                errors = self.reading.errors(knife, row["holder"])
                self.assertEqual(row["placements"], len(errors))
                if errors:
                    self.assertAlmostEqual(row["mean_um"], statistics.fmean(errors), delta=1e-9)
            for table in seen:
                seen[table] += len(told[table])
        print(seen)
        self.assertTrue(all(n >= KNIVES for n in seen.values()), seen)  # else nothing was compared

    def test_who_was_on_a_holder_is_told_of_the_holder_too(self):
        all_stays = sorted((stay[2], stay[0], stay[1], f"K-{knife}0", stay[3]) for knife in range(1, KNIVES + 2) for stay in self.reading.stays(knife))
        self.assertEqual([(row["mounted_at"], row["rail"], row["holder"], row["knife"], row["off_at"]) for row in self.json()["stays"]], all_stays)
        one = self.json("--rail", 1, "--holder", 3)["stays"]
        self.assertEqual([row["knife"] for row in one], [stay[3] for stay in all_stays if stay[2] == 3])
        self.assertEqual(self.json("--rail", 2)["stays"], [])

    def test_a_stay_belongs_to_a_period_that_it_reaches_into(self):
        knife, stay = next((knife, stay) for knife in range(1, KNIVES + 2) for stay in self.reading.stays(knife) if stay[3] is not None)
        middle = self.reading.changeovers[bisect.bisect([c["ended_at"] for c in self.reading.changeovers], stay[2])]["ended_at"][:-1]
        told = self.json("--knife", f"K-{knife}0", "--from", middle, "--to", middle)
        self.assertEqual([(row["mounted_at"], row["off_at"]) for row in told["stays"]], [tuple(stay[2:])])
        self.assertEqual(self.json("--knife", f"K-{knife}0", "--to", "2001")["stays"], [])

    def test_with_a_holder_it_is_of_both(self):
        knife = next(knife for knife in range(1, KNIVES + 2) if len({stay[1] for stay in self.reading.stays(knife)}) > 1)
        holder = self.reading.stays(knife)[0][1]
        told = self.json("--knife", f"K-{knife}0", "--rail", 1, "--holder", holder)
        self.assertEqual([row["ended_at"] for row in told["changeovers"]], [row[0] for row in self.reading.moved(knife) if row[3] == holder])
        self.assertEqual({row["holder"] for row in told["stays"]}, {holder})
        self.assertLess(len(told["changeovers"]), len(self.json("--knife", f"K-{knife}0")["changeovers"]))

    def test_a_knife_that_the_ledger_does_not_have_is_named_with_the_nearest(self):
        for unknown, near in (("K-41", "; did you mean 'K-4[0]'\\?|; did you mean 'K-10'\\?"), ("k-70", "; did you mean 'K-70'\\?"), ("something else", "")):
            answer = history("--book", self.path, "--knife", unknown)
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertRegex(answer.stderr, rf"^kniferail history: .*: the ledger of station {STATION} has no knife '{unknown}'({near})\n$")

    def longest(self):
        """The knife that was moved most often."""
        return max((f"K-{knife}0" for knife in range(1, KNIVES + 2)), key=lambda name: len(self.reading.moved(int(name[2:]) // 10)))

    def test_text_is_in_the_stations_unit_of_a_rail_a_holder_and_a_knife(self):
        with tempfile.TemporaryDirectory(prefix="kr_system_") as folder:
            inches = folder + "/inches.db"
            with sqlite3.connect(inches) as copy:
                self.book.backup(copy)
                copy.execute("UPDATE station SET length_unit = 1")
            copy.close()
            for part in (("--rail", 1), ("--rail", 1, "--holder", 2), ("--knife", self.longest())):
                for book, unit in ((self.path, "mm"), (inches, "in")):
                    tables = (history("--book", book, "--table", table, *part).stdout for table in ("changeovers", "edits", "holders"))
                    text = "".join(tables)  # the sentences of alarms are those that were stored
                    self.assertRegex(text, rf"^station {STATION}, tolerance 0\.\d+ {unit} either way; ")
                    self.assertEqual(set(re.findall(r"(?:(?<=\s)|(?<=_))(um|mm|in)(?=\s|,)(?! service)", text)), {unit}, part)
                    self.assertLessEqual(max(map(len, text.splitlines())), 100)
            um = [row["deviation_um"] for row in self.json("--rail", 1, "--holder", 2)["changeovers"]]
            for unit, of_one in UM_OF.items():
                told = self.json("--rail", 1, "--holder", 2, "--unit", unit)["changeovers"]
                for row, plain in zip(told, um, strict=True):
                    self.assertAlmostEqual(row[f"deviation_{unit}"], plain / of_one, delta=1e-12)


if __name__ == "__main__":
    unittest.main(verbosity=2)
