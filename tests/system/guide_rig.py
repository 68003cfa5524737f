"""What the tests of `kniferail commission` share: the machine's stations, the wire between program and gateway, and scripted
persons, each of whom knows what to do in some of the steps. The persons see what the simulator knows of the machine, never
what the gateway says of it.
"""
import json
import re
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from unittest import mock

from wired_rig import LENIENT, Simulator, WiredGateway, WiredPlc  # it takes its own paths off the command line
from gateway_rig import ALL, KNIFERAIL, MAP, ROOT, SLOW, GatewayTest, wait_for

# ---- stations

# As in wire_commissioning.py, and with the homing speeds among what the drive is told.
SETUP_UM_PER_S = 200000
NEVER_HOMED = [
    *LENIENT, (r"referenced_bit = -1;", "referenced_bit = 14;"),
    (r"registers: \{ watchdog = 210;", "registers: { watchdog = 210; homing_method = 211; homing_speed = 12; homing_creep = 14;"),
    (r"carriage: \{", f"carriage: {{ setup_speed_mm_per_s = {SETUP_UM_PER_S // 1000};"),
    (r"seed = 2;", "seed = 2; absolute_encoder = 0; home_um = 10000; home_offset_um = 10000; homing_method = 17; "
                   "homing_speed_um_per_s = 400000;"),
    *((rf'drive: {{ address = "127.0.0.1"; port = {port}; }};',
       rf'drive: {{ address = "127.0.0.1"; port = {port}; }}; simulated: {{ carriage_um = {at_um}; }};')
      for port, at_um in ((15021, 300000), (15022, 260000)))]
WATCHDOG_TYPED_MS = 1500  # as LENIENT has it
OVER_HOLDER = {1: True, 2: False}  # by those places
TAPE_MM, BY_TAPE_MM = 0.2, 45  # what a reading may be off, and the way that is read: two presses of a jog without a datum
QUICK = [
    *LENIENT,
    (r"flag_width_mm = 8;", "flag_width_mm = 16;"),
    (r"pin_in_ms = 550; pin_out_ms = 490; brake_open_ms = 250; brake_close_ms = 250;",
     "pin_in_ms = 100; pin_out_ms = 100; brake_open_ms = 50; brake_close_ms = 50;"),
    (r" dock_ms = 840; ", " dock_ms = 400; "), (r"undock_ms = 840;", "undock_ms = 450;")]
QUICK_SETUP = (r"carriage: \{", f"carriage: {{ setup_speed_mm_per_s = {SETUP_UM_PER_S // 1000};")
# A rail that is soon scanned, and one round of correction.
SHORTER = [(r"most_mm = 620", "most_mm = 380"), (r"travel_most_mm = 660", "travel_most_mm = 420"), (r"widest_mm = 500", "widest_mm = 300"),
           (r"centre_mm = 330", "centre_mm = 210"), (r"count = 4", "count = 3"), (r"corrections_most = 3", "corrections_most = 1")]
# For the trials of silence: a watchdog that is short, and speeds at which a carriage stops by it within the rail.
WATCHDOG_MS, EMPTY_UM_PER_S = 900, 300000
SILENT_S = 2.2  # longer than the watchdog, shorter than a PLC loses control by


def slow_travel(empty_um_per_s):
    speed = f"{empty_um_per_s // 1000};"
    return [(rf"{name}_mm_per_s = \d+;", f"{name}_mm_per_s = {speed}") for name in ("empty_speed", "drag_speed")]


SILENT = [(r"stop_ms = 1000;", "stop_ms = 700;"), (r"lost_ms = 2500;", "lost_ms = 1500;"),
          (r"watchdog_ms = 1500;", f"watchdog_ms = {WATCHDOG_MS};"), (r"watchdog_most = 1500;", f"watchdog_most = {WATCHDOG_MS};"),
          QUICK_SETUP, *slow_travel(EMPTY_UM_PER_S)]
ACCEPTANCE = [(r"dockings = 10; changeovers = 30;", "dockings = 1; changeovers = 2;"),
              (r"cpk_least_permille = 1330;", "cpk_least_permille = 500;"),  # six knives of a rail tell little
              (r"time_apart_most_permille = 50;", "time_apart_most_permille = 150;")]
