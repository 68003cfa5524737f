"""Knives as a list that goes out of one book and into another: unchanged, whole or not at all, and every wrong row named.
The lists are written and read here by Python's csv module.

    knife_list.py KNIFERAILD KNIFERAIL
"""
import csv
import hashlib
import io
import pathlib
import random
import shutil
import sqlite3
import subprocess
import tempfile
import time

from gateway_rig import KNIFERAIL, MAP, Gateway, GatewayTest, Plc, main

COLUMNS = ("record,name,kind,place,rail,holder,diameter_um,thickness_um,edge_um,metres,earlier_metres,grinds,at,diameter_before_um,"
           "thickness_before_um,cause,fragments,fell_metres").split(",")
KNIVES = 500
KILLS = 20
RAILS = (7, 7)  # knives on holders 1 to 7 of each rail


def run(*arguments, text=None):
    return subprocess.run([KNIFERAIL, "knives", *map(str, arguments)], capture_output=True, timeout=60, check=False, input=text)


def export(book):
    answer = run("export", "--book", book)
    assert (answer.returncode, answer.stderr) == (0, b""), answer.stderr
    return answer.stdout


def as_text(rows, columns=COLUMNS):
    to = io.StringIO(newline="")
    writer = csv.DictWriter(to, columns, restval="")  # RFC 4180: lines end in CR LF
    writer.writeheader()
    writer.writerows(rows)
    return to.getvalue()


def as_rows(text):
    return list(csv.DictReader(io.StringIO(text.decode("ascii"), newline="")))


def digest(book):
    """Of all that the tables hold."""
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as connection:
        return hashlib.sha256("\n".join(connection.iterdump()).encode()).hexdigest()


def knife(name, **more):
    return {"record": "knife", "name": name, "kind": "upper 130", "place": "shelf", "metres": 0, "earlier_metres": 0, "grinds": 0,
            "at": "2026-03-01T06:30:00.000Z", **more}


def grind(name, at, metres, **more):
    return {"record": "grind", "name": name, "metres": metres, "at": at, "diameter_um": 129400, "diameter_before_um": 130000, **more}


def many_knives():
    """Of every place and with every field, some known and some not; names and kinds as RFC 4180 has to quote them."""
    rng, rows, places = random.Random(21), [], [(r + 1, h + 1) for r, n in enumerate(RAILS) for h in range(n)]
    for i in range(KNIVES):
        name = ("K-%03d", 'K "%03d"', "K, %03d", "=%03d/1")[i % 4] % i
        grinds = [rng.randrange(10**6) for _ in range(rng.randrange(5))]
        row = knife(name, kind=rng.choice(("upper 130", 'a,"b', "lower 90")), metres=rng.choice((0, 1, 8500, 4294967295)),
                    earlier_metres=sum(grinds) + (17 if grinds else 0), grinds=len(grinds) + (1 if grinds else 0))
        for column, values in (("diameter_um", (1, 130000, 2000000)), ("thickness_um", (1, 5000)), ("edge_um", (-200000, 0, 9300, 200000))):
            if rng.random() < 0.8:
                row[column] = rng.choice(values)
        if places:
            rail, holder = places.pop()
            row.update(place="holder", rail=rail, holder=holder, edge_um=rng.randrange(-9000, 9000))
        else:
            row["place"] = rng.choice(("shelf", "grinder", "broken", "scrapped"))
        rows.append(row)
        for n, metres in enumerate(grinds):
            rows.append(grind(name, f"2026-0{n + 1}-28", metres, **({"rail": 2, "holder": 5, "edge_um": -7} if n % 2 else {"thickness_um": 4990, "thickness_before_um": 5000})))
        if row["place"] == "broken":
            rows.append({"record": "break", "name": name, "at": "2026-10-31T23:59:59.999Z", "metres": row["metres"], "cause": rng.choice(("crash", "foreign-body")),
                         "fragments": rng.choice(("missing", "complete", "not-sought")), **rng.choice(({}, {"fell_metres": 4294967295, "rail": 1, "holder": 3}))})
    return rows


