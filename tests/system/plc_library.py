"""The shipped PLC library as a PLC: the text of config/plc and the printed types, run by an interpreter of the standard's
Structured Text, against the real daemon. What is exchanged comes from the table in config/plc/README.md.

    plc_library.py KNIFERAILD KNIFERAIL
"""
import re
import signal
import subprocess
import time

from pymodbus.exceptions import ModbusException

import ladder
import pymodbus_names
import st
from gateway_rig import ALL, KNIFERAIL, MAP, ROOT, SLOW, TOLERANCE_UM, Gateway, GatewayTest, Plc, Refused, main, wait_for

FOLDER = ROOT / "config" / "plc"
TYPES = subprocess.run([KNIFERAIL, "map", "--format", "st"], check=True, capture_output=True, text=True).stdout
FILES = {"kniferail_types.st": TYPES, **{name: (FOLDER / name).read_text(encoding="ascii") for name in
                                         ("kniferail_station.st", "kniferail_toggle.st", "kniferail_example.st")}}
TABLE = [(variable, *map(int, numbers)) for variable, *numbers in
         re.findall(r"^\| (\w+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \| ", (FOLDER / "README.md").read_text(encoding="ascii"), re.M)]
READS, WRITES = [row for row in TABLE if row[2] == 4], [row for row in TABLE if row[2] == 16]
PERMISSIVES = {"LINE_STOPPED": "LINESTOPPED", "KNIVES_RAISED": "KNIVESRAISED", "GUARDS_CLOSED": "GUARDSCLOSED", "AIR": "AIR",
               "ENABLE": "ENABLE"}
PIECE = 16
WEB, FIVE, NINE = 1200000, [230000] * 5, [125000] * 9


class LibraryPlc:
    """A PLC that runs the shipped program. It scans when it is told to, at its own pace."""

    def __init__(self, gateway, scan_ms=20, a_piece_a_scan=False):
        self.gateway, self.scan_ms, self.a_piece_a_scan, self.piece = gateway, scan_ms, a_piece_a_scan, 0
        self.client, self.frozen, self.next_scan, self.station = None, False, time.monotonic(), None
        self.restart()

    def restart(self, latch_kept=False):
        """The PLC's own: nothing is kept but what is retained. latch_kept: a latch shows that no guard was released meanwhile."""
        accesses = self.station["ACCESSCOUNT"] if self.station else 0
        self.program = st.Program.of(FILES, "KR_EXAMPLE")
        self.station = self.program["STATION"]
        self.station["ACCESSCOUNT"], self.program["LATCHKEPT"] = accesses, int(latch_kept)
        self.program["WRITETIME"], self.program["STILLTIME"] = max(60, 2 * self.scan_ms + 20), 3500
        self.permit(*ALL)

    def permit(self, *names):
        for name, variable in PERMISSIVES.items():
            self.program[variable] = int(name in names)

    def order(self, number, web, widths):
        order = self.program["ORDER"]
        order["NUMBER"], order["WEBWIDTH"], order["SLITCOUNT"] = number, web, len(widths)
        for i in range(128):
            order["WIDTH"][i + 1] = widths[i] if i < len(widths) else 0

    # the exchange

    def rows(self, table):
        """Those of variables that the program has."""
        return [row for row in table if row[0].upper() in self.program.frame]

    def call(self, function, *args, **options):
        """The answer's registers, [] for an exception, None without a connection."""
        try:
            if self.client is None:
                self.client = pymodbus_names.connected(self.gateway.port, timeout=1)
            answer = getattr(self.client, function)(*args, slave=1, **options)
        except (AssertionError, ConnectionError, OSError, ModbusException):
            self.client = None
            return None
        if answer.isError():
            return [] if hasattr(answer, "exception_code") else None
        return getattr(answer, "registers", [])

    def read(self):
        good = True
        for variable, word, _, register, count in self.rows(READS):
            got = self.call("read_input_registers", register, count=count)
            if not got:
                good = False
                continue
            for i, value in enumerate(got):
                self.program[variable.upper()].items[word + i] = value
        if "CONNECTED" in self.program.frame:
            self.program["CONNECTED"] = int(good)

    def write(self):
        rows = self.rows(WRITES)
        if self.a_piece_a_scan:  # a slow scanner: PIECE words of the order in each scan, in ascending sequence
            pieces = [("Request", word + i, 16, register + i, min(PIECE, count - i)) for variable, word, _, register, count in rows
                      if variable == "Request" for i in range(0, count, PIECE)]
            rows = [row for row in rows if row[0] != "Request"] + [pieces[self.piece % len(pieces)]]
            self.piece += 1
        for variable, word, _, register, count in rows:
            self.call("write_registers", register, self.program[variable.upper()].items[word : word + count])

    def clock_ms(self):
        return int(time.monotonic() * 1000) % 2**30

    def exchange(self):
        now = time.monotonic()
        self.next_scan = max(self.next_scan + self.scan_ms / 1000, now)
        time.sleep(self.next_scan - now)
        if not self.frozen:
            self.read()
        self.program.scan(self.clock_ms())
        if not self.frozen:
            self.write()

    def scan(self):
        self.exchange()
        if not self.station["ALIVE"]:
            claims = [self.program[name] for name in ("LINEMAYSTART", "LINEMAYRUN", "KNIVESMAYLOWER", "RAISEKNIVES")]
            assert not any(claims + self.program["LOWERKNIVES"].items), "a claim of a gateway that is not known to live"

    # the operator

    def until(self, condition, seconds, what):
        until = time.monotonic() + seconds * SLOW
        while not condition():
            if time.monotonic() > until:
                shown = {name: value for name, value in self.station.items() if isinstance(value, (int, str)) and value}
                raise AssertionError(f"not after {seconds * SLOW} s: {what}; {shown}, {self.station.get('REFUSAL')}, {self.station.get('ALARM')}")
            self.scan()

    def until_state(self, *names, seconds=30):
        numbers = [MAP.number("UNIT_STATE", name) for name in names]
        self.until(lambda: self.station["STATE"] in numbers, seconds, f"unit state {' or '.join(names)}")

    def press(self, button, scans=3):
        for value in (1, 0):
            self.program[button] = value
            for _ in range(scans):
                self.scan()

    def ready(self):
        self.until(lambda: self.station["INCONTROL"], 10, "control")

    def stage(self, number, web, widths):
        self.ready()
        self.order(number, web, widths)
        self.press("STAGEBUTTON")
        self.until(lambda: not self.station["JUDGING"] and not self.station["TOHANDOVER"], 20, "a verdict")
        return self.station["REFUSAL"]["CODE"]

    def start(self):
        self.until(lambda: self.station["STAGED"], 10, "the order staged")
        self.press("CHANGEOVERBUTTON")

    def done(self, seconds=60):
        self.until(lambda: self.station["DONE"] or self.station["STATE"] in (2, 5, 9, 11), seconds, "the changeover done")
        assert self.station["DONE"], (self.station["STATENAME"], self.station["ALARMTEXT"], self.station["REFUSALTEXT"])

    def until_dragging(self):
        dragging, address = MAP.number("CARRIAGE_PHASE", "DRAGGING"), MAP.address("CARRIAGE_PHASE")
        self.until(lambda: self.call("read_input_registers", address, count=1) == [dragging], 30, "a holder being dragged")

    def until_moving(self):
        phase = MAP.number("PHASE", "MOVE")
        self.until(lambda: self.station["PHASE"] == phase, 30, "holders being moved")


