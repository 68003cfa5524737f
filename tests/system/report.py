"""kniferail report against the same book, reckoned here by other means: Python's statistics, SQL, and the chi-square
distribution by its closed forms.

    report.py KNIFERAIL YEAR_BOOK
"""
import collections
import contextlib
import csv
import datetime
import io
import json
import math
import os
import pathlib
import pty
import re
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree

KNIFERAIL, YEAR_BOOK = (os.path.abspath(sys.argv.pop(1)) for _ in range(2))
STATION = "heron mill, slitter 2"
DAYS = 30
SPENT = ("held", "correcting", "scanning", "dragging", "docking", "travelling", "waiting")
LOOSE = (1, 2)  # as year_book.c has it
TOLERANCE_UM = 203.2


def chi_square_above(x, degrees):
    """Closed forms: a finite sum for even degrees, erfc and a finite sum for odd ones (Abramowitz and Stegun, 26.4.4, 26.4.5; numbers from memory)."""
    if degrees % 2 == 0:
        return sum(math.exp(-x / 2 + k * math.log(x / 2) - math.lgamma(k + 1)) for k in range(degrees // 2))
    tail = sum(math.exp(-x / 2 + (k - 0.5) * math.log(x / 2) - math.lgamma(k + 0.5)) for k in range(1, (degrees - 1) // 2 + 1))
    return math.erfc(math.sqrt(x / 2)) + tail


def chi_square_quantile(p, degrees):
    low, high = 1e-12, 10.0 * degrees + 100
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if chi_square_above(middle, degrees) > 1 - p else (low, middle)
    return (low + high) / 2


def student_beyond(t, degrees):
    """Both tails of Student's t: one less Simpson's sum over its density."""
    scale = math.exp(math.lgamma((degrees + 1) / 2) - math.lgamma(degrees / 2)) / math.sqrt(degrees * math.pi)
    n = 2000
    points = [scale * (1 + (abs(t) * i / n) ** 2 / degrees) ** (-(degrees + 1) / 2) for i in range(n + 1)]
    return 1 - 2 * abs(t) / n / 3 * (points[0] + points[-1] + 4 * sum(points[1::2]) + 2 * sum(points[2:-1:2]))


def slope_of(x, y):
    """The slope through them, its standard deviation, and each one's distance."""
    slope, intercept = statistics.linear_regression(x, y)
    off = [b - slope * a - intercept for a, b in zip(x, y)]
    return slope, math.sqrt(sum(d * d for d in off) / (len(x) - 2) / sum((a - statistics.fmean(x)) ** 2 for a in x)), off


def chance_of(slope, sd, n):
    return 1 if slope == 0 else 0 if sd == 0 else student_beyond(min(slope / sd, 60), n - 2)


def report(*arguments, **environment):
    return subprocess.run([KNIFERAIL, "report", *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False,
                          env={**os.environ, "TZ": "UTC", **environment})


class Progress(unittest.TestCase):
    """The book of a year takes seconds to read and to check."""

    def on_terminal(self, book, kind):
        """All that the command writes to a terminal of that kind."""
        mine, theirs = pty.openpty()
        with subprocess.Popen((KNIFERAIL, "report", "--book", book, "--table", "shifts"), stdin=theirs, stdout=theirs,
                              stderr=theirs, env={**os.environ, "TERM": kind}) as process:
            os.close(theirs)
            written = b""
            with contextlib.suppress(OSError):  # the program ended, and with it the terminal
                while part := os.read(mine, 65536):
                    written += part
            os.close(mine)
            self.assertEqual(process.wait(60), 0)
        return written.decode()

    def test_a_terminal_is_told_of_it_but_neither_a_dumb_one_nor_a_pipe(self):
        with tempfile.TemporaryDirectory(prefix="kr_system_", dir="/dev/shm") as folder:
            book = folder + "/book.db"
            subprocess.run([YEAR_BOOK, book, STATION, "500"], check=True, timeout=300)
            written = self.on_terminal(book, "xterm")
            self.assertRegex(written, r"\r\033\[Kkniferail report: checking the book, \d+\.\d s")
            self.assertTrue(written.endswith("\r\033[K"), "the line is taken away in the end")
            self.assertNotRegex(self.on_terminal(book, "dumb"), r"\033|the book, ")
            piped = report("--book", book, "--table", "shifts")
            self.assertEqual((piped.returncode, piped.stderr), (0, ""))
            self.assertNotIn("\033", piped.stdout)


class YearBook(unittest.TestCase):
    """A book, and what an independent reader finds in it."""

    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="kr_system_", dir="/dev/shm")
        cls.book = cls.folder.name + "/book.db"
        subprocess.run([YEAR_BOOK, cls.book, STATION, str(DAYS)], check=True, timeout=300)
        cls.database = sqlite3.connect(f"file:{cls.book}?mode=ro", uri=True)

    @classmethod
    def tearDownClass(cls):
        cls.database.close()
        cls.folder.cleanup()

    def sql(self, query, *values):
        return self.database.execute(query, values).fetchall()

    def errors(self, rail, holder):
        return self.sql("SELECT c.ended_at, h.deviation_um FROM changeover c JOIN changeover_holder h ON h.changeover = c.id "
                        "WHERE h.rail = ? AND h.holder = ? AND h.deviation_um IS NOT NULL AND EXISTS (SELECT 1 FROM changeover_move m "
                        "WHERE m.changeover = c.id AND m.rail = h.rail AND m.holder = h.holder) ORDER BY c.id", rail, holder)


class Report(YearBook):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.told = cls.json()

    @classmethod
    def json(cls, *arguments, **environment):
        answer = report("--book", cls.book, "--format", "json", *arguments, **environment)
        assert (answer.returncode, answer.stderr) == (0, ""), answer
        return json.loads(answer.stdout)

    def test_changeovers_add_up_to_what_the_book_has(self):
        rows = self.told["changeovers"]
        self.assertEqual([row["period"] for row in rows], ["2025-01", "all"])
        months = self.json("--by", "day")["changeovers"]
        self.assertEqual(len(months), DAYS + 1)
        for row in rows + months:
            period = "%" if row["period"] == "all" else row["period"] + "%"
            spent = ", ".join(f"sum({word}_ms)" for word in SPENT)
            n, verified, planned, actual, total, longest, ratio, *of = self.sql(
                "SELECT count(*), sum(outcome = 1), sum(planned_ms), sum(actual_ms), sum(total_ms), max(total_ms), "
                f"avg(1.0 * actual_ms / planned_ms), {spent} FROM changeover WHERE ended_at LIKE ?", period)[0]
            self.assertEqual((row["changeovers"], row["verified"]), (n, verified))
            for name, ms in (("planned", planned), ("actual", actual), ("total", total), ("longest", longest), *zip(SPENT, of)):
                self.assertAlmostEqual(row[f"{name}_min"], ms / 60000, delta=1e-9)
            self.assertAlmostEqual(row["actual_to_planned"], ratio, delta=1e-12)
            self.assertAlmostEqual(sum(row[f"{word}_min"] for word in SPENT), row["total_min"], delta=1e-9)
            self.assertEqual(row["uncounted_min"], 0)

    def shifts_by_hand(self, begins, hours_ahead):
        """Second by second."""
        minutes, begun = [0] * len(begins), [0] * len(begins)
        for ended, total in self.sql("SELECT ended_at, total_ms FROM changeover"):
            end = datetime.datetime.fromisoformat(ended[:-1]) + datetime.timedelta(hours=hours_ahead)
            start = end - datetime.timedelta(milliseconds=total)

            def shift(moment):
                clock = moment.strftime("%H:%M")
                return max((i for i, b in enumerate(begins) if b <= clock), default=len(begins) - 1)
            begun[shift(start)] += 1
            step = datetime.timedelta(milliseconds=100)
            for i in range(total // 100):
                minutes[shift(start + i * step)] += 100 / 60000
        return begun, minutes

    def test_set_up_time_is_shared_out_over_the_shifts_of_this_computers_zone(self):
        for zone, hours, begins in (("UTC", 0, ["06:00", "14:00", "22:00"]), ("AAA-5", 5, ["05:01", "17:00"]), ("BBB+3", -3, ["00:00"])):
            rows = self.json("--shifts", ",".join(begins), TZ=zone)["shifts"]
            begun, minutes = self.shifts_by_hand(begins, hours)
            self.assertEqual([row["shift"] for row in rows], [f"{b}-{e}" for b, e in zip(begins, begins[1:] + begins[:1])])
            self.assertEqual([row["changeovers"] for row in rows], begun)
            for row, wanted in zip(rows, minutes):
                self.assertAlmostEqual(row["setup_min"], wanted, delta=0.01 * DAYS)
                if row["shifts_with_setup"]:
                    self.assertAlmostEqual(row["mean_min"], row["setup_min"] / row["shifts_with_setup"], delta=1e-9)
                    self.assertGreaterEqual(row["most_min"] + 1e-9, row["mean_min"])

    def test_alarms_are_counted_by_cause(self):
        rows = self.told["alarms"]
        self.assertEqual({row["code"]: row["raised"] for row in rows}, dict(self.sql("SELECT code, count(*) FROM alarm WHERE raised = 1 GROUP BY code")))
        self.assertEqual([row["raised"] for row in rows], sorted((row["raised"] for row in rows), reverse=True))
        self.assertEqual({row["alarm"] for row in rows}, {"PIN_NOT_IN", "MOVE_LATE"})
        for row in rows:  # each stood for a second
            self.assertAlmostEqual(row["stood_min"], row["raised"] / 60, delta=1e-6)
            [(most,)] = self.sql("SELECT max(n) FROM (SELECT count(*) n FROM alarm WHERE raised = 1 AND code = ? GROUP BY rail, item)", row["code"])
            self.assertEqual(row["times_there"], most)

    def test_each_holders_capability_and_its_interval_are_those_reckoned_otherwise(self):
        placed = self.sql("SELECT DISTINCT rail, holder FROM changeover_move")
        self.assertGreater(len(self.told["holders"]), 20)
        for row in self.told["holders"]:
            self.assertIn((row["rail"], row["holder"]), placed)
            um = [e for _, e in self.errors(row["rail"], row["holder"])]
            n, sd, mean = len(um), statistics.stdev(um), statistics.fmean(um)
            self.assertEqual(row["placements"], n)
            self.assertAlmostEqual(row["mean_um"], mean, delta=1e-9)
            self.assertAlmostEqual(row["sd_um"], sd, delta=1e-9)
            if sd == 0:
                self.assertEqual([row[name] for name in ("cp", "cp_low", "cp_high", "cpk", "cpk_low", "cpk_high")], [None] * 6)
                continue
            cp, cpk = TOLERANCE_UM / 3 / sd, (TOLERANCE_UM - abs(mean)) / 3 / sd
            half = statistics.NormalDist().inv_cdf(0.975) * math.sqrt(1 / 9 / n + cpk * cpk / 2 / (n - 1))
            for name, wanted in (("cp", cp), ("cp_low", cp * math.sqrt(chi_square_quantile(0.025, n - 1) / (n - 1))),
                                 ("cp_high", cp * math.sqrt(chi_square_quantile(0.975, n - 1) / (n - 1))),
                                 ("cpk", cpk), ("cpk_low", cpk - half), ("cpk_high", cpk + half)):
                self.assertAlmostEqual(row[name], wanted, delta=1e-9 * abs(wanted), msg=name)
            self.assertEqual(row["caution"], "few" if n < 50 else "")

    def test_the_drift_is_the_slope_since_the_last_grind(self):
        for row in self.told["holders"]:
            [(ground,)] = self.sql("SELECT max(at) FROM edit_request WHERE kind = 2 AND code = 0 AND rail = ? AND holder = ?", row["rail"], row["holder"])
            since = [(datetime.datetime.fromisoformat(at[:-1]).timestamp(), um) for at, um in self.errors(row["rail"], row["holder"]) if at > (ground or "")]
            self.assertEqual(row["since_grind"], len(since))
            if len(since) < 3:
                self.assertIsNone(row["drift_um"])
                continue
            x, y = [at - since[0][0] for at, _ in since], [um for _, um in since]
            slope, sd, off = slope_of(x, y)
            self.assertAlmostEqual(row["drift_um"], slope * x[-1], delta=1e-4)
            self.assertAlmostEqual(row["drift_sd_um"], sd * x[-1], delta=1e-4)
            growth, growth_sd, _ = slope_of(x, [abs(d) for d in off])
            rare = 0.001 / len(self.told["holders"])
            grows = len(x) >= 10 and growth > 0 and chance_of(growth, growth_sd, len(x)) < rare
            self.assertEqual(row["trend"], "drifts" if chance_of(slope, sd, len(x)) < rare else "scatters" if grows else "")

    def test_residuals_of_the_references_are_told_over_time(self):
        rows = self.json("--by", "day")["references"]
        self.assertEqual(len(rows), DAYS)
        for row in rows:
            um = [value for (value,) in self.sql("SELECT reference_um FROM changeover_rail r JOIN changeover c ON c.id = r.changeover "
                                                 "WHERE rail = 2 AND ended_at LIKE ? ORDER BY c.id", row["period"] + "%")]
            self.assertEqual((row["rail"], row["changeovers"], row["least_um"], row["most_um"], row["last_um"]),
                             (2, len(um), min(um), max(um), um[-1]))
            self.assertAlmostEqual(row["mean_um"], statistics.fmean(um), delta=1e-9)
        self.assertEqual(self.json("--rail", 1)["references"], [])

    def test_what_each_docking_and_way_took_is_the_least_squares_of_the_book(self):
        rows = self.told["times"]
        self.assertEqual([(row["rail"], row["setting"]) for row in rows],
                         [(rail, name) for rail in (1, 2) for name in ("dock_ms", "undock_ms", "setpoint_ms", "rounding_ms")])
        for row in rows:
            count = {"dock_ms": "docks", "undock_ms": "undocks"}.get(row["setting"], "ways")
            book = self.sql(f"SELECT {count}, {row['setting']} FROM changeover_rail WHERE rail = ?", row["rail"])
            squares = sum(n * n for n, _ in book)
            each = sum(n * ms for n, ms in book) / squares
            variance = sum((ms - each * n) ** 2 for n, ms in book) / (len(book) - 1)
            self.assertEqual((row["times"], row["changeovers"], row["planned_ms"]), (sum(n for n, _ in book), len(book), None))
            self.assertAlmostEqual(row["took_ms"], each, delta=1e-9)
            self.assertAlmostEqual(row["uncertainty_ms"], math.sqrt(variance / squares), delta=1e-9)

    def test_what_the_station_file_has_planned_stands_beside_it(self):
        text = (pathlib.Path(__file__).resolve().parents[2] / "config/small-shear.cfg").read_text(encoding="utf-8")
        file = pathlib.Path(self.folder.name) / "station.cfg"
        file.write_text(text.replace('name = "small-shear"', f'name = "{STATION}"') + f'book = "{self.book}";\n', encoding="utf-8")
        answer = report("--config", str(file), "--table", "times", "--format", "json")
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        for row in json.loads(answer.stdout)["times"]:
            self.assertEqual(row["planned_ms"], float(re.search(rf"\b{row['setting']} = (\d+);", text)[1]))

    def test_the_holder_that_loosens_stands_out_before_a_knife_was_out_of_tolerance(self):
        [(worst,)] = self.sql("SELECT max(abs(deviation_um)) FROM changeover_holder")
        self.assertLess(worst, TOLERANCE_UM)
        self.assertEqual([(row["rail"], row["holder"], row["trend"]) for row in self.told["holders"] if row["trend"]], [(*LOOSE, "drifts")])

    def test_of_one_rail_or_holder_there_are_its_alarms_and_placements(self):
        upper = self.json("--rail", 1)
        self.assertEqual(upper["holders"], [row for row in self.told["holders"] if row["rail"] == 1])
        one = self.json("--rail", LOOSE[0], "--holder", LOOSE[1])
        self.assertEqual([(row["rail"], row["holder"]) for row in one["holders"]], [LOOSE])
        self.assertEqual(one["changeovers"], self.told["changeovers"])
        self.assertEqual(self.json("--rail", 2)["alarms"], [])

    def test_a_period_without_anything_is_told_as_such(self):
        none = self.json("--to", "2001")
        self.assertEqual([(row["period"], row["changeovers"], row["mean_min"]) for row in none["changeovers"]], [("all", 0, None)])
        self.assertEqual((none["alarms"], none["holders"]), ([], []))

    def test_csv_is_read_back_as_the_same(self):
        for table in ("changeovers", "shifts", "alarms", "holders", "references", "times"):
            answer = report("--book", self.book, "--format", "csv", "--table", table)
            rows = list(csv.DictReader(io.StringIO(answer.stdout)))
            self.assertEqual(len(rows), len(self.told[table]))
            for row, told in zip(rows, self.told[table]):
                for name, value in told.items():
                    if isinstance(value, float):
                        self.assertAlmostEqual(float(row[name]), value, delta=0.0051)
                    else:
                        self.assertEqual(row[name], "" if value is None else str(value))

    def test_the_text_fits_a_terminal_and_warns_of_few_placements(self):
        text = report("--book", self.book).stdout
        self.assertLessEqual(max(map(len, text.splitlines())), 110)
        self.assertNotRegex(text, r"(?m) $")
        for title in ("changeovers", "shifts", "alarms", "holders", "references"):
            self.assertRegex(text, rf"(?m)^{title}$")
        self.assertIn("say little", text)
        self.assertRegex(report("--book", self.book, "--unit", "in").stdout, r"tolerance 0\.0080 in")

    def black_bars(self, svg):
        """Heights of the black rectangles that stand on one line, by that line."""
        found = collections.defaultdict(list)
        for path in xml.etree.ElementTree.parse(svg).getroot().iter("{http://www.w3.org/2000/svg}path"):
            style = path.get("fill", "") + path.get("style", "")
            corners = [tuple(map(float, c)) for c in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d", ""))]
            xs, ys = ({round(c[i], 1) for c in corners} for i in (0, 1))
            if re.search(r"fill:? ?rgb\(0%, ?0%, ?0%\)|^rgb\(0%, ?0%, ?0%\)", style) and len(xs) == 2 and len(ys) == 2:
                found[max(ys)].append(max(c[1] for c in corners) - min(c[1] for c in corners))
        return list(found.values())

    def test_charts_show_the_tables_to_scale(self):
        svg, pdf, png = (f"{self.folder.name}/report.{form}" for form in ("svg", "pdf", "png"))
        answer = report("--book", self.book, "--by", "day", "--svg", svg, "--pdf", pdf, "--png", png)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        with open(pdf, "rb") as a, open(png, "rb") as b:
            self.assertEqual((a.read(5), b.read(8)), (b"%PDF-", b"\x89PNG\r\n\x1a\n"))
        days = self.json("--by", "day")["changeovers"][:-1]
        wanted = {"ratio": [row["actual_to_planned"] for row in days],
                  "shifts": [row["mean_min"] for row in self.told["shifts"] if row["mean_min"]],
                  "alarms": [row["raised"] for row in self.told["alarms"]],
                  "held": [row["held_min"] for row in days]}
        groups = self.black_bars(svg)
        for name, values in wanted.items():
            self.assertTrue(any(len(group) == len(values) and all(
                abs(height / max(group) - value / max(values)) < 0.01 for height, value in zip(group, values)) for group in groups), name)

    def test_charts_that_can_not_be_written_are_told(self):
        answer = report("--book", self.book, "--svg", "/nonexistent/report.svg")
        self.assertEqual(answer.returncode, 1)
        self.assertIn("/nonexistent/report.svg", answer.stderr)
        empty = self.folder.name + "/empty.svg"
        self.assertEqual(report("--book", self.book, "--to", "2001", "--svg", empty).returncode, 0)
        self.assertIsNotNone(xml.etree.ElementTree.parse(empty).getroot())

    def test_a_book_that_was_changed_by_hand_is_told(self):
        copy = self.folder.name + "/copy.db"
        with sqlite3.connect(copy) as book:
            self.database.backup(book)
            book.execute("UPDATE changeover SET waiting_ms = waiting_ms + 1 WHERE id = 3")
        book.close()
        answer = report("--book", copy)
        self.assertEqual(answer.returncode, 1)
        self.assertIn("table changeover: 1 row does not agree with its seal", answer.stderr)

    def test_wrong_usage_is_status_2(self):
        for arguments in ((), ("--book", "a", "--config", "b"), ("--book", "a", "--format", "csv"), ("--book", "a", "--by", "year"),
                          ("--book", "a", "--shifts", "6:00"), ("--book", "a", "--shifts", "14:00,06:00"), ("--book", "a", "--shifts", "24:00"),
                          ("--book", "a", "--shifts", ""), ("--book", "a", "--shifts", ",".join(f"{h:02}:00" for h in range(13))),
                          ("--book", "a", "--table", "x"), ("--book", "a", "--table", "alarms", "--svg", "x"), ("--book", "a", "--holder", "2"), ("here",)):
            answer = report(*arguments)
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)
            self.assertTrue(answer.stderr.startswith("kniferail report: "), arguments)
        answer = report("--book", "/nonexistent/book.db")
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))


class Records(YearBook):
    """kniferail records: the same book as a file for kniferail-panel."""

    def written(self, *arguments):
        out = self.folder.name + "/records.json"
        done = subprocess.run([KNIFERAIL, "records", "--book", self.book, "--out", out, *arguments], capture_output=True, text=True,
                              timeout=60, check=False, umask=0o027)
        self.assertEqual((done.returncode, done.stdout, done.stderr), (0, "", ""))
        self.assertEqual(os.stat(out).st_mode & 0o777, 0o640)
        self.assertEqual([name for name in os.listdir(self.folder.name) if name.startswith("records.json.")], [])
        with open(out, encoding="utf-8") as file:
            return json.load(file)

    def test_the_newest_changeovers_are_those_of_the_book_and_all_else_is_since_the_first_of_them(self):
        rows = self.sql("SELECT c.ended_at, c.order_number, o.meaning, c.planned_ms, c.actual_ms, c.total_ms, c.worst_pair_um, c.worst_slit_um, "
                        "c.cause_sentence FROM changeover c JOIN outcome o ON o.number = c.outcome ORDER BY c.id")
        for last, arguments in ((7, ("--last", "7")), (100, ()), (1000, ("--last", "1000"))):
            told, since = self.written(*arguments), rows[-last:][0][0]
            self.assertEqual((told["station"], told["tolerance_um"], told["sound"]), (STATION, TOLERANCE_UM, True))
            self.assertEqual([(c["ended_at"], c["order_number"], c["outcome"], c["planned_ms"], c["actual_ms"], c["total_ms"],
                               c["worst_pair_um"], c["worst_slit_um"], c["cause"]) for c in told["changeovers"]], rows[-last:])
            self.assertEqual({a["code"]: a["raised"] for a in told["alarms"]},
                             dict(self.sql("SELECT code, count(*) FROM alarm WHERE raised = 1 AND at >= ? GROUP BY code", since)))
            at = [c["ended_at"] for c in told["changeovers"]]
            for holder in told["holders"]:
                placed = [(when, off) for when, off in self.errors(holder["rail"], holder["holder"]) if when >= since]
                self.assertEqual([(at[i], off) for i, off, _ in holder["list"]], placed)
                self.assertAlmostEqual(holder["mean_um"], statistics.fmean(off for _, off in placed), delta=1e-9)
            placed = self.sql("SELECT count(*) FROM changeover_holder h JOIN changeover c ON c.id = h.changeover WHERE h.deviation_um IS NOT NULL "
                              "AND c.ended_at >= ? AND EXISTS (SELECT 1 FROM changeover_move m WHERE m.changeover = c.id AND m.rail = h.rail "
                              "AND m.holder = h.holder)", since)[0][0]
            self.assertEqual(sum(len(h["list"]) for h in told["holders"]), placed)

    def test_what_was_placed_with_an_earlier_knife_is_marked(self):
        ground = self.sql("SELECT rail, holder, max(at) FROM edit_request WHERE code = 0 AND kind IN (2, 3, 25, 27) GROUP BY rail, holder")
        told = self.written("--last", "1000")
        since = {(rail, holder): at for rail, holder, at in ground}
        self.assertTrue(since)
        for holder in told["holders"]:
            for index, _, present in holder["list"]:
                at = told["changeovers"][index]["ended_at"]
                self.assertEqual(present, int(at > since.get((holder["rail"], holder["holder"]), "")))

    def test_a_period_without_anything_has_no_rows(self):
        told = self.written("--to", "2001")
        self.assertEqual((told["changeovers"], told["alarms"], told["holders"]), ([], [], []))

    def test_without_a_file_it_goes_to_standard_output_and_what_can_not_be_written_is_told(self):
        done = subprocess.run([KNIFERAIL, "records", "--book", self.book, "--last", "3"], capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.assertEqual(len(json.loads(done.stdout)["changeovers"]), 3)
        done = subprocess.run([KNIFERAIL, "records", "--book", self.book, "--out", "/nonexistent/r.json"], capture_output=True, text=True,
                              timeout=60, check=False)
        self.assertEqual((done.returncode, done.stderr), (1, "kniferail records: /nonexistent/r.json: No such file or directory\n"))

    def test_a_book_that_was_changed_by_hand_is_told(self):
        copy, out = self.folder.name + "/spoiled.db", self.folder.name + "/spoiled.json"
        with contextlib.closing(sqlite3.connect(copy)) as book:
            self.database.backup(book)
            book.execute("UPDATE changeover SET total_ms = total_ms + 1 WHERE id = 3")
            book.commit()
        done = subprocess.run([KNIFERAIL, "records", "--book", copy, "--out", out], capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("table changeover: 1 row does not agree with its seal", done.stderr)
        with open(out, encoding="utf-8") as file:
            self.assertFalse(json.load(file)["sound"])

    def test_wrong_usage_is_status_2(self):
        for arguments in ((), ("--book", "a", "--last", "0"), ("--book", "a", "--last", "1001"), ("--book", "a", "--holder", "1"), ("here",)):
            done = subprocess.run([KNIFERAIL, "records", *arguments], capture_output=True, text=True, timeout=60, check=False)
            self.assertEqual((done.returncode, done.stdout), (2, ""), arguments)
            self.assertTrue(done.stderr.startswith("kniferail records: "), arguments)


if __name__ == "__main__":
    unittest.main()