ROOM = (r"travel_most_mm = 720;", "travel_most_mm = 860;")  # room behind the last flag, in which job 10 stops
STOPS_MM, NEAR_STOP_MM, STOPS_WITHIN_MM = (-50, 710), 600, 60  # 50 mm beyond the travel, and one within it
# By these a step says that this computer was busy: an edge of a flag lost, an answer late, a drive whose watchdog was right.
SPOILT, TRIES = "EDGES_LOST|ANSWERS_LATE|SETPOINT_NOT_TAKEN|STOOD_STILL|MOVE_LATE|8130 hex", 5
LIMIT_MM = 10  # before each stop: the simulator's limit_before_stop_um

# ---- the wire

FIRST_LINE_WORD, LAST_LINE_WORD = 0, MAP.block["LINE"]["words"] - 1


class Wire:
    """Between the program and the gateway: hands everything on, and keeps which registers were written.

    late_s: every LATE_ONE-th answer comes so much later, as on a busy computer."""

    LATE_ONE = 11

    def __init__(self, port, late_s=0):
        self.port, self.late_s, self.written, self.bad = port, late_s, set(), []
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.own_port = self.listener.getsockname()[1]
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        try:
            while True:
                client, _ = self.listener.accept()
                gateway = socket.create_connection(("127.0.0.1", self.port))
                threading.Thread(target=self.pump, args=(client, gateway, True), daemon=True).start()
                threading.Thread(target=self.pump, args=(gateway, client, False), daemon=True).start()
        except OSError:
            return

    def pump(self, source, to, requests):
        data, n = b"", 0
        try:
            while piece := source.recv(4096):
                data += piece
                while len(data) >= 6 and len(data) >= (whole := 6 + struct.unpack(">H", data[4:6])[0]):
                    if requests:
                        self.note(data[7:whole])
                    n += 1
                    if not requests and self.late_s and n % self.LATE_ONE == 0:
                        threading.Event().wait(self.late_s)
                    to.sendall(data[:whole])
                    data = data[whole:]
        except OSError:
            pass
        for end in (source, to):
            end.close()

    def note(self, pdu):
        if pdu[0] in (3, 4):
            return
        if pdu[0] != 16:
            self.bad.append(pdu)
            return
        first, n = struct.unpack(">HH", pdu[1:5])
        self.written.update(range(first, first + n))

    def close(self):
        self.listener.close()


class FarCable:
    """Between the gateway and the drives, as the gateway's cable to the network switch. While it is out nothing passes; what was sent is
    sent again once it is in, as TCP does, and meanwhile each drive's own connection stays up."""

    def __init__(self, gateway, simulator):
        self.passes, self.listeners = threading.Event(), []
        self.passes.set()
        for port in simulator.ports:
            listener = socket.create_server(("127.0.0.1", 0))
            self.listeners.append(listener)
            gateway.change((f"port = {port};", f"port = {listener.getsockname()[1]};"))
            threading.Thread(target=self.serve, args=(listener, port), daemon=True).start()

    def serve(self, listener, port):
        try:
            while True:
                gateway, _ = listener.accept()
                self.passes.wait()
                drive = socket.create_connection(("127.0.0.1", port))
                for source, to in ((gateway, drive), (drive, gateway)):
                    source.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                    threading.Thread(target=self.pump, args=(source, to), daemon=True).start()
        except OSError:
            return

    def pump(self, source, to):
        try:
            while piece := source.recv(4096):
                self.passes.wait()
                to.sendall(piece)
        except OSError:
            pass
        self.passes.wait()
        for end in (source, to):
            end.close()

    def close(self):
        self.passes.set()
        for listener in self.listeners:
            listener.close()


# ---- persons

HOLDER = 2
NEAR_MM = 25  # from there on it is done by hand