def widths_of(plc):
    lines = plc.read_all("CUT_LINE", plc.read("CUT_COUNT"))
    return [b - a for a, b in zip(lines, lines[1:])]


class Library(GatewayTest):
    def set_up(self, plc, number, widths, web=WEB):
        self.assertEqual(plc.stage(number, web, widths), 0, plc.station["REFUSALTEXT"])
        plc.start()
        plc.done()

    def judged(self, gateway, plc, number, widths):
        """From outside: that order is in force, with its widths, and every knife was measured at its place."""
        watcher = Watcher(gateway)
        self.assertEqual(watcher.read("ORDER_IN_FORCE"), number)
        self.assertEqual(widths_of(watcher), widths)
        self.verified(watcher, TOLERANCE_UM)
        if 0 in watcher.read_all("HOLDER_EDGE", watcher.read("RAIL_HOLDERS")):
            self.assertEqual(watcher.read("LINE_STATUS"), 0)  # nobody has proven an edge yet
            gateway.confirm_edges(len(list(watcher.rails())))
        plc.scan()
        plc.scan()
        self.assertEqual([plc.program[name] for name in ("LINEMAYSTART", "LINEMAYRUN", "KNIVESMAYLOWER")], [1, 1, 1])
        lower = [watcher.read_all("CUTTING", 8, rail) for rail in watcher.rails()]
        self.assertEqual(plc.program["LOWERKNIVES"].items[:16], sum(lower, []))
        watcher.close()

    def test_two_orders(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.set_up(plc, 701, FIVE)
            self.judged(gateway, plc, 701, FIVE)
            self.set_up(plc, 702, NINE)
            self.judged(gateway, plc, 702, NINE)

    def test_a_refused_order_is_told_in_words_and_the_next_one_is_taken(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.assertEqual(plc.stage(703, 600000, FIVE), MAP.result["WEB_TOO_NARROW"])
            self.assertIn("the slits take", plc.station["REFUSALTEXT"])
            self.assertIn("wider web", plc.station["REFUSALREMEDY"])
            self.assertEqual(plc.station["REFUSAL"]["VALUE"], sum(FIVE))
            plc.press("CHANGEOVERBUTTON")
            self.assertEqual(plc.station["REFUSAL"]["CODE"], 65003)
            self.assertEqual(plc.station["STATE"], MAP.number("UNIT_STATE", "STOPPED"))
            self.set_up(plc, 704, FIVE)
            self.judged(gateway, plc, 704, FIVE)

    def test_a_lost_permissive_suspends_and_resume_waits_until_it_counts(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.assertEqual(plc.stage(705, WEB, FIVE), 0)
            plc.start()
            plc.until_moving()
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "ENABLE")
            plc.until_state("SUSPENDED")
            self.assertIn("permissives were lost", plc.station["ALARMTEXT"])
            self.assertIn(plc.station["ALARMTEXT"], [line for _ in range(16) for line in (plc.scan(), *plc.program["ALARMLINES"].items)])
            plc.press("RESUMEBUTTON", scans=20)
            self.assertEqual(plc.station["STATE"], MAP.number("UNIT_STATE", "SUSPENDED"))
            plc.permit(*ALL)
            plc.until_state("EXECUTE", "COMPLETE")
            plc.done()
            self.judged(gateway, plc, 705, FIVE)

    def test_a_heartbeat_that_stands_still_suspends(self):
        with Gateway(speed=4) as gateway:
            plc, watcher = LibraryPlc(gateway), Watcher(gateway)
            self.assertEqual(plc.stage(706, WEB, FIVE), 0)
            plc.start()
            plc.until_moving()
            wait_for(lambda: watcher.read("UNIT_STATE") == MAP.number("UNIT_STATE", "SUSPENDED"), 10, "suspended")
            plc.ready()
            plc.until_state("SUSPENDED")
            plc.press("RESUMEBUTTON")
            plc.until_state("EXECUTE", "COMPLETE")
            plc.done()
            self.judged(gateway, plc, 706, FIVE)

    def test_hold_abort_and_clear(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.assertEqual(plc.stage(707, WEB, FIVE), 0)
            plc.start()
            plc.until_moving()
            plc.press("HOLDBUTTON")
            plc.until_state("HELD")
            plc.press("RESUMEBUTTON")
            plc.until_dragging()
            plc.press("ABORTBUTTON")
            plc.until_state("ABORTED")
            for button in ("RESUMEBUTTON", "CHANGEOVERBUTTON"):
                plc.press(button, scans=10)
                self.assertEqual(plc.station["STATE"], MAP.number("UNIT_STATE", "ABORTED"))
            plc.press("STOPBUTTON")
            plc.press("CLEARBUTTON")
            plc.until_state("STOPPED")
            self.assertEqual(plc.station["CHANGING"], 0)
            plc.press("CHANGEOVERBUTTON")  # the order is in force already
            plc.until(lambda: plc.station["REFUSAL"]["CODE"] == MAP.result["RELEASE_NEEDED"], 10, "that the pin is not proven out")
            self.assertIn("guided release", plc.station["REFUSALREMEDY"])
            plc.program["OTHERJOB"] = MAP.number("COMMAND_JOB", "RELEASE")
            plc.press("OTHERJOBBUTTON")
            plc.done()
            plc.press("CHANGEOVERBUTTON")
            plc.done()
            self.judged(gateway, plc, 707, FIVE)

    def test_stop_ends_the_job_for_good(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.assertEqual(plc.stage(708, WEB, FIVE), 0)
            plc.start()
            plc.until_moving()
            plc.press("STOPBUTTON")
            plc.until_state("STOPPED")
            for _ in range(50):
                plc.scan()
            self.assertEqual((plc.station["STATE"], plc.station["CHANGING"]), (MAP.number("UNIT_STATE", "STOPPED"), 0))

    def test_a_test_cut_is_told_from_a_line_that_may_run(self):
        with Gateway() as gateway:
            plc, watcher = LibraryPlc(gateway), Watcher(gateway)
            self.set_up(plc, 718, FIVE)
            for rail in watcher.rails():
                gateway.set("trial", rail + 1, "all")
            plc.scan()
            plc.scan()
            claims = ("LINEMAYRUN", "KNIVESMAYLOWER", "FORTESTCUTONLY")
            self.assertEqual([plc.program[name] for name in claims], [0, 1, 1])
            gateway.confirm_edges(len(list(watcher.rails())))
            plc.scan()
            plc.scan()
            self.assertEqual([plc.program[name] for name in claims], [1, 1, 0])

    def test_a_crash_is_reported_and_the_order_set_up_again_once_its_knives_are_confirmed(self):
        with Gateway() as gateway:
            plc, watcher = LibraryPlc(gateway), Watcher(gateway)
            self.set_up(plc, 719, FIVE)
            self.judged(gateway, plc, 719, FIVE)
            plc.program["KNIFEBROKEN"], plc.program["CRASHCUT"] = 1, 2
            plc.until(lambda: plc.station["ALARM"]["CODE"] == MAP.alarm["KNIFE_STRUCK"], 5, "that knives have to be looked at")
            self.assertEqual((plc.program["LINEMAYRUN"], plc.program["KNIVESMAYLOWER"]), (0, 0))
            was_struck = MAP.number("HOLDER_EDGE", "STRUCK")
            struck = [(rail, holder) for rail in watcher.rails() for holder, edge in enumerate(watcher.read_all("HOLDER_EDGE", 12, rail))
                      if edge == was_struck]
            self.assertEqual([watcher.read("HOLDER_CUT", rail, holder) for rail, holder in struck], [2, 2])
            plc.program["KNIFEBROKEN"], plc.program["CRASHCUT"] = 0, 0
            plc.scan()
            plc.scan()
            for rail, holder in struck:
                gateway.set("feeler", rail + 1, holder + 1)
            plc.press("CHANGEOVERBUTTON")
            plc.done()
            self.judged(gateway, plc, 719, FIVE)

    def test_a_gateway_that_is_killed_takes_every_claim_with_it(self):
        with Gateway(book=True) as gateway:
            plc = LibraryPlc(gateway)
            self.set_up(plc, 709, FIVE)
            self.judged(gateway, plc, 709, FIVE)
            plc.frozen = True  # a scanner that goes on showing the last image, and says nothing
            gateway.end(signal.SIGKILL)
            began = time.monotonic()
            plc.until(lambda: not plc.station["ALIVE"], 6, "the heartbeat found still")
            self.assertLess(time.monotonic() - began, 4.6 * SLOW)
            self.assertEqual([plc.program[name] for name in ("LINEMAYSTART", "LINEMAYRUN", "KNIVESMAYLOWER")], [0, 0, 0])

    def signals(self, plc):
        return [plc.program[name] for name in ("LINEMAYSTART", "LINEMAYRUN")]

    def running(self, plc, number, gateway):
        self.set_up(plc, number, FIVE)
        self.judged(gateway, plc, number, FIVE)
        plc.permit("GUARDS_CLOSED", "AIR", "ENABLE")
        plc.until(lambda: self.signals(plc) == [1, 1], 5, "the line may be started and run")

    def record_ended(self, gateway):
        watcher = Watcher(gateway)
        ended = watcher.read("RECORD_ENDED")
        watcher.close()
        return ended

    def measured_again(self, plc):
        """Job 2 leads on, and nothing else."""
        self.assertEqual(self.signals(plc), [0, 0])
        plc.permit(*ALL)
        plc.program["OTHERJOB"] = 2
        plc.press("OTHERJOBBUTTON")
        plc.done()
        plc.until(lambda: self.signals(plc) == [1, 1], 5, "the line may be started and run again")

    def test_a_guard_that_only_blinks_costs_no_scan_and_one_that_was_released_does(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.running(plc, 720, gateway)
            plc.permit("AIR", "ENABLE")
            plc.until(lambda: self.signals(plc) == [0, 1], 5, "the start forbidden alone")
            plc.permit("GUARDS_CLOSED", "AIR", "ENABLE")
            plc.until(lambda: self.signals(plc) == [1, 1], 5, "the start allowed again")
            plc.program["GUARDRELEASED"] = 1
            plc.until(lambda: self.signals(plc) == [0, 0], 5, "a doubt")
            plc.program["GUARDRELEASED"] = 0
            for _ in range(150):
                plc.scan()
            self.assertEqual(plc.station["ALARM"]["CODE"], MAP.alarm["ACCESS_COUNTED"])
            self.measured_again(plc)

    def test_a_plc_that_restarts_brings_the_signals_back_if_a_latch_vouches_for_it(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.running(plc, 721, gateway)
            for latch_kept in (True, False):
                time.sleep(4)  # longer than control_limit_ms: control is lost, too
                plc.restart(latch_kept)
                plc.permit("GUARDS_CLOSED", "AIR", "ENABLE")
                plc.scan()
                self.assertEqual(self.signals(plc), [0, 0])
                plc.ready()
                for _ in range(150):
                    plc.scan()
                self.assertEqual(self.signals(plc), [int(latch_kept)] * 2)
            self.measured_again(plc)

    def test_a_gateway_that_restarts_brings_the_signals_back_where_brakes_hold(self):
        """And not where a guard was released meanwhile, nor where the station file says nothing of brakes."""
        hold = (r"access = \[ \"guards_closed\", \"enable\" \];", 'access = [ "guards_closed", "enable" ]; unpowered = "brakes_hold";')
        for changes, released, back in (([hold], False, 1), ([hold], True, 0), ([], False, 0)):
            with self.subTest(changes=changes, released=released), Gateway(book=True, changes=changes) as gateway:
                plc, port = LibraryPlc(gateway), gateway.port
                self.running(plc, 722, gateway)
                measured_at = self.record_ended(gateway)
                self.assertLess(abs(time.time() - measured_at), 60 * SLOW)
                gateway.end(signal.SIGKILL)
                plc.scan()
                plc.scan()
                self.assertEqual(self.signals(plc), [0, 0])
                if released:
                    plc.program["GUARDRELEASED"] = 1
                    plc.scan()
                    plc.program["GUARDRELEASED"] = 0
                gateway.start(port)
                plc.ready()
                for _ in range(150):
                    plc.scan()
                self.assertEqual(self.signals(plc), [back, back])
                self.assertEqual(self.record_ended(gateway), measured_at)  # the book's places, with their time
                if back:
                    self.judged(gateway, plc, 722, FIVE)

    def test_a_gateway_that_is_killed_in_motion_and_comes_back(self):
        with Gateway(book=True) as gateway:
            plc, port = LibraryPlc(gateway), gateway.port
            self.assertEqual(plc.stage(710, WEB, FIVE), 0)
            plc.start()
            plc.until_moving()
            gateway.end(signal.SIGKILL)
            plc.scan()
            plc.scan()
            self.assertEqual(plc.station["ALIVE"], 0)
            gateway.start(port)
            plc.ready()
            plc.until_state("STOPPED", "ABORTED")
            for _ in range(50):  # it resumes nothing by itself
                plc.scan()
            self.assertEqual(plc.station["CHANGING"], 0)
            self.assertEqual(plc.stage(710, WEB, FIVE), 0)
            plc.press("CHANGEOVERBUTTON")
            plc.done()
            self.judged(gateway, plc, 710, FIVE)

    def test_a_plc_that_restarts_in_motion_finds_its_way_in(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.assertEqual(plc.stage(711, WEB, FIVE), 0)
            plc.start()
            plc.until_moving()
            plc.restart()
            plc.program["ORDER"]["NUMBER"] = 711
            for button in ("CHANGEOVERBUTTON", "STOPBUTTON", "ABORTBUTTON", "HOLDBUTTON"):
                plc.program[button] = 1  # held through the start
            plc.scan()
            self.assertEqual((plc.station["ALIVE"], plc.program["LINEMAYRUN"]), (0, 0))  # an image alone proves nothing
            plc.done()
            self.judged(gateway, plc, 711, FIVE)
            plc.restart()
            plc.program["ORDER"]["NUMBER"] = 711
            plc.program["CHANGEOVERBUTTON"] = plc.program["OTHERJOBBUTTON"] = 1
            plc.ready()
            for _ in range(50):
                plc.scan()
            self.assertEqual((plc.station["STATE"], plc.station["CHANGING"]), (MAP.number("UNIT_STATE", "COMPLETE"), 0))

    def test_numbers_wrap_behind_65535(self):
        with Gateway() as gateway:
            other = Plc(gateway)
            other.scan()
            other.fill_order(712, WEB, NINE)
            other.hand_over(number=65535)
            self.assertEqual(other.verdict(), 0)
            self.assertEqual(other.give("RESET", number=65535), 0)
            other.write("ACCESS_REQUEST", 2)
            other.close()
            plc = LibraryPlc(gateway)
            self.set_up(plc, 713, FIVE)
            self.judged(gateway, plc, 713, FIVE)
            self.assertEqual(plc.program["INPUT"][32], 1)
            self.assertLess(plc.program["INPUT"][22], 10)

    def test_scans_of_800_ms(self):
        with Gateway(changes=[(r"heartbeat_limit_ms = 3000", "heartbeat_limit_ms = 2500")], speed=40) as gateway:
            plc = LibraryPlc(gateway, scan_ms=800)
            self.set_up(plc, 714, FIVE)
            self.judged(gateway, plc, 714, FIVE)

    def test_buttons_that_are_held_act_once(self):
        with Gateway() as gateway:
            plc = LibraryPlc(gateway)
            self.assertEqual(plc.stage(715, WEB, FIVE), 0)
            plc.until(lambda: plc.station["STAGED"], 5, "staged")
            for button in ("STAGEBUTTON", "CHANGEOVERBUTTON", "RESUMEBUTTON", "CLEARBUTTON"):
                plc.program[button] = 1
            plc.scan()
            plc.until(lambda: not plc.station["JUDGING"] and not plc.station["TOHANDOVER"], 20, "a verdict")
            plc.program["CHANGEOVERBUTTON"] = 0
            plc.scan()
            plc.program["CHANGEOVERBUTTON"] = 1
            plc.until_moving()
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "ENABLE")
            plc.until_state("SUSPENDED")
            plc.permit(*ALL)
            for _ in range(50):
                plc.scan()
            self.assertEqual(plc.station["STATE"], MAP.number("UNIT_STATE", "SUSPENDED"))
            plc.program["RESUMEBUTTON"] = 0
            plc.scan()
            plc.program["RESUMEBUTTON"] = 1
            plc.until_state("EXECUTE", "COMPLETE")
            plc.done()
            before = plc.program["INPUT"][22]
            for _ in range(100):
                plc.scan()
            self.assertEqual((plc.program["INPUT"][22], plc.station["STATE"]), (before, MAP.number("UNIT_STATE", "COMPLETE")))
            self.assertEqual(plc.program["INPUT"][22], plc.program["COMMAND"][8])
            self.assertLessEqual(before, 3)  # Reset, Start, Unsuspend

    def scanner(self, changes, first_piece):
        """A scanner that sends the number before the widths, and a WriteTime that is too short for it; first_piece: where it is in
        the order when that changes. Returns how many requests the second order took."""
        with Gateway(changes=changes) as gateway:
            plc = LibraryPlc(gateway, a_piece_a_scan=True)
            many = [104000 + 1000 * (i % 2) for i in range(11)]
            for number, widths in ((716, FIVE), (717, many)):
                plc.ready()
                plc.program["WRITETIME"], plc.piece = 0, first_piece
                plc.ready = lambda: None
                before = plc.program["INPUT"][32]
                self.set_up(plc, number, widths)
                self.judged(gateway, plc, number, widths)
            return plc.program["INPUT"][32] - before

    def test_a_scanner_that_sends_the_number_first_never_sets_up_another_order(self):
        self.assertGreater(self.scanner([], 0), 1)
        self.assertGreater(self.scanner([], 2), 1)

    def test_and_with_the_number_behind_the_widths_it_is_not_even_judged_before(self):
        self.assertEqual(self.scanner([(r"unit_id = 1;", 'unit_id = 1; request_number_end = "required";')], 0), 1)


class Watcher(Plc):
    """Reads, and writes nothing."""

    def __init__(self, gateway):
        self.gateway, self.unit, self.source, self.run = gateway, 1, None, []
        self.connect()
        self.low_first = False

    def scan(self):
        self.look()


class TogglePlc(LibraryPlc):
    """A PLC that runs the shipped example of the toggled bit."""

    def restart(self, latch_kept=False):
        self.program = st.Program.of(FILES, "KR_TOGGLE_EXAMPLE")
        self.station = self.program.frame
        self.program["GIVEN"] = 0x1F
        self.scans = 0

    def clock_ms(self):
        """By its scans: WriteTime has to cover all pieces of an order, however late a loaded computer makes each scan."""
        self.scans += 1
        return self.scans * self.scan_ms

    def scan(self):
        self.exchange()

    def fill(self, number, web, widths):
        """The words of an order, high word first: all but session, kind and number."""
        words = self.program["REQUEST"].items
        words[3:280] = [0] * 277
        words[4:8] = [0, number, len(widths), 0]
        words[10:12] = divmod(web, 65536)
        words[20:22] = divmod(sum(widths), 65536)
        words[24 : 24 + 2 * len(widths)] = [word for width in widths for word in divmod(width, 65536)]

    def ask(self, what):
        """Toggles that bit, and waits for the answer."""
        self.program["ASK" + what] ^= 1
        self.until(lambda: self.program[what + "ANSWERED"] == self.program["ASK" + what], 20, f"an answer to the {what.lower()}")
        return self.program[what + "RESULT"]

    def give(self, command, job=0, order=0):
        self.program["WANTED"], self.program["JOB"], self.program["MEANT"] = command, job, order
        return self.ask("COMMAND")

    def until_unit(self, state):
        number = MAP.number("UNIT_STATE", state)
        self.until(lambda: self.program["INPUT"][6] == number, 60, f"unit state {state}")


class Toggle(GatewayTest):
    """KR_TOGGLE: by itself, what it hands over, and when it says that it was answered; and against the daemon."""

    def test_two_orders_are_set_up_by_toggled_bits_though_the_scanner_sends_the_number_first(self):
        with Gateway() as gateway:
            plc = TogglePlc(gateway, a_piece_a_scan=True)
            plc.program["WRITETIME"] = 1200  # 18 pieces of 20 ms, three times
            plc.until(lambda: plc.program["INPUT"][70] == 1 and plc.program["INPUT"][12] == 0, 10, "control, and the permissives")
            for number, widths in ((731, FIVE), (732, NINE)):
                plc.fill(number, WEB, widths)
                before = plc.program["INPUT"][32]
                self.assertEqual(plc.ask("ORDER"), 0)
                self.assertEqual(plc.program["INPUT"][32], before + 1)
                self.assertEqual(plc.give(MAP.number("COMMAND", "RESET")), 0)
                plc.until_unit("IDLE")
                self.assertEqual(plc.give(MAP.number("COMMAND", "START"), 1, number), 0)
                plc.until_unit("COMPLETE")
                watcher = Watcher(gateway)
                self.assertEqual((watcher.read("ORDER_IN_FORCE"), widths_of(watcher)), (number, widths))
                self.verified(watcher, TOLERANCE_UM)
                watcher.close()

    def test_an_order_that_was_asked_for_when_the_gateway_was_killed_is_asked_for_again(self):
        with Gateway(book=True) as gateway:
            plc, port = TogglePlc(gateway, a_piece_a_scan=True), gateway.port
            plc.program["WRITETIME"] = 1200
            plc.until(lambda: plc.program["INPUT"][70] == 1, 10, "control")
            plc.fill(733, WEB, FIVE)
            plc.program["ASKORDER"] ^= 1
            for _ in range(30):
                plc.scan()
            gateway.end(signal.SIGKILL)
            plc.scan()
            gateway.start(port)
            plc.until(lambda: plc.program["ORDERANSWERED"] == plc.program["ASKORDER"], 20, "an answer by the new gateway")
            self.assertEqual((plc.program["ORDERRESULT"], plc.program["INPUT"][65]), (0, 733))

    def block(self):
        clock = st.Clock()
        parser = st.Parser(clock)
        for name in ("kniferail_types.st", "kniferail_station.st", "kniferail_toggle.st"):
            parser.file(name, FILES[name])
        return clock, parser.pous["KR_TOGGLE"]

    def test_each_change_of_the_bit_takes_the_next_number_and_the_answer_follows_the_echo(self):
        clock, block = self.block()
        frame = block.make()

        def scan(**inputs):
            frame.update({name.upper(): value for name, value in inputs.items()})
            block.body(frame, clock)
            return frame["NUMBER"], frame["ANSWERED"]

        self.assertEqual(scan(ask=1, session=7, echo=65534), (0, 1))  # it stood there before the start
        self.assertEqual(scan(ask=0), (65535, 1))
        self.assertEqual(scan(), (65535, 1))
        self.assertEqual(scan(echo=65535, busy=1), (65535, 1))
        self.assertEqual(scan(busy=0), (65535, 0))
        self.assertEqual(scan(ask=1), (1, 0))
        self.assertEqual(scan(session=8, echo=0), (1, 0))
        self.assertEqual(frame["WITHSESSION"], 8)
        self.assertEqual(scan(echo=1), (1, 1))

    def test_an_orders_number_is_0_until_its_words_are_written_and_again_once_it_is_judged(self):
        clock, block = self.block()
        frame = block.make()
        frame["WRITETIME"], frame["SESSION"], frame["ECHO"] = 500, 7, 41

        def scan(now, **inputs):
            clock.now = now
            frame.update({name.upper(): value for name, value in inputs.items()})
            block.body(frame, clock)
            return frame["NUMBER"], frame["ANSWERED"]

        self.assertEqual(scan(0, ask=0), (0, 0))
        self.assertEqual(scan(100, ask=1), (0, 0))
        self.assertEqual(scan(590), (0, 0))
        self.assertEqual(scan(600), (42, 0))
        self.assertEqual(scan(700, session=8, echo=9), (0, 0))  # a gateway that restarted has none of the words
        self.assertEqual(scan(1190), (0, 0))
        self.assertEqual(scan(1200), (10, 0))
        self.assertEqual(scan(1300, echo=10, busy=1), (10, 0))
        self.assertEqual(scan(1400, busy=0), (0, 1))
        self.assertEqual(scan(1500), (0, 1))


README = (FOLDER / "README.md").read_text(encoding="ascii")
KINDS = {"OldHeartbeat": "UINT", "OldSession": "UINT", "Wanted": "UINT", "Job": "UINT", "CommandResult": "UINT", "Meant": "UDINT",
         "WriteTime": "TIME"}  # as README says; all others that are no registers are BOOL


def rungs():
    """The rungs of README as a program, with the types of the map."""
    text = README.partition("## The handshake as rungs")[2].replace("[order]", "[ORDER_NUMBER := ORDER_NUMBER]")
    drawn = ladder.Ladder(text)
    kinds = dict(KINDS)
    for name in drawn.names:
        if name in MAP.register:
            row = MAP.register[name]
            kind = "WORD" if row["unit"] == "bits" else {"U16": "UINT", "I32": "DINT", "U32": "UDINT"}[row["type"]]
            kinds[name] = f"ARRAY [1..{row['n']}] OF {kind}" if row["n"] > 1 else kind
    kinds["ACCESS_REQUEST"] = "WORD"  # a coil writes it
    return drawn, kinds


class RungPlc(Plc):
    """A PLC whose program is the rungs of README: what they read and write, by the addresses of the map."""

    def __init__(self, gateway=None):
        self.drawn, kinds = rungs()
        self.program = st.Program.of({"rungs.st": self.drawn.program(kinds)}, "RUNGS")
        self.program["WRITETIME"], self.widths, self.now, self.first = 60, [], 0, True
        if gateway:
            super().__init__(gateway)
        for name in ("CONNECTED", "LINESTOPPED", "KNIVESRAISED", "GUARDSCLOSED", "AIR", "ENABLE", "LATCHKEPT"):
            self.program[name] = 1

    def solve(self, ms=20, **inputs):
        """One cycle, ms after the last one."""
        self.now += ms
        self.program["FIRSTSCAN"], self.first = int(self.first), False
        for name, value in inputs.items():
            self.program[name.upper()] = value
        self.program.scan(self.now)
        return {name: self.program[name.upper()] for name in ("Alive", "MayStart", "MayRun", "MayLower", "LowerHolder5")}

    def scan(self):
        time.sleep(0.02)
        run = self.words(0, 72)
        for name in self.drawn.names:
            at = MAP.register.get(name, {}).get("address", 9999)
            if MAP.register.get(name, {}).get("area") == "input" and at < 72:
                self.program[name.upper()] = self.value(name, run[at : at + MAP.register[name]["words"]])
        self.program["CUTTING"].items[:] = self.words(MAP.address("CUTTING"), 8)
        self.solve()
        self.put("ACCESS_REQUEST")
        self.put("PLC_HEARTBEAT", "PERMISSIVES", 2, 3, 4, 5, 6, "ACCESS_COUNT")
        if self.program["OWN_CONTROL"]:
            self.put("ORDER_NUMBER", "SLIT_COUNT")
            self.put("WEB_WIDTH")
            self.put("WIDTH_SUM")
            for i, width in enumerate(self.widths):
                self.write("WIDTH", width, index=i)
            self.put("REQUEST_NUMBER_END")
            self.put("REQUEST_SESSION", "REQUEST_KIND", "REQUEST_NUMBER")
            self.put("COMMAND_SESSION", "COMMAND", "COMMAND_JOB", 3, 4, 5, 6, 7, "COMMAND_NUMBER", 9, "COMMAND_ORDER")

    def put(self, *names):
        """Registers side by side in one write; a number stands for a register that stays 0."""
        words = sum(([0] if isinstance(name, int) else self.split(name, self.program.frame.get(name, 0)) for name in names), [])
        try:
            self.write_piece(MAP.address(names[0]), words)
        except Refused as refused:
            assert refused.code == 1, refused  # not in control yet

    def until(self, condition, what):
        until = time.monotonic() + 60 * SLOW
        while not condition(self.program):
            assert time.monotonic() < until, (what, self.program.frame)
            self.scan()

    def order_of(self, number, web, widths):
        for name, value in (("ORDER_NUMBER", number), ("SLIT_COUNT", len(widths)), ("WEB_WIDTH", web), ("WIDTH_SUM", sum(widths))):
            self.program.frame[name] = value
        self.widths = widths

    def press(self, button):
        for value in (1, 0):
            self.program[button] = value
            self.scan()

    def command_by_rungs(self, wanted, job="", order=0):
        self.program["WANTED"], self.program["MEANT"] = MAP.number("COMMAND", wanted), order
        self.program["JOB"] = MAP.number("COMMAND_JOB", job) if job else 0
        self.press("GIVE")
        self.until(lambda p: not p["SENT"], "an echo")
        assert self.program["COMMANDRESULT"] == 0, self.program["COMMANDRESULT"]


class Rungs(GatewayTest):
    """What README draws for those who write ladder."""
    ALL_LINE = 0b10011  # may run, may be lowered, may be started

    def lives(self, plc):
        plc.solve(heartbeat=6, line_status=self.ALL_LINE)
        plc.solve()
        return plc.solve(heartbeat=7)

    def test_a_gateway_that_is_dead_is_seen_whatever_its_last_image_said(self):
        plc = RungPlc()
        for beat in range(1, 4):
            for _ in range(10):
                shown = plc.solve(100, heartbeat=beat, line_status=self.ALL_LINE)
        self.assertEqual(list(shown.values()), [1, 1, 1, 1, 0])
        self.assertTrue(plc.solve(2500)["MayRun"])
        self.assertEqual(list(plc.solve(200).values()), [0, 0, 0, 0, 0])
        self.assertEqual(list(plc.solve(60000).values()), [0, 0, 0, 0, 0])
        self.assertTrue(plc.solve(heartbeat=4)["MayRun"])

    def test_a_connection_that_is_gone_and_an_image_from_before_the_plcs_start_say_nothing(self):
        plc = RungPlc()
        for _ in range(200):
            self.assertFalse(plc.solve(heartbeat=41, line_status=self.ALL_LINE)["MayRun"])
        self.assertTrue(plc.solve(heartbeat=42)["MayRun"])
        self.assertFalse(plc.solve(connected=0)["MayRun"])
        self.assertFalse(plc.solve(connected=1, heartbeat=43)["MayRun"])
        self.assertTrue(plc.solve(heartbeat=44)["MayRun"])

    def test_a_knife_is_lowered_by_its_own_bit_and_for_a_test_cut_only_where_one_is_selected(self):
        plc = RungPlc()
        self.lives(plc)
        cutting = plc.program["CUTTING"].items
        self.assertFalse(plc.solve(lowerbutton=1)["LowerHolder5"])
        cutting[0] = 1 << 4
        self.assertTrue(plc.solve()["LowerHolder5"])
        cutting[0] = 0
        self.assertTrue(plc.solve(lowerbutton=0, line_status=1)["LowerHolder5"])  # a guard that opened: may run stays
        self.assertFalse(plc.solve(line_status=0)["LowerHolder5"])
        cutting[0], trial = 1 << 4, 0b01010
        self.assertFalse(plc.solve(lowerbutton=1, line_status=trial)["LowerHolder5"])
        self.assertTrue(plc.solve(testcutselected=1)["LowerHolder5"])
        self.assertFalse(plc.solve(testcutselected=0)["LowerHolder5"])
        self.assertTrue(plc.solve(line_status=self.ALL_LINE)["LowerHolder5"])
        self.assertFalse(plc.solve(line_status=0b00100, lowerbutton=0)["LowerHolder5"])  # raise: a job is under way

    def test_accesses_are_counted_and_the_count_is_never_0(self):
        plc = RungPlc()
        plc.solve()
        self.assertEqual(plc.program["ACCESS_COUNT"], 1)  # none was retained
        for released, count in ((1, 2), (1, 2), (0, 2), (1, 3)):
            plc.solve(guardreleased=released)
            self.assertEqual(plc.program["ACCESS_COUNT"], count)
        restarted = RungPlc()
        restarted.program["ACCESS_COUNT"] = 65535
        restarted.solve(latchkept=0)
        self.assertEqual(restarted.program["ACCESS_COUNT"], 1)

    def test_an_order_is_set_up_by_the_rungs_and_one_that_is_refused_is_shown(self):
        with Gateway() as gateway:
            plc = RungPlc(gateway)
            plc.until(lambda p: p["OWN_CONTROL"] == 1 and p["ALIVE"], "control")
            plc.order_of(801, 600000, FIVE)
            plc.press("ASK")
            plc.until(lambda p: p["REFUSED"] or p["ACCEPTED"], "a verdict")
            self.assertEqual((plc.program["VERDICT_CODE"], plc.program["ACCEPTED"]), (MAP.result["WEB_TOO_NARROW"], 0))
            plc.order_of(802, WEB, FIVE)
            plc.press("ASK")
            plc.until(lambda p: p["REFUSED"] or p["ACCEPTED"], "a verdict")
            self.assertEqual((plc.program["ACCEPTED"], plc.read("ORDER_STAGED")), (1, 802))
            plc.command_by_rungs("RESET")
            plc.until(lambda p: plc.read("UNIT_STATE") == MAP.number("UNIT_STATE", "IDLE"), "Idle")
            plc.command_by_rungs("START", "CHANGEOVER", 802)
            plc.until(lambda p: plc.read("UNIT_STATE") == MAP.number("UNIT_STATE", "COMPLETE"), "Complete")
            gateway.confirm_edges(2)
            plc.until(lambda p: p["MAYSTART"] and p["MAYRUN"] and p["MAYLOWER"], "the line signals")


if __name__ == "__main__":
    main()
