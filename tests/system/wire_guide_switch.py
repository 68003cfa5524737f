"""`kniferail commission` over the wire, in the steps that hold the ends of travel, the flags and the proximity switch against the
station file. A scripted person goes through them, and then with mistakes that these steps are the first to see.

Called with the paths of kniferaild, kniferail and kniferail-sim. The person sees where the carriage and the holders truly stand,
which the simulator says and never the gateway.
"""
import json
import re

import wire_guide  # it takes its own paths off the command line
from wire_guide_moves import QUICK, QUICK_SETUP
from wired_rig import Simulator, WiredGateway
from gateway_rig import GatewayTest, main, wait_for

HOLDER = 2
NEAR_MM = 25  # from there on it is done by hand
THREE_ROUNDS = (r"carriage: \{", "carriage: { gauge_rounds = 3;")
STOPS_MM, NEAR_STOP_MM, STOPS_WITHIN_MM = (-50, 710), 600, 60  # 50 mm beyond the travel, and one within it
OFFSET_UM, FLAG_UM = -7000, 12000
TRIES, BUSY = 5, "EDGES_LOST|ANSWERS_LATE|STOOD_STILL"


def of_machine(parameters):
    """The upper rail's machine is built otherwise than the station file says."""
    return (r'drive: \{ address = "127.0.0.1"; port = 15021; \};', rf"\g<0> simulated: {{ {parameters} }};")


class Fitter(wire_guide.Person):
    """Jogs the carriage until its pin is near the socket of a holder, and pushes the holder the last millimetres."""

    def __init__(self, simulator, told=(), stop_mm=0):
        self.stops_mm = (STOPS_MM[0], stop_mm)
        super().__init__(simulator, told=(
            *told, (r"have a limit input at the drive side", "yes"), (r"have a limit input at the operator side", "no"),
            (r"Did it come and go there", "yes"), (r"before it meets a stop\. Press Enter\.$", ""),
            (r"keep it pressed\. .*jog_enable\.$", self.press_and_watch),
            (r"whichever comes first", lambda: f"{min(abs(stop - self.true_mm()) for stop in self.stops_mm):.1f}"),
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


class Switch(GatewayTest):
    walk, pretend = wire_guide.Guide.walk, wire_guide.Guide.pretend
    end, session = staticmethod(wire_guide.Guide.end), staticmethod(wire_guide.Guide.session)

    def record(self, gateway):
        with open(self.session(gateway), encoding="utf-8") as file:
            return json.load(file)["records"][-1]

    def step(self, gateway, simulator, step, *options, **how):
        """Walks one step of rail 1; its record, and what was said. What a busy computer interrupts is walked again."""
        for _ in range(TRIES):
            status, said = self.walk(gateway, simulator, "--only", step, "--rail", "1", *options, who=Fitter(simulator, **how))
            self.assertGreaterEqual(status, 0, said)  # it was not killed
            record = self.record(gateway)
            if not any(re.search(BUSY, finding["seen"]) for finding in record["findings"]):
                break
        self.assertEqual(record["step"], step, said)
        self.assertEqual(status, 0 if record["passed"] else 1, said)
        return record, " ".join(said.split())

    def only_finding(self, record):
        self.assertEqual(len(record["findings"]), 1, record["findings"])
        return record["findings"][0]

    # ---- the ends of travel

    def test_ends_with_room_behind_them_pass_and_a_stop_within_the_travel_is_found(self):
        for stop_mm, setting in ((STOPS_MM[1], None), (NEAR_STOP_MM, "carriage.travel_most_mm")):
            with WiredGateway([*QUICK, QUICK_SETUP]) as gateway:
                gateway.change(of_machine(f"stop_high_um = {1000 * stop_mm};"))
                with Simulator(gateway) as simulator:
                    gateway.start()
                    self.pretend(gateway)
                    record, said = self.step(gateway, simulator, "limits", stop_mm=stop_mm)
                    if setting is None:
                        self.assertTrue(record["passed"], record["findings"])
                        self.assertRegex(said, r"end of travel at the drive side: 660\.0 mm, stopped at 6(60\.0|59\.\d); room behind it 50\.\d mm")
                        self.assertRegex(said, r"end of travel at the operator side: 0\.0 mm")
                    else:
                        finding = self.only_finding(record)
                        self.assertEqual(finding["setting"], setting)
                        most_mm = float(re.match(r"([\d.]+) at most \(it is 660\.0\)", finding["change"])[1])
                        self.assertLess(most_mm, stop_mm - 5)
                    self.assertEqual(simulator.end(), 0)

    # ---- the flags

    def test_a_wrong_flag_width_is_found_by_a_scan_at_setup_speed_and_a_right_one_passes(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway:
            gateway.change(of_machine(f"flag_width_um = {FLAG_UM};"))
            with Simulator(gateway) as simulator:
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, simulator, "flag")
                finding = self.only_finding(record)
                self.assertEqual(finding["setting"], "carriage.flag_width_mm")
                named_mm = float(re.match(r"([\d.]+) \(it is 16\.000\)", finding["change"])[1])
                self.assertAlmostEqual(named_mm, FLAG_UM / 1000, delta=0.5)  # the switch's hysteresis is in it
                gateway.end()
                gateway.change((r"flag_width_mm = 16;", f"flag_width_mm = {named_mm};"))
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, simulator, "flag")
                self.assertTrue(record["passed"], record["findings"])
                self.assertRegex(said, r"as the switch sees them: 12\.\d\d\d mm in the mean of \d+")
                self.assertEqual(simulator.end(), 0)

    # ---- the offset

    def test_a_wrong_offset_of_the_switch_is_found_and_what_is_named_sets_it_right(self):
        """The bracket sits 7 mm from where the file says: further than the pin's taper forgives."""
        with WiredGateway([*QUICK, QUICK_SETUP, THREE_ROUNDS, of_machine(f"switch_offset_um = {OFFSET_UM};"),
                           (r"travel_most_mm = 660;", "travel_most_mm = 670;")]) as gateway, \
                Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            record, said = self.step(gateway, simulator, "switch")
            finding = self.only_finding(record)
            self.assertEqual(finding["setting"], "carriage.switch_offset_mm")
            becomes_mm = float(re.match(r"([-\d.]+) \(0\.000 counts\); then kniferail calibrate --measured --rail 1 --apply",
                                        finding["change"])[1])
            self.assertAlmostEqual(becomes_mm, OFFSET_UM / 1000, delta=0.02)
            self.assertRegex(said, rf"switch offset: was 0.000 mm, becomes {becomes_mm:.3f} \+- 0.0\d\d mm")
            done = gateway.ask("calibrate", "--measured", "--rail", 1, "--apply")
            self.assertEqual(done.returncode, 0, done.stderr)
            record, said = self.step(gateway, simulator, "switch")
            self.assertTrue(record["passed"], record["findings"])
            self.assertEqual(simulator.end(), 0)


if __name__ == "__main__":
    main()
