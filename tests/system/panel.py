"""The panel against the registers, as an independent client (python3-pymodbus) reads them: what its interface for
programs says, its streams of events, its figures as an independent reader of them (python3-prometheus-client) takes
them, and what stands on the page in a browser (chromium).

    panel.py KNIFERAILD KNIFERAIL KNIFERAIL-PANEL
"""
import contextlib
import http.client
import json
import os
import pathlib
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import unittest
import xml.etree.ElementTree

from gateway_rig import KNIFERAIL, MAP, SLOW, Gateway, Part, Plc, wait_for
from panel_rig import Events, Panel

PANEL = sys.argv.pop(1)
ORDER = (1200000, [125000] * 9)
PERMISSIVES = ("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
try:
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service
    from selenium.webdriver.common.by import By
except ImportError:
    webdriver = None
try:
    from prometheus_client.parser import text_string_to_metric_families
except ImportError:
    text_string_to_metric_families = None


def known(position, state):
    """A position as the interface has it: null where it is not known."""
    return None if state == MAP.number("HOLDER_KNOWN", "UNKNOWN") else position


def resident_kib(panel):
    return int(re.search(r"VmRSS:\s+(\d+)", pathlib.Path(f"/proc/{panel.process.pid}/status").read_text("ascii")).group(1))


def every_browser_reads(streams, n):
    counted = [len(s.seen) for s in streams]
    wait_for(lambda: min(len(s.seen) - before for s, before in zip(streams, counted)) >= n, 60, f"{n} more events for every browser")


class PanelTest(unittest.TestCase):
    book = False

    def options(self):
        return []

    def setUp(self):
        gateway = Gateway(book=self.book)
        self.gateway = self.enterContext(gateway) if hasattr(self, "enterContext") else gateway.__enter__()
        if not hasattr(self, "enterContext"):
            self.addCleanup(gateway.__exit__, None, None, None)
        self.plc = Plc(self.gateway)
        self.plc.connect()
        self.plc.permit(*PERMISSIVES)
        panel = Panel(PANEL, [(self.gateway.port, 1)], self.options())
        panel.__enter__()
        self.addCleanup(panel.__exit__, None, None, None)
        self.panel = panel
        wait_for(lambda: panel.station()[0] == 200 and all(r["carriage"]["link"] for r in panel.station()[1]["rails"]), 10,
                 "the station on the panel, and its drives")

    def change_over(self):
        self.assertEqual(self.plc.order(4711, *ORDER), 0)
        self.plc.start_and_complete()

    def order_equal_to_registers(self, cuts, plc, prefix, order):
        """Its slits are what lies between its cut lines, and at an edge that is not trimmed between that edge and a cut line."""
        n = plc.read(f"{prefix}CUT_COUNT")
        if n == 0:
            self.assertIsNone(cuts)
            return
        lines = plc.read_all(f"{prefix}CUT_LINE", n)
        web = [plc.read(f"{prefix}WEB_OPERATOR"), plc.read(f"{prefix}WEB_DRIVE")]
        self.assertEqual((cuts["order"], cuts["lines_um"]), (plc.read(order), lines))
        self.assertEqual([cuts["web_operator_um"], cuts["web_drive_um"]], web)
        trims = [plc.read(f"{prefix}TRIM_OPERATOR"), plc.read(f"{prefix}TRIM_DRIVE")]
        self.assertEqual([cuts["trim_operator_um"], cuts["trim_drive_um"]], trims)
        edges = ([] if trims[0] else web[:1]) + lines + ([] if trims[1] else web[1:])
        self.assertEqual([(s["number"], s["from_um"], s["to_um"]) for s in cuts["slits"]],
                         [(i + 1, a, b) for i, (a, b) in enumerate(zip(edges, edges[1:]))])

    def equal_to_registers(self, station, plc):
        """All that a rail's registers say, against the interface."""
        names = {row["number"]: name for name, row in MAP.json["numbers"]["UNIT_STATE"].items()}
        self.assertEqual(station["state"]["name"], names[plc.read("UNIT_STATE")])
        self.assertEqual(station["orders"]["in_force"], plc.read("ORDER_IN_FORCE"))
        self.order_equal_to_registers(station["cuts"], plc, "", "ORDER_IN_FORCE")
        self.order_equal_to_registers(station["next"], plc, "STAGED_", "ORDER_STAGED")
        self.assertEqual(len(station["rails"]), plc.read("RAIL_COUNT"))
        for r, rail in enumerate(station["rails"]):
            n = plc.read("RAIL_HOLDERS", r)
            self.assertEqual(rail["carriage"]["position_um"], plc.read("CARRIAGE_POSITION", r))
            rows = {name: plc.read_all(f"HOLDER_{name}", n, r) for name in ("POSITION", "CUT", "KNOWN", "STATE", "OFFSET", "METRES",
                                                                            "SIZE", "TARGET", "DEVIATION")}
            self.assertEqual([h["known"]["number"] for h in rail["holders"]], rows["KNOWN"])
            self.assertEqual([h["position_um"] for h in rail["holders"]], [known(*p) for p in zip(rows["POSITION"], rows["KNOWN"])])
            self.assertEqual([h["cut"] for h in rail["holders"]], rows["CUT"])
            self.assertEqual([h["state"]["number"] for h in rail["holders"]], rows["STATE"])
            self.assertEqual([h["offset_um"] for h in rail["holders"]], rows["OFFSET"])
            self.assertEqual([h["metres"] for h in rail["holders"]], rows["METRES"])
            self.assertEqual([h["size"] for h in rail["holders"]], rows["SIZE"])
            for i, h in enumerate(rail["holders"]):
                if h["cut"]:
                    self.assertEqual((h["target_um"], h["deviation_um"]), (rows["TARGET"][i], rows["DEVIATION"][i]))
                else:
                    self.assertIsNone(h["target_um"])


class Interface(PanelTest):
    def test_a_station_that_has_just_started_has_nothing_that_it_does_not_know(self):
        """And is found under one address in both of its texts."""
        station = self.panel.station()[1]
        listed = json.loads(self.panel.ask("/api/v1/stations")[2])
        for text in (station, listed[0]):
            self.assertEqual((text["address"], text["unit"], text["read_every_ms"]), (f"127.0.0.1:{self.gateway.port}", 1, 100))
        self.assertEqual(station["gateway"]["map_version"], self.plc.read("MAP_VERSION"))
        for name in ("job", "refusal", "verdict", "command", "record"):
            self.assertIsNone(station[name], name)
        self.assertEqual(station["orders"], {"in_force": 0, "verified": False, "staged": 0, "queue": []})
        for rail in station["rails"]:
            self.assertIsNone(rail["carriage"]["target_um"])
            for h in rail["holders"]:
                self.assertEqual((h["cut"], h["target_um"], h["deviation_um"], h["may_be_lowered"]), (0, None, None, False))

    def test_a_carriage_at_its_limit_switch_is_told_here_and_by_status(self):
        """The simulated switch is struck as far inside as the carriage rests: at 20 mm, with the stop at -50 mm."""
        self.assertEqual([rail["carriage"]["limits"] for rail in self.panel.station()[1]["rails"]], [[], []])
        self.assertNotIn("LIMIT SWITCH", self.gateway.ask("status", "--full").stdout)
        with Gateway(changes=[(r"seed = 2; \}", "seed = 2; limit_before_stop_um = 80000; }")]) as gateway, \
                Panel(PANEL, [(gateway.port, 1)]) as panel:
            wait_for(lambda: panel.station()[0] == 200 and all(r["carriage"]["link"] for r in panel.station()[1]["rails"]), 10,
                     "the station on the panel, and its drives")
            self.assertEqual([rail["carriage"]["limits"] for rail in panel.station()[1]["rails"]], [["limit_low"], ["limit_low"]])
            self.assertIn("carriage      rail 2: the carriage is AT THE LIMIT SWITCH at the operator side (input limit_low)", gateway.ask("status", "--full").stdout)

    def test_it_says_what_the_registers_say_before_in_and_after_a_changeover(self):
        self.equal_to_registers(self.panel.station()[1], self.plc)
        with Events(self.panel, "/api/v1/stations/1/events") as events:
            self.change_over()
            events.wait(lambda name, s: name == "station" and s["state"]["name"] == "COMPLETE", 10 * SLOW, "Complete")
            states = {s["state"]["name"] for _, s in events.seen}
            self.assertIn("EXECUTE", states)
            phases = {s["job"]["phase"]["name"] for _, s in events.seen if s["job"]}
            self.assertIn("MOVE", phases)
        station = self.panel.station()[1]
        self.equal_to_registers(station, self.plc)
        status, headers, picture = self.panel.ask("/api/v1/stations/1/drawing.svg")
        self.assertEqual((status, headers["Content-Type"]), (200, "image/svg+xml"))
        self.assertEqual(xml.etree.ElementTree.fromstring(picture).tag, "{http://www.w3.org/2000/svg}svg")
        self.assertGreater(station["drawing"], 10)  # one for every new look of the rails
        self.assertTrue(all(h["known"]["word"] == "measured" for rail in station["rails"] for h in rail["holders"]))
        self.assertEqual(station["record"]["order"], 4711)
        self.assertEqual(station["record"]["total_ms"], self.plc.read("RECORD_TOTAL"))

    def test_the_next_order_is_shown_with_its_own_drawing_until_it_is_in_force(self):
        """Also one that is not trimmed at an edge, and one whose slits lie from the operator side on."""
        orders = (("OPERATOR", {"EDGE_FLAGS": 1 << MAP.number("EDGE_FLAGS", "OPERATOR")}),
                  ("DRIVE", {"EDGE_FLAGS": 1 << MAP.number("EDGE_FLAGS", "DRIVE"), "SHIFT": 2000}),
                  ("aligned", {"ALIGNMENT": MAP.number("ALIGNMENT", "FROM_OPERATOR_EDGE"), "TRIM": 15000}))
        for number, (what, more) in enumerate(orders, 100):
            self.assertEqual(self.plc.order(number, 900000, [440000, 420000], **more), 0, what)
            wait_for(lambda n=number: (self.panel.station()[1]["next"] or {}).get("order") == n, 10, "the staged order on the panel")
            station = self.panel.station()[1]
            self.equal_to_registers(station, self.plc)
            self.assertEqual([s["to_um"] - s["from_um"] for s in station["next"]["slits"]], [440000, 420000])
            status, headers, picture = self.panel.ask("/api/v1/stations/1/next.svg")
            self.assertEqual((status, headers["Content-Type"]), (200, "image/svg+xml"))
            self.assertEqual(xml.etree.ElementTree.fromstring(picture).tag, "{http://www.w3.org/2000/svg}svg")
        self.plc.start_and_complete()
        wait_for(lambda: self.panel.station()[1]["next"] is None, 10, "no next order")
        self.assertEqual(self.panel.station()[1]["cuts"]["order"], number)
        self.assertEqual(self.panel.ask("/api/v1/stations/1/next.svg")[0], 503)  # nothing old that could be taken for now

    def test_a_fault_stands_with_its_remedy_and_its_age(self):
        self.assertEqual(self.plc.order(4711, *ORDER), 0)
        self.plc.start()
        self.plc.wait_dragging()
        self.plc.permit(*PERMISSIVES[1:])
        self.plc.wait_state("SUSPENDED", seconds=20)
        wait_for(lambda: self.panel.station()[1]["state"]["name"] == "SUSPENDED", 5, "Suspended on the panel")
        alarm = self.panel.station()[1]["alarms"][0]
        row = next(a for a in MAP.json["alarms"] if a["name"] == "PERMISSIVE_LOST")
        self.assertEqual((alarm["code"], alarm["name"], alarm["remedy"]), (row["code"], row["name"], row["remedy"]))
        self.assertEqual((alarm["value"], alarm["limit"], alarm["value_is"]),
                         (self.plc.read_all("ALARM_VALUES", 1)[0], self.plc.read_all("ALARM_LIMITS", 1)[0], "mask"))

        def older():
            self.plc.scan()
            return self.panel.station()[1]["alarms"][0]["age_s"] > alarm["age_s"] + 1
        wait_for(older, 10, "an alarm that grows older")
        missing = [p["name"] for p in self.panel.station()[1]["permissives"] if p["missing"]]
        self.assertEqual(missing, ["LINE_STOPPED"])

    def test_a_gateway_that_goes_and_comes_back(self):
        with Events(self.panel, "/api/v1/stations/1/events") as events, Events(self.panel, "/api/v1/events") as listed:
            events.wait(lambda name, _: name == "station", 10, "the station")
            self.gateway.end(signal.SIGKILL)
            events.wait(lambda name, s: name == "lost" and s["error"], 10, "the loss")
            listed.wait(lambda _, all_: not all_[0]["answers"], 10, "the loss in the list")
            status, lost = self.panel.station()
            self.assertEqual(status, 503)
            self.assertFalse(lost["answers"])
            self.assertNotIn("rails", lost)  # nothing old that could be taken for now
            n = len(events.seen)
            self.gateway.start(self.gateway.port)
            events.wait(lambda name, s: name == "station" and (name, s) in events.seen[n:], 20, "its return")

    def test_only_get_and_head_and_only_by_known_names(self):
        for method in ("POST", "PUT", "DELETE", "OPTIONS", "PATCH"):
            status, headers, _ = self.panel.ask("/", method, body=b"x" * 10)
            self.assertEqual((status, headers["Allow"]), (405, "GET, HEAD"), method)
        self.assertEqual(self.panel.ask("/", headers={"Host": "attacker.example"})[0], 421)
        for path in ("/", "/panel.js", "/words.js", "/panel.css", "/sheet", "/sheet.js", "/records", "/records.js", "/icon.svg", "/metrics", "/api/v1/stations"):
            status, headers, body = self.panel.ask(path)
            self.assertEqual(status, 200, path)
            self.assertIn("default-src 'none'", headers["Content-Security-Policy"])
            self.assertNotIn("unsafe", headers["Content-Security-Policy"])
            self.assertEqual(headers["X-Content-Type-Options"], "nosniff")
            if not path.endswith(".svg"):  # its one name of elsewhere is that of its format
                self.assertNotRegex(body.decode(), r"https?://", path)
            status, _, head = self.panel.ask(path, "HEAD")
            self.assertEqual((status, head), (200, b""), path)
        for path in ("/api/v1/stations/0", "/api/v1/stations/2", "/api/v1/stations/01", "/api/v1/stations/1/", "/api/v1/stations/99999999999",
                     "/../etc/passwd", "/api/v1/", "/index.html", "//"):
            self.assertEqual(self.panel.ask(path)[0], 404, path)

    def test_a_request_without_an_end_and_one_too_large_hurt_nobody(self):
        silent = [socket.create_connection(("127.0.0.1", self.panel.port)) for _ in range(50)]
        for s in silent:
            s.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX: ")
        with socket.create_connection(("127.0.0.1", self.panel.port)) as large:
            large.settimeout(20)
            large.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"x" * 60000 + b"\r\n\r\n")
            self.assertRegex(large.recv(200), rb"^HTTP/1\.[01] (4|5)\d\d ")
        self.assertEqual(self.panel.ask("/")[0], 200)
        for s in silent:
            s.close()

    def test_its_figures_are_read_by_the_reference_parser_and_agree(self):
        if text_string_to_metric_families is None:
            self.skipTest("needs python3-prometheus-client")
        self.change_over()
        wait_for(lambda: self.panel.station()[1]["state"]["name"] == "COMPLETE", 5, "Complete on the panel")
        families = {f.name: f for f in text_string_to_metric_families(self.panel.ask("/metrics")[2].decode())}
        states = {s.labels["state"]: s.value for s in families["kniferail_state"].samples}
        self.assertEqual([name for name, value in states.items() if value == 1], ["COMPLETE"])
        placement = {(s.labels["rail"], s.labels["holder"]): s.value for s in families["kniferail_placement_metres"].samples}
        n = self.plc.read("CUT_COUNT")
        self.assertEqual(len(placement), n * self.plc.read("RAIL_COUNT"))
        for r in self.plc.rails():
            for i, (cut, off) in enumerate(zip(self.plc.read_all("HOLDER_CUT", self.plc.read("RAIL_HOLDERS", r), r),
                                               self.plc.read_all("HOLDER_DEVIATION", self.plc.read("RAIL_HOLDERS", r), r))):
                if cut:
                    self.assertAlmostEqual(placement[str(r + 1), str(i + 1)], off / 1e6, places=9)
        whole = next(s.value for s in families["kniferail_changeover_seconds"].samples if s.labels["part"] == "whole")
        self.assertAlmostEqual(whole, self.plc.read("RECORD_TOTAL") / 1000, places=3)

    def test_many_browsers_cost_one_poller_and_no_memory(self):
        clients = self.clients_of_gateway()
        with Panel(PANEL, [(self.gateway.port, 1)], measured=True) as panel:
            streams = [Events(panel, "/api/v1/stations/1/events") for _ in range(50)]
            try:
                for s in streams:
                    s.start()
                every_browser_reads(streams, 10)
                rss = resident_kib(panel)
                every_browser_reads(streams, 20)
                self.assertLess(resident_kib(panel) - rss, 4096)
                self.assertEqual(self.clients_of_gateway(), clients + 1)
            finally:
                for s in streams:
                    s.__exit__()

    def clients_of_gateway(self):
        """Established connections at the gateway's port, by proc_net_tcp(5)."""
        rows = pathlib.Path("/proc/net/tcp").read_text("ascii").splitlines()[1:]
        return sum(row.split()[1].endswith(f":{self.gateway.port:04X}") and row.split()[3] == "01" for row in rows)