class Person:
    """At the machine and at the terminal. Each rule is a pattern of what the program says, and what is done or typed then."""

    def __init__(self, simulator, told=()):
        self.simulator, self.said, self.text, self.heard, self.rail = simulator, [], "", "", 1
        self.started = self.marked = None
        self.rules = [*((re.compile(pattern), act) for pattern, act in told), *((re.compile(p), a) for p, a in (
            (r"== .*, rail (\d)$", self.at_rail), (r"Is this understood", "yes"), (r"Who takes part", "A. Fitter | B. Smith"),
            (r"Who leads", "C. Lead"), (r"Who is responsible", "B. Smith"), (r"Was it shown by a trial that", "yes"),
            (r"The air is let out: what does the pin", "it stays where it is"), (r"The air is let out: what", "springs close them"),
            (r"Who signed", "D. Safe, safety of machinery"),
            (r"is the sheet signed by", "yes"), (r"When was it signed", time.strftime("%Y-%m-%d")),
            (r"communication watchdog set\?.*is off\.$", f"{WATCHDOG_TYPED_MS}"),
            (r"locked out, and was it checked", "yes"), (r"Press Enter when it is so\.$", self.look_at_rest), (r"Is a flag before", self.flag),
            (r"hold a piece of steel .*give up\.$", self.cover_the_switch), (r"Can the pin be moved by hand", "no"),
            (r"driven out now\?$", "yes"), (r"refused starts next.*Press Enter\.$", ""), (r"Let go of the hold-to-run device; .*presses it\.$", lambda: self.press(0)),
            (r"Strike the limit switch at the .*give up\.$", self.strike_limit),
            (r"have a limit input at the drive side", "yes"), (r"have a limit input at the operator side", "no"),
            (r"Did it come and go there", "yes"),
            (r"Press the hold-to-run device, and let it go\..*give up\.$", self.press_and_release),
            (r"stand over a holder", lambda: "yes" if OVER_HOLDER[self.rail] else "no"),
            (r"take the lock off the air alone\..*Press Enter\.$", ""),
            (r"comes on next\. .*Press Enter\.$", ""), (r"keep it pressed\. .*jog_enable\.$", lambda: self.press(1)),
            (r"Did the part .* move", lambda: self.press(0) or "yes"), (r"towards the .* Press Enter\.$", self.note_place),
            (r"To which side did", self.side), (r"is there more room", "drive"), (r"mark where .* Press Enter\.$", self.mark),
            (r"Type go for", self.go_or_read), (r"go by the tape\?$", lambda: f"{abs(self.true_mm() - self.marked):.1f}"),
            (r"heard again\..*asked for moves\.$", ""), (r"walked all the same\?$", "yes"), (r"touched since then\?$", "no"),
            (r"may this reading be off", f"{TAPE_MM} mm"), (r"is homed next.*no emergency stop\.$", lambda: self.press(0) or "")))]

    def at_rail(self):
        self.rail = int(re.search(r"rail (\d)$", self.heard)[1])

    def look_at_rest(self):
        return ""

    def true_mm(self):
        return float(self.simulator.carriages()[self.rail - 1])

    def inputs(self, **values):
        self.simulator.ask("inputs " + " ".join(f"{name}={value}" for name, value in values.items()), 1)

    def flag(self):
        return "yes" if any(abs(self.true_mm() * 1000 - at) < 4000 for at in self.simulator.holders()[self.rail - 1]) else "no"

    def cover_the_switch(self):
        fault = "switch-stuck-off" if self.flag() == "yes" else "switch-stuck-on"
        self.simulator.say(f"break {self.rail} {fault}", "broken")
        on = int(fault.endswith("on"))
        self.wait_said(f"flag {on}", *(f"flag {on} at rail {rail}'s drive" for rail in OVER_HOLDER))
        elsewhere = self.said[-1].strip()
        self.simulator.say(f"mend {self.rail} {fault}", "mended")
        if "at rail" not in elsewhere:
            return None
        self.wait_said(elsewhere.replace(f"flag {on}", f"flag {1 - on}"))
        return ""  # the input of this rail will never come: the person gives up

    def strike_limit(self):
        name = "limit_high" if "at the drive side" in self.heard else "limit_low"
        self.inputs(**{name: 1})
        self.wait_said(*(f"{end} {on}" for end in ("limit_low", "limit_high") for on in (0, 1)))
        self.inputs(**{name: 0})
        return None if self.said[-1].strip().startswith(name) else ""  # the other one comes: the person gives up

    def press_and_release(self):
        self.press(1)
        self.wait_said("jog_enable 1")
        self.press(0)

    def press(self, on):
        self.inputs(jog_enable=on)

    def note_place(self):
        self.press(0)
        self.started = self.true_mm()
        return ""

    def side(self):
        way = self.true_mm() - self.started
        return "nowhere" if abs(way) < 1 else "drive" if way > 0 else "operator"

    def mark(self):
        self.marked = self.true_mm()
        return ""

    def go_or_read(self):
        self.press(0)
        return "read" if abs(self.true_mm() - self.marked) > BY_TAPE_MM else "go"

    # the program's own lines

    def follow(self, program):
        """To the program's end; returns all that it said."""
        self.program, self.leaving = program, False
        while self.take_line():
            self.answer()
        return "\n".join(self.said)

    def answer(self):
        """By the first rule that fits what the program has said; who leaves says nothing more."""
        if self.leaving:
            return
        for pattern, act in self.rules:
            if pattern.search(self.text):
                self.heard, self.text = self.text, ""  # an action may listen on
                answer = act() if callable(act) else act
                self.text = ""
                self.leaving = answer == "leave"
                if answer is not None:
                    self.program.stdin.write(answer + "\n")
                    self.program.stdin.flush()
                return

    def take_line(self):
        line = self.program.stdout.readline()
        if line and not line.startswith("("):  # that is the hint of what may be typed
            self.said.append(line.rstrip("\n"))
            self.text = line.strip() if line.startswith(("==", "  ")) else (self.text + " " + line.strip()).strip()
        return line

    def wait_said(self, *what):
        while self.take_line():
            if self.said[-1].strip() in what:
                return
        raise AssertionError(f"the program did not say '{what}'")


