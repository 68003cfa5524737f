#!/usr/bin/python3
"""A line PLC for the demo: it knows the gateway from its register map alone.

It shares no code with the gateway. `kniferail map --format json` gives the addresses; everything else is in the
page for the PLC programmer (config/pages/plc-programmer.md). As a PLC does, it works in scans: write heartbeat and
permissives, read what runs the machine, act.
"""

import argparse
import json
import socket
import struct
import subprocess
import sys
import time

import picture

SCAN_S = 0.02


class Modbus:
    """A Modbus/TCP master: one request at a time over one connection (MODBUS Application Protocol V1.1b3)."""

    MOST_READ, MOST_WRITTEN = 125, 123

    def __init__(self, host, port, unit):
        self.socket = socket.create_connection((host, port), timeout=5)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.unit, self.transaction = unit, 0

    def _exactly(self, count):
        data = b""
        while len(data) < count:
            piece = self.socket.recv(count - len(data))
            if not piece:
                raise ConnectionError("the gateway closed the connection")
            data += piece
        return data

    def _ask(self, pdu):
        self.transaction = (self.transaction + 1) & 0xFFFF
        self.socket.sendall(struct.pack(">HHHB", self.transaction, 0, len(pdu) + 1, self.unit) + pdu)
        transaction, _, length, _ = struct.unpack(">HHHB", self._exactly(7))
        answer = self._exactly(length - 1)
        if transaction != self.transaction:
            raise ConnectionError("an answer to another request")
        if answer[0] & 0x80:
            raise ConnectionError(f"exception {answer[1]:02X} to function {pdu[0]:02X}")
        return answer

    def read_input(self, address, count):
        words = []
        while count:
            n = min(count, self.MOST_READ)
            answer = self._ask(struct.pack(">BHH", 4, address, n))
            words += struct.unpack(f">{n}H", answer[2:])
            address, count = address + n, count - n
        return words

    def write_holding(self, address, words):
        while words:
            now, words = words[: self.MOST_WRITTEN], words[self.MOST_WRITTEN :]
            self._ask(struct.pack(">BHHB", 16, address, len(now), 2 * len(now)) + struct.pack(f">{len(now)}H", *now))
            address += len(now)


class Map:
    """The register map, as the gateway's command line prints it."""

    def __init__(self, path):
        with open(path, encoding="utf-8") as file:
            self.json = json.load(file)
        self.register = {row["name"]: row for row in self.json["registers"]}
        self.block = {row["name"]: row for row in self.json["blocks"]}
        self.result = {row["code"]: row for row in self.json["results"]}
        self.alarm = {row["code"]: row for row in self.json["alarms"]}

    def address(self, name, rail=0, index=0):
        row = self.register[name]
        rail_offset = rail * self.json["rails"]["stride"] if row["per_rail"] else 0
        return row["address"] + rail_offset + index * row["words"]

    def number(self, group, name):
        return self.json["numbers"][group][name]["number"]

    def name(self, group, number):
        for name, row in self.json["numbers"][group].items():
            if row["number"] == number:
                return name.lower().replace("_", " ")
        return str(number)


