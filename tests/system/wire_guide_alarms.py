"""`kniferail commission` over the wire, in the steps that provoke alarms: at the machine by a scripted person, and against
kniferail-sim; sessions of other stations; mistakes that are planted besides those of wire_guide.py.

Called with the paths of kniferaild, kniferail and kniferail-sim.
"""
import re

import guide_rig  # it takes its own paths off the command line
from guide_rig import SHORTER, Commissioner, DooredSimulator, Planter, Provoker, StandIn
from wired_rig import Simulator, WiredGateway
from gateway_rig import MAP, main

# Limits for a busy computer, and a machine that docks quickly.
QUICK = [*guide_rig.QUICK, guide_rig.QUICK_SETUP, (r"heartbeat_limit_ms = 3000;", "heartbeat_limit_ms = 1500;")]
PROVOKED = 32  # of a station without references and without a common clamp
BY_HAND = ("PERMISSIVE_LOST", "HEARTBEAT_STALE", "JOG_ENABLE_LOST", "LINK_LOST")  # as the example lists them
LISTED = r'alarms = \[ .*? \];'


class Alarms(Commissioner):
    def walk_alarms(self, listed, lazy=(), **way):
        with WiredGateway([*QUICK, (LISTED, f"alarms = [ {', '.join(f'{chr(34)}{name}{chr(34)}' for name in listed)} ];")]) as gateway, \
                Simulator(gateway) as simulator:
            gateway.start()
            stand_in = StandIn(gateway)
            who = self.who = Provoker(simulator, stand_in, lazy, **way)
            status, said = self.walk(gateway, simulator, "--only", "alarms", who=who, seconds=90)
            stand_in.end()
            who.at_end = who.rest_of_carriage()
            self.assertEqual(simulator.end(), 0)
            return status, said, self.record(gateway), who.done

    def test_alarms_are_provoked_at_the_machine_seen_and_gone_again(self):
        listed = ["permissive_lost", "heartbeat_stale", "jog_enable_lost", "link_lost", "metres_implausible"]
        status, said, record, done = self.walk_alarms(listed)
        self.assertEqual((status, record["findings"]), (0, []), said)
        self.assertEqual(done, listed)
        self.assertEqual([figure["name"].lower() for figure in record["figures"]], listed)
        for figure in record["figures"]:
            self.assertRegex(figure["value"], r"; seen after [\d.]+ s: .*; gone when it was taken back and acknowledged$")
            self.assertIn(f"\n{figure['name']}. CAUTION. ", said)

    def test_an_alarm_that_nobody_provokes_does_not_pass(self):
        status, said, record, _ = self.walk_alarms(["jog_enable_lost", "metres_implausible"], lazy=("metres_implausible",))
        self.assertEqual(status, 1, said)
        self.assertEqual(len(record["figures"]), 1)
        self.assertIn("METRES_IMPLAUSIBLE was to be provoked at the machine", record["findings"][0]["seen"])

    def check_strip(self, listed, lazy=()):
        """The person is told to set the strip, and to take it away, while the carriage stands and everything is locked out; between
        these there is one scan, which an answer begins."""
        status, said, record, done = self.walk_alarms(listed, lazy)
        flat = " ".join(said.split())
        self.assertNotIn("NOW: set a strip", flat)
        before, after = self.who.stood[:4], self.who.stood[4:]
        self.assertEqual([when for when, _ in before], ["before lockout", "strip is set", "locks off", "before the scan"], said)
        self.assertEqual([when for when, _ in after], ["before lockout", "strip is taken away", "locks off"], said)
        for stands in (before, after):
            self.assertEqual(len({rest for _, rest in stands}), 1, self.who.stood)
            self.assertNotIn("it moved", {rest for _, rest in stands}, self.who.stood)
        self.assertGreater(after[0][1][0], before[0][1][0], "the carriage scanned")
        self.assertEqual(self.who.at_end, after[0][1], "no scan followed unasked")
        self.assertEqual(done, ["flag_extra"])
        return status, flat, record

    def test_a_strip_is_set_and_taken_away_while_the_carriage_stands_locked_out(self):
        status, said, record = self.check_strip(["flag_extra"])
        self.assertEqual((status, record["findings"]), (0, []), said)
        self.assertIn("FLAG_EXTRA. CAUTION. Lock out drives, knife drives and air, and check", said)
        self.assertRegex(record["figures"][0]["value"], r"; seen after [\d.]+ s: .*; gone when it was taken back and acknowledged$")

    def test_a_strip_that_is_not_seen_does_not_pass_and_is_taken_away_too(self):
        status, said, record = self.check_strip(["flag_extra"], lazy=["flag_extra"])
        self.assertEqual(status, 1, said)
        self.assertIn("FLAG_EXTRA was to be provoked at the machine", record["findings"][0]["seen"])

    def test_a_scan_is_repeated_only_when_somebody_says_so(self):
        for again in ("no", "yes"):
            with self.subTest(again=again):
                status, said, record, _ = self.walk_alarms(["permissive_lost"], late=["permissive_lost"], again=again)
                self.assertEqual([when for when, _ in self.who.stood], ["before it scans again"], said)
                rest = self.who.stood[0][1]
                self.assertNotEqual(rest, "it moved")
                if again == "yes":
                    self.assertEqual((status, record["findings"]), (0, []), said)
                else:
                    self.assertEqual((status, self.who.at_end), (1, rest), said)
                    self.assertIn("PERMISSIVE_LOST was to be provoked", record["findings"][0]["seen"])

    def test_a_station_that_lists_none_passes_and_says_so(self):
        status, said, record, _ = self.walk_alarms([])
        self.assertEqual((status, record["figures"][0]["value"]), (0, "acceptance.alarms lists none"), said)