class Book:
    """What an independent reader finds in a gateway's book."""

    def __init__(self, path):
        with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as book:
            def rows(query):
                return book.execute(query).fetchall()
            self.changeovers = rows(
                "SELECT c.ended_at, c.order_number, o.meaning, c.planned_ms, c.actual_ms, c.total_ms, (SELECT sum(corrections) FROM "
                "changeover_rail r WHERE r.changeover = c.id), c.cause_sentence FROM changeover c JOIN outcome o ON o.number = c.outcome "
                "ORDER BY c.id")
            placed = rows(
                "SELECT h.rail, h.holder, c.ended_at, h.deviation_um FROM changeover c JOIN changeover_holder h ON h.changeover = c.id WHERE "
                "c.job = 1 AND h.deviation_um IS NOT NULL AND EXISTS (SELECT 1 FROM changeover_move m WHERE m.changeover = c.id AND "
                "m.rail = h.rail AND m.holder = h.holder) ORDER BY c.id")
            self.raised = dict(rows("SELECT code, count(*) FROM alarm WHERE raised = 1 GROUP BY code"))
        self.placed = {}
        for rail, holder, at, off in placed:
            self.placed.setdefault((rail, holder), []).append((at, off))


def minutes(ms):
    """As the page has times: to the second, a half rounded up."""
    s = int(ms / 1000 + 0.5)
    return f"{s // 60}:{s % 60:02}"