class Cutter(Person):
    """Cuts when the program says so, as it asked for it, and connects again. A drive's trace shows a time on each way back.

    far: the cable between gateway and switch; without it the drive's own is cut. misses: the number of a trial, from 1, in which the cut
    comes never. again: what is answered when a trial can be tried again."""

    TRACED_MS = 640

    def __init__(self, gateway, simulator, far=None, misses=None, again="yes"):
        super().__init__(simulator, told=(
            (r"does not stand where it rests.*Press Enter\.$", ""), (r"stops beside it\..*Press Enter\.$", ""),
            (r"Try (this trial|the scan) again", self.try_again),
            (r"Press Enter, and carriage \d goes at \w+ speed\.$", self.ready), (r"CUT NOW\.$", self.cut),
            (r"The link is gone.*drive answers\.$", self.connect),
            (r"How many milliseconds", lambda: f"{self.TRACED_MS} trace" if self.back else "0")))
        self.gateway, self.how, self.ways, self.misses = gateway, None, [], misses
        self.far, self.again, self.back, self.repeated = far, again, False, 0
        self.held = []  # of each trial: its speed and way, and where the holders stood before it, and after it

    def holders(self):
        return self.simulator.holders()[self.rail - 1]

    def ready(self):
        self.held.append([*re.search(r"On the carriage's way (\w+) .*at (\w+) speed\.$", self.heard).groups(), self.holders()])
        self.back = "way back" in self.heard
        self.how = "silent" if "gateway silent" in self.heard else "far" if self.far and "network switch" in self.heard else "cable"
        return ""

    def try_again(self):
        self.repeated += 1
        return "yes" if "Try the scan again" in self.heard else self.again

    def cut(self):
        if len(self.held) == self.misses:
            return
        self.ways.append([self.true_mm()])
        if self.how == "silent":
            self.gateway.process.send_signal(signal.SIGSTOP)
            threading.Timer(SILENT_S, self.gateway.process.send_signal, (signal.SIGCONT,)).start()
        elif self.how == "far":
            self.far.passes.clear()
        else:
            self.simulator.say(f"break {self.rail} link-lost", "broken")

    def connect(self):
        places = []

        def stands():
            places.append(self.true_mm())
            return len(places) > 100 and places[-100:] == [places[-1]] * 100

        wait_for(stands, 20, "a carriage that stands")
        self.ways[-1].append(places[-1])
        self.held[-1].append(self.holders())
        if self.how == "cable":
            self.simulator.say(f"mend {self.rail} link-lost", "mended")
        elif self.how == "far":
            self.far.passes.set()