class Plc:
    def __init__(self, modbus, registers):
        self.modbus, self.map = modbus, registers
        self.heartbeat = self.request = self.command = 0
        self.accesses = 0  # how often a guard was released, as a PLC retains it; 0: it does not count
        self.permissives = 0
        self.run = []
        proof = modbus.read_input(registers.address("WORD_ORDER_PROOF"), 2)
        self.low_first = proof != [0x0102, 0x0304]
        if proof not in ([0x0102, 0x0304], [0x0304, 0x0102]):
            raise ValueError(f"register 0 is not the proof of the word order: {proof}")
        self.nm = [1000, 2540][self.read("LENGTH_UNIT")]
        modbus.write_holding(registers.address("ACCESS_REQUEST"), [registers.number("ACCESS_REQUEST", "TAKE")])
        self.scan()

    # words and values

    def value(self, name, words):
        kind = self.map.register[name]["type"]
        if kind in ("U16", "I16"):
            return words[0] - 65536 if kind == "I16" and words[0] > 32767 else words[0]
        high, low = (words[1], words[0]) if self.low_first else (words[0], words[1])
        number = high << 16 | low
        return number - (1 << 32) if kind == "I32" and number >> 31 else number

    def words(self, name, value):
        if self.map.register[name]["words"] == 1:
            return [value & 0xFFFF]
        high, low = value >> 16 & 0xFFFF, value & 0xFFFF
        return [low, high] if self.low_first else [high, low]

    def read(self, name, rail=0):
        return self.read_all(name, 1, rail)[0]

    def read_all(self, name, count, rail=0):
        size = self.map.register[name]["words"]
        words = self.modbus.read_input(self.map.address(name, rail), count * size)
        return [self.value(name, words[i * size : (i + 1) * size]) for i in range(count)]

    def text(self, name):
        row = self.map.register[name]
        words = self.modbus.read_input(row["address"], row["n"])
        return struct.pack(f">{len(words)}H", *words).split(b"\0")[0].decode()

    def counts(self, mm):
        return round(mm * 1e6 / self.nm)

    def mm(self, count):
        return count * self.nm / 1e6

    # the scan

    def scan(self):
        """One PLC scan: heartbeat, permissives and, if this PLC counts them, accesses out; the run block in."""
        self.heartbeat = (self.heartbeat + 1) & 0xFFFF
        line = [self.heartbeat, self.permissives]
        if self.accesses:
            line += [0] * (self.map.address("ACCESS_COUNT") - len(line)) + [self.accesses]  # neither metres nor a crash
        self.modbus.write_holding(self.map.address("PLC_HEARTBEAT"), line)
        block = self.map.block["RUN"]
        self.run = self.modbus.read_input(block["first"], block["words"])

    def seen(self, name):
        """A value of the run block, as of the last scan."""
        row = self.map.register[name]
        at = row["address"] - self.map.block["RUN"]["first"]
        return self.value(name, self.run[at : at + row["words"]])

    def scan_until(self, condition, seconds, what):
        until = time.monotonic() + seconds
        self.scan()
        while not condition():
            if time.monotonic() > until:
                raise TimeoutError(f"{what}: not after {seconds} s; the unit is {self.state()}")
            time.sleep(SCAN_S)
            self.scan()

    def state(self):
        return self.map.name("UNIT_STATE", self.seen("UNIT_STATE"))

    def is_in(self, state):
        return self.seen("UNIT_STATE") == self.map.number("UNIT_STATE", state)

    def permit(self, *names):
        self.permissives = sum(1 << self.map.number("PERMISSIVES", name) for name in names)

    # requests and commands

    def order(self, number, web_mm, widths_mm, tolerance_mm, kind="STAGE"):
        """Hands over an order and returns the verdict's code. The widths first, the number with the session last."""
        widths = [self.counts(mm) for mm in widths_mm]
        for name, value in (("ORDER_NUMBER", number), ("SLIT_COUNT", len(widths)), ("ALIGNMENT", 0),
                            ("WEB_WIDTH", self.counts(web_mm)), ("SHIFT", 0),
                            ("TOLERANCE", self.counts(tolerance_mm)), ("WIDTH_SUM", sum(widths))):
            self.modbus.write_holding(self.map.address(name), self.words(name, value))
        self.modbus.write_holding(self.map.address("WIDTH"), [w for mm in widths for w in self.words("WIDTH", mm)])
        self.request = self.request % 65535 + 1
        self.modbus.write_holding(self.map.address("REQUEST_SESSION"),
                                  [self.seen("SESSION"), self.map.number("REQUEST_KIND", kind), self.request])
        self.scan_until(lambda: self.seen("VERDICT_NUMBER") == self.request
                        and self.seen("VERDICT_SESSION") == self.seen("SESSION"), 5, "the verdict")
        return self.seen("VERDICT_CODE")

    def maintain(self, kind, rail):
        """A maintenance request for a whole rail; returns its verdict's code."""
        number = self.read("EDITED_NUMBER") % 65535 + 1
        self.modbus.write_holding(self.map.address("EDIT_RAIL"), [rail, 0])
        self.modbus.write_holding(self.map.address("EDIT_SESSION"),
                                  [self.seen("SESSION"), self.map.number("EDIT_KIND", kind), number])
        self.scan_until(lambda: (self.read("EDITED_NUMBER"), self.read("EDIT_BUSY")) == (number, 0), 5,
                        "the verdict of maintenance")
        return self.read("EDITED_CODE")

    def give(self, command, job=None):
        """Gives a command and returns its result's code."""
        self.command = self.command % 65535 + 1
        kind, what = self.map.number("COMMAND", command), self.map.number("COMMAND_JOB", job) if job else 0
        self.modbus.write_holding(self.map.address("COMMAND_SESSION"), [self.seen("SESSION"), kind, what, 0])
        self.modbus.write_holding(self.map.address("COMMAND_NUMBER"), [self.command])
        self.scan_until(lambda: self.seen("COMMAND_ECHO") == self.command, 5, "the command's echo")
        return self.seen("COMMAND_RESULT")

    def words_of_verdict(self):
        return self.sentence(self.map.result[self.seen("VERDICT_CODE")], self.seen("VERDICT_ITEM"),
                             self.seen("VERDICT_VALUE"), self.seen("VERDICT_LIMIT"))

    def words_of_alarm(self):
        code = self.seen("ALARM_CODE")
        if code == 0:
            return "no alarm"
        return self.sentence(self.map.alarm[code], self.seen("ALARM_ITEM"), self.seen("ALARM_VALUE"), None)

    def sentence(self, row, item, value, limit):
        def shown(number):
            if number is None:
                return "its limit"
            return f"{self.mm(number):.3f} mm" if row["value"] == "length" else str(number)

        return row["text"].replace("%i", str(item)).replace("%v", shown(value)).replace("%l", shown(limit))

    # what the operator sees

    def rails(self):
        """Each rail: role and holders, with what is known of them."""
        rails = []
        for rail in range(self.read("RAIL_COUNT")):
            n = self.read("RAIL_HOLDERS", rail)
            columns = {name: self.read_all(f"HOLDER_{name}", n, rail)
                       for name in ("POSITION", "TARGET", "DEVIATION", "CUT", "KNOWN")}
            rails.append({"role": ("upper", "lower")[self.read("RAIL_ROLE", rail)],
                          "holders": [{"position": self.mm(columns["POSITION"][h]), "cut": columns["CUT"][h],
                                       "deviation": self.mm(columns["DEVIATION"][h]),
                                       "measured": columns["KNOWN"][h] == 3} for h in range(n)]})
        return rails

    def cuts(self):
        n = self.read("CUT_COUNT")
        lines = [self.mm(um) for um in self.read_all("CUT_LINE", n)]
        slits = [self.mm(um) for um in self.read_all("SLIT_MEASURED", max(n - 1, 1))]
        trims = [self.mm(self.read("TRIM_OPERATOR")), self.mm(self.read("TRIM_DRIVE"))]
        return {"lines": lines, "slits": slits, "trims": trims}