class RecordsTest(PanelTest):
    """A station with a past: two changeovers that were verified, and one that somebody stopped when a permissive was lost."""

    book = True

    def options(self):
        folder = tempfile.TemporaryDirectory(prefix="kr_panel_")
        self.addCleanup(folder.cleanup)
        self.file = pathlib.Path(folder.name) / "records.json"
        return ["--records", str(self.file)]

    def live(self):
        for number, order in enumerate((ORDER, (1200000, [230000] * 5)), 4711):
            self.assertEqual(self.plc.order(number, *order), 0)
            self.plc.start_and_complete()
        self.assertEqual(self.plc.order(4713, *ORDER), 0)
        self.plc.start()
        self.plc.wait_dragging()
        self.plc.permit(*PERMISSIVES[1:])
        self.plc.wait_state("SUSPENDED", seconds=20)
        self.plc.give("STOP")
        self.plc.wait_state("STOPPED", seconds=20)
        wait_for(self.is_told, 20, "three changeovers in the book")

    def is_told(self):
        self.plc.scan()
        with contextlib.closing(sqlite3.connect(f"file:{self.gateway.book}?mode=ro", uri=True)) as book:
            return book.execute("SELECT count(*) FROM changeover").fetchone() == (3,)

    def write(self, *more):
        done = subprocess.run([KNIFERAIL, "records", "--config", self.gateway.config, "--out", self.file, *more], capture_output=True,
                              text=True, timeout=60, check=False)
        self.assertEqual((done.returncode, done.stdout, done.stderr), (0, "", ""))

    def records(self):
        status, headers, body = self.panel.ask("/api/v1/stations/1/records")
        self.assertEqual(headers["Content-Type"], "application/json")
        return status, json.loads(body)


