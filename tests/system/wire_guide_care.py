"""`kniferail commission` over the wire, where it keeps people out of harm's way: what a start waits for, which answers count, which
steps come first, what the sheet of the safety interface is held against.

Called with the paths of kniferaild, kniferail and kniferail-sim.
"""
import json
import os
import pty
import re
import subprocess
import termios
import time

from guide_rig import NEVER_HOMED, QUICK, QUICK_SETUP, SHORTER, Commissioner, Person, Reader  # it takes its own paths off the command line
from wired_rig import Simulator, WiredGateway, WiredPlc
from gateway_rig import KNIFERAIL, SLOW, main, wait_for

AGAIN = r"heard again\. See that nobody is in the zone\. .*asked for moves\.$"


class Care(Commissioner):
    # ---- what a start waits for

    def test_a_start_that_waited_for_the_plc_asks_again_before_anything_moves(self):
        """The person has confirmed an empty zone long before the PLC comes back."""
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            before, asked = simulator.carriages(), []

            def comes_back():
                self.pretend(gateway)

            def asked_again():
                asked.append(simulator.carriages())
                return "leave"

            status, said = self.walk(gateway, simulator, "--only", "flag", "--rail", "1", told=(
                (r"is scanned next.*Press Enter\.$", ""), (r"Nobody is in control.*waits for it\.$", comes_back), (AGAIN, asked_again)))
            self.assertEqual((status, asked), (0, [before]), said)
            self.assertEqual(simulator.carriages(), before)
            self.assertEqual(simulator.end(), 0)

    def test_a_person_may_take_more_time_than_the_gateway_leaves_an_idle_connection(self):
        """Somebody goes to the machine, and answers when the gateway would have closed the connection twice over."""
        idle = (r"\nface: \{", "\nface: { idle_ms = 1500;")
        with WiredGateway([*QUICK, QUICK_SETUP, idle]) as gateway, Simulator(gateway) as simulator:
            gateway.start()

            def thinks():
                time.sleep(4 * SLOW)
                return ""

            status, said = self.walk(gateway, simulator, "--only", "flag", "--rail", "1", told=(
                (r"is scanned next.*Press Enter\.$", thinks), (r"Nobody is in control.*waits for it\.$", lambda: "leave")))
            self.assertEqual(status, 0, said)
            self.assertIn("Nobody is in control", said)

    # ---- which answers count

    def test_a_line_that_was_typed_before_a_question_does_not_answer_it(self):
        """Somebody holds Enter, or types ahead, at a terminal: each of the cautions is still asked for."""
        with WiredGateway(QUICK) as gateway:
            gateway.start()
            keyboard, terminal = pty.openpty()
            off = termios.tcgetattr(terminal)
            off[3] &= ~termios.ECHO
            termios.tcsetattr(terminal, termios.TCSANOW, off)
            program = subprocess.Popen(
                [KNIFERAIL, "commission", "--config", gateway.config, "--port", str(gateway.port), "--session", self.session(gateway),
                 "--only", "cautions"], stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
            os.close(terminal)
            said = b""

            def hear(what):
                nonlocal said
                said = b""
                while not said.rstrip().endswith(what):
                    byte = program.stdout.read(1)
                    self.assertTrue(byte, said)
                    said += byte

            hear(b"(text)>")
            os.write(keyboard, b"C. Lead\n" + 8 * b"yes\n")
            for _ in range(5):
                hear(b"(yes or no)>")
                os.write(keyboard, b"no\nyes\n")
            for name in (b"A. Fitter\n", b"B. Smith\n"):
                hear(b"(text)>")
                os.write(keyboard, name)
            program.stdout.read()
            self.assertEqual(program.wait(timeout=20 * SLOW), 1)
            program.stdout.close()
            os.close(keyboard)
            self.assertEqual(len(self.record(gateway)["findings"]), 5)

    # ---- which steps come first

    def list(self, gateway):
        """Each step of a rail, 0 for one of the station, and how it stands."""
        said = gateway.ask("commission", "--config", gateway.config, "--session", self.session(gateway), "--list").stdout
        return {(name, int(rail or 0)): how for name, rail, how in re.findall(r"(?m)^([A-Z]+) .*?(?: rail (\d))? +((?:open|not passed|passed)(?: \d.*)?)$", said)}

    def has_passed(self, gateway, before, rails):
        """A session in which the steps before that one have passed for some rails: the list says which settings a record lacks."""
        records, now = {}, time.strftime("%Y-%m-%d %H:%M UTC", time.gmtime())
        for name, rail in self.list(gateway):
            if name == before:
                break
            if rail in (0, *rails):
                records[name, rail] = {"step": name.lower(), "rail": rail, "passed": True, "when": now, "who": "C. Lead", "build": "0",
                                       "station_file": "0", "figures": [], "findings": [], "settings": {}}
        lacks = True
        while lacks:
            session = {"commissioning": 1, "station": "wired-shear", "unit_id": 1, "begun": now, "records": [*records.values()]}
            with open(self.session(gateway), "w", encoding="utf-8") as file:
                json.dump(session, file)
            lacks = {step: re.search(r"; doubtful: (.*?) was \(not there\) and is (.*)$", how) for step, how in self.list(gateway).items()}
            lacks = {step: lack.groups() for step, lack in lacks.items() if lack}
            for step, (name, value) in lacks.items():
                self.assertNotIn(name, records[step]["settings"])
                records[step]["settings"][name] = value

    def test_no_step_moves_rails_that_nobody_has_tried(self):
        """With --rail the steps of the other rail are open; one step alone is walked out of its turn only if a person says so."""
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            self.has_passed(gateway, "REDUCED", rails=[1])
            before = simulator.counts()
            status, said = self.walk(gateway, simulator, "--rail", "1")
            self.assertEqual((status, said.count("==")), (1, 0), said)
            self.assertIn("Step REDUCED is not begun, because carriages may move in it that have not been tried yet: step DRIVE of rail 2 was not walked.",
                          " ".join(said.split()))
            for options, gap in ((("--only", "reduced"), "step DRIVE of rail 2 was not walked"),
                                 (("--only", "production"), "step SILENCE of rail 2 was not walked")):
                status, said = self.walk(gateway, simulator, *options, told=((r"walked all the same\?$", "no"),))
                self.assertEqual((status, said.count("==")), (1, 0), said)
                self.assertIn(f"comes later in the sequence: {gap}. Carriages may move in it that have not been tried yet.", " ".join(said.split()))
            self.assertEqual(simulator.counts(), before)
            status, said = self.walk(gateway, simulator, "--only", "reduced", told=((r"Press Enter\.$", ""), (r"Was all that you saw", "yes")))
            self.assertEqual(status, 0, said)
            self.assertIn("| walked all the same | C. Lead typed yes: step DRIVE of rail 2 was not walked |",
                          gateway.config.with_name("session.md").read_text(encoding="utf-8"))
            self.assertEqual(simulator.end(), 0)

    def test_dockings_come_after_silence(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            status, said = self.walk(gateway, simulator, "--only", "dockings", "--rail", "2", told=((r"walked all the same\?$", "no"),))
            self.assertEqual(status, 1, said)
            self.assertIn("Step DOCKINGS comes later in the sequence: step SILENCE of rail 2 was not walked.", " ".join(said.split()))

    def test_a_drive_that_is_believed_from_the_beginning_is_not_jogged_fast_first(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            before = simulator.carriages()
            record, said = self.step(gateway, "direction", "--rail", "1", simulator=simulator)
            finding = self.only_finding(record)
            self.assertEqual(finding["setting"], "carriage.setup_speed_mm_per_s", said)
            self.assertRegex(finding["change"], "^10 for this step")
            self.assertEqual(simulator.carriages(), before)

    # ---- what a person sees, and does at the end

    def test_an_output_is_on_as_long_as_a_person_needs_to_see_what_moves_and_its_inputs_are_told_by_name(self):
        with WiredGateway(NEVER_HOMED) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            on, times = [0.0], []
            who = Person(simulator)
            who.rules[:0] = [(re.compile(r"keep it pressed\. .*jog_enable\.$"), lambda: who.press(1) or on.append(time.monotonic())),
                             (re.compile(r"Did the part .* move"), lambda: who.press(0) or times.append(time.monotonic() - on[-1]) or "yes")]
            record, said = self.step(gateway, "outputs", "--rail", "1", who=who, simulator=simulator)
            self.assertEqual(record["findings"], [], said)
            self.assertEqual(len(times), 3)  # pin in, pin out, brake
            self.assertTrue(all(seconds >= 2 for seconds in times), times)
            pin_in, pin_out, brake = said.split("comes on next")[1:]
            for told, of in (("pin_out 0", pin_in), ("pin_in 1", pin_in), ("pin_in 0", pin_out), ("pin_out 1", pin_out),
                             ("brake_closed 0", brake), ("brake_open 1", brake)):
                self.assertIn(told, of)
            self.assertIn("take the lock off the air alone. The drives' power stays locked out", said)
            self.assertRegex(said, "Every output is off.*give air and the drives' power back.* PASSED")

    # ---- places that are read while the drives are locked out

    def without_link(self, gateway, simulator, step, asked, answer, **how):
        """The drive has no power while hands are near, and gets it back only once the program says that it waits."""
        plc = WiredPlc(gateway)
        cut = []

        def lock_out():
            if not cut:
                simulator.say("break 1 link-lost", "broken")
                wait_for(lambda: plc.read("RAIL_LINK") == 0, 20, "a drive that is lost")
                cut.append(True)
            return answer()

        who = how.pop("who")
        who.rules = [(re.compile(asked), lock_out), (re.compile("does not answer.*give up\\.$"), lambda: simulator.say("mend 1 link-lost", "mended")),
                     *who.rules]
        try:
            record, said = self.step(gateway, step, "--rail", "1", who=who, simulator=simulator)
        finally:
            plc.close()
        self.assertIn("The drive of rail 1 does not answer. The program waits for it", said)
        return record, said

    def test_a_reading_waits_for_a_drive_that_is_locked_out_and_a_mistyped_one_is_typed_again(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            who, kept = Reader(simulator), []

            def is_kept():
                """The first one is 100 mm off, as if it were read from another zero."""
                kept.append(float(re.search(r"is ([-+][\d.]+) mm off", who.heard)[1]))
                return "yes" if abs(kept[-1]) < 1 else "no"

            who.rules.insert(0, (re.compile(r"is asked for again\.$"), is_kept))
            record, said = self.without_link(gateway, simulator, "calibration", r"growing to the drive side\.$",
                                             lambda: f"{who.true_mm() + (0 if kept else 100):.3f}", who=who)
            self.assertEqual(record["findings"], [], said)
            self.assertAlmostEqual(kept[0], 100, delta=0.1)
            self.assertTrue(all(abs(off) < 1 for off in kept[1:]), kept)

    def test_a_way_by_the_tape_begins_where_the_drive_is_heard(self):
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            who = Person(simulator)
            record, said = self.without_link(gateway, simulator, "scale", r"mark where .* Press Enter\.$", who.mark, who=who)
            self.assertEqual(record["findings"], [], said)

    # ---- what was touched

    def test_what_was_touched_after_a_step_that_did_not_pass_is_tried_again(self):
        with WiredGateway(NEVER_HOMED) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.pretend(gateway)
            self.has_passed(gateway, "OUTPUTS", rails=[1, 2])
            simulator.say("break 1 pin-stuck-out", "broken")
            status, said = self.walk(gateway, simulator, "--rail", "1")
            self.assertEqual((status, said.count("== Outputs, one by one, rail 1")), (1, 1), said)
            simulator.say("mend 1 pin-stuck-out", "mended")
            leave = (r"^== ", "leave")
            said = self.walk(gateway, simulator, told=(leave,))[1]
            self.assertIn("== Outputs, one by one, rail 1", said)
            self.assertNotIn("== Inputs", said)
            said = self.walk(gateway, simulator, told=((r"touched since then\?$", "yes"), leave))[1]
            self.assertRegex(" ".join(said.split()), r"Step OUTPUTS of rail 1 did not pass\. Was wiring, .*touched since then\?"
                                                     r".*Inputs, by hand is doubtful: wiring, .* == Inputs, by hand, rail 1")
            doubtful = [step for step, how in self.list(gateway).items() if "; doubtful: wiring" in how]
            self.assertEqual(doubtful, [("INPUTS", 1), ("OUTPUTS", 1)])
            self.walk(gateway, simulator, "--only", "cautions")  # writes the protocol
            self.assertRegex(gateway.config.with_name("session.md").read_text(encoding="utf-8"),
                             r"\| Inputs, by hand \| 1 \| doubtful: wiring, a sensor or the drive was touched before .*, after OUTPUTS had not passed \|")
            status, said = self.walk(gateway, simulator, "--rail", "1", told=((r"^== Direction", "leave"),))
            self.assertEqual((status, said.count("\nPASSED")), (0, 2), said)
            self.assertEqual([how for how in self.list(gateway).values() if "doubtful" in how], [])
            self.assertEqual(simulator.end(), 0)

    # ---- the sheet of the safety interface

    def sign(self, gateway, simulator, *days, told=()):
        days = list(days)
        record, said = self.step(gateway, "safety", told=((r"When was it signed", lambda: days.pop(0)), *told), simulator=simulator)
        self.assertEqual(days, [], said)
        return record, said, gateway.config.with_name("session-safety.md").read_text(encoding="utf-8")

    def test_a_sheet_is_signed_after_it_was_printed_and_not_in_the_future(self):
        today = time.strftime("%Y-%m-%d")
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            record, said, sheet = self.sign(gateway, simulator, "tomorrow", "2026-02-30", "2999-01-01")
            self.assertIn(f"The signature is of 2999-01-01, and today is {today} ", self.only_finding(record)["seen"])
            for row in ("the knives stand still", "while a guard is open?", "the line is kept from starting"):
                self.assertIn(row, said)
            record, said, _ = self.sign(gateway, simulator, "2001-01-01")
            self.assertIn(f"The signature is of 2001-01-01, and the sheet was printed on {today}", self.only_finding(record)["seen"])
            record, said, _ = self.sign(gateway, simulator, told=((r"is the sheet signed by", "no"),))
            self.assertEqual(self.only_finding(record)["seen"], "The sheet is not filled in and signed.")
            record, said, kept = self.sign(gateway, simulator, today, told=((r"the blades are raised", "no"),))
            self.assertEqual(self.only_finding(record)["seen"], "Nobody has tried this yet: blades raised, line held.")
            self.assertEqual(kept, sheet)

    def test_a_sheet_that_says_the_same_is_kept_and_one_that_says_other_things_is_printed_anew(self):
        today = time.strftime("%Y-%m-%d")
        with WiredGateway([*QUICK, QUICK_SETUP]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            record, said, sheet = self.sign(gateway, simulator, today)
            self.assertTrue(record["passed"], said)
            file = gateway.config.with_name("session-safety.md")
            old = sheet.replace(f"printed {today}", "printed 2026-03-02").replace("| safety system | |", "| safety system | D. Safe |")
            file.write_text(old, encoding="utf-8")
            record, said, kept = self.sign(gateway, simulator, "2026-03-02")
            self.assertTrue(record["passed"], said)
            self.assertEqual(kept, old)
            self.assertIn("printed on 2026-03-02, says what the station file says, and is kept", said)
            gateway.end()
            gateway.change((r"setup_speed_mm_per_s = \d+;", "setup_speed_mm_per_s = 90;"))
            gateway.start()
            record, said, anew = self.sign(gateway, simulator, "2026-03-02")
            self.assertFalse(record["passed"], said)
            self.assertIn(f"printed {today}", anew)
            self.assertIn("| 1, dragging a holder, at setup speed | 0.090 | ", anew)

    # ---- cautions

    def test_the_cautions_are_heard_on_each_day_and_by_each_who_leads(self):
        with WiredGateway(QUICK) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            self.has_passed(gateway, "SAFETY", rails=[])
            leave = (r"^== ", "leave")
            self.assertIn("== Safety interface", self.walk(gateway, simulator, told=(leave,))[1])
            said = " ".join(self.walk(gateway, simulator, told=(leave, (r"Who leads", "D. Other")))[1].split())
            self.assertRegex(said, r"Cautions is doubtful: the cautions were last read on [-0-9]{10}, when C. Lead led; they are read again on each day and whenever another person leads\. == Cautions")
            with open(self.session(gateway), encoding="utf-8") as file:
                session = json.load(file)
            session["records"][0]["when"] = "2026-03-02 09:15 UTC"
            with open(self.session(gateway), "w", encoding="utf-8") as file:
                json.dump(session, file)
            said = " ".join(self.walk(gateway, simulator, told=(leave,))[1].split())
            self.assertIn("Cautions is doubtful: the cautions were last read on 2026-03-02, when C. Lead led; they are read again on each day and whenever another person leads. == Cautions", said)


if __name__ == "__main__":
    main()
