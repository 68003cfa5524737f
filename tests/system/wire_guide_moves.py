"""`kniferail commission` over the wire, in the steps with whole jobs: silence, one holder, changeovers, acceptance. A scripted
person goes through them, and then with mistakes that these steps are the first to see.

Called with the paths of kniferaild, kniferail and kniferail-sim. The person cuts cables and suspends the gateway; the ways
that the program tells are held against where the simulator's carriage truly stood.
"""
import re

from guide_rig import ACCEPTANCE, QUICK, QUICK_SETUP, SILENT, Commissioner, Cutter  # it takes its own paths off the command line
from wired_rig import Simulator, WiredGateway
from gateway_rig import SLOW, main


class Moves(Commissioner):
    def walk_silence(self, *changes):
        """The verdict's record, and how far the carriage truly went in each trial."""
        with WiredGateway([*QUICK, *SILENT, *changes]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            who = Cutter(gateway, simulator)
            status, said = self.walk(gateway, simulator, "--only", "silence", "--rail", "1", who=who)
            record = self.record(gateway)
            self.assertEqual(status, 0 if record["passed"] else 1, said)
            self.assertEqual(simulator.end(), 0)
        return record, [abs(after - before) for before, after in who.ways]

    def test_silence_in_all_its_ways_is_survived_by_a_drive_with_a_watchdog(self):
        record, ways = self.walk_silence()
        self.assertTrue(record["passed"], record["findings"])
        self.assertEqual(len(record["figures"]), 9)
        for figure, true_mm in zip(record["figures"], ways):
            told_mm, most_mm = (float(re.search(pattern, figure["value"])[1]) for pattern in (r"^([\d.]+) mm", r"at most ([\d.]+)"))
            self.assertLessEqual(told_mm, most_mm)
            self.assertLessEqual(abs(told_mm - true_mm), 30 * SLOW, figure)  # the cut comes some cycles behind the call for it
        names = [figure["name"] for figure in record["figures"]]
        self.assertEqual(len(set(names)), 9)

    def test_a_watchdog_that_is_off_is_found_by_the_first_trial(self):
        record, ways = self.walk_silence((r"seed = 2; watchdog_ms = \d+;", "seed = 2; watchdog_ms = 0;"),
                                         (r'watchdog = "read";', 'watchdog = "proven";'))
        self.assertIn("ran on to where it was sent", record["findings"][0]["seen"])
        self.assertEqual(len(ways), 1)

    def test_a_watchdog_that_is_longer_than_the_file_says_is_found_by_the_first_trial(self):
        record, ways = self.walk_silence((r"seed = 2; watchdog_ms = \d+;", "seed = 2; watchdog_ms = 2000;"),
                                         (r'watchdog = "read";', 'watchdog = "proven";'))
        self.assertIn("v t + v^2 / 2a with 900 ms", record["findings"][0]["seen"])
        self.assertEqual(len(ways), 1)

    def test_one_holder_changeovers_and_acceptance(self):
        with WiredGateway([*QUICK, QUICK_SETUP, *ACCEPTANCE]) as gateway, Simulator(gateway) as simulator:
            gateway.change((r"\Z", f'\nbook = "{gateway.book}";\n'))
            gateway.start()
            self.pretend(gateway)
            told = ((r"Press Enter\.$", ""), (r"Did carriage \d dock", "yes"), (r"Was all that you saw", "yes"))
            for step, figures in (("holder", 1), ("reduced", 1), ("production", 1), ("dockings", 1), ("changeovers", 4)):
                before = simulator.counts()
                status, said = self.walk(gateway, simulator, "--only", step, "--rail", "1", told=told)
                record = self.record(gateway)
                self.assertEqual((status, record["findings"]), (0, []), said)
                self.assertEqual(len(record["figures"]), figures, record["figures"])
                released = [sum(after[1]) - sum(was[1]) for was, after in zip(before, simulator.counts())]
                self.assertGreater(released[0], 0)
                if step == "dockings":
                    self.assertEqual(released[0], 4)
            self.assertEqual(simulator.end(), 0)

    def test_a_pin_that_sticks_and_a_holder_that_jams_are_found_at_the_first_holder(self):
        for fault, alarm in (("pin-stuck-out", "PIN_NOT_IN"), ("holder-jammed", "MOVE_LATE|DRIVE_FAULT|POSITION")):
            with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
                gateway.start()
                self.pretend(gateway)
                items = range(1, 5) if fault == "holder-jammed" else ("",)
                for item in items:
                    simulator.ask(f"break 1 {fault} {item}".rstrip(), 1)
                told = ((r"Press Enter\.$", ""), (r"Did carriage \d dock", "yes"))
                status, said = self.walk(gateway, simulator, "--only", "holder", "--rail", "1", told=told)
                self.assertEqual(status, 1, said)
                self.assertRegex(self.record(gateway)["findings"][0]["seen"], rf"did not end Complete\. ({alarm})")


if __name__ == "__main__":
    main()