class Records(RecordsTest):
    def test_the_interface_says_what_the_book_says_and_a_new_file_takes_the_place_of_the_old_one(self):
        status, none = self.records()
        self.assertEqual(status, 503)
        self.assertRegex(none["error"], "can't be opened: No such file")
        self.write()
        self.assertEqual(self.records()[1]["changeovers"], [])
        self.live()
        self.write()
        status, told = self.records()
        book = Book(self.gateway.book)
        self.assertEqual((status, told["station"], told["sound"], told["length_unit"]), (200, "small-shear", True, "mm"))
        fields = ("ended_at", "order_number", "outcome", "planned_ms", "actual_ms", "total_ms", "corrections", "cause")
        self.assertEqual([tuple(c[f] for f in fields) for c in told["changeovers"]], book.changeovers)
        self.assertEqual([c["outcome"] for c in told["changeovers"]], ["verified", "verified", "ended without verification"])
        self.assertEqual({a["code"]: a["raised"] for a in told["alarms"]}, book.raised)
        placed = {(h["rail"], h["holder"]): [(told["changeovers"][i]["ended_at"], off) for i, off, _ in h["list"]] for h in told["holders"]}
        self.assertEqual(placed, book.placed)
        self.assertGreater(sum(map(len, placed.values())), 20)
        self.write("--last", "1")
        self.assertEqual([c["order_number"] for c in self.records()[1]["changeovers"]], [4713])

    def test_a_file_that_is_not_right_is_refused_with_the_reason_and_nothing_of_it_is_shown(self):
        self.write()
        good = self.file.read_text("utf-8")
        for text, reason in ((good[:-20], "line 1"), ("[]", "station is missing"), (good.replace('"sound"', '"sounds"'), "sound is missing"),
                             (good.replace("small-shear", "brindle-2"), "of another station, brindle-2"),
                             (good.replace('"alarms":[]', '"alarms":7'), "alarms: a list of up to 256"),
                             (" " * (8 * 1024 * 1024 + 1), "8388609 bytes"),
                             (good.replace('"holders":[]', '"holders":[{"rail":1}]'), "holders: holder is missing")):
            self.file.write_text(text, "utf-8")
            status, told = self.records()
            self.assertEqual((status, list(told)), (503, ["error"]), reason)
            self.assertIn(reason, told["error"])
        self.file.unlink()
        os.mkfifo(self.file)  # nobody waits for a writer
        self.assertIn("not a regular file", self.records()[1]["error"])
        self.file.unlink()
        self.file.write_text(good, "utf-8")
        self.assertEqual(self.records()[0], 200)

    def test_a_station_that_was_given_no_file_has_no_records(self):
        with Panel(PANEL, [(self.gateway.port, 1)]) as panel:
            status, _, body = panel.ask("/api/v1/stations/1/records")
            self.assertEqual((status, "--records" in json.loads(body)["error"]), (404, True))


