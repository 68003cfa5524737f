"""`kniferail commission` on a machine that was never homed, over the wire: a scripted person goes the whole way, and then
with one mistake after the other, each of which has to be found at the first step that can see it.

Called with the paths of kniferaild, kniferail and kniferail-sim. The person sees what the simulator knows of the machine,
never what the gateway says of it. Between the program and the gateway stands a wire that notes what is written: the block
LINE never is. Permissives come from sim/plc.py --pretend.
"""
import json
import re
import socket
import struct
import subprocess
import sys
import threading

from wired_rig import RAILS, Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import KNIFERAIL, MAP, ROOT, SLOW, GatewayTest, main

# As in wire_commissioning.py, and with the homing speeds among what the drive is told.
SETUP_UM_PER_S = 100000
NEVER_HOMED = [
    (r"stop_ms = 450;", "stop_ms = 1000;"), (r"lost_ms = 1000;", "lost_ms = 2500;"),
    (r"watchdog_ms = 600;", "watchdog_ms = 1500;"), (r"watchdog_most = 600;", "watchdog_most = 1500;"),
    (r"referenced_bit = -1;", "referenced_bit = 14;"),
    (r"registers: \{ watchdog = 210;", "registers: { watchdog = 210; homing_method = 211; homing_speed = 12; homing_creep = 14;"),
    (r"carriage: \{", f"carriage: {{ setup_speed_mm_per_s = {SETUP_UM_PER_S // 1000};"),
    (r"seed = 2;", "seed = 2; absolute_encoder = 0; home_um = 10000; home_offset_um = 10000; homing_method = 17; "
                   "homing_speed_um_per_s = 400000;"),
    *((rf'drive: {{ address = "127.0.0.1"; port = {port}; }};',
       rf'drive: {{ address = "127.0.0.1"; port = {port}; }}; simulated: {{ carriage_um = {at_um}; }};')
      for port, at_um in ((15021, 300000), (15022, 260000)))]
OVER_HOLDER = {1: True, 2: False}  # by those places
TAPE_MM = 0.2  # what a reading may be off
MOVES = (r"^== The ends of travel", "leave")  # from there on: wire_guide_switch.py, wire_guide_moves.py, wire_guide_frame.py
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


