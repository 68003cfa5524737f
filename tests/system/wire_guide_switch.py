"""`kniferail commission` over the wire, in the steps that hold the ends of travel, the flags and the proximity switch against the
station file. A scripted person goes through them, and then with mistakes that these steps are the first to see.

Called with the paths of kniferaild, kniferail and kniferail-sim. The person sees where the carriage and the holders truly stand,
which the simulator says and never the gateway.
"""
import re

from guide_rig import NEAR_STOP_MM, QUICK, QUICK_SETUP, SHORTER, STOPS_MM, Commissioner, Fitter, Person  # it takes its own paths off the command line
from wired_rig import Simulator, WiredGateway
from gateway_rig import main

THREE_ROUNDS = (r"carriage: \{", "carriage: { gauge_rounds = 3;")
OFFSET_UM, FLAG_UM = -7000, 12000


def of_machine(parameters):
    """The upper rail's machine is built otherwise than the station file says."""
    return (r'drive: \{ address = "127.0.0.1"; port = 15021; \};', rf"\g<0> simulated: {{ {parameters} }};")


class Switch(Commissioner):
    def step(self, gateway, simulator, step, **how):
        return super().step(gateway, step, "--rail", "1", who=Fitter(simulator, **how), simulator=simulator)

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

    def test_limit_inputs_are_read_by_the_program_and_exchanged_or_inverted_ones_are_found_at_the_inputs(self):
        """Walked on rail 1; the simulated drives give the limit inputs at bits of their own, which the file then names wrongly."""
        right = (r"registers: \{ watchdog = 210; \};", r"\g<0> inputs: { limit_low = 14; limit_high = 15; };")
        with WiredGateway([*QUICK, QUICK_SETUP, right]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            for step, figures in (("inputs", ("the carriage is at no limit switch", "limit_low", "limit_high")), ("limits", ())):
                record, said = self.step(gateway, simulator, step, limits=True)
                self.assertTrue(record["passed"], record["findings"])
                self.assertEqual([f["name"] for f in record["figures"] if "limit" in f["name"]], list(figures), said)
            self.assertRegex(said, r"end of travel at the drive side: 660\.0 mm, stopped at 6(60\.0|59\.\d); room behind it 40\.\d mm")
            for wrong, setting, seen in (("limit_low = 15; limit_high = 14; };", "drive.inputs.limit_low", "what else changed meanwhile: limit_high"),
                                         ('limit_low = 14; limit_high = 15; }; inverted_inputs = [ "limit_high" ];', "drive.inputs.limit_high",
                                          "the carriage is at no limit switch, and the inputs say otherwise: 0 is none, 1 is limit_high")):
                gateway.end()
                gateway.change((r"limit_low = .*limit_high = \d+; \};( inverted.* \];)?", wrong))
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, simulator, "inputs", limits=True)
                finding = record["findings"][0]
                self.assertEqual(finding["setting"], setting, said)
                self.assertIn(seen, finding["seen"])
            self.assertEqual(simulator.end(), 0)

    # ---- inches

    def test_a_station_in_inches_is_asked_in_inches_and_told_what_was_understood_before_a_jog(self):
        """A number that was meant in millimetres would be a way 25.4 times as long: both units are said before anything moves."""
        with WiredGateway([*QUICK, QUICK_SETUP, (r'length_unit = "mm";', 'length_unit = "in";')]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            told = ((r"room at both sides", "2"), (r"Type above once the pin", "drive"), (r"How far\?$", "2 1/2"), (r"keep it pressed\. ", "leave"))
            status, said = self.walk(gateway, simulator, "--only", "switch", "--rail", "1", told=told)
            said = " ".join(said.split())
            self.assertEqual(status, 0, said)
            inches, mm = (float(number) for number in re.search(r"Carriage 1 is shown at ([-\d.]+) in \(([-\d.]+) mm\)\.", said).groups())
            self.assertAlmostEqual(25.4 * inches, mm, delta=0.003)
            self.assertIn("Taken as 2.5000 in (63.500 mm). Press the hold-to-run device", said)
            self.assertEqual(simulator.end(), 0)

    def test_a_station_in_inches_reads_findings_and_protocol_in_inches_and_is_told_the_files_value_in_mm(self):
        """Each length stands in both units. What is named for the station file, and for a command, counts as it is written."""
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER, (r'length_unit = "mm";', 'length_unit = "in";')]) as gateway:
            gateway.change(of_machine(f"flag_width_um = {FLAG_UM};"))
            with Simulator(gateway) as simulator:
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, simulator, "flag")
                finding = self.only_finding(record)
                named = re.match(r"([\d.]+) mm \[([\d.]+) in\] \(it is 16\.000 mm \[0\.6299 in\]\)", finding["change"])
                self.assertIsNotNone(named, said)
                self.assertAlmostEqual(float(named[1]), FLAG_UM / 1000, delta=0.5)
                self.assertAlmostEqual(25.4 * float(named[2]), float(named[1]), delta=0.1)  # both are rounded
                length = r"[\d.]+ in \([\d.]+ mm\)"
                self.assertRegex(finding["seen"], f"^The switch sees the flags {length} to {length} wide, and the station file says "
                                                  r"0\.6299 in \(16\.000 mm\)\.$")
                gateway.end()
                gateway.change((r"flag_width_mm = 16;", f"flag_width_mm = {named[1]};"))
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, simulator, "flag")
                self.assertTrue(record["passed"], record["findings"])
                self.assertRegex(said, f"as the switch sees them: {length} in the mean of")
                # As the step of the bias names it. A bare number would be in inches here.
                done = gateway.ask("set", "switch", 1, "0.1000in", "0.0059in")
                self.assertEqual(done.returncode, 0, done.stderr)
                self.assertRegex(done.stdout, r"switch offset +0\.0000 in +0\.1000 in\s+scan bias +0\.0000 in +0\.0059 in")
                protocol = gateway.config.with_name("session.md").read_text(encoding="utf-8")
                self.assertRegex(protocol, f"flags, as the switch sees them \\| {length} in the mean of")
                for alone in re.finditer(r"(?<!in \()(?<![-+.\d])[-+]?[\d.]+ mm\b(?! \[)", protocol):
                    self.fail(protocol[alone.start() - 80:alone.end() + 20])
                self.assertEqual(simulator.end(), 0)

    def test_a_reading_in_inches_is_held_against_the_shown_place_in_inches(self):
        """The person leaves before the reading is kept."""
        with WiredGateway([*QUICK, QUICK_SETUP, (r'length_unit = "mm";', 'length_unit = "in";')]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            ways = iter(("drive", "read"))
            who = Person(simulator, told=(
                (r"Readings of rail", "jog"), (r"or done\.$", lambda: who.press(0) or next(ways)), (r"How far\?$", "1"),
                (r"growing to the drive side\.$", "5"), (r"is asked for again\.$", "leave")))
            status, said = self.walk(gateway, simulator, "--only", "calibration", "--rail", "1", who=who)
            said = " ".join(said.split())
            self.assertEqual(status, 0, said)
            length = r"([-+]?[\d.]+) in \(([-+]?[\d.]+) mm\)"
            told = re.search(rf"The reading of {length} is {length} off the place that is shown, {length}\. Is the reading kept\?", said)
            self.assertTrue(told, said)
            reading, off, place = (tuple(map(float, told.groups()[i:i + 2])) for i in (0, 2, 4))
            self.assertEqual(reading, (5, 127))
            for inches, mm in (reading, off, place):
                self.assertAlmostEqual(25.4 * inches, mm, delta=0.003)
            self.assertAlmostEqual(off[1], reading[1] - place[1], delta=0.002)
            self.assertRegex(told[3], r"^[-+]")
            self.assertEqual(simulator.end(), 0)

    # ---- the flags

    def test_a_wrong_flag_width_is_found_by_a_scan_at_setup_speed_and_a_right_one_passes(self):
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER]) as gateway:
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
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER, THREE_ROUNDS, of_machine(f"switch_offset_um = {OFFSET_UM};"),
                           (r"travel_most_mm = 420;", "travel_most_mm = 430;")]) as gateway, \
                Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            record, said = self.step(gateway, simulator, "switch")
            finding = self.only_finding(record)
            self.assertEqual(finding["setting"], "carriage.switch_offset_mm")
            becomes_mm = float(re.match(r"([-\d.]+) \(0\.000 counts\); then kniferail calibrate --measured --rail 1 --apply",
                                        finding["change"])[1])
            self.assertAlmostEqual(becomes_mm, OFFSET_UM / 1000, delta=0.02)
            self.assertRegex(said, rf"switch offset: counts 0.000 mm; measured {becomes_mm:.3f} \+- 0.0\d\d mm")
            done = gateway.ask("calibrate", "--measured", "--rail", 1, "--apply")
            self.assertEqual(done.returncode, 0, done.stderr)
            record, said = self.step(gateway, simulator, "switch")
            self.assertTrue(record["passed"], record["findings"])
            self.assertEqual(simulator.end(), 0)


if __name__ == "__main__":
    main()