class Fitter(Person):
    """Jogs the carriage until its pin is near the socket of a holder, and pushes the holder the last millimetres."""

    def __init__(self, simulator, told=(), stop_mm=STOPS_MM[1], limits=False):
        """limits: the limit switches before the stops are wired, and are what the carriage meets first."""
        self.stops_mm = (STOPS_MM[0] + LIMIT_MM, stop_mm - LIMIT_MM) if limits else (STOPS_MM[0], stop_mm)
        super().__init__(simulator, told=(
            *told, (r"before it meets a stop\. Press Enter\.$", ""),
            (r"keep it pressed\. .*jog_enable\.$", self.press_and_watch),
            (r"whichever comes first", lambda: self.press(0) or f"{min(abs(stop - self.true_mm()) for stop in self.stops_mm):.1f}"),
            (r"room at both sides", f"{HOLDER}"), (r"Type above once the pin", self.side_of_socket),
            (r"How far\?$", lambda: f"{abs(self.off_mm()):.3f}"), (r"to and fro next", ""), (r"is scanned next, at setup speed", "")))

    def press_and_watch(self):
        """Lets go before the carriage meets a stop, where it does not stop by itself before that."""
        self.press(1)
        if self.stops_mm[1] != NEAR_STOP_MM:
            return
        wait_for(lambda: self.true_mm() > NEAR_STOP_MM - STOPS_WITHIN_MM, 20, "a carriage near its stop")
        self.press(0)

    def off_mm(self):
        return self.simulator.holders()[self.rail - 1][HOLDER - 1] / 1000 - self.true_mm()

    def side_of_socket(self):
        self.press(0)
        if abs(self.off_mm()) > NEAR_MM:
            return "drive" if self.off_mm() > 0 else "operator"
        self.simulator.say(f"break {self.rail} moved-by-hand {HOLDER} {round(-1000 * self.off_mm()) or 1}", "broken")
        return "above"


class Reader(Person):
    """Jogs the carriage from place to place, up the rail and back, and reads each time where it stands; at the first place twice,
    which makes a second run."""

    WAY_MM, OVER_MM, BEGIN_MM = 110, 460, 150

    def __init__(self, simulator, off_mm=0.0, source="jog", celsius="", ppm=""):
        super().__init__(simulator, told=(
            (r"Readings of rail", source), (r"or done\.$", self.next), (r"How far\?$", f"{self.WAY_MM}"),
            (r"growing to the drive side\.$", lambda: f"{self.true_mm() + off_mm:.3f}"), (r"is asked for again\.$", "yes"),
            (r"instrument's zero", "0.005"), (r"a metre of its length", "0.01"),
            (r"brought to 20 C by it\.$", str(ppm)), (r"corrects them itself\.$", str(celsius))))
        self.way, self.rise, self.read, self.twice = "drive", [], False, False

    def next(self):
        self.press(0)
        if not (self.rise or self.read) and self.true_mm() > self.BEGIN_MM:  # from there the way to the drive side is long enough
            return "operator"
        if self.read:  # it was jogged: read
            self.read = False
            self.rise.append(self.true_mm())
            return "read"
        if not self.twice and self.rise:
            self.twice = True
            return "read"
        if self.way == "drive" and self.rise and self.rise[-1] - self.rise[0] > self.OVER_MM - self.WAY_MM:
            self.way = "operator"
        elif self.way == "operator" and self.rise[-1] < self.rise[0] + self.WAY_MM:
            return "done"
        self.read = True
        return self.way