class Alone(unittest.TestCase):
    """The program without a station."""

    def test_no_function_that_writes_a_register_is_linked(self):
        symbols = subprocess.run(["nm", "-D", "--undefined-only", PANEL], capture_output=True, text=True, check=True).stdout
        self.assertIn("modbus_read_input_registers", symbols)
        asked = set(re.findall(r"\bmodbus_\w+", symbols))
        self.assertFalse([s for s in asked if re.search(r"write|mask|raw|send", s)], asked)
        defined = subprocess.run(["nm", PANEL], capture_output=True, text=True, check=True).stdout
        self.assertIn("kr_client_station", defined)
        self.assertNotIn("kr_client_write", defined)

    def test_wrong_options_are_told(self):
        for arguments, word in ((("--listen", "0.0.0.0:80"), "loopback"), (("--listen", "192.0.2.1:80"), "loopback"), (("--station", "a:b"), "HOST"),
                                (("--station", "a:1/256"), "unit 0 to 255"), (("--period-ms", "99"), "100 to 10000"),
                                (("--name", ""), "1 to 63"), (("--records", ""), "path of a file"),
                                (("--records", "a", "--records", "b"), "one file for each"), (("here",), "not understood"), (("--socket", "/nonexistent/s"), "/nonexistent/s")):
            done = subprocess.run([PANEL, *arguments], capture_output=True, text=True, timeout=30, check=False)
            self.assertIn(done.returncode, (1, 2), arguments)
            self.assertIn(word, done.stderr)

    def test_a_port_that_another_program_has_is_told_by_its_name(self):
        with socket.create_server(("127.0.0.1", 0)) as taken:
            port = taken.getsockname()[1]
            done = subprocess.run([PANEL, "--listen", f"127.0.0.1:{port}"], capture_output=True, text=True, timeout=30, check=False)
        self.assertEqual((done.returncode, done.stdout), (1, ""))
        self.assertEqual(done.stderr, f"kniferail-panel: 127.0.0.1, port {port}: Address already in use\n")

    def test_a_client_that_has_every_connection_and_says_nothing_loses_them(self):
        """Half of them send the beginning of a request. What comes meanwhile waits until they are gone, for no more than 30 s."""
        with contextlib.ExitStack() as stack:
            panel = stack.enter_context(Panel(PANEL, [(9, 1)]))
            for i in range(256):
                silent = stack.enter_context(socket.create_connection(("127.0.0.1", panel.port)))
                if i % 2:
                    silent.sendall(b"GET / HTTP/1.1\r\nHost: ")

            def answers():
                try:
                    return panel.ask("/")[0] == 200
                except (OSError, http.client.HTTPException):
                    return False
            wait_for(answers, 60, "an answer behind 256 silent connections")

    def test_a_unix_socket_for_a_proxy(self):
        with tempfile.TemporaryDirectory(prefix="kr_panel_") as folder:
            path = os.path.join(folder, "socket")
            for end in (signal.SIGKILL, signal.SIGTERM):  # the second start removes what the killed one left
                process = subprocess.Popen([PANEL, "--socket", path])
                wait_for(lambda: self.answer(path), 10, "an answer on the socket")
                self.assertEqual(os.stat(path).st_mode & 0o777, 0o660)
                second = subprocess.run([PANEL, "--socket", path], capture_output=True, text=True, timeout=30, check=False)
                self.assertEqual(second.returncode, 1)
                self.assertIn("in use", second.stderr)
                process.send_signal(end)
                process.wait(20)
            self.assertFalse(os.path.exists(path))

    @staticmethod
    def answer(path):
        with socket.socket(socket.AF_UNIX) as s:
            try:
                s.connect(path)
            except OSError:
                return False
            s.sendall(b"GET / HTTP/1.1\r\nHost: panel.example\r\nConnection: close\r\n\r\n")
            return s.recv(20).startswith(b"HTTP/1.1 200")