class Person:
    """At the machine and at the terminal. Each rule is a pattern of what the program says, and what is done or typed then."""

    def __init__(self, simulator, told=()):
        self.simulator, self.said, self.text, self.heard, self.rail = simulator, [], "", "", 1
        self.started = self.marked = None
        self.rules = [*((re.compile(pattern), act) for pattern, act in told), *((re.compile(p), a) for p, a in (
            (r"== .*, rail (\d)$", self.at_rail), (r"Is this understood", "yes"), (r"Who takes part", "A. Fitter | B. Smith"),
            (r"Who leads", "C. Lead"), (r"Who is responsible", "B. Smith"), (r"Was it tried that", "yes"),
            (r"The air is let out: what", "springs close it"), (r"Who signed", "D. Safe, safety of machinery"),
            (r"When was it signed", "2026-02-03"), (r"Read it at the drive", "as the list says"),
            (r"locked out, and was it tried", "yes"), (r"Press Enter when it is so\.$", self.look_at_rest), (r"Is a flag before", self.flag),
            (r"Hold a piece of steel .*give up\.$", self.cover_the_switch), (r"Can the pin be moved by hand", "no"),
            (r"Press the hold-to-run device, and let it go\..*give up\.$", self.press_and_release),
            (r"stand over a holder", lambda: "yes" if OVER_HOLDER[self.rail] else "no"),
            (r"comes on next\. .*Press Enter\.$", ""), (r"keep it pressed\. .*jog_enable\.$", lambda: self.press(1)),
            (r"Did what .* move", lambda: self.press(0) or "yes"), (r"towards the .* Press Enter\.$", self.note_place),
            (r"To which side did", self.side), (r"is there more room", "drive"), (r"mark where .* Press Enter\.$", self.mark),
            (r"Type go for", self.go_or_read), (r"go by the tape\?$", lambda: f"{abs(self.true_mm() - self.marked):.1f}"),
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
        self.wait_said(f"flag {int(fault.endswith('on'))}")
        self.simulator.say(f"mend {self.rail} {fault}", "mended")

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
        return "read" if abs(self.true_mm() - self.marked) > 60 else "go"

    # the program's own lines

    def follow(self, program):
        """To the program's end; returns all that it said."""
        self.program = program
        while self.take_line():
            for pattern, act in self.rules:
                if pattern.search(self.text):
                    self.heard, self.text = self.text, ""  # an action may listen on
                    answer = act() if callable(act) else act
                    self.text = ""
                    if answer is not None:
                        program.stdin.write(answer + "\n")
                        program.stdin.flush()
                    break
        return "\n".join(self.said)

    def take_line(self):
        line = self.program.stdout.readline()
        if line and not line.startswith("("):  # that is the hint of what may be typed
            self.said.append(line.rstrip("\n"))
            self.text = line.strip() if line.startswith(("==", "  ")) else (self.text + " " + line.strip()).strip()
        return line

    def wait_said(self, what):
        while self.take_line():
            if self.said[-1].strip() == what:
                return
        raise AssertionError(f"the program did not say '{what}'")


class Guide(GatewayTest):
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

    def test_the_whole_way_is_gone_and_written_down(self):
        with WiredGateway(NEVER_HOMED) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.pretend(gateway)
            status, said = self.walk(gateway, simulator, told=(MOVES,))
            self.assertEqual(status, 0, said)
            self.assertEqual(said.count("PASSED"), 2 + RAILS * 6, said)
            protocol = gateway.config.with_name("session.md").read_text(encoding="utf-8")
            sheet = gateway.config.with_name("session-safety.md").read_text(encoding="utf-8")
            for text in ("C. Lead", "A. Fitter \\| B. Smith", "position limit, low", "register 220 shows -2048", "datum shown",
                         "| who led the commissioning |", "A person reads on a tape how far the carriage went"):
                self.assertIn(text, protocol)
            self.assertRegex(protocol, rf"\*\*{2 + RAILS * 6} of \d+ steps have passed\*\*; 0 have not passed, 0 are doubtful")
            for text in ("Safe torque off", "Guard locking", "what the pin does then", "| signature |"):
                self.assertIn(text, sheet)
            # A second call goes on where the first was left; a changed setting brings back what stands on it, and nothing else.
            status, said = self.walk(gateway, simulator, told=(MOVES,))
            self.assertEqual((status, said.count("==")), (0, 1), said)
            self.end(plc)
            gateway.end()
            gateway.change((r"position_um = 20000;", "position_um = 20001;"))
            gateway.start()
            self.pretend(gateway)
            status, said = self.walk(gateway, simulator, told=((r"^== Direction", "leave"),))
            self.assertIn("rail 1: drive.position_um was 20000 um and is 20001 um", " ".join(said.split()))
            self.assertNotIn("== Inputs", said)
            self.assertEqual(simulator.end(), 0)

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

    def test_a_wrong_word_order_is_found_at_the_parameters(self):
        self.plant("The drive and its parameters", 'Change drive.word_order to: "high_word_first"',
                   file=[(r'(answer_lag = 1;[^\n]*\n *)word_order = "high_word_first"', r'\1word_order = "low_word_first"')])

    def test_factory_parameters_are_found_at_the_parameters(self):
        self.plant("The drive and its parameters", "set register 220 of the drive to -2048", break_1="factory-settings")

    def test_a_missing_and_a_long_watchdog_are_found_at_the_parameters(self):
        speed = "homing_speed_um_per_s = 400000;"
        for ms, seen in ((0, "watchdog is off"), (5000, "watchdog shows 5000, which is longer")):
            self.plant("The drive and its parameters", seen,
                       machine=[(f"{speed} watchdog_ms = 1500;", f"{speed} watchdog_ms = {ms};")])

    def test_exchanged_rails_are_found_at_the_inputs(self):
        """What is held before this rail's switch is seen at the other rail's drive: the person waits, and gives up."""
        self.plant("Inputs, by hand", "Input flag was not seen to come and go", break_1="drives-exchanged",
                   told=((r"Is a flag before", "no"), (r"Hold a piece of steel .*give up\.$", "")))

    def test_a_stuck_pin_is_found_at_the_outputs(self):
        self.plant("Outputs, one by one", "whether what it drives is stuck", break_1="pin-stuck-out")

    def test_a_wrong_direction_is_found_at_the_first_jog(self):
        self.plant("Direction, by jog", 'Change drive.counts_towards to: "drive_side"',
                   file=[(r"answer_lag = 1;", 'answer_lag = 1; counts_towards = "operator_side";')])

    def test_a_wrong_scale_is_found_at_the_tape(self):
        self.plant("Scale, by jog and tape", r"Change drive.position_um to: about (19[5-9]|20[0-4])\d\d with position_units = 4096 \(it is 21000\)",
                   file=[(r"position_um = 20000;", "position_um = 21000;")])

    def test_a_drive_that_homes_at_a_speed_of_its_own_is_found_at_the_homing(self):
        self.plant("Homing, at setup speed", "The carriage went up to [234].*set the drive's own homing speed",
                   file=[(r" homing_speed = 12; homing_creep = 14;", "")])

    def test_answers_that_come_late_make_no_carriage_faster_than_it_was(self):
        """It homes at setup speed, and the program hears of it late now and then: the drive's own time counts."""
        with WiredGateway(NEVER_HOMED) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            status, said = self.walk(gateway, simulator, "--only", "home", "--rail", "1", late_s=0.15)
            self.assertEqual(status, 0, said)
            fastest_mm_per_s = float(re.search(r"fastest speed: ([\d.]+) mm/s", said)[1])
            self.assertLessEqual(fastest_mm_per_s, SETUP_UM_PER_S / 1000 * 1.02)
            self.assertGreaterEqual(fastest_mm_per_s, SETUP_UM_PER_S / 1000 * 0.7)


if __name__ == "__main__":
    main()