# ---- the play -----------------------------------------------------------------------------------------------------


class Play:
    WEB_MM = 1200.0
    TOLERANCE_MM = 0.203  # 0.008 in: common practice, no published source
    FIRST = (1040, [240.0, 240.0, 240.0, 240.0, 200.0])
    BAD = (1041, [125.0] * 10)
    SECOND = (1042, [125.0, 125.0, 90.0, 90.0, 90.0, 160.0, 160.0, 110.0, 210.0])

    def __init__(self, plc, log, drawing):
        self.plc, self.log, self.drawing = plc, log, drawing
        self.show = picture.Picture(sys.stdout)

    def run(self):
        self.connect()
        self.change(self.FIRST, "Yesterday's order is set up")
        self.confirm_edges()
        before = self.look()
        self.refused()
        self.change(self.SECOND, "The order changes")
        after = self.look()
        self.show.heading("What has changed")
        self.show.rails("before", self.FIRST[0], before)
        self.show.rails("after", self.SECOND[0], after)
        self.account(after)

    def connect(self):
        plc = self.plc
        plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
        plc.accesses = 1  # its power has just come on
        self.show.heading("The PLC connects")
        self.show.fact("station", f"{plc.text('STATION_NAME')}, "
                       + ", ".join(f"{rail['role']} rail with {len(rail['holders'])} holders" for rail in plc.rails()))
        self.show.fact("register map", f"version {plc.seen('MAP_VERSION')}; word order "
                       f"{'low' if plc.low_first else 'high'} word first, proven by {plc.seen('WORD_ORDER_PROOF')}; "
                       f"lengths in {plc.nm / 1e6} mm")
        self.show.fact("session", f"{plc.seen('SESSION')}: requests of an older one would be refused")
        self.show.fact("line", "stopped, knives raised, guards closed: heartbeat, permissives and the count of "
                       "accesses are written in every PLC cycle")

    def confirm_edges(self):
        """A scan sees flags, and never blades: somebody has to vouch for the edges of a new station."""
        plc = self.plc
        self.show.heading("Maintenance confirms the edges")
        if plc.seen("LINE_STATUS") != 0:
            raise ValueError("nobody has confirmed an edge, and yet the line is told that it may do something")
        self.show.fact("verified", "every knife was measured at its place, by its holder's flag")
        self.show.fact("the line", f"may not be started: {plc.words_of_alarm()}")
        for rail in range(plc.read("RAIL_COUNT")):
            code = plc.maintain("BENCH", rail + 1)
            if code != 0:
                raise ValueError(f"the edges of rail {rail + 1} are not confirmed: code {code}: "
                                 f"{plc.map.result[code]['text']}")
            self.show.fact(f"rail {rail + 1}",
                           f"its edges were measured at the bench: as by kniferail set bench {rail + 1} all")
        plc.scan()

    def refused(self):
        number, widths = self.BAD
        self.show.heading("An order that can't be")
        self.show.order(number, self.WEB_MM, widths)
        code = self.plc.order(number, self.WEB_MM, widths, self.TOLERANCE_MM)
        if code == 0:
            raise ValueError("an order wider than its web was accepted")
        self.show.fact("refused", f"code {code}: {self.plc.words_of_verdict()}")
        self.show.fact("in force", f"order {self.plc.read('ORDER_IN_FORCE')}, as before: a refusal changes nothing")

    def change(self, order, title):
        number, widths = order
        plc = self.plc
        self.show.heading(title)
        self.show.order(number, self.WEB_MM, widths)
        if plc.order(number, self.WEB_MM, widths, self.TOLERANCE_MM) != 0:
            raise ValueError(f"order {number} was refused: {plc.words_of_verdict()}")
        self.show.fact("accepted", f"and staged; the moves will take {plc.seen('VERDICT_TIME') / 1000:.1f} s of the "
                       f"machine's time, and all is verified {plc.read('VERDICT_VERIFIED') / 1000:.1f} s after Start. "
                       "Nothing moves yet.")
        self.command("RESET")
        plc.scan_until(lambda: plc.is_in("IDLE"), 10, "Idle")
        self.command("START", "CHANGEOVER")
        self.watch()

    def command(self, command, job=None):
        code = self.plc.give(command, job)
        if code != 0:
            raise ValueError(f"the command {command} was refused: code {code}: {self.plc.map.result[code]['text']}")

    def watch(self):
        plc, began = self.plc, time.monotonic()
        while not plc.is_in("COMPLETE"):
            plc.scan()
            if any(map(plc.is_in, ("HELD", "SUSPENDED", "ABORTED", "STOPPED"))):
                raise ValueError(f"the changeover did not end well: unit {plc.state()}; {plc.words_of_alarm()}")
            if time.monotonic() - began > 600:
                raise TimeoutError("the changeover takes more than ten minutes")
            self.show.progress(plc.seen("PROGRESS"), plc.map.name("PHASE", plc.seen("PHASE")), plc.seen("TIME_LEFT"))
            time.sleep(SCAN_S)
        self.show.progress_end(f"complete after {time.monotonic() - began:.1f} s by the clock")

    def look(self):
        rails, cuts = self.plc.rails(), self.plc.cuts()
        for rail in rails:
            cutting = [holder for holder in rail["holders"] if holder["cut"]]
            if len(cutting) != len(cuts["lines"]) or not all(holder["measured"] for holder in cutting):
                raise ValueError(f"not every knife of the {rail['role']} rail was measured at a cut line")
        may = self.plc.seen("LINE_STATUS")
        for signal in ("MAY_START", "MAY_RUN", "MAY_LOWER"):
            if not may >> self.plc.map.number("LINE_STATUS", signal) & 1:
                raise ValueError(f"complete, and yet the line signal {signal} is 0")
        drawing = subprocess.run(self.drawing, capture_output=True, text=True, timeout=30, check=True).stdout
        return {"rails": rails, "cuts": cuts, "drawing": drawing}

    def account(self, after):
        record = self.record(self.SECOND[0])
        self.show.moves(record)
        self.show.heading("Planned and done")
        self.show.times(record)
        self.show.placement(record, after, self.SECOND[1], self.TOLERANCE_MM)
        self.show.fact("to the line", "it may be started and run, and the knives at the cut lines may be lowered; "
                       "idle ones inside the web may not (mask CUTTING)")

    def record(self, order):
        """The gateway's own record of the changeover: lines of JSON in its log, which are written a moment later."""
        until = time.monotonic() + 5
        while time.monotonic() < until:
            with open(self.log, encoding="utf-8") as file:
                lines = [json.loads(line) for line in file if line.startswith("{") and line.endswith("\n")]
            parts = {"holders": [], "moves": []}
            for line in lines:
                if "record" in line and line["record"]["order"] == order:
                    parts["moves"].sort(key=lambda move: move["move"])
                    return {**line["record"], **parts}
                if "record" in line:
                    parts = {"holders": [], "moves": []}
                    continue
                part = line["record_part"]
                for what in parts.keys() & part.keys():
                    table = part[what]
                    parts[what] += [{"rail": part["rail"], **dict(zip(table["columns"], row))} for row in table["rows"]]
            time.sleep(0.05)
            self.plc.scan()
        raise TimeoutError(f"no record of order {order} in {self.log}")