class Browser:
    """A browser for all tests of a class, at the panel of each."""

    @classmethod
    def setUpClass(cls):
        options = webdriver.ChromeOptions()
        for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1280,800"):
            options.add_argument(argument)
        cls.browser = webdriver.Chrome(service=Service("/usr/bin/chromedriver"), options=options)
        cls.browser.set_page_load_timeout(60)

    @classmethod
    def tearDownClass(cls):
        cls.browser.quit()

    def open(self, path):
        self.browser.get(f"http://127.0.0.1:{self.panel.port}{path}")

    def text(self, css):
        """In one step in the browser: the page may make its elements anew at any time."""
        return self.browser.execute_script("return [...document.querySelectorAll(arguments[0])].map((e) => e.innerText)", css)

    def errors(self):
        """What the browser complains of: also of what the content security policy kept out."""
        return [e["message"] for e in self.browser.get_log("browser") if "ERR_" not in e["message"] and "503" not in e["message"]]


@unittest.skipUnless(webdriver, "needs python3-selenium, chromium and chromium-driver")
class Page(Browser, PanelTest):
    def cells(self, rail):
        rows = self.browser.execute_script(
            "return [...document.querySelectorAll(`[data-rail='${arguments[0]}'] tbody tr`)].map((r) => [...r.cells].map((c) => c.innerText))", rail)
        return {int(row[0]): row for row in rows}

    def equal_to_registers(self, station, plc):
        for r in plc.rails():
            n = plc.read("RAIL_HOLDERS", r)
            plc.scan()  # a browser on a loaded computer takes its time, and the heartbeat must not stop meanwhile
            cells, at, cut = self.cells(r + 1), plc.read_all("HOLDER_POSITION", n, r), plc.read_all("HOLDER_CUT", n, r)
            plc.scan()
            off, metres = plc.read_all("HOLDER_DEVIATION", n, r), plc.read_all("HOLDER_METRES", n, r)
            words = {h["known"]["number"]: h["known"]["word"] for rail in self.panel.station()[1]["rails"] for h in rail["holders"]}
            how = plc.read_all("HOLDER_KNOWN", n, r)
            plc.scan()
            for i in range(n):
                row = cells[i + 1]
                self.assertEqual(row[1], str(cut[i]) if cut[i] else "idle")
                self.assertEqual(row[4], words[how[i]])
                self.assertEqual(row[5], f"{at[i] / 1000:.3f} mm")
                self.assertEqual(row[7], f"{off[i] / 1000:.3f} mm" if cut[i] and words[how[i]] == "measured" else "")
                self.assertEqual(row[9], str(metres[i]))

    def wait_text(self, css, text):
        def there():
            self.plc.scan()
            return any(text in t for t in self.text(css))
        wait_for(there, 20, f"'{text}' at {css}, where stands {self.text(css)}")

    def test_a_changeover_a_loss_and_a_return(self):
        self.open("/?station=1")
        self.wait_text("#unit .state", self.plc.state())
        self.equal_to_registers(None, self.plc)
        self.change_over()
        self.wait_text("#unit .state", "COMPLETE")
        self.equal_to_registers(None, self.plc)
        self.wait_text("#unit", "4711 in force, verified")
        wait_for(lambda: self.browser.execute_script("const i = document.querySelector('img.drawing'); return i.complete && i.naturalWidth > 0"),
                 10, "the drawing")
        signals = [name for name in MAP.json["numbers"]["LINE_STATUS"] if self.plc.bit("LINE_STATUS", "LINE_STATUS", name)]
        self.assertEqual(sorted(self.text("#line li.on .name")), sorted(signals))
        self.gateway.end(signal.SIGKILL)
        self.wait_gone()
        self.gateway.start(self.gateway.port)
        wait_for(lambda: self.text("#lost") == [""] or not self.browser.find_element(By.ID, "lost").is_displayed(), 20, "the return")
        self.assertEqual(self.errors(), [])

    def wait_gone(self):
        wait_for(lambda: any("NO ANSWER FROM THE STATION" in t for t in self.text("#lost")), 10, "the loss in large letters")
        self.assertIn("stale", self.browser.execute_script("return document.body.className"))
        self.assertIn("is old", self.text("#lost")[0])

    def test_a_fault_is_told_with_its_name_value_and_remedy_and_is_gone_when_it_is_mended(self):
        self.open("/?station=1")
        self.wait_text("#alarms", "Alarms: none")
        self.assertEqual(self.plc.order(4711, *ORDER), 0)
        self.plc.start()
        self.plc.wait_dragging()
        self.plc.permit(*PERMISSIVES[1:])
        self.plc.wait_state("SUSPENDED", seconds=20)
        self.wait_text("#unit .state", "SUSPENDED")
        row = next(a for a in MAP.json["alarms"] if a["name"] == "PERMISSIVE_LOST")
        self.wait_text("#alarms .alarm", f"Alarm {row['code']} PERMISSIVE_LOST (suspend), since ")
        told = self.text("#alarms .alarm")[0]
        for words in (row["remedy"], f"value 0x{self.plc.read_all('ALARM_VALUES', 1)[0]:x}", ", for 0:"):
            self.assertIn(words, told)
        self.wait_text("#permissives li.missing", "LINE_STOPPED")
        self.plc.permit(*PERMISSIVES)
        self.plc.wait(lambda: self.plc.read("PERMISSIVES_MISSING") == 0, 10, "permissives that count again")
        self.assertEqual(self.plc.give("UNSUSPEND"), 0)
        self.plc.wait_state("COMPLETE", seconds=120)
        self.wait_text("#unit .state", "COMPLETE")
        self.assertFalse([t for t in self.text("#alarms .alarm") if "PERMISSIVE_LOST" in t])
        self.assertEqual(self.text("#permissives li.missing"), [])

    def test_the_list_has_every_station_and_says_in_large_letters_which_does_not_answer(self):
        with Panel(PANEL, [(self.gateway.port, 1), (9, 7)]) as panel:
            self.browser.get(f"http://127.0.0.1:{panel.port}/")
            self.wait_text(".card[data-station='1'] .state", self.plc.state())
            self.wait_text(".card[data-station='2'] .state", "DOES NOT ANSWER")
            self.assertIn("small-shear", self.text(".card[data-station='1']")[0])
            self.assertIn("127.0.0.1:9, unit 7", self.text(".card[data-station='2']")[0])
            large = self.browser.execute_script("return parseFloat(getComputedStyle(document.querySelector('.card.stale .state')).fontSize)")
            self.assertGreaterEqual(large, 24)
            self.browser.execute_script("document.querySelector(\".card[data-station='1']\").click()")
            self.wait_text("#unit .state", self.plc.state())

    def test_a_finger_finds_what_it_touches_and_no_page_says_safe(self):
        """44 pixels of CSS: W3C, WCAG 2.2, success criterion 2.5.5."""
        for path in ("/", "/?station=1", "/sheet?station=1", "/records?station=1"):
            self.open(path)
            self.wait_text("main", "small-shear" if "records" not in path else "NO RECORDS")
            sizes = self.browser.execute_script(
                "return [...document.querySelectorAll('a, button')].map((e) => [e.innerText, e.getBoundingClientRect().height])")
            self.assertEqual([s for s in sizes if s[1] < 44], [], path)
            self.assertNotRegex(self.browser.find_element(By.TAG_NAME, "body").text, r"(?i)\bsafe\b", path)

    def test_news_that_come_seldom_are_not_taken_for_silence(self):
        with Panel(PANEL, [(self.gateway.port, 1)], ["--period-ms", "4000"]) as panel:
            self.browser.get(f"http://127.0.0.1:{panel.port}/?station=1")
            self.wait_text("#unit .state", self.plc.state())
            until = time.monotonic() + 10
            while time.monotonic() < until:
                self.assertEqual(self.text("#lost"), [""])
                time.sleep(0.2)

    def test_the_panel_itself_goes(self):
        self.open("/?station=1")
        self.wait_text("#unit .state", self.plc.state())
        os.kill(self.panel.process.pid, signal.SIGSTOP)
        try:
            wait_for(lambda: any("NO NEWS" in t for t in self.text("#lost")), 15, "silence in large letters")
        finally:
            os.kill(self.panel.process.pid, signal.SIGCONT)
        wait_for(lambda: self.text("#lost") == [""], 15, "news again")

    def test_holders_sort_by_a_finger_and_stay_sorted(self):
        self.open("/?station=1")
        self.wait_text("#unit .state", self.plc.state())
        for _ in range(2):
            self.browser.execute_script("document.querySelectorAll('[data-rail=\"1\"] th button')[5].click()")
        time.sleep(1)  # several events: the page is made anew
        order = self.browser.execute_script("return [...document.querySelectorAll('[data-rail=\"1\"] tbody tr')].map((r) => Number(r.dataset.holder))")
        at = self.plc.read_all("HOLDER_POSITION", self.plc.read("RAIL_HOLDERS", 0), 0)
        self.assertEqual(order, sorted(order, key=lambda h: -at[h - 1]))

    def test_the_sheet_numbers_slits_rightly_where_an_edge_is_not_trimmed(self):
        """Slit 1 then lies between the web's edge and the first cut line."""
        for order, flags in ((4713, 0), (4714, 1 << MAP.number("EDGE_FLAGS", "OPERATOR"))):
            self.assertEqual(self.plc.order(order, 900000, [440000, 420000], EDGE_FLAGS=flags), 0)
            self.plc.start_and_complete()
            cuts = self.plc.read_all("CUT_LINE", self.plc.read("CUT_COUNT"))
            edges = ([self.plc.read("WEB_OPERATOR")] if flags else []) + cuts
            measured = self.plc.read_all("SLIT_MEASURED", 2)

            def is_on_the_panel():
                shown = self.panel.station()[1]["cuts"]
                return shown["lines_um"] == cuts and [s["measured_um"] for s in shown["slits"]] == measured
            wait_for(is_on_the_panel, 10, "the order's cut lines and slits on the panel")
            self.open("/sheet?station=1")
            self.wait_text("main h2", "Slits")
            rows = self.browser.execute_script(
                "return [...document.querySelector('main section:nth-child(3) table').tBodies[0].rows].map((r) => "
                "[...r.cells].map((c) => c.innerText))")
            expected = [[str(i + 1), *(f"{um / 1000:.3f} mm" for um in (right - left, left, right, measured[i]))]
                        for i, (left, right) in enumerate(zip(edges, edges[1:]))]
            self.assertEqual(rows, expected)

    def test_nothing_is_wider_than_a_telephone_and_no_green_is_shown(self):
        for width, height in ((1280, 800), (390, 844)):
            self.browser.set_window_size(width, height)
            for path in ("/", "/?station=1", "/sheet?station=1"):
                self.open(path)
                self.wait_text("main", "small-shear")
                if path != "/sheet?station=1":
                    wide = self.browser.execute_script("return document.documentElement.scrollWidth - window.innerWidth")
                    self.assertLessEqual(wide, 0, (path, width))
        style = (pathlib.Path(__file__).resolve().parents[2] / "src/panel/pages/panel.css").read_text("utf-8")
        for colour in re.findall(r"#([0-9a-f]{6})\b", style):
            red, green, blue = (int(colour[i:i + 2], 16) for i in (0, 2, 4))
            self.assertLessEqual(green, max(red, blue) + 8, f"#{colour} is green")
        self.assertNotIn("green", re.sub(r"/\*.*?\*/", "", style, flags=re.S))
        inks = re.findall(r"rgb\(([\d.]+)%, *([\d.]+)%, *([\d.]+)%\)", self.panel.ask("/api/v1/stations/1/drawing.svg")[2].decode())
        self.assertTrue(inks)
        for ink in set(inks):
            red, green, blue = map(float, ink)
            self.assertLessEqual(green, max(red, blue) + 3, ink)


