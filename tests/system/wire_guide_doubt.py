"""`kniferail commission` over the wire: what a maintenance request changes at the running station makes those steps doubtful that
stand on it, whoever made the request, and no others. What a step itself sets, with the person's consent, does not.

Called with the paths of kniferaild, kniferail and kniferail-sim.
"""
import json
import re
import time

from guide_rig import QUICK, QUICK_SETUP, ROOM, TRIES, Commissioner, Provoker, StandIn  # it takes its own paths off the command line
from wired_rig import Simulator, WiredGateway, WiredPlc, with_references
from gateway_rig import main

BUMP_UM = 120
PRESS = (r"Press Enter\.$", "")


class Doubt(Commissioner):
    def doubts(self, gateway):
        """As --list has them: for each doubtful step, with its rail, the reason."""
        found = (re.match(r"(\w+) .*?(?: rail (\d))?  +passed .*; doubtful: (.*)$", line) for line in self.listed(gateway).splitlines())
        return {f"{match[1]} {match[2] or ''}".strip(): match[3] for match in found if match}

    def listed(self, gateway):
        listed = gateway.ask("commission", "--config", gateway.config, "--session", self.session(gateway), "--list")
        self.assertEqual((listed.returncode, listed.stderr), (0, ""))
        return listed.stdout

    def begin(self, gateway):
        gateway.change((r"\Z", f'\nbook = "{gateway.book}";\n'))
        gateway.start()
        self.pretend(gateway)

    def test_each_value_of_the_book_makes_doubtful_what_stands_on_it_until_it_is_as_it_was(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            self.begin(gateway)
            for rail in (1, 2):
                gateway.set("bench", rail, "all")
                self.step(gateway, "references", "--rail", str(rail), simulator=simulator)  # no flags: it passes as it stands
            self.step(gateway, "edges", simulator=simulator)  # all are measured
            self.assertEqual(self.doubts(gateway), {})
            book = "book."
            for request, back, doubts in (
                    (("frame", 1, 0.1, 0), ("frame-back", 1),
                     {"REFERENCES 1": f"rail 1: {book}frame.offset_mm was 0.000 mm and is 0.100 mm"}),
                    (("frame", 2, 0, 50), ("frame-back", 2),
                     {"REFERENCES 2": f"rail 2: {book}frame.scale_ppm was 0.000 ppm and is 50.000 ppm",
                      "EDGES": f"rail 2: {book}frame.scale_ppm was 0.000 ppm and is 50.000 ppm"}),
                    (("switch", 1, 1.5, 0), ("switch-back", 1),
                     {"REFERENCES 1": f"rail 1: {book}switch_offset_mm was 0.000 mm and is 1.500 mm"}),
                    (("switch", 2, 0, 0.05), ("switch-back", 2), {}),
                    (("out", 1, 2), ("in", 1, 2), {}),
                    (("absent", 1, 2), ("insert", 1, 2, simulator.holders()[0][1] / 1000), {}),
                    (("offset", 2, 3, -9.9), ("offset", 2, 3, -10),
                     {"EDGES": f"rail 2: {book}edge_offset_mm of holder 3 was -10.000 mm and is -9.900 mm"})):
                gateway.set(*request)
                self.assertEqual(self.doubts(gateway), doubts, request)
                gateway.set(*back)
                if request[0] != "offset":
                    self.assertEqual(self.doubts(gateway), {}, back)
            # An offset that was set is not proven until somebody says so.
            self.assertEqual(self.doubts(gateway), {"EDGES": f"rail 2: {book}edge_proof of holder 3 was proven and is not proven"})
            gateway.set("bench", 2, 3)
            self.assertEqual(self.doubts(gateway), {})
            # A holder that was out of service when the step was walked, and comes back, has not been looked at.
            gateway.set("out", 1, 2)
            self.step(gateway, "edges", simulator=simulator)
            gateway.set("in", 1, 2)
            self.assertRegex(self.doubts(gateway)["EDGES"], r"^rail 1: book\.edge_\w+ of holder 2 is .*, and did not count when the step was walked$")
            # Without the station the list says what it can't know.
            gateway.end()
            listed = gateway.ask("commission", "--config", gateway.config, "--session", self.session(gateway), "--list")
            self.assertEqual(listed.returncode, 0)
            self.assertIn("The values of the station's book were not read", listed.stdout)

    def test_a_session_of_an_older_program_is_not_doubted_for_what_it_does_not_hold(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            self.begin(gateway)
            self.step(gateway, "references", "--rail", "1", simulator=simulator)
            with open(self.session(gateway), encoding="utf-8") as file:
                session = json.load(file)
            self.assertEqual(session["records"][0]["book"]["rail 1: book.frame.offset_mm"], "0.000 mm")
            self.assertNotIn("rail 2: book.frame.offset_mm", session["records"][0]["book"])
            del session["records"][0]["book"]
            with open(self.session(gateway), "w", encoding="utf-8") as file:
                json.dump(session, file)
            gateway.set("frame", 1, 0.1, 0)
            self.assertEqual(self.doubts(gateway), {})

    def test_what_somebody_else_changes_while_a_step_is_walked_makes_it_doubtful(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            self.begin(gateway)

            def change():
                gateway.set("switch", 1, 0.01, 0)
                return ""

            told = ((r"one holder is moved.*Press Enter\.$", change), (r"Did carriage \d dock", "yes"))
            record, _ = self.step(gateway, "holder", "--rail", "1", told=told, simulator=simulator)
            self.assertTrue(record["passed"], record["findings"])
            self.assertEqual(list(self.doubts(gateway)), ["HOLDER 1"])

    def test_a_bias_that_is_accepted_leaves_the_switch_where_it_counts(self):
        """The switch's bracket is bumped, and references and a dragged holder tell by how much. The request that sets the bias writes
        the offset anew, with that correction: what counts is the same, and only the bias is another one."""
        slowly = [(r"settle_ms = 50;", "settle_ms = 50; gauge_rounds = 2;"), (r"scan_speed_mm_per_s = 200;", "scan_speed_mm_per_s = 120;")]
        with WiredGateway([*QUICK, QUICK_SETUP, *with_references(), ROOM, *slowly]) as gateway, Simulator(gateway) as simulator:
            self.begin(gateway)

            plc, bumps = WiredPlc(gateway), []

            def bump():
                bumps.append(BUMP_UM - sum(bumps[-1:]))  # there, back, and there again
                simulator.say(f"break 1 bracket-bumped {bumps[-1]}", "broken")
                return "yes"

            told = (PRESS, (r"Did carriage \d dock", bump), (r"to count from now on", "yes"))
            for _ in range(TRIES):  # what a busy computer interrupts leaves it open whether it was the bracket
                record, said = self.step(gateway, "holder", "--rail", "1", told=told, simulator=simulator)
                self.assertTrue(record["passed"], said)
                if plc.read("SWITCH_CORRECTION"):
                    break
            record, said = self.step(gateway, "bias", "--rail", "1", told=told, simulator=simulator)
            self.assertTrue(record["passed"], said)
            was, becomes = (float(value.split()[0]) for value in record["carried"]["rail 1: book.switch_offset_mm"].values())
            self.assertGreater(abs(becomes - was), BUMP_UM / 2000)
            bias = record["book"]["rail 1: book.scan_bias_mm"]
            self.assertGreater(float(bias.split()[0]), 0)
            self.assertEqual(self.doubts(gateway), {"HOLDER 1": f"rail 1: book.scan_bias_mm was 0.000 mm and is {bias}"})
            gateway.set("switch-back", 1)  # restores the offset with the correction, too
            self.assertEqual(self.doubts(gateway), {"BIAS 1": f"rail 1: book.scan_bias_mm was {bias} and is 0.000 mm"})
            gateway.set("switch", 1, 0, 0)
            self.assertEqual(self.doubts(gateway)["HOLDER 1"], f"rail 1: book.switch_offset_mm was {becomes:.3f} mm and is 0.000 mm")

    def test_what_a_later_step_saw_changed_brings_an_earlier_one_back_in_the_same_call(self):
        """All steps have passed. While the last but one is walked again, somebody corrects an edge that is measured."""
        with WiredGateway([*QUICK, QUICK_SETUP, (r"alarms = \[ .*? \];", 'alarms = [ "metres_implausible" ];')]) as gateway, \
                Simulator(gateway) as simulator:
            gateway.start()
            stand_in = StandIn(gateway)
            for rail in (1, 2):
                gateway.set("bench", rail, "all")
            self.step(gateway, "edges", simulator=simulator)
            self.pass_all_others(gateway)
            self.assertEqual(self.doubts(gateway), {})

            class Corrector(Provoker):
                def metres_implausible(self, steps):
                    if steps:
                        gateway.set("offset", 2, 3, -9.9)
                        gateway.set("bench", 2, 3)
                    super().metres_implausible(steps)

            status, said = self.walk(gateway, simulator, "--again", "alarms", who=Corrector(simulator, stand_in))
            stand_in.end()
            self.assertEqual(status, 0, said)
            self.assertEqual(re.findall(r"== (.*)", said), ["Acceptance: alarms at the machine", "Edges, by measuring or by a test cut"])
            self.assertIn("rail 2: book.edge_offset_mm of holder 3 was -10.000 mm and is -9.900 mm", " ".join(said.split()))
            self.assertIn("Every step has passed", said)
            self.assertEqual(self.doubts(gateway), {})

    def test_what_has_become_doubtful_is_walked_before_a_step_that_stands_on_it_in_the_same_call(self):
        """The changeover is open. While one holder is moved, somebody corrects the switch, on which an earlier step stands."""
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            self.begin(gateway)
            for rail in (1, 2):
                self.step(gateway, "references", "--rail", str(rail), simulator=simulator)
            self.pass_all_others(gateway)
            with open(self.session(gateway), encoding="utf-8") as file:
                session = json.load(file)
            session["records"] = [record for record in session["records"] if record["step"] != "reduced"]
            with open(self.session(gateway), "w", encoding="utf-8") as file:
                json.dump(session, file)

            def change():
                gateway.set("switch", 1, 0.01, 0)
                return ""

            status, said = self.walk(gateway, simulator, "--again", "holder", "--rail", "1", told=(
                (r"^== A changeover", "leave"), (r"one holder is moved.*Press Enter\.$", change), PRESS, (r"Did carriage \d dock", "yes")))
            self.assertEqual(re.findall(r"== (.*)", said), ["One holder, rail 1", "Reference flags, found at setup speed, rail 1",
                                                            "One holder, rail 1", "A changeover at reduced speed"], said)
            self.assertIn("Step REDUCED waits, because a step that comes before it has to be walked again: step REFERENCES of rail 1 is "
                          "doubtful: rail 1: book.switch_offset_mm was 0.000 mm and is 0.010 mm.", " ".join(said.split()))
            self.assertEqual(status, 0, said)
            self.assertEqual(self.doubts(gateway), {})

    def pass_all_others(self, gateway):
        """Records of steps that nobody has walked, with the settings that the list names, one after the other, as those that it
        misses; without values of the book, as an older program wrote them."""
        with open(self.session(gateway), encoding="utf-8") as file:
            session = json.load(file)
        today = time.strftime("%Y-%m-%d", time.gmtime())  # on another day the cautions would be heard once more
        whole = {record["step"]: record for record in session["records"]}
        for line in self.listed(gateway).splitlines():
            step, rail = re.match(r"(\w+) .*?(?: rail (\d))?  +(?:open|passed) *", line).groups()
            if step.lower() not in whole:
                session["records"].append({"step": step.lower(), "rail": int(rail or 0), "passed": True, "when": today, "who": "C. Lead",
                                           "build": "", "station_file": "", "figures": [], "findings": [], "settings": {}})
        records = {f"{record['step'].upper()} {record['rail'] or ''}".strip(): record for record in session["records"]}
        while True:
            with open(self.session(gateway), "w", encoding="utf-8") as file:
                json.dump(session, file)
            missing = self.doubts(gateway)
            if not missing:
                return
            for step, why in missing.items():
                name, value = re.fullmatch(r"(.*) was \(not there\) and is (.*)", why).groups()
                records[step]["settings"][name] = value


if __name__ == "__main__":
    main()