GOOD = [knife("A", diameter_um=130000, grinds=1, earlier_metres=8500), grind("A", "2026-01-02", 8500), knife("B", place="broken"),
        {"record": "break", "name": "B", "at": "2026-02-03", "cause": "crash", "fragments": "missing", "fell_metres": 12},
        knife("C", place="holder", rail=1, holder=2, edge_um=300)]
A, GRIND, B, BREAK, C = range(5)


def changed(row, **more):
    return lambda rows: rows[row].update(more)


def one_more(row):
    return lambda rows: rows.append(row)


def each_row_twice(rows):
    rows.insert(1, dict(rows[0]))


# What is done to the good list, the row that has to be named (the heading is 1), and what has to be said of it.
WRONG = (
    (changed(A, record="blade"), 2, r"column record: 'blade'; one of knife, grind, break"),
    (changed(A, name=""), 2, r"column name: ''; it must be given"),
    (changed(A, name=" A"), 2, r"column name: ' A'; 1 to 24 printable ASCII"),
    (changed(A, name="A "), 2, r"column name: 'A '; 1 to 24"),
    (changed(A, name="N" * 25), 2, r"column name: 'N{25}'; 1 to 24"),
    (changed(A, name="A\t1"), 2, r"column name: 'A\t1'; 1 to 24"),
    (changed(A, kind=""), 2, r"column kind: ''; it must be given"),
    (changed(A, kind="k" * 17), 2, r"column kind: 'k{17}'; 1 to 16"),
    (changed(A, place=""), 2, r"column place: ''; it must be given"),
    (changed(A, place="floor"), 2, r"column place: 'floor'; one of holder, shelf, grinder, broken, scrapped"),
    (changed(A, place="none"), 2, r"column place: 'none'; one of holder"),
    (changed(A, place="Shelf"), 2, r"column place: 'Shelf'; one of holder"),
    (changed(A, rail="1"), 2, r"column rail: '1'; a knife on a holder has 1 to 4, any other knife nothing"),
    (changed(A, holder="1"), 2, r"column holder: '1'; a knife on a holder has 1 to 128, any other knife nothing"),
    (changed(C, rail=""), 6, r"column rail: ''; a knife on a holder has 1 to 4"),
    (changed(C, holder=""), 6, r"column holder: ''; a knife on a holder has 1 to 128"),
    (changed(C, rail="5"), 6, r"column rail: '5'; a whole number from 1 to 4"),
    (changed(C, rail="0"), 6, r"column rail: '0'; a whole number from 1 to 4"),
    (changed(C, rail="3"), 6, r"column rail: '3'; the station has no holders on this rail"),
    (changed(C, holder="129"), 6, r"column holder: '129'; a whole number from 1 to 128"),
    (changed(C, holder="128"), 6, r"column holder: '128'; rail 1 has holders 1 to \d+"),
    (changed(C, edge_um=""), 6, r"column edge_um: ''; a knife on a holder needs it"),
    (changed(C, edge_um="200001"), 6, r"column edge_um: '200001'; a whole number from -200000 to 200000"),
    (changed(C, edge_um="-200001"), 6, r"column edge_um: '-200001'; a whole number from -200000"),
    (changed(C, edge_um="9.3"), 6, r"column edge_um: '9\.3'; a whole number"),
    (changed(A, diameter_um="0"), 2, r"column diameter_um: '0'; a whole number from 1 to 2000000"),
    (changed(A, diameter_um="2000001"), 2, r"column diameter_um: '2000001'; a whole number from 1 to 2000000"),
    (changed(A, diameter_um="130 mm"), 2, r"column diameter_um: '130 mm'; a whole number"),
    (changed(A, thickness_um="-5000"), 2, r"column thickness_um: '-5000'; a whole number from 1"),
    (changed(A, metres="-1"), 2, r"column metres: '-1'; a whole number from 0 to 4294967295"),
    (changed(A, metres="4294967296"), 2, r"column metres: '4294967296'; a whole number from 0 to 4294967295"),
    (changed(A, metres="99999999999999999999"), 2, r"column metres: '9{20}'; a whole number from 0 to 4294967295"),
    (changed(A, metres="-"), 2, r"column metres: '-'; a whole number"),
    (changed(A, metres="+5"), 2, r"column metres: '\+5'; a whole number"),
    (changed(A, earlier_metres="1000000000001"), 2, r"column earlier_metres: '1000000000001'; a whole number from 0 to 1000000000000"),
    (changed(B, earlier_metres="5"), 4, r"column earlier_metres: '5'; only 0 is possible for a knife that was never ground"),
    (changed(A, grinds="10000"), 2, r"column grinds: '10000'; a whole number from 0 to 9999"),
    (changed(A, at="2026-02-29"), 2, r"column at: '2026-02-29'; a UTC time as 2026-03-01"),
    (changed(A, at="2026-03-01T24:00:00.000Z"), 2, r"column at: '2026-03-01T24:00:00\.000Z'; a UTC time"),
    (changed(A, at="1.3.2026"), 2, r"column at: '1\.3\.2026'; a UTC time"),
    (changed(GRIND, at=""), 3, r"column at: ''; it must be given"),
    (changed(GRIND, name="Z"), 3, r"column name: 'Z'; no row before this one has a knife of this name"),
    (changed(GRIND, metres="8501"), 3, r"column metres: '8501'; at most 8500 is possible: row 2 has 8500 before the last grind"),
    (changed(GRIND, place="shelf"), 3, r"column place: 'shelf'; a row 'grind' has no value in this column"),
    (changed(GRIND, rail="1"), 3, r"column holder: ''; give both rail and holder, or neither"),
    (one_more(grind("A", "2026-01-03", 0)), 7, r"column record: 'grind'; row 2 says that the knife was ground 1 times"),
    (changed(BREAK, cause="bad luck"), 5, r"column cause: 'bad luck'; one of unknown, crash, foreign-body, setting, handling, crack"),
    (changed(BREAK, fragments=""), 5, r"column fragments: ''; it must be given"),
    (changed(B, place="shelf"), 5, r"column record: 'break'; row 4 says that the knife is not broken"),
    (one_more({**GOOD[BREAK]}), 7, r"column record: 'break'; row 5 already says how the knife broke"),
    (each_row_twice, 3, r"column name: 'A'; row 2 has a knife of this name"),
    (one_more(knife("D", place="holder", rail=1, holder=2, edge_um=0)), 7, r"column holder: '2'; row 6 already has a knife on this holder"),
    (one_more(knife("there")), 7, r"column name: 'there'; the ledger has a knife of this name already"),
    (changed(C, holder="3"), 6, r"column holder: '3'; that holder has knife 1 of the ledger"),
    (changed(C, rail="2", holder="4"), 6, r"column holder: '4'; that holder is not on the rail"),
)