class Rehearsal(Commissioner):
    def rehearse(self, machine, simulator, port, socket):
        status, said = self.walk(machine, simulator, "--only", "rehearsal", "--rehearsal", f"127.0.0.1:{port}", "--simulator", socket, seconds=600)
        return status, said, self.record(machine)

    def test_the_other_alarms_are_provoked_against_the_simulator(self):
        never_homed = [change for change in guide_rig.NEVER_HOMED if change not in guide_rig.QUICK and "setup_speed" not in change[1]]
        with WiredGateway([*QUICK, *SHORTER, *never_homed]) as machine, Simulator(machine) as simulator, \
                WiredGateway([*QUICK, *SHORTER, *never_homed]) as copy, DooredSimulator(copy) as double:
            machine.start()
            copy.start()
            self.pretend(copy)
            status, said, record = self.rehearse(machine, simulator, copy.port, double.socket)
            self.assertEqual((status, record["findings"]), (0, []), said)
            figures = {figure["name"]: figure["value"] for figure in record["figures"]}
            self.assertEqual(figures.pop("alarms provoked against kniferail-sim"), f"{PROVOKED}, of which {PROVOKED} were seen")
            self.assertEqual(sorted([*figures, *BY_HAND]), sorted(MAP.alarm), "every alarm of the station is provoked once, or told why not")
            provoked = [value for value in figures.values() if not value.startswith("not provoked: ")]
            self.assertEqual(len(provoked), PROVOKED)
            for value in provoked:
                self.assertRegex(value, r"^fault [a-z-]+.*; seen after [\d.]+ s: .*; gone when it was taken back and acknowledged( after (homing|the scan went on))?$")

    def test_a_machine_is_refused(self):
        """Its own gateway, and a gateway whose drives are not the simulator whose socket is given."""
        with WiredGateway(QUICK) as machine, DooredSimulator(machine) as simulator, WiredGateway(QUICK) as copy, DooredSimulator(copy) as double:
            machine.start()
            copy.start()
            for port, socket, why in ((machine.port, simulator.socket, "runs the machine's own station file"),
                                      (copy.port, simulator.socket, "its drives are not that simulator's"),
                                      (copy.port, double.socket + "-none", "The simulator cannot be reached"),
                                      (1, double.socket, "onnect")):
                status, said, record = self.rehearse(machine, simulator, port, socket)
                self.assertEqual((status, record["figures"], len(record["findings"])), (1, [], 1), said)
                self.assertIn(why, record["findings"][0]["seen"])
                self.assertIn("Nothing was broken.", record["findings"][0]["seen"])


class LowTorque(Planter):
    """A drive whose torque is too low is found at its parameters; where none of its registers tells, at the first motion in
    which it cannot follow."""

    def test_a_torque_limit_that_is_too_low_is_found_at_the_parameters(self):
        self.plant("The drive and its parameters", "set register 230 of the drive to 1000",
                   file=[(r"register = 230; value = 800;", "register = 230; value = 1000;")])

    def test_a_drive_that_cannot_follow_is_found_at_the_homing(self):
        """A jog of 10 mm/s is within its window of following error, and homing is not."""
        self.plant("Homing, at setup speed", "following error", machine=[(r"seed = 2;", "seed = 2; lag_us = 100000;")])


class Sessions(Commissioner):
    def refused(self, gateway, simulator, *changes):
        gateway.end()
        gateway.change(*changes)
        gateway.start()
        status, said = self.walk(gateway, simulator)
        self.assertEqual((status, said.count("==")), (1, 0), said)
        return " ".join(said.split())

    def test_a_session_of_another_station_or_none_at_all_is_refused_in_words(self):
        with WiredGateway(QUICK) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.assertEqual(self.walk(gateway, simulator, "--only", "cautions")[0], 0)
            file = gateway.config.with_name("session.json")
            kept = file.read_text(encoding="utf-8")
            self.assertIn('"cautions"', kept)
            told = self.refused(gateway, simulator, (r'name = "wired-shear"; *\n', 'name = "other-shear";\n'))
            self.assertIn('it is the session of station "wired-shear", unit identifier 1, and not of "other-shear", 1', told)
            told = self.refused(gateway, simulator, (r'name = "other-shear";', 'name = "wired-shear";'), (r"unit_id = 1;\n", "unit_id = 2;\n"))
            self.assertIn('unit identifier 1, and not of "wired-shear", 2', told)
            self.assertEqual(file.read_text(encoding="utf-8"), kept)
            file.write_text('{"a": 1}', encoding="utf-8")
            self.assertIn("this is no session of kniferail commission", self.refused(gateway, simulator, (r"unit_id = 2;\n", "unit_id = 1;\n")))
            file.write_text("not a session", encoding="utf-8")
            self.assertIn("session.json: ", self.refused(gateway, simulator))
            self.assertEqual(file.read_text(encoding="utf-8"), "not a session")

    def test_a_station_file_that_the_gateway_does_not_run_is_refused_in_words(self):
        with WiredGateway(QUICK) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            gateway.change((r"settle_ms = 50;", "settle_ms = 51;"))
            status, said = self.walk(gateway, simulator)
            self.assertEqual(status, 1)
            self.assertIn("the gateway runs another station file", said)


if __name__ == "__main__":
    main()
