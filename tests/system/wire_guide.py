"""`kniferail commission` on a machine that was never homed, over the wire: a scripted person goes the whole way, and then
with one mistake after the other, each of which has to be found at the first step that can see it.

Called with the paths of kniferaild, kniferail and kniferail-sim. The person sees what the simulator knows of the machine,
never what the gateway says of it. Between the program and the gateway stands a wire that notes what is written: the block
LINE never is. Permissives come from sim/plc.py --pretend.
"""
import json
import pathlib
import re

from guide_rig import NEVER_HOMED, SETUP_UM_PER_S, Planter  # it takes its own paths off the command line
from wired_rig import RAILS, Simulator, WiredGateway
from gateway_rig import main

MOVES = (r"^== The ends of travel", "leave")  # from there on: wire_guide_switch.py, wire_guide_moves.py, wire_guide_frame.py


class Guide(Planter):
    def test_the_whole_way_is_gone_and_written_down(self):
        with WiredGateway(NEVER_HOMED) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.pretend(gateway)
            status, said = self.walk(gateway, simulator, told=(MOVES,))
            self.assertEqual(status, 0, said)
            self.assertEqual(said.count("PASSED"), 2 + RAILS * 6, said)
            protocol = gateway.config.with_name("session.md").read_text(encoding="utf-8")
            sheet = gateway.config.with_name("session-safety.md").read_text(encoding="utf-8")
            for text in ("C. Lead", "A. Fitter \\| B. Smith", "position limit, low", "register 220 was read and equals -2048", "1500 ms, read at the drive by a person", "datum shown",
                         "| who led the commissioning | C. Lead | | |", "A person reads on a tape how far the carriage went"):
                self.assertIn(text, protocol)
            self.assertRegex(protocol, rf"\*\*{2 + RAILS * 6} of \d+ steps have passed\*\*; 0 have not passed, 0 are doubtful")
            cautions = (pathlib.Path(__file__).parents[2] / "src/cli/texts/cautions.txt").read_text(encoding="utf-8")
            for caution in cautions.split("\n\n"):
                self.assertIn(f"{' '.join(caution.split())} Is this understood by everybody", " ".join(said.split()))
            for text in ("# Safety interface of station wired-shear\n", "safe torque off", "guard locking",
                         "the pin behaves as written here", "| 1, dragging a holder | ", "| signature |",
                         "The knives stand still", "coasting, torque off, measured", "| 1, empty, at setup speed | 0.200 | 1500 | ",
                         "| a carriage is jogged or an output is tried, besides the hold-to-run device | ",
                         "permissives.setup_mode: nobody bounds a jog", "permissives.unpowered: "):
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
            with open(self.session(gateway), encoding="utf-8") as file:
                session = json.load(file)
            session["records"][0]["lost"] = 3
            del session["records"][1]["lost"]  # as an earlier program kept it
            with open(self.session(gateway), "w", encoding="utf-8") as file:
                json.dump(session, file)
            status, said = self.walk(gateway, simulator, "--only", "cautions")
            protocol = gateway.config.with_name("session.md").read_text(encoding="utf-8")
            self.assertIn("| Direction, by jog | 1 | doubtful: a setting or a value changed: rail 1: drive.position_um was 20000 um and is 20001 um |", protocol)
            self.assertEqual(protocol.count("3 further figures or findings had no room in this record: it is not whole, and does not pass."), 1)
            self.assertRegex(protocol, r"(?s)## Accepted by.*\| faults \| at most 0 \|.*at least 1\.33.*PERMISSIVE_LOST, HEARTBEAT_STALE")
            self.assertEqual(simulator.end(), 0)

    def test_a_wrong_word_order_is_found_at_the_parameters(self):
        self.plant("The drive and its parameters", 'Change drive.word_order to: "high_word_first"',
                   file=[(r'(answer_lag = 1;[^\n]*\n *)word_order = "high_word_first"', r'\1word_order = "low_word_first"')])

    def test_factory_parameters_are_found_at_the_parameters(self):
        self.plant("The drive and its parameters", "set register 220 of the drive to -2048", break_1="factory-settings")

    def test_a_missing_and_a_long_watchdog_are_found_at_the_parameters(self):
        speed = "homing_speed_um_per_s = 400000;"
        for ms, seen in ((0, "watchdog is off"), (5000, "watchdog shows 5000, which is longer")):
            self.plant("The drive and its parameters", seen,
                       machine=[(rf"({speed}\s+)watchdog_ms = 1500;", rf"\g<1>watchdog_ms = {ms};")])

    def test_exchanged_rails_are_found_at_the_inputs(self):
        """What is held before this rail's switch is seen at the other rail's drive: the person sees that, and gives up."""
        self.plant("Inputs, by hand", "Input flag was not seen to come and go at this rail's drive, and was seen at rail 2's drive: drives or "
                   "cables are exchanged. Change drive.port to: that of rail 2's drive",
                   break_1="drives-exchanged", told=((r"Is a flag before", "no"),))

    def test_a_limit_switch_that_only_the_drive_sees_and_that_does_not_work_is_found_at_the_inputs(self):
        """The station file names no limit inputs. Homing crosses the whole travel, so that the switch is tried before."""
        self.plant("Inputs, by hand", "The limit input at the drive side was not seen at the drive", told=((r"Did it come and go there", "no"),))

    def test_a_stuck_pin_is_found_at_the_outputs(self):
        self.plant("Outputs, one by one", "look at valve and cable, and for a part that is stuck", break_1="pin-stuck-out")

    def test_a_wrong_direction_is_found_at_the_first_jog(self):
        self.plant("Direction, by jog", 'Change drive.counts_towards to: "drive_side"',
                   file=[(r"answer_lag = 1;", 'answer_lag = 1; counts_towards = "operator_side";')])

    def test_a_wrong_scale_is_found_at_the_tape(self):
        self.plant("Scale, by jog and tape", r"Change drive.position_um to: about (19[5-9]|20[0-4])\d\d with position_units = 4096 \(it is 21000\)",
                   file=[(r"position_um = 20000;", "position_um = 21000;")])

    def test_a_drive_that_homes_at_a_speed_of_its_own_is_found_at_the_homing(self):
        self.plant("Homing, at setup speed", "The carriage went up to [234].*set the drive's own homing speed",
                   file=[(r" homing_speed = 12; homing_creep = 14;", "")], told=((r"in a second at it\?$", "150"),))

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