class Cutler(Person):
    """Measures blades and strips: by where the simulator's holders truly stand, and where each blade truly sits on its holder."""

    STROKE_MM, MEASURED_BY = 3.0, "B. Smith, feeler gauge 3"

    def __init__(self, simulator, must_cut=None, applies="yes", looked_at="no", more=()):
        super().__init__(simulator, told=(
            *more, (r"Press Enter\.$", ""), (r"give drives and air back\. .*when it is so\.$", ""), (r"and do the knives stand, raised\?$", "yes"), (r"Type drive or operator\.$", "drive"),
            (r"side stroke lead a blade", f"{self.STROKE_MM}"), (r"run out to the side", "0.04"),
            (r"reading of the clearance be off", "0.02"), (r"was it measured\?$", self.pair), (r"stand beside it\?", self.gap),
            (r"Edges not proven:(.*)\.$", self.note), (r"or done\.$", self.next), (r"Which edge has a person measured", self.which),
            (r"the name and the instrument\.$", self.MEASURED_BY),
            (r"bench, or place", lambda: "place" if self.confirmed[0] == "1" else "bench"),
            (r"from the operator side:(.*)\.$", self.knives), (r"if no test cut was made\.$", self.strips), (r"Type the strips that follow\.$", lambda: self.rest),
            (r"Has a person looked at each pair", looked_at),
            (r"Are these edge offsets to be set", lambda: self.proposed() or applies)))
        self.offset_um = {1: [10000] * 4, 2: [-10000] * 4}
        self.looked_at, self.was_cut, self.rest = looked_at, False, None
        self.must_cut, self.cut, self.cuts, self.set, self.unproven = must_cut, [], 0, 0, []

    def put(self, rail, holder, off_um):
        """A blade that truly sits so much further along the rail than its edge offset says. Both count from 1."""
        self.simulator.say(f"break {rail} blade-off {holder} {off_um}", "broken")
        self.offset_um[rail][holder - 1] += off_um

    def edge_um(self, rail, holder):
        return self.simulator.holders()[rail - 1][holder - 1] + self.offset_um[rail][holder - 1]

    def pair(self):
        self.measured = [tuple(int(n) for n in which.split("/")) for which in re.findall(r"\d/\d", self.heard)]
        return "yes"

    def gap(self):
        upper, lower = (self.edge_um(*which) for which in self.measured)
        return f"{(upper - lower) / 1000:.3f}"

    def note(self):
        self.unproven = re.findall(r"\d/\d", self.heard)

    def next(self):
        """All that the order cuts with is proven by strips: of the upper rail only if somebody looks at the pairs, else that rail is
        measured. The others are measured."""
        if self.looked_at == "no" and any(which.startswith("1/") for which in self.unproven):
            self.confirmed = "1/all"
            return "measured"
        if self.cuts and self.must_cut in (None, *self.cut) and not set(self.unproven) & set(self.cut):
            self.confirmed = self.unproven[0]
            return "measured"
        if self.cuts and (self.must_cut not in (None, *self.cut)):
            return "order"
        if self.cuts > 4:
            return "done"
        return "cut"

    def which(self):
        return self.confirmed

    def knives(self):
        self.cut = re.findall(r"\d/\d", self.heard)

    def strips(self):
        """First in a line that is too long, with another answer where the program cuts it; then in two lines, as those of a wide web."""
        if not self.was_cut:
            self.was_cut = True
            return "0" * 160 + "leave"
        self.cuts += 1
        edges = [self.edge_um(*(int(n) for n in which.split("/"))) for which in self.cut]
        first, *others = (f"{(right - left) / 1000:.3f}" for left, right in zip(edges, edges[1:]))
        self.rest = ",".join(others)
        return f"{first}," if others else first

    def proposed(self):
        self.set += 1


class StandIn(threading.Thread):
    """The PLC of the machine: a person halts it, and takes permissives away in it."""

    def __init__(self, gateway):
        super().__init__(daemon=True)
        self.plc, self.halted, self.ended, self.metres = WiredPlc(gateway), False, False, 5
        self.lock = threading.Lock()
        self.start()

    def run(self):
        while not self.ended:
            with self.lock:
                if not self.halted:
                    self.plc.write("LINE_METRES", self.metres)
                    self.plc.scan()
            time.sleep(0.1)

    def permit(self, *names):
        with self.lock:
            self.plc.permit(*names)

    def end(self):
        self.ended = True
        self.join()


