"""Starts and stops the real daemon, and a PLC that talks to it by Debian's pymodbus and the printed register map.

A test program is called with the paths of kniferaild and kniferail. Nothing waits by sleeping for luck: every wait has
a condition and a deadline.
"""
import itertools
import json
import os
import pathlib
import re
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time
import unittest

import pymodbus_names

ROOT = pathlib.Path(__file__).resolve().parents[2]
SLOW = 5 if os.environ.get("KR_SLOW") else 1  # sanitizers: deadlines are that much later
ALL = ("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
POLL_S = 0.004
TOLERANCE_UM = 203  # of a knife's place: 0.008 in, rounded down; common practice, no published source
# Nothing here is about the disk. Where it is busy with what others write, a sync may take seconds, and a process that syncs
# dies only when that is over.
if os.access("/dev/shm", os.W_OK):
    tempfile.tempdir = "/dev/shm"


def programs():
    """Takes the two paths off the command line, before unittest reads the rest of it."""
    if len(sys.argv) < 3:
        sys.exit(f"usage: {sys.argv[0]} KNIFERAILD KNIFERAIL [unittest options]")
    return sys.argv.pop(1), sys.argv.pop(1)


KNIFERAILD, KNIFERAIL = programs()


class Map:
    def __init__(self):
        text = subprocess.run([KNIFERAIL, "map", "--format", "json"], check=True, capture_output=True, text=True).stdout
        self.json = json.loads(text)
        self.register = {row["name"]: row for row in self.json["registers"]}
        self.block = {row["name"]: row for row in self.json["blocks"]}
        self.result = {row["name"]: row["code"] for row in self.json["results"]}
        self.alarm = {row["name"]: row["code"] for row in self.json["alarms"]}

    def address(self, name, rail=0, index=0):
        row = self.register[name]
        return row["address"] + (rail * self.json["rails"]["stride"] if row["per_rail"] else 0) + index * row["words"]

    def number(self, group, name):
        return self.json["numbers"][group][name]["number"]


MAP = Map()


def wait_for(condition, seconds, what):
    until = time.monotonic() + seconds * SLOW
    while not condition():
        if time.monotonic() > until:
            raise AssertionError(f"not after {seconds * SLOW} s: {what}")
        time.sleep(POLL_S)


# ---- the daemon ------------------------------------------------------------------------------------------------------


class Gateway:
    """The daemon for the length of a `with` block. Restarting it in the block is the block's business: end, start."""

    def __init__(self, config="small-shear.cfg", speed=20, book=False, changes=(), options=()):
        self.folder = tempfile.TemporaryDirectory(prefix="kr_system_")
        self.config = pathlib.Path(self.folder.name) / "station.cfg"
        self.book = pathlib.Path(self.folder.name) / "book.db"
        self.log_path = pathlib.Path(self.folder.name) / "log"
        self.text = (ROOT / "config" / config).read_text(encoding="utf-8")
        # A busy computer may keep this PLC from its scans for longer than a real one.
        self.text = self.text.replace("heartbeat_limit_ms = 1000;", "heartbeat_limit_ms = 3000;")
        if book:
            self.text += f'\nbook = "{self.book}";\n'
        self.change(*changes)
        self.speed, self.options, self.process, self.port = speed, list(options), None, None
        self.clients, self.environment = [], {}
        self.before_start = None  # called in the daemon's process before it becomes the daemon
        self.status = None  # of a daemon that ended while it came up

    def change(self, *changes):
        """Each change is a pattern and what takes its place; a pattern that isn't there is a mistake of the test."""
        for pattern, new in changes:
            self.text, n = re.subn(pattern, new, self.text)
            if n == 0:
                raise AssertionError(f"the station file has no {pattern}")
        self.config.write_text(self.text, encoding="utf-8")

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, kind, *_):
        if self.process is not None:
            if self.process.poll() is not None:
                print(f"--- the daemon had ended by itself, status {self.process.returncode}", file=sys.stderr)
            self.process.kill()
            self.process.wait()
            self.pump.join()
        if kind is not None:
            last = "\n".join(line[:200] for line in self.log().splitlines()[-40:])
            print(f"--- the daemon's log\n{last}\n---", file=sys.stderr)
        for client in self.clients:
            client.close()
        self.folder.cleanup()

    def start(self, port=0):
        self.process = subprocess.Popen(
            [KNIFERAILD, "--config", self.config, "--port", str(port), "--print-port", "--speed-factor", str(self.speed),
             *self.options], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, **self.environment},
            preexec_fn=self.before_start)
        self.pump = threading.Thread(target=self.pump_log, args=(self.process.stderr,))
        self.pump.start()
        line = self.process.stdout.readline()
        self.process.stdout.close()
        if not line:
            self.status = self.process.wait()
            self.pump.join()
            self.process = None
            raise AssertionError(f"the daemon does not start: {self.log()}")
        self.port = int(line)

    def pump_log(self, stream):
        """Through a pipe into the file: a limit on the size of the daemon's files is none on its log."""
        with stream, open(self.log_path, "a", encoding="utf-8") as log:
            for line in stream:
                log.write(line)
                log.flush()

    def end(self, number=signal.SIGTERM, seconds=20):
        """Signals the daemon and returns its exit status (negative: killed by a signal)."""
        self.process.send_signal(number)
        status = self.process.wait(timeout=seconds * SLOW)
        self.pump.join()
        self.process = None
        return status

    def log(self):
        return self.log_path.read_text(encoding="utf-8", errors="replace") if self.log_path.exists() else ""

    def wait_for_log(self, text, seconds=5):
        wait_for(lambda: text in self.log(), seconds, f"'{text}' in the log")

    def wait_for_log_after(self, mark, text, seconds=5):
        wait_for(lambda: text in self.log()[mark:], seconds, f"'{text}' in the log")

    def confirm_edges(self, rails):
        """Maintenance, which is no PLC, has measured the edges of so many rails at the bench."""
        for rail in range(1, rails + 1):
            self.set("bench", rail, "all")

    def set(self, *arguments):
        """A maintenance request by `kniferail set`, which has to be accepted; what it prints."""
        return subprocess.run([KNIFERAIL, "set", "--port", str(self.port), *map(str, arguments)], check=True, capture_output=True,
                              text=True, timeout=30 * SLOW).stdout

    def ask(self, command, *arguments):
        """`kniferail COMMAND` at this gateway; what came of it."""
        return subprocess.run([KNIFERAIL, command, "--port", str(self.port), *map(str, arguments)], capture_output=True, text=True,
                              timeout=30 * SLOW, check=False)

    def records(self):
        """Of whole lines: the last may be half written. A record follows its parts, and is given what they hold."""
        records, parts = [], {"holders": [], "moves": []}
        for line in self.log().rpartition("\n")[0].splitlines():
            if line.startswith('{"record_part"'):
                part = json.loads(line)["record_part"]
                for what in parts.keys() & part.keys():
                    table = part[what]
                    parts[what] += [{"rail": part["rail"], **dict(zip(table["columns"], row))} for row in table["rows"]]
            elif line.startswith('{"record"'):
                parts["moves"].sort(key=lambda move: move["move"])
                records.append({**json.loads(line)["record"], **parts})
                parts = {"holders": [], "moves": []}
        return records

    def wait_for_record(self, number):
        wait_for(lambda: any(r["number"] == number for r in self.records()), 5, f"record {number} in the log")
        return next(r for r in self.records() if r["number"] == number)


