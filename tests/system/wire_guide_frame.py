"""`kniferail commission` over the wire, in the steps that hold the frame, the references, the switch, the blades and their edges
against what was measured. A scripted person goes through them, and then with mistakes that these steps are the first to see.

Called with the paths of kniferaild, kniferail and kniferail-sim. What the person reads on the instrument, and what the strips
measure, is what the simulator knows of the machine, never what the gateway says of it.
"""
import json
import re

import wire_guide  # it takes its own paths off the command line
from wire_guide_moves import QUICK, QUICK_SETUP
from wired_rig import Simulator, WiredGateway
from gateway_rig import GatewayTest, main

RAIL_MM = (40, 620)  # least_mm, most_mm of the shortened rail
OFF_UM, SCALE_PPM = 350, 200  # the upper drive's datum, and its scale: so much more it counts


class Reader(wire_guide.Person):
    """Jogs the carriage from place to place, up the rail and back, and reads each time where it stands."""

    WAY_MM, OVER_MM = 110, 460

    def __init__(self, simulator, off_mm=0.0, source="jog"):
        super().__init__(simulator, told=(
            (r"Readings of rail", source), (r"or done\.$", self.next), (r"How far\?$", f"{self.WAY_MM}"),
            (r"does the instrument show\?$", lambda: f"{self.true_mm() + off_mm:.3f}"),
            (r"instrument's zero", "0.005"), (r"a metre of its length", "0.01")))
        self.way, self.rise, self.read = "drive", [], False

    def next(self):
        self.press(0)
        if self.read:  # it was jogged: read
            self.read = False
            self.rise.append(self.true_mm())
            return "read"
        if self.way == "drive" and self.rise and self.rise[-1] - self.rise[0] > self.OVER_MM - self.WAY_MM:
            self.way = "operator"
        elif self.way == "operator" and self.rise[-1] < self.rise[0] + self.WAY_MM:
            return "done"
        self.read = True
        return self.way


class Frame(GatewayTest):
    walk, pretend = wire_guide.Guide.walk, wire_guide.Guide.pretend
    end, session = staticmethod(wire_guide.Guide.end), staticmethod(wire_guide.Guide.session)

    def record(self, gateway):
        with open(self.session(gateway), encoding="utf-8") as file:
            return json.load(file)["records"][-1]

    def step(self, gateway, step, *options, told=(), who=None, simulator=None):
        """Walks one step; its record and what was said."""
        status, said = self.walk(gateway, simulator, "--only", step, *options, told=told, who=who)
        record = self.record(gateway)
        self.assertEqual(record["step"], step, said)
        self.assertEqual(status, 0 if record["passed"] else 1, said)
        return record, " ".join(said.split())

    def only_finding(self, record):
        self.assertEqual(len(record["findings"]), 1, record["findings"])
        return record["findings"][0]

    # ---- the frame

    def test_a_frame_that_is_off_is_found_and_what_is_named_sets_it_right(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway:
            gateway.change((r'drive: \{ address = "127.0.0.1"; port = 15021; \};',
                            rf'\g<0> simulated: {{ home_offset_um = {OFF_UM}; scale_ppb = {SCALE_PPM}000; }};'))
            with Simulator(gateway) as simulator:
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, "calibration", "--rail", "1", who=Reader(simulator), simulator=simulator)
                finding = self.only_finding(record)
                self.assertEqual(finding["setting"], "frame")
                offset, scale = re.search(r"kniferail set frame 1 (\S+) (\S+);", finding["change"]).groups()
                self.assertLessEqual(abs(float(offset) + OFF_UM / 1000), 0.02, said)
                self.assertLessEqual(abs(float(scale) + SCALE_PPM), 30, said)
                self.assertEqual(gateway.ask("set", "frame", 1, offset, scale).returncode, 0)
                record, said = self.step(gateway, "calibration", "--rail", "1", who=Reader(simulator), simulator=simulator)
                self.assertEqual(record["findings"], [], said)
                self.assertEqual([figure["name"] for figure in record["figures"]],
                                 ["readings", "frame in force", "it leaves, by a line", "most that it is off", "residual"])
                self.assertIn(f"offset {offset} mm", record["figures"][1]["value"])
                # The readings that were typed in are kept, and are taken from their file as well; so are mistyped ones found.
                kept = gateway.config.with_name("session-readings-rail1-2.csv")
                self.assertGreaterEqual(len(kept.read_text(encoding="ascii").splitlines()), 6)
                record, said = self.step(gateway, "calibration", "--rail", "1", who=Reader(simulator, source=str(kept)), simulator=simulator)
                self.assertTrue(record["passed"], said)
                self.assertEqual(simulator.end(), 0)


if __name__ == "__main__":
    main()
