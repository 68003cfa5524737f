"""`kniferail commission` over the wire, in the steps with whole jobs: silence, one holder, changeovers, acceptance. A scripted
person goes through them, and then with mistakes that these steps are the first to see.

Called with the paths of kniferaild, kniferail and kniferail-sim. The person cuts cables and suspends the gateway; the ways
that the program tells are held against where the simulator's carriage truly stood.
"""
import re

from guide_rig import ACCEPTANCE, QUICK, QUICK_SETUP, SILENT, TRIES, Commissioner, Cutter, FarCable  # it takes its own paths off the command line
from wired_rig import Simulator, WiredGateway, WiredPlc
from gateway_rig import SLOW, main

PRESS = (r"Press Enter\.$", "")


class Moves(Commissioner):
    def walk_silence(self, *changes, misses=None):
        """The verdict's record, and how far the carriage truly went in each trial."""
        with WiredGateway([*QUICK, *SILENT, *changes]) as gateway, Simulator(gateway) as simulator:
            far = FarCable(gateway, simulator)
            gateway.start()
            self.pretend(gateway)
            who = Cutter(gateway, simulator, far, misses)
            status, said = self.walk(gateway, simulator, "--only", "silence", "--rail", "1", who=who, seconds=400)
            record = self.record(gateway)
            self.assertEqual(status, 0 if record["passed"] else 1, said)
            self.assertGreaterEqual(who.repeated, int(misses is not None))
            self.assertEqual(simulator.end(), 0)
            far.close()
        for way, speed, before, *after in who.held:
            self.assertTrue(after in ([], [before]) or (way, speed) == ("back", "setup"), "no holder is dragged at production speed")
        return record, [abs(after - before) for before, after in who.ways]

    def test_silence_in_all_its_ways_is_survived_by_a_drive_with_a_watchdog(self):
        """The first call is not heard, and the trial is made again; the others are kept."""
        record, ways = self.walk_silence(misses=1)
        self.assertTrue(record["passed"], record["findings"])
        self.assertEqual(len(record["figures"]), 12)
        for figure, true_mm in zip(record["figures"], ways[-12:]):
            told_mm, most_mm = (float(re.search(pattern, figure["value"])[1]) for pattern in (r"^([\d.]+) mm", r"at most ([\d.]+)"))
            self.assertLessEqual(told_mm, most_mm)
            self.assertLessEqual(abs(told_mm - true_mm), 30 * SLOW, figure)  # the cut comes some cycles behind the call for it
        names = [figure["name"] for figure in record["figures"]]
        self.assertEqual(len(set(names)), 12)
        self.assertEqual(sum("far side of the switch" in name for name in names), 4)
        self.assertEqual(sum(f"{Cutter.TRACED_MS} ms by the drive's trace" in figure["value"] for figure in record["figures"]), 6)

    def test_a_trial_at_production_speed_that_nobody_cuts_ends_before_the_carriage_drags(self):
        with WiredGateway([*QUICK, *SILENT]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            who = Cutter(gateway, simulator, misses=3, again="no")  # the first one at production speed
            status, said = self.walk(gateway, simulator, "--only", "silence", "--rail", "1", who=who, seconds=400)
            self.assertEqual(status, 1, said)
            self.assertIn("production speed, to the drive side: the carriage did not travel when the link went",
                          self.record(gateway)["findings"][0]["seen"])
            self.assertEqual(who.held[-1][2], who.holders())
            self.assertEqual(simulator.end(), 0)

    def test_a_watchdog_that_is_off_is_found_by_the_first_trial(self):
        record, ways = self.walk_silence((r"seed = 2;\s+watchdog_ms = \d+;", "seed = 2; watchdog_ms = 0;"),
                                         (r'watchdog = "read";', 'watchdog = "proven";'))
        self.assertIn("ran on to where it was sent", record["findings"][0]["seen"])
        self.assertEqual(len(ways), 1)

    def test_a_watchdog_that_is_longer_than_the_file_says_is_found_by_the_first_trial(self):
        record, ways = self.walk_silence((r"seed = 2;\s+watchdog_ms = \d+;", "seed = 2; watchdog_ms = 2000;"),
                                         (r'watchdog = "read";', 'watchdog = "proven";'))
        self.assertIn("v t + v^2 / 2a with 900 ms", record["findings"][0]["seen"])
        self.assertEqual(len(ways), 1)

    def test_one_holder_changeovers_and_acceptance(self):
        with WiredGateway([*QUICK, QUICK_SETUP, *ACCEPTANCE]) as gateway, Simulator(gateway) as simulator:
            gateway.change((r"\Z", f'\nbook = "{gateway.book}";\n'))
            gateway.start()
            self.pretend(gateway)
            told = ((r"Press Enter\.$", ""), (r"Did carriage \d dock", "yes"), (r"Was all that you saw", "yes"))
            for step, figures in (("holder", 1), ("reduced", 2), ("production", 2), ("dockings", 1), ("changeovers", 5)):
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

    def test_holders_without_room_are_docked_after_a_neighbour_and_those_that_cannot_be_are_named(self):
        """Packed from the rail's end on, only the last holder has room, and the other one gets it by a move that is no docking. On a
        rail that they fill there is none."""
        def packed(n):
            return (r"count = 4;(.* edge_offset_mm = 10;) first_mm = 60; pitch_mm = 120;", rf"count = {n};\1 first_mm = 40; pitch_mm = 50.8;")

        full = (r'(role = "upper";\s+least_mm = 40;) most_mm = \d+;', r"\1 most_mm = 599.2;")
        for changes, passes in (((packed(2),), True), ((packed(12), full), False)):
            with WiredGateway([*QUICK, QUICK_SETUP, *ACCEPTANCE, *changes]) as gateway, Simulator(gateway) as simulator:
                gateway.start()
                self.pretend(gateway)
                record, said = self.step(gateway, "dockings", "--rail", "1", told=((r"Press Enter\.$", ""),), simulator=simulator)
                released = simulator.counts()[0][1]
                self.assertEqual(record["passed"], passes, record)
                if passes:
                    self.assertEqual(released, [1, 2])
                    self.assertIn("2 of 2", record["figures"][0]["value"])
                    self.assertEqual(record["figures"][1]["value"], "1")
                else:
                    self.assertEqual(released, [0] * 12)
                    self.assertIn("0 of 12 were made", record["findings"][0]["seen"])
                    self.assertIn("holders 1 to 12.", record["findings"][1]["seen"])
                self.assertEqual(simulator.end(), 0)

    def test_a_neighbour_that_jams_is_no_lack_of_room(self):
        """The first holder has no room until its neighbour is moved, and that one jams: the record names the alarm alone."""
        packed = (r"count = 4;(.* edge_offset_mm = 10;) first_mm = 60; pitch_mm = 120;", r"count = 2;\1 first_mm = 40; pitch_mm = 50.8;")
        with WiredGateway([*QUICK, QUICK_SETUP, *ACCEPTANCE, packed]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            simulator.say("break 1 holder-jammed 2", "broken")
            _, said = self.walk(gateway, simulator, "--only", "dockings", "--rail", "1", told=(PRESS,))
            seen = [finding["seen"] for finding in self.record(gateway)["findings"]]
            self.assertRegex(" ".join(seen), r"Dockings: 0 of \d were made.*The first one: (MOVE_LATE|DRIVE_FAULT|POSITION)", said)
            self.assertFalse(any("has room to move" in finding for finding in seen), seen)

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

    def test_a_pin_that_a_jammed_holder_keeps_is_let_go_by_the_guided_release(self):
        """A drag is interrupted with the pin in. The release is offered where the step ends, and where the next one begins."""
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)

            def holder(answer, until):
                """Walks the step until that was seen, since a busy computer may interrupt it before. All records and all that was said."""
                told = ((r"driven out now\?$", answer), (r"or type leave\.$", "leave"), PRESS, (r"Did carriage \d dock", "yes"))
                records, heard = [], ""
                for _ in range(TRIES):
                    status, said = self.walk(gateway, simulator, "--only", "holder", "--rail", "1", told=told)
                    self.assertIn(status, (0, 1), said)
                    records.append(self.record(gateway))
                    heard += " ".join(said.split())
                    if until(records[-1]):
                        return records, heard
                return self.fail(heard)

            def jam(command, answer):
                for item in range(1, 5):
                    simulator.say(f"{command} 1 holder-jammed {item}", answer)

            def releases(records):
                return [figure["value"] for record in records for figure in record["figures"] if figure["name"] == "guided release, rail 1"]

            def let_go():
                return sum(simulator.counts()[0][1])

            jam("break", "broken")
            records, said = holder("no", lambda record: any("not proven out" in finding["seen"] for finding in record["findings"]))
            self.assertIn("Lock out and tag out drives and air", said[said.index("The pin of carriage 1 is not proven out"):])
            self.assertIn("NOT RELEASED", said)
            self.assertRegex(records[-1]["findings"][-1]["seen"], r"The pin of carriage 1 is not proven out: it may be in holder \d\.")
            self.assertEqual(releases(records), [])
            jam("mend", "mended")
            before = let_go()
            records, said = holder("yes", lambda record: record["passed"])  # its first start is refused
            for text in ("The station refuses to start", "output pin_out 1", "input pin_in 0", "input pin_out 1", "RELEASED"):
                self.assertIn(text, said)
            again = said[said.index("RELEASED"):]  # people were sent to the pin: no job starts before somebody has answered
            self.assertRegex(again, r"^.*? The pin is proven out\. The job that was refused starts next, and the carriage moves\. Nobody is in "
                                    r"the zone, the guards are closed, and a hand is at the emergency stop\. Press Enter\. .*Did carriage 1 dock")
            for value in releases(records):
                self.assertRegex(value, r"it may be in (a holder|holder \d); after job 5 it is proven out; \d+ ms")
            self.assertEqual(let_go(), before + 1 + len(releases(records)))  # by the step's own move, and by each release
            jam("break", "broken")
            records, said = holder("yes", lambda record: not record["passed"] and releases([record]))
            self.assertGreater(said.rindex("The pin of carriage 1"), said.rindex("NOT PASSED"))  # where the step ends
            self.assertEqual(WiredPlc(gateway).read("DOCKED_HOLDER"), 0)


if __name__ == "__main__":
    main()
