"""`kniferail commission` over the wire, in the steps that hold the frame, the references, the switch, the blades and their edges
against what was measured. A scripted person goes through them, and then with mistakes that these steps are the first to see.

Called with the paths of kniferaild, kniferail and kniferail-sim. What the person reads on the instrument, and what the strips
measure, is what the simulator knows of the machine, never what the gateway says of it.
"""
import re

from guide_rig import QUICK, QUICK_SETUP, ROOM, SHORTER, Commissioner, Cutler, Reader  # it takes its own paths off the command line
from wired_rig import FLAGS, Simulator, WiredGateway, with_references
from gateway_rig import main

OFF_UM, SCALE_PPM = 350, 200  # the upper drive's datum, and its scale: so much more it counts


class Frame(Commissioner):
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
                                 ["readings", "temperature", "frame in force", "it leaves, by a line", "most that it is off", "residual"])
                self.assertIn(f"offset {offset} mm", record["figures"][2]["value"])
                # The readings that were typed in are kept, and are taken from their file as well; so are mistyped ones found.
                kept = gateway.config.with_name("session-readings-rail1-2.csv")
                self.assertGreaterEqual(len(kept.read_text(encoding="ascii").splitlines()), 6)
                self.assertRegex(kept.read_text(encoding="ascii"), r"(?m),2$")
                record, said = self.step(gateway, "calibration", "--rail", "1", who=Reader(simulator, source=str(kept)), simulator=simulator)
                self.assertTrue(record["passed"], said)
                self.assertEqual(record["figures"][1]["value"], "instrument at 20 C: the readings count as they are")
                # As a tape shows them that is 10 K warmer, and grows by 60 ppm for each: they are short.
                head, *rows = (line.split(",") for line in kept.read_text(encoding="ascii").splitlines())
                warm = kept.with_name("warm.csv")
                rows = [[row[0], f"{float(row[1]) / (1 + 60e-6 * 10):.6f}", *row[2:]] for row in rows]
                warm.write_text("\n".join(map(",".join, [head, *rows])) + "\n", encoding="ascii")
                for person, passes in ((Reader(simulator, source=str(warm)), False),
                                       (Reader(simulator, source=str(warm), celsius=30, ppm=60), True),
                                       (Reader(simulator, source=str(warm), celsius=30), False)):  # as steel
                    record, said = self.step(gateway, "calibration", "--rail", "1", who=person, simulator=simulator)
                    self.assertEqual(record["passed"], passes, said)
                    names = [figure["name"] for figure in record["figures"]]
                    self.assertEqual(names[1], "temperature")
                self.assertEqual(record["figures"][1]["value"],
                                 "instrument at 30.0 C, 11.50 ppm a kelvin: brought to 20 C, +0.115 mm a metre")
                self.assertEqual(simulator.end(), 0)

    # ---- references

    def of_references(self, change=(), fault=None):
        """The step on a rail with four flags; the mistake strikes behind the simulator's back."""
        with WiredGateway([*QUICK, QUICK_SETUP, *with_references(), ROOM]) as gateway, Simulator(gateway) as simulator:
            gateway.change(*change)
            if fault:
                simulator.say(f"break {fault}", "broken")
            gateway.start()
            self.pretend(gateway)
            return self.step(gateway, "references", "--rail", "1", told=((r"Press Enter\.$", ""),), simulator=simulator)

    def test_references_that_stand_where_the_file_has_them_pass(self):
        record, said = self.of_references()
        self.assertEqual(record["findings"], [], said)
        self.assertIn("took the datum from two of them", said)
        for figure, at in zip(record["figures"], FLAGS[15021]):
            told, found = (float(mm) for mm in re.findall(r"at (-?[\d.]+) mm", figure["value"]))
            self.assertEqual(told, at)
            self.assertLessEqual(abs(found - at), 0.05, figure)

    def test_references_that_were_measured_from_another_zero_are_told_with_their_places(self):
        first, last = FLAGS[15021][0], FLAGS[15021][-1]
        moved = ", ".join(f"{{ at_mm = {at - 0.6:.1f}; width_mm = 8; }}" for at in FLAGS[15021])
        record, said = self.of_references(change=[(rf"\{{ at_mm = {first};.*?at_mm = {last}; width_mm = 8; \}}", moved)])
        finding = self.only_finding(record)
        self.assertEqual(finding["setting"], "frame.references.at_mm", said)
        for told, at in zip(finding["change"].split(","), FLAGS[15021]):
            self.assertLessEqual(abs(float(told) - at), 0.05, finding)

    def test_a_flag_of_another_width_and_exchanged_rails_are_found(self):
        record, said = self.of_references(fault="1 reference-dirty 2 2500")
        finding = self.only_finding(record)
        self.assertEqual(finding["setting"], "frame.references.width_mm", said)
        self.assertRegex(finding["change"], r"^10\.[3-7]\d\d for flag 2")
        record, said = self.of_references(fault="1 drives-exchanged")
        finding = self.only_finding(record)
        self.assertEqual(finding["setting"], "drive.address", said)
        self.assertIn("those of rail 2: the rails are exchanged", finding["seen"])

    # ---- the bias

    def test_a_bias_that_is_not_the_switchs_is_found_and_the_measured_one_is_accepted(self):
        rounds = (r"settle_ms = 50;", "settle_ms = 50; scan_bias_mm = 0.6; gauge_rounds = 2;")
        told = (r"Press Enter\.$", "")
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER, rounds]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            record, said = self.step(gateway, "bias", "--rail", "1", told=(told, (r"to count from now on", "no")), simulator=simulator)
            finding = self.only_finding(record)
            self.assertEqual(finding["setting"], "carriage.scan_bias_mm", said)
            record, said = self.step(gateway, "bias", "--rail", "1", told=(told, (r"to count from now on", "yes")), simulator=simulator)
            self.assertEqual(record["findings"], [], said)
            found = float(re.match(r"([\d.]+) \+- ", record["figures"][0]["value"])[1])
            self.assertLessEqual(abs(found - 0.15), 0.03, said)  # half of 0.2 mm hysteresis and 0.02 mm play, 0.2 ms at 200 mm/s
            self.assertEqual(record["figures"][2]["value"],
                             f'{found:.3f} mm, accepted in this step; not used as long as scan_ways is "both"')
            self.assertIn('scans go on going both ways and need no bias, until the file says "one".', " ".join(said.split()))
            self.assertEqual(simulator.end(), 0)

    def test_a_switch_with_too_much_hysteresis_is_found(self):
        rounds = (r"settle_ms = 50;", "settle_ms = 50; gauge_rounds = 2;")
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER, rounds, (r"seed = 2;", "seed = 2; hysteresis_um = 1500;")]) as gateway, \
                Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            record, said = self.step(gateway, "bias", "--rail", "1", told=((r"Press Enter\.$", ""), (r"to count from now on", "no")),
                                     simulator=simulator)
            self.assertIn("Hysteresis of the switch", self.only_finding(record)["seen"], said)

    # ---- blades and edges

    def of_blades(self, step, put=None, change=(), **options):
        """The step on an order that it sets up itself, as none is in force; the blade that is off is put on before."""
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.change((r"\Z", f'\nbook = "{gateway.book}";\n'), *change)
            who = Cutler(simulator, **options)
            if put:
                who.put(*put)
            gateway.start()
            self.pretend(gateway)
            record, said = self.step(gateway, step, who=who, simulator=simulator)
            self.assertEqual(simulator.end(), 0)
            return record, said, who

    def test_blades_beside_their_counter_knives_pass_and_the_wrong_hand_is_the_sign_of_the_clearance(self):
        record, said, _ = self.of_blades("clearance")
        self.assertEqual(record["findings"], [], said)
        self.assertIn("Take tools, gauges and covers out of the machine", said)
        self.assertGreaterEqual(len(record["figures"]), 3)
        for figure in record["figures"][1:]:
            self.assertLessEqual(abs(float(figure["value"].split()[1]) - 0.5), 0.3, figure)
        record, said, _ = self.of_blades("clearance", change=[(r"side_clearance_mm = 0.5;", "side_clearance_mm = -0.5;")])
        finding = self.only_finding(record)
        self.assertEqual(finding["setting"], "side_clearance_mm", said)
        self.assertIn("0.500, if the blades are mounted", finding["change"])

    def test_whoever_leaves_beside_the_blades_is_told_to_take_the_tools_out(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            _, said = self.walk(gateway, simulator, "--only", "clearance", who=Cutler(simulator, more=((r"was it measured\?$", "leave"),)))
            said = " ".join(said.split())
            self.assertIn("Take tools, gauges and covers out of the machine, close the guards", said[said.index("was it measured?"):])

    def test_a_clearance_beyond_the_stroke_is_found(self):
        record, said, _ = self.of_blades("clearance", change=[(r"side_clearance_mm = 0.5;", "side_clearance_mm = 2.9;")])
        finding = self.only_finding(record)
        self.assertEqual(finding["setting"], "side_clearance_mm", said)
        self.assertIn("2.700 at most", finding["change"])

    def test_edges_are_proven_by_who_measured_and_by_test_cuts(self):
        """Nobody measures the upper edges that the order cuts with: all blades sit right, and somebody has looked at the pairs."""
        record, said, who = self.of_blades("edges", looked_at="yes")
        self.assertEqual(record["findings"], [], said)
        self.assertIn("It was cut there, and the rest of it does not count. The strips have to be typed in again", " ".join(said.split()))
        self.assertIsNotNone(who.rest)
        self.assertGreaterEqual(who.cuts, 1)
        self.assertEqual(who.set, 0)
        names = [figure["name"] for figure in record["figures"]]
        for name in ("edges of rail 1, proven by a test cut", "edges of rail 2, proven by a test cut"):
            self.assertIn(name, names)
        values = {figure["name"]: figure["value"] for figure in record["figures"]}
        self.assertIn("offset 10.000 mm, proven by a test cut", [values.get(f"edge of holder 1/{holder}") for holder in range(1, 5)])
        measured, ordered = (float(mm) for mm in re.findall(r"([\d.]+) mm", values["test cut 1, strip 1"]))
        self.assertLessEqual(abs(measured - ordered), 0.5, values)

    def test_a_mistyped_edge_offset_is_found_by_the_strips_and_what_they_propose_proves_it(self):
        """Of three cuts the middle one's knife is off: the strips beside it are, one too wide, the other too narrow."""
        put = (2, 2, 900)
        record, said, who = self.of_blades("edges", put=put, must_cut="2/2")
        self.assertEqual(record["findings"], [], said)
        self.assertGreaterEqual(who.set, 1)
        values = {figure["name"]: figure["value"] for figure in record["figures"]}
        self.assertEqual(values["edge of holder 1/1"], f"offset 10.000 mm, measured in place, {who.MEASURED_BY}")
        self.assertRegex(said, r"edge offset of holder 2/2: was -10\.000 mm, set to -9\.\d\d\d mm by the strips")
        record, said, _ = self.of_blades("edges", put=put, must_cut="2/2", applies="no",
                                         more=((r"^Edges not proven:(?s:.*)or done\.$", "done"),))
        self.assertTrue(any(finding["setting"] == "" for finding in record["findings"]), said)


if __name__ == "__main__":
    main()