@unittest.skipUnless(webdriver, "needs python3-selenium, chromium and chromium-driver")
class RecordsPage(Browser, RecordsTest):
    def rows(self, table):
        return self.browser.execute_script(
            "return [...document.querySelectorAll(`[data-table='${arguments[0]}'] tbody tr`)].map((r) => [...r.cells].map((c) => c.innerText))",
            table)

    def test_what_stands_on_the_page_is_what_an_independent_reader_finds_in_the_book(self):
        self.live()
        self.write()
        book = Book(self.gateway.book)
        self.open("/records?station=1")
        wait_for(lambda: self.rows("changeovers"), 20, "the changeovers")
        shown = [(row[0], row[2], row[3], row[4], row[5], row[6], row[8], row[13]) for row in self.rows("changeovers")]
        self.assertEqual(shown, [(at[:19].replace("T", " "), str(order), outcome, minutes(planned), minutes(actual), minutes(total),
                                  str(corrections), cause)
                                 for at, order, outcome, planned, actual, total, corrections, cause in reversed(book.changeovers)])
        names = {a["code"]: a["name"] for a in MAP.json["alarms"]}
        self.assertEqual({row[0]: row[2] for row in self.rows("alarms")}, {f"{c} {names[c]}": str(n) for c, n in book.raised.items()})
        charts = self.browser.execute_script(
            "return [...document.querySelectorAll('figure')].map((f) => [f.dataset.holder, f.dataset.offs, "
            "[...f.querySelectorAll('path title')].map((t) => t.textContent)])")
        self.assertEqual({holder: offs for holder, offs, _ in charts},
                         {f"{rail}/{holder}": " ".join(str(off) for _, off in placed) for (rail, holder), placed in book.placed.items()})
        for holder, _, titles in charts:
            rail, number = map(int, holder.split("/"))
            self.assertEqual(titles, [f"{at[:19].replace('T', ' ')}: {off / 1000:.3f} mm" for at, off in book.placed[rail, number]])
        self.assertEqual(self.errors(), [])

    def test_markup_in_the_file_is_text_and_the_page_is_no_wider_than_a_telephone(self):
        self.live()
        self.write()
        told = json.loads(self.file.read_text("utf-8"))
        told["changeovers"][0]["cause"] = told["alarms"][0]["alarm"] = "<img src=x onerror=document.title='run'><script>document.title='run'</script>"
        told["tolerance_um"] = 1  # most placements lie beyond it
        self.file.write_text(json.dumps(told), "utf-8")
        for width in (1280, 390):
            self.browser.set_window_size(width, 800)
            self.open("/records?station=1")
            wait_for(lambda: self.rows("changeovers"), 20, "the changeovers")
            self.assertIn("<script>", self.rows("changeovers")[-1][13])
            self.assertEqual(self.browser.execute_script("return document.title"), "Records of small-shear")
            self.assertEqual(self.browser.execute_script("return document.querySelectorAll('main img, main script').length"), 0)
            wide = self.browser.execute_script("return document.documentElement.scrollWidth - window.innerWidth")
            self.assertLessEqual(wide, 0, width)
        beyond = sum(abs(off) > 1 for h in told["holders"] for _, off, _ in h["list"])
        self.assertEqual(self.browser.execute_script("return document.querySelectorAll('path.out').length"), beyond)

    def test_without_a_file_the_page_says_so_in_large_letters(self):
        self.open("/records?station=1")
        wait_for(lambda: any("NO RECORDS" in t and "can't be opened" in t for t in self.text("main .lost")), 20, "the reason")


if __name__ == "__main__":
    unittest.main(verbosity=2)