# What is wrong with the list itself.
WRONG_TEXT = (
    ("", 1, r"the list is empty"),
    ("name,kind\r\nA,k\r\n", 1, r"the column place is missing"),
    ("name,kind,place,colour\r\nA,k,shelf,red\r\n", 1, r"'colour' is not a column"),
    ("name,kind,place,name\r\nA,k,shelf,A\r\n", 1, r"the column name is there twice"),
    ("name,kind,place\r\n", 2, r"there are no knives"),
    ("name,kind,place\r\nA,k,shelf\r\nB,k\r\n", 3, r"the row has 2 fields, and the first row names 3"),
    ("name,kind,place\r\nA,k,shelf\r\nB,k,\"shelf\r\n", 3, r"a quotation mark is not closed"),
)


class KnifeList(GatewayTest):
    @classmethod
    def setUpClass(cls):
        """A book with a station and without knives, as a gateway leaves it that was started once."""
        cls.folder = tempfile.TemporaryDirectory(prefix="kr_list_")
        cls.path = pathlib.Path(cls.folder.name)
        with Gateway(book=True) as gateway:
            Plc(gateway).scan()
            assert gateway.end() == 0
            shutil.copy(gateway.book, cls.path / "empty.db")

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def empty_book(self, name):
        book = self.path / name
        shutil.copy(self.path / "empty.db", book)
        return book

    def write(self, text):
        path = self.path / "list.csv"
        path.write_bytes(text.encode("utf-8"))
        return path

    def take(self, book, text):
        answer = run("import", self.write(text), "--book", book)
        self.assertEqual((answer.returncode, answer.stderr), (0, b""), answer.stderr)
        return answer.stdout.decode()

    def test_a_list_of_500_knives_goes_out_and_in_unchanged(self):
        rows = many_knives()
        first, second = self.empty_book("first.db"), self.empty_book("second.db")
        told = self.take(first, as_text(rows))
        self.assertRegex(told, rf"list\.csv: {KNIVES} knives, and {len(rows) - KNIVES} rows about their grinds and breaks")
        out = export(first)
        as_they_were = [{column: str(row.get(column, "")) for column in COLUMNS} for row in rows]
        by_knife = {}
        for row in as_they_were:
            by_knife.setdefault(row["name"], []).append(row)
        self.assertEqual(as_rows(out), [row for name in sorted(by_knife) for row in by_knife[name]])
        self.take(second, out.decode("ascii"))
        self.assertEqual(export(second), out)
        for book in (first, second):
            self.assertEqual(subprocess.run([KNIFERAIL, "book", "check", "--book", book], capture_output=True, timeout=30, check=False).returncode, 0)

    def test_each_wrong_list_is_refused_with_its_row_and_the_book_is_as_it_was(self):
        self.assertGreaterEqual(len(WRONG) + len(WRONG_TEXT), 50)
        book = self.empty_book("wrong.db")
        self.take(book, as_text([knife("there", place="holder", rail=1, holder=3, edge_um=0)]))
        with sqlite3.connect(book) as connection:  # a holder that was taken off its rail; changed by hand, and meant so
            connection.execute("UPDATE holder SET state = 3 WHERE rail = 2 AND holder = 4")
            connection.execute("UPDATE station SET seal = NULL")
        before = digest(book)
        cases = [(self.text_of(change), row, told) for change, row, told in WRONG] + list(WRONG_TEXT)
        for text, row, told in cases:
            with self.subTest(told=told):
                answer = run("import", self.write(text), "--book", book)
                said = answer.stderr.decode()
                self.assertEqual((answer.returncode, answer.stdout), (1, b""), said)
                self.assertRegex(said.splitlines()[0], rf"list\.csv: row {row}(, |: ){told}")
                self.assertIn("nothing of", said.splitlines()[-1])
                self.assertEqual(digest(book), before)
        self.take(book, as_text(GOOD))

    def text_of(self, change):
        rows = [dict(row) for row in GOOD]
        change(rows)
        return as_text(rows)

    def test_an_import_that_is_killed_at_any_moment_has_taken_all_or_nothing(self):
        rng, taken = random.Random(22), 0
        rows = many_knives()
        path = self.write(as_text(rows))
        began = time.monotonic()
        self.assertEqual(run("import", path, "--book", self.empty_book("timed.db")).returncode, 0)
        lasts = time.monotonic() - began
        for i in range(KILLS):
            book = self.empty_book(f"killed-{i}.db")
            with subprocess.Popen([KNIFERAIL, "knives", "import", path, "--book", book], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
                time.sleep(rng.uniform(0, 1.2 * lasts))
                process.kill()
            check = subprocess.run([KNIFERAIL, "book", "check", "--book", book], capture_output=True, timeout=30, check=False)
            self.assertEqual(check.returncode, 0, check.stderr)
            there = len(as_rows(export(book)))
            self.assertIn(there, (0, len(rows)))
            with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as connection:
                on_holders = connection.execute("SELECT count(*) FROM holder WHERE knife > 0").fetchone()[0]
                told = connection.execute("SELECT count(*) FROM audit WHERE what LIKE 'list of knives%'").fetchone()[0]
            self.assertEqual((on_holders, told), (sum(RAILS), 1) if there else (0, 0))
            taken += there > 0
        print(f"{taken} of {KILLS} lists were taken before the kill")

    def test_all_wrong_rows_are_told_the_first_twenty_by_name(self):
        book = self.empty_book("many.db")
        answer = run("import", self.write(as_text([knife(f"K{i}", metres=-1) for i in range(30)])), "--book", book)
        said = answer.stderr.decode().splitlines()
        self.assertEqual([line.split(",")[0].split("row ")[1] for line in said[:20]], [str(row) for row in range(2, 22)])
        self.assertIn("30 mistakes, the first 20 are shown", said[20])

    def test_a_plants_own_table_has_three_columns_in_any_order(self):
        book = self.empty_book("plain.db")
        self.take(book, "\ufeffplace,name,kind\nshelf,K-1,upper\ngrinder,K-2,lower\n")
        rows = {row["name"]: row for row in as_rows(export(book))}
        self.assertEqual((rows["K-1"]["place"], rows["K-2"]["place"], rows["K-2"]["metres"]), ("shelf", "grinder", "0"))
        self.assertRegex(rows["K-1"]["at"], r"^20\d\d-\d\d-\d\dT")

    def test_a_life_at_the_gateway_goes_to_another_book_and_its_gateway_begins_with_it(self):
        with Gateway(book=True) as gateway:
            self.live(gateway)
            gateway.end()
            out = export(gateway.book)
            records = [row["record"] for row in as_rows(out)]
            self.assertEqual(records, ["knife", "grind", "grind", "knife", "break"])
            listed = as_rows(run("list", "--book", gateway.book, "--format", "csv").stdout)
            self.assertEqual([row["edge_um"] for row in listed], ["10060", "10100"])  # that of a holder's knife is the holder's
        with Gateway(book=True) as gateway:
            answer = run("import", self.write(out.decode("ascii")), "--config", gateway.config)
            self.assertEqual(answer.returncode, 1)
            self.assertIn("a gateway uses this book: end the gateway first", answer.stderr.decode())
            gateway.end()
            answer = run("import", "-", "--config", gateway.config, text=out)
            self.assertEqual((answer.returncode, answer.stderr), (0, b""))
            self.assertEqual(export(gateway.book), out)
            gateway.start()
            plc = Plc(gateway)
            self.assertEqual((plc.read("HOLDER_KNIFE", 0, 2), plc.read("HOLDER_METRES", 0, 2), plc.read("HOLDER_OFFSET", 0, 2),
                              plc.read("HOLDER_EDGE", 0, 2)), (1, 77, 10060, MAP.number("HOLDER_EDGE", "UNPROVEN")))
            history = subprocess.run([KNIFERAIL, "history", "--book", gateway.book, "--table", "audit", "--format", "csv"], capture_output=True,
                                     text=True, timeout=30, check=True).stdout
            self.assertRegex(history, r'edit,user \w+,,,"list of knives -, 5 rows",taken')
            gateway.end()
            self.assertEqual(export(gateway.book), out)

    def live(self, gateway):
        """A knife that was ground twice and is on a holder, and one that broke."""
        for arguments in (("enter", "K-1", "upper 130", 130, 5, "10000 um", 2500), ("mount", 1, 3, "K-1"), ("reground", "1/3", "129.4", "-", "10020 um"),
                          ("dismount", "1/3", "grinder"), ("reground", "K-1", "128.9", "4.99", "10050 um"), ("mount", 1, 3, "K-1", "-", 77), ("offset", 1, 3, "10060 um"),
                          ("enter", "K-2", "lower", "-", "-", "10000 um"), ("mount", 1, 5, "K-2", "10100 um"), ("broken", "1/5", "crash", "missing")):
            answer = subprocess.run([KNIFERAIL, "set", "--port", str(gateway.port), *map(str, arguments)], capture_output=True, text=True,
                                    timeout=30, check=False)
            self.assertEqual((answer.returncode, answer.stderr), (0, ""), arguments)

    def test_a_station_that_no_gateway_has_stored_and_a_book_that_is_none(self):
        path = self.path / "none.db"
        answer = run("import", self.write(as_text(GOOD)), "--book", path)
        self.assertEqual(answer.returncode, 1)
        self.assertFalse(path.exists())
        answer = run("import", self.write(as_text(GOOD)), "--book", self.empty_book("other.db"), "--station", "elsewhere")
        self.assertEqual(answer.returncode, 1)
        self.assertIn("there is no station elsewhere in it", answer.stderr.decode())
        for arguments in (("import",), ("export", "x"), ("export", "--format", "json"), ("import", "x", "--rail", 1)):
            self.assertEqual(run(*arguments, "--book", path).returncode, 2, arguments)


if __name__ == "__main__":
    main()