def pretend(plc, names):
    """Heartbeat and permissives, until it is ended. What they say is not looked at: nothing here can look."""
    print("This program is no PLC. It takes control and pretends, without looking, that "
          + ", ".join(plc.map.json["numbers"]["PERMISSIVES"][name]["meaning"] for name in names)
          + ". It is for the simulator alone: never on a machine. Ctrl-C ends it, and takes the permissives away.",
          flush=True)
    plc.permit(*names)
    plc.accesses = 1
    while True:
        plc.scan()
        time.sleep(SCAN_S)


def main():
    parser = argparse.ArgumentParser(
        description="plays a line PLC that changes an order, or gives permissives to the simulator")
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--unit", type=int, default=1)
    parser.add_argument("--map", required=True, help="what `kniferail map --format json` prints")
    parser.add_argument("--log", help="the gateway's log, for its record of the changeover")
    parser.add_argument("--kniferail", help="the program kniferail, which draws the rails")
    parser.add_argument("--pretend", action="store_true",
                        help="give only heartbeat and all permissives, until ended: for kniferail commission against "
                             "the simulator, never on a machine")
    args = parser.parse_args()
    if not args.pretend and not (args.log and args.kniferail):
        parser.error("--log and --kniferail are needed, or --pretend")
    drawing = (args.kniferail, "status", "--drawing", "--host", args.host, "--port", str(args.port),
               "--unit", str(args.unit))
    try:
        plc = Plc(Modbus(args.host, args.port, args.unit), Map(args.map))
        if args.pretend:
            pretend(plc, ("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE"))
        Play(plc, args.log, drawing).run()
    except KeyboardInterrupt:
        return 0
    except (OSError, ValueError, subprocess.SubprocessError) as error:
        print(f"\nplc: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