# ---- the PLC ---------------------------------------------------------------------------------------------------------


class Refused(Exception):
    """An exception answer; code is its number."""

    def __init__(self, response):
        super().__init__(str(response))
        self.code = getattr(response, "exception_code", None)


class Plc:
    def __init__(self, gateway, unit=1, source=None):
        self.gateway, self.unit, self.source = gateway, unit, source
        self.heartbeat = self.request = self.command = 0
        self.permissives, self.run, self.client = 0, [], None
        self.connect()
        self.low_first = self.words(MAP.address("WORD_ORDER_PROOF"), 2) == [0x0304, 0x0102]
        self.permit(*ALL)
        self.look()

    def connect(self):
        source = (self.source, 0) if self.source else None
        self.client = pymodbus_names.connected(self.gateway.port, timeout=5 * SLOW, source_address=source)
        self.gateway.clients.append(self.client)

    def close(self):
        self.client.close()

    # words

    @staticmethod
    def checked(response):
        if response.isError():
            raise Refused(response)
        return response

    def words(self, address, count):
        return self.checked(self.client.read_input_registers(address, count=count, slave=self.unit)).registers

    def write_words(self, address, words):
        for i in range(0, len(words), 100):
            try:
                self.write_piece(address + i, words[i : i + 100])
            except Refused as refused:
                if refused.code != 1 or self.read("CONTROL_HELD") != 0:
                    raise
                self.write_piece(MAP.address("ACCESS_REQUEST"), [MAP.number("ACCESS_REQUEST", "TAKE")])
                self.write_piece(address + i, words[i : i + 100])

    def write_piece(self, address, words):
        self.checked(self.client.write_registers(address, words, slave=self.unit))

    def value(self, name, words):
        kind = MAP.register[name]["type"]
        if MAP.register[name]["words"] == 1:
            return struct.unpack(">h", struct.pack(">H", words[0]))[0] if kind == "I16" else words[0]
        high, low = reversed(words) if self.low_first else words
        return struct.unpack(">i" if kind == "I32" else ">I", struct.pack(">HH", high, low))[0]

    def split(self, name, value):
        if MAP.register[name]["words"] == 1:
            return [value & 0xFFFF]
        high, low = value >> 16 & 0xFFFF, value & 0xFFFF
        return [low, high] if self.low_first else [high, low]

    def read(self, name, rail=0, index=0):
        return self.value(name, self.words(MAP.address(name, rail, index), MAP.register[name]["words"]))

    def read_all(self, name, count, rail=0):
        size, words = MAP.register[name]["words"], []
        for i in range(0, count * size, 100):
            words += self.words(MAP.address(name, rail) + i, min(100, count * size - i))
        return [self.value(name, words[i : i + size]) for i in range(0, len(words), size)]

    def write(self, name, value, index=0):
        self.write_words(MAP.address(name, 0, index), self.split(name, value))

    # scans

    def look(self):
        """Reads what runs the machine."""
        self.run = self.words(MAP.block["RUN"]["first"], MAP.block["RUN"]["words"])

    def scan(self):
        """Heartbeat and permissives out, the run block in."""
        self.heartbeat = (self.heartbeat + 1) & 0xFFFF
        self.write_words(MAP.address("PLC_HEARTBEAT"), [self.heartbeat, self.permissives])
        self.look()

    def seen(self, name):
        at = MAP.register[name]["address"] - MAP.block["RUN"]["first"]
        return self.value(name, self.run[at : at + MAP.register[name]["words"]])

    def permit(self, *names):
        self.permissives = sum(1 << MAP.number("PERMISSIVES", name) for name in names)

    def wait(self, condition, seconds, what):
        """Scans until the condition holds."""
        def scanned():
            self.scan()
            return condition()

        try:
            wait_for(scanned, seconds, what)
        except AssertionError as late:
            raise AssertionError(f"{late}; unit state {self.state()}, alarm {self.seen('ALARM_CODE')}, "
                                 f"result {self.seen('COMMAND_RESULT')}") from None

    def state(self):
        number = self.seen("UNIT_STATE")
        return next(name for name, row in MAP.json["numbers"]["UNIT_STATE"].items() if row["number"] == number)

    def wait_state(self, *states, seconds=20):
        self.wait(lambda: self.state() in states, seconds, f"unit state {' or '.join(states)}")

    def bit(self, register, group, name):
        return self.seen(register) >> MAP.number(group, name) & 1

    def line(self):
        """What the line is told: the names of the bits of LINE_STATUS that are 1."""
        self.scan()
        return {name for name in MAP.json["numbers"]["LINE_STATUS"] if self.bit("LINE_STATUS", "LINE_STATUS", name)}

    def alarms(self):
        """Each alarm that stands: name, rail, item and value."""
        name_of = {code: name for name, code in MAP.alarm.items()}
        columns = ("ALARM_CODES", "ALARM_RAILS", "ALARM_ITEMS", "ALARM_VALUES")
        rows = zip(*(self.read_all(column, self.read("ALARM_COUNT")) for column in columns))
        return {(name_of[code], *rest) for code, *rest in rows}

    # requests and commands

    def fill_order(self, number, web, widths, **more):
        """Writes the order block without handing it over. Lengths in the station's counts."""
        values = {"ORDER_NUMBER": number, "SLIT_COUNT": len(widths), "ALIGNMENT": 0, "EDGE_FLAGS": 0, "WEB_WIDTH": web,
                  "TRIM": 0, "SHIFT": 0, "COMPENSATION": 0, "TOLERANCE": 0, "WIDTH_SUM": sum(widths), **more}
        for name, value in values.items():
            self.write(name, value)
        self.write_words(MAP.address("WIDTH"), [w for width in widths for w in self.split("WIDTH", width)])

    def hand_over(self, kind="STAGE", number=None, session=None):
        self.request = number if number is not None else self.request % 65535 + 1
        session = self.seen("SESSION") if session is None else session
        self.write_words(MAP.address("REQUEST_SESSION"), [session, MAP.number("REQUEST_KIND", kind), self.request])

    def verdict(self):
        """Waits for the verdict on the last request and returns its code."""
        self.wait(lambda: self.seen("VERDICT_NUMBER") == self.request and self.seen("REQUEST_BUSY") == 0, 5, "a verdict")
        return self.seen("VERDICT_CODE")

    def order(self, number, web, widths, kind="STAGE", **more):
        self.look()
        self.fill_order(number, web, widths, **more)
        self.hand_over(kind)
        return self.verdict()

    def hand_over_edit(self, kind, rail, holder=0, offset=None):
        """A maintenance request under the next number; returns it."""
        self.look()
        number = self.read("EDITED_NUMBER") % 65535 + 1
        self.write_words(MAP.address("EDIT_RAIL"), [rail, holder])
        if offset is not None:
            self.write("EDIT_OFFSET", offset)
        self.write_words(MAP.address("EDIT_SESSION"), [self.seen("SESSION"), MAP.number("EDIT_KIND", kind), number])
        return number

    def edit(self, kind, rail, holder=0, offset=None):
        """The same, its verdict's code waited for."""
        number = self.hand_over_edit(kind, rail, holder, offset)
        self.wait(lambda: (self.read("EDITED_SESSION"), self.read("EDITED_NUMBER"), self.read("EDIT_BUSY")) == (self.seen("SESSION"), number, 0),
                  5, "a maintenance verdict")
        return self.read("EDITED_CODE")

    def confirm_edges(self):
        """Maintenance has measured the edges of every rail at the bench."""
        for rail in range(self.read("RAIL_COUNT")):
            code = self.edit("BENCH", rail + 1)
            if code != 0:
                raise AssertionError(f"edges of rail {rail + 1} are not confirmed: {code}")

    def give(self, command, job=None, number=None, session=None):
        """Gives a command, waits for its echo and returns its result's code."""
        self.command = number if number is not None else self.command % 65535 + 1
        self.write_command(command, job, self.command, session)
        self.wait(lambda: self.seen("COMMAND_ECHO") == self.command, 5, "a command's echo")
        return self.seen("COMMAND_RESULT")

    def write_command(self, command, job, number, session=None):
        session = self.seen("SESSION") if session is None else session
        what = MAP.number("COMMAND_JOB", job) if job else 0
        self.write_words(MAP.address("COMMAND_SESSION"), [session, MAP.number("COMMAND", command), what, 0])
        self.write("COMMAND_NUMBER", number)

    def to_idle(self):
        self.scan()
        if self.state() == "IDLE":
            return
        code = self.give("RESET")
        if code != 0:
            raise AssertionError(f"Reset was refused: {code}, unit state {self.state()}")
        self.wait_state("IDLE")

    def to_stopped(self):
        self.scan()
        aborted = self.state() in ("ABORTING", "ABORTED")
        if aborted:
            self.wait_state("ABORTED")
        code = 0 if self.state() == "STOPPED" else self.give("CLEAR" if aborted else "STOP")
        if code != 0:
            raise AssertionError(f"refused: {code}, unit state {self.state()}")
        self.wait_state("STOPPED")

    def start(self, job="CHANGEOVER"):
        self.to_idle()
        code = self.give("START", job)
        if code != 0:
            raise AssertionError(f"Start was refused: {code}")

    def start_and_complete(self, seconds=60):
        self.start()
        self.wait_state("COMPLETE", "HELD", "SUSPENDED", "ABORTED", seconds=seconds)
        if self.state() != "COMPLETE":
            raise AssertionError(f"unit state {self.state()}, alarm {self.seen('ALARM_CODE')}")

    def wait_dragging(self, rail=0):
        """Until a holder is being dragged: the middle of motion."""
        dragging = MAP.number("CARRIAGE_PHASE", "DRAGGING")
        self.wait(lambda: self.read("CARRIAGE_PHASE", rail) == dragging, 30, "a holder being dragged")

    # what a machine looks like from here

    def rails(self):
        return range(self.read("RAIL_COUNT"))

    def positions(self):
        """Carriages and holders of all rails."""
        return [(self.read("CARRIAGE_POSITION", r), self.read_all("HOLDER_POSITION", self.read("RAIL_HOLDERS", r), r))
                for r in self.rails()]

    def moving(self):
        return self.bit("STATUS", "STATUS", "MOVING")