class Provoker(Person):
    """Does what the program says, when it says NOW, or with everything locked out, and takes it back.

    lazy: alarms that are never provoked. late: alarms that are provoked only once their scan is repeated. again: what is answered
    where the program asks whether a scan is to be repeated. stood: each time at which this person was told what to do at the rail, or
    asked before a scan, with where carriage 1 truly stood and the set-points that its drive had taken; "it moved", if that changed while
    the person watched."""

    WATCHED, EVERY_S = 20, 0.05

    def __init__(self, simulator, stand_in, lazy=(), late=(), again="no"):
        super().__init__(simulator, told=(
            (r"Press Enter when everybody is ready.*gives this alarm up\.$", ""),
            (r"NOW: .*waits for the alarm\.$", self.act), (r"Now take it back: .*gives that up\.$", self.undo),
            (r"The next thing to be done at the rail: .*locked out, and was it checked", lambda: self.watch("before lockout", "yes")),
            (r"Now, with everything locked out: .*Press Enter when it is done\.$", self.act_locked_out),
            (r"only then take the locks off.*Press Enter when it is so\.$", lambda: self.watch("locks off", "")),
            (r"makes one scan next.*gives this alarm up\.$", lambda: self.watch("before the scan", "")),
            (r"Is it to move again\?$", lambda: self.watch("before it scans again", self.again)),
            (r"keep it pressed\. .*jog_enable\.$", lambda: self.press(1))))
        self.stand_in, self.lazy, self.late, self.again, self.done, self.stood = stand_in, lazy, [*late], again, [], []

    def watch(self, when, answer):
        first, stood = self.rest_of_carriage(), True
        for _ in range(self.WATCHED):
            time.sleep(self.EVERY_S)
            stood = stood and self.rest_of_carriage() == first
        self.stood.append((when, first if stood else "it moved"))
        return answer

    def rest_of_carriage(self):
        return self.simulator.counts()[0][0], self.simulator.carriages()[0]

    def act_locked_out(self):
        sets = "set a strip" in self.heard
        self.watch("strip is set" if sets else "strip is taken away", "")
        if sets:
            self.done.append("flag_extra")
        if "flag_extra" not in self.lazy:
            self.flag_extra(sets)
        return ""

    def room_um(self):
        """The middle of the widest room between two holders of rail 1."""
        places = self.simulator.holders()[0]
        return max((right - left, (left + right) // 2) for left, right in zip(places, places[1:]))[1]

    def act(self):
        self.done.append(next(name for name, pattern in self.ACTS.items() if re.search(pattern, self.asked)))
        if self.done[-1] in self.late:
            self.late.remove(self.done.pop())
            return None  # the scan ends first
        return "" if self.done[-1] in self.lazy else getattr(self, self.done[-1])(True)

    def undo(self):
        getattr(self, self.done[-1])(False)

    ACTS = {"permissive_lost": "take one permissive away", "heartbeat_stale": "halt the PLC's program", "jog_enable_lost": "let the hold-to-run",
            "link_lost": "pull the cable", "flag_extra": "set a strip of steel", "metres_implausible": "add 100000"}

    def take_line(self):
        line = super().take_line()
        self.asked = self.text
        return line

    def permissive_lost(self, lost):
        self.stand_in.permit(*(name for name in ALL if not (lost and name == "LINE_STOPPED")))

    def heartbeat_stale(self, stale):
        self.stand_in.halted = stale

    def jog_enable_lost(self, lost):
        self.press(0) if lost else None

    def link_lost(self, lost):
        self.simulator.say(f"{'break' if lost else 'mend'} 1 link-lost", "broken" if lost else "mended")

    def flag_extra(self, stands):
        self.simulator.say(f"break 1 foreign-flag {self.room_um()}" if stands else "mend 1 foreign-flag", "broken" if stands else "mended")

    def metres_implausible(self, steps):
        self.stand_in.metres += 100000 * steps


# ---- the way


class DooredSimulator(Simulator):
    """With a control socket, beside standard input."""

    def __init__(self, gateway):
        popen = subprocess.Popen
        self.socket = str(gateway.config.with_name("door"))
        with mock.patch("subprocess.Popen", lambda words, **more: popen([*words, "--control", self.socket], **more)):
            super().__init__(gateway)


class Commissioner(GatewayTest):
    def walk(self, gateway, simulator, *options, told=(), who=None, late_s=0, seconds=200):
        """One call of the program, with a person; returns its exit status and what it said."""
        wire = Wire(gateway.port, late_s)
        try:
            program = subprocess.Popen(
                [KNIFERAIL, "commission", "--config", gateway.config, "--port", str(wire.own_port), "--session",
                 self.session(gateway), *options], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
            killer = threading.Timer(seconds * SLOW, program.kill)
            killer.start()
            said = (who or Person(simulator, told)).follow(program)
            program.stdin.close()
            status = program.wait(timeout=20 * SLOW)
            killer.cancel()
            program.stdout.close()
        finally:
            wire.close()
        self.assertEqual(wire.bad, [])
        self.assertEqual([w for w in sorted(wire.written) if FIRST_LINE_WORD <= w <= LAST_LINE_WORD], [], "LINE was written")
        return status, said

    @staticmethod
    def session(gateway):
        return str(gateway.config.with_name("session.json"))

    def pretend(self, gateway):
        """The permissives, by a program that says what it pretends."""
        path = gateway.config.with_name("map.json")
        path.write_text(json.dumps(MAP.json), encoding="utf-8")
        plc = subprocess.Popen([sys.executable, "-B", ROOT / "sim/plc.py", "--port", str(gateway.port), "--map", path, "--pretend"],
                               stdout=subprocess.PIPE, text=True)
        self.addCleanup(self.end, plc)
        said = plc.stdout.readline()
        for word in ("pretends", "without looking", "never on a machine"):
            self.assertIn(word, said)
        return plc

    @staticmethod
    def end(process):
        process.terminate()
        process.wait()
        process.stdout.close()

    def record(self, gateway):
        """The last one, without the figure that tests of single steps have in common: they are walked out of their turn."""
        with open(self.session(gateway), encoding="utf-8") as file:
            record = json.load(file)["records"][-1]
        record["figures"] = [figure for figure in record["figures"] if figure["name"] != "walked all the same"]
        return record

    def step(self, gateway, step, *options, told=(), who=None, simulator=None):
        """Walks one step; its record and what was said. What a busy computer spoils is walked again, as the finding says."""
        for _ in range(TRIES):
            status, said = self.walk(gateway, simulator, "--only", step, *options, told=told, who=who)
            self.assertGreaterEqual(status, 0, said)  # it was not killed
            record = self.record(gateway)
            if not any(re.search(SPOILT, finding["seen"]) for finding in record["findings"]):
                break
        self.assertEqual(record["step"], step, said)
        self.assertEqual(status, 0 if record["passed"] else 1, said)
        return record, " ".join(said.split())

    def only_finding(self, record):
        self.assertEqual(len(record["findings"]), 1, record["findings"])
        return record["findings"][0]


class Planter(Commissioner):
    """With mistakes that are planted, on rail 1 of a machine that was never homed."""

    def finds(self, gateway, simulator, step, change, told=()):
        """The program ends at that step of rail 1, with status 1 and what to change; all before it passed."""
        status, said = self.walk(gateway, simulator, "--rail", "1", told=told)
        self.assertEqual(status, 1, said)
        self.assertEqual(said.count("NOT PASSED"), 1, said)
        self.assertEqual([line for line in said.splitlines() if line.startswith("== ")][-1], f"== {step}, rail 1", said)
        self.assertRegex(" ".join(said.split()), change)
        protocol = gateway.config.with_name("session.md").read_text(encoding="utf-8")
        self.assertEqual(protocol.count("**Not passed**"), 1, protocol)

    def plant(self, step, change, file=(), machine=(), break_1=None, told=()):
        """A mistake in the station file, in the machine, or one that strikes the machine, from the first step on."""
        with WiredGateway([*NEVER_HOMED, *machine]) as gateway, Simulator(gateway) as simulator:
            gateway.change(*file)
            if break_1:
                simulator.say(f"break 1 {break_1}", "broken")
            gateway.start()
            self.pretend(gateway)
            self.finds(gateway, simulator, step, change, told)