class GatewayTest(unittest.TestCase):
    def refused(self, plc, code, *arguments):
        """A maintenance request by `kniferail set`, which is refused with that code."""
        answer = plc.gateway.ask("set", *arguments)
        self.assertEqual((answer.returncode, answer.stdout), (1, ""), arguments)
        self.assertEqual(plc.read("EDITED_CODE"), MAP.result[code], answer.stderr)

    def stands(self, plc, seconds=0.5):
        """Nothing moves for a while: at a speed factor of 20 that is ten seconds of the machine's time."""
        plc.wait(lambda: not plc.moving(), 10, "standstill")
        before, state = plc.positions(), plc.state()
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            plc.scan()
            self.assertEqual(plc.moving(), 0)
            self.assertEqual(plc.state(), state)
        self.assertEqual(plc.positions(), before)

    def verified(self, plc, tolerance):
        """Judges a completed changeover from outside: every cut has a measured knife on every rail, near enough."""
        plc.scan()
        self.assertEqual(plc.bit("STATUS", "STATUS", "VERIFIED"), 1)
        n_cuts = plc.read("CUT_COUNT")
        lines = plc.read_all("CUT_LINE", n_cuts)
        for rail in plc.rails():
            n = plc.read("RAIL_HOLDERS", rail)
            cuts, known = plc.read_all("HOLDER_CUT", n, rail), plc.read_all("HOLDER_KNOWN", n, rail)
            off, at = plc.read_all("HOLDER_DEVIATION", n, rail), plc.read_all("HOLDER_POSITION", n, rail)
            target = plc.read_all("HOLDER_TARGET", n, rail)
            self.assertEqual([c for c in cuts if c], list(range(1, n_cuts + 1)))
            for h in range(n):
                self.assertEqual(known[h], 3, f"rail {rail + 1}, holder {h + 1} is not measured")
                if cuts[h]:
                    self.assertLessEqual(abs(off[h]), tolerance)
                    # each is rounded to a count of its own; micrometres need no rounding
                    self.assertLessEqual(abs(at[h] - target[h] - off[h]), plc.read("LENGTH_UNIT"))
        return lines


class Part(unittest.TestLoader):
    """Every nth test of a program, one part's share: ctest has the parts going at once."""

    def __init__(self, part, parts):
        super().__init__()
        self.turn, self.part, self.parts = itertools.count(), part, parts

    def getTestCaseNames(self, testCaseClass):
        return [name for name in super().getTestCaseNames(testCaseClass) if next(self.turn) % self.parts == self.part - 1]


def main():
    """Runs the tests of the program that calls it, or with `--part 2/3` a part of them."""
    loader = unittest.defaultTestLoader
    if "--part" in sys.argv:
        at = sys.argv.index("--part")
        loader = Part(*map(int, sys.argv[at + 1].split("/")))
        del sys.argv[at : at + 2]
    unittest.main(verbosity=2, testLoader=loader)
