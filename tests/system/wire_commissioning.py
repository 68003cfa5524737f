"""A machine's first day, over the wire: what config/pages/integrator.md says under 'A real drive', in that sequence, on a machine that was
never homed, with a book that is new: from the inputs to a line that may run.

Called with the paths of kniferaild, kniferail and kniferail-sim. The machine is judged by what the simulator knows of it, and
by what this test knows of each blade, never by what the gateway says of itself. In real time, since the wire is: a short rail.
"""
import signal
import subprocess
import time

from wired_rig import FLAGS, HOLDERS, LENIENT, RAILS, WATCHDOG_MS, Blades, Simulator, WiredGateway, WiredPlc, frame_group, with_references  # it takes its own paths off the command line
from gateway_rig import ALL, KNIFERAIL, MAP, TOLERANCE_UM, GatewayTest, main

# Encoders that count from where they were switched on, until they are homed. Carriages somewhere on the rail: the upper one
# over its third holder, the lower one between two holders.
# The drives' own speed of homing is too high; their registers of 6098h and 6099h are mapped.
HOME_UM, PARK_UM, UPPER_UM, LOWER_UM = 10000, 20000, 300000, 260000
# What the tape finds at the upper rail: its datum is off by so much, and its drive counts so much too many of each metre.
OFF_UM, SCALE_PPM = 350, 100
# The edge offset of one lower knife was typed in wrongly by so much.
MISTYPED_UM, MISTYPED = 600, 2
SLITS = [180000, 150000]
SETUP_UM_PER_S = 150000
NEVER_HOMED = [
    *LENIENT,
    (r"referenced_bit = -1;", "referenced_bit = 14;"),
    (r"registers: \{ watchdog = 210;", "registers: { watchdog = 210; homing_method = 211; homing_speed = 12; homing_creep = 14;"),
    (r"carriage: \{", f"carriage: {{ setup_speed_mm_per_s = {SETUP_UM_PER_S // 1000};"),
    (r"seed = 2;", f"seed = 2; absolute_encoder = 0; home_um = {HOME_UM}; home_offset_um = {HOME_UM}; homing_method = 17; "
                   "homing_speed_um_per_s = 400000;"),
    *((rf'drive: {{ address = "127.0.0.1"; port = {port}; }};',
       rf'drive: {{ address = "127.0.0.1"; port = {port}; }}; simulated: {{ carriage_um = {at_um}; {more} }};')
      for port, at_um, more in ((15021, UPPER_UM, f"home_offset_um = {HOME_UM + OFF_UM}; scale_ppb = {SCALE_PPM}000;"), (15022, LOWER_UM, "")))]

# config/pages/integrator.md: what a scan makes of such a switch and such a play. The drive's own datum scatters by home_scatter_um.
SCAN_UM, HOME_SCATTER_UM = 20, 5
BLIND_UM_PER_S, BLIND_WAY_UM = 10000, 25000  # config/pages/integrator.md: a jog without a datum
READINGS = 5  # each way
TRIES = 4  # of what a busy computer may spoil
PLAY_UM = 100  # backlash, following error and the cycles by which an answer is late, at 10 mm/s


def step(text):
    print(f"  {text}", flush=True)


class Commissioning(GatewayTest):
    def test_a_machine_that_was_never_homed_is_commissioned_step_by_step(self):
        with WiredGateway([*NEVER_HOMED, *with_references()]) as gateway, Simulator(gateway) as simulator:
            self.gateway, self.simulator, self.blades = gateway, simulator, Blades(simulator)
            self.blades.put(2, MISTYPED, -10000 + MISTYPED_UM)
            gateway.change((r" frame: \{ references = .*? \); \};", ""), (r"\Z", f'\nbook = "{gateway.book}";\n'))
            gateway.start()
            self.plc = WiredPlc(gateway)
            self.refresh = 0
            for rail in range(RAILS):
                gateway.wait_for_log(f"rail {rail + 1}: drive at 127.0.0.1")
            self.nothing_is_known()
            self.look_at_the_inputs()
            for rail in range(RAILS):
                self.try_the_outputs(rail)
            for rail in range(RAILS):
                self.jog_without_a_datum(rail)
            self.pull_the_cable_in_a_jog()
            for rail in range(RAILS):
                self.home(rail)
            self.calibrate(rail=0)
            self.teach_the_references()
            for rail in range(RAILS):
                self.scan_alone(rail)
            self.move_one_holder(rail=1)
            self.change_over_at_reduced_speed()
            self.a_test_cut_finds_the_mistyped_offset()
            self.change_over_at_production_speed()
            self.a_test_cut_proves_the_edges()
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)  # no holder was touched by another one, or dragged by an unseated pin

    # ---- the steps

    def nothing_is_known(self):
        """Whatever needs a datum is refused, and says so."""
        step("never homed")
        plc = self.plc
        plc.scan()
        self.assertEqual(plc.bit("STATUS", "STATUS", "REFERENCED"), 0)
        for rail in range(RAILS):
            self.assertEqual(plc.read("RAIL_REFERENCED", rail), 0)
            self.assertEqual(plc.read_all("HOLDER_KNOWN", HOLDERS, rail).count(MAP.number("HOLDER_KNOWN", "MEASURED")), 0)
        plc.to_idle()
        for job in ("SCAN", "MOVE"):
            self.assertEqual(self.give_start(job, rail=1, holder=1, position_um=60000), MAP.result["NOT_HOMED"])
        self.assertEqual(self.give_start("FIND", rail=1), MAP.result["NO_REFERENCE_PAIR"])
        self.assertEqual(self.give_start("JOG", rail=1), MAP.result["JOG_NOT_ENABLED"])  # nobody presses the device
        plc.permit(*(name for name in ALL if name != "GUARDS_CLOSED"))
        plc.scan()
        self.assertEqual(self.give_start("HOME", rail=1), MAP.result["PERMISSIVE_MISSING"])
        plc.permit(*ALL)
        self.refused(plc, "NOT_PLACED", "trial", 1, "all")
        self.refused(plc, "NOT_PLACED", "test-cut", "180,150")
        self.refused(plc, "NOTHING_PROPOSED", "apply")
        self.assertEqual(plc.line(), set())

    def look_at_the_inputs(self):
        """Drives off; somebody at the machine makes each signal come and go: exactly that bit follows."""
        step("inputs by hand")
        self.assertEqual([self.phase(rail) for rail in range(RAILS)], ["OFF"] * RAILS)
        for rail in range(RAILS):
            self.assertEqual(self.inputs(rail) & {"PIN_IN", "PIN_OUT", "BRAKE_OPEN", "BRAKE_CLOSED"}, {"PIN_OUT", "BRAKE_CLOSED"})
        for signal in ("jog_enable", "line_stopped", "knives_raised", "guards_closed", "air", "enable"):
            before = [self.inputs(rail) for rail in range(RAILS)]
            for change in (1, 0) if signal == "jog_enable" else (0, 1):
                self.simulator.ask(f"inputs {signal}={change}", 1)
                self.wait_inputs(lambda rail: (signal.upper() in self.inputs(rail)) == bool(change))
                if change != (signal.upper() in before[0]):
                    for rail in range(RAILS):
                        self.assertEqual(self.inputs(rail) ^ before[rail], {signal.upper()})
            self.assertEqual([self.inputs(rail) for rail in range(RAILS)], before)
        for rail in range(RAILS):  # a flag held before one carriage's switch
            other = self.inputs(1 - rail)
            flag = "FLAG" in self.inputs(rail)
            fault = "switch-stuck-off" if flag else "switch-stuck-on"
            self.simulator.say(f"break {rail + 1} {fault}", "broken")
            self.plc.wait(lambda: ("FLAG" in self.inputs(rail)) != flag, 5, "the flag's input")
            self.assertEqual(self.inputs(1 - rail), other)
            self.simulator.say(f"mend {rail + 1} {fault}", "mended")
            self.plc.wait(lambda: ("FLAG" in self.inputs(rail)) == flag, 5, "the flag's input")

    def try_the_outputs(self, rail):
        """Each comes on while it is held to run, and off when it is let go; the carriage stands."""
        step(f"rail {rail + 1}: outputs one by one")
        plc, stood = self.plc, self.simulator.carriages()
        over_a_holder = rail == 0
        proofs = {"BRAKE_OPEN": "BRAKE_OPEN", "PIN_IN": "PIN_IN" if over_a_holder else None, "PIN_OUT": "PIN_OUT"}
        for output, proof in proofs.items():
            plc.to_idle()
            refused = self.give_start("TRY", rail=rail + 1, output=output)
            self.assertEqual(refused, MAP.result["JOG_NOT_ENABLED"])  # nobody presses the device
            self.press(True)
            self.assertEqual(self.give_start("TRY", rail=rail + 1, output=output), 0)
            plc.wait(lambda: self.phase(rail) == "TRYING", 5, "a carriage that tries its output")
            self.assertEqual(plc.read("RAIL_OUTPUTS", rail), 0)  # not before it is asked for
            plc.wait(lambda: self.hold() or self.outputs(rail) == {output}, 5, f"{output} on")
            if proof:
                plc.wait(lambda: self.hold() or proof in self.inputs(rail), 5, f"input {proof}")
            else:
                plc.wait(lambda: self.hold() or "PIN_OUT" not in self.inputs(rail), 5, "the pin on its way")
                self.assertNotIn("PIN_IN", self.inputs(rail))  # there is no socket under it
            plc.wait(lambda: self.outputs(rail) == set(), 5, f"{output} off, not refreshed any more")
            self.stop()
        self.assertEqual(self.inputs(rail) & {"PIN_IN", "PIN_OUT"}, {"PIN_OUT"})
        plc.wait(lambda: "BRAKE_CLOSED" in self.inputs(rail), 5, "the brake closed")
        self.assertEqual(self.simulator.carriages(), stood)

    def jog_without_a_datum(self, rail):
        """The direction first, then the scale against a tape: 10 mm/s at most, 25 mm with each press."""
        step(f"rail {rail + 1}: jog without a datum")
        plc = self.plc
        plc.to_idle()
        self.press(True)
        self.assertEqual(self.give_start("JOG", rail=rail + 1), 0)
        plc.wait(lambda: self.phase(rail) == "JOGGING", 5, "a carriage that waits to be jogged")
        for direction, seconds in ((1, 1), (-1, 1), (1, 4)):
            for _ in range(TRIES):
                shown, true = plc.read("CARRIAGE_POSITION", rail), self.true_um(rail)
                gap_s = self.press_and_hold(rail, direction, seconds)
                way = self.true_um(rail) - true
                if gap_s < 0.25:  # else the computer was elsewhere for so long that it was more than one press
                    break
            self.assertGreater(direction * way, 5000)
            self.assertLessEqual(direction * way, BLIND_WAY_UM + PLAY_UM)
            self.assertLessEqual(abs(plc.read("CARRIAGE_POSITION", rail) - shown - way), PLAY_UM)
        self.assertGreaterEqual(way, BLIND_WAY_UM - PLAY_UM)  # held for longer than that takes
        self.stop()

    def press_and_hold(self, rail, direction, seconds):
        """For so long; the carriage is never faster than it may be. Returns the longest time between two refreshes."""
        true, gap_s = self.true_um(rail), 0
        began = refreshed = time.monotonic()
        while time.monotonic() - began < seconds:
            self.hold(direction)
            gap_s, refreshed = max(gap_s, time.monotonic() - refreshed), time.monotonic()
            self.plc.scan()
            way = abs(self.true_um(rail) - true)
            self.assertLessEqual(way, BLIND_UM_PER_S * (time.monotonic() - began) + PLAY_UM)
        self.let_go(rail)
        return gap_s

    def pull_the_cable_in_a_jog(self):
        """The drive stops by itself, within its watchdog's time."""
        step("rail 1: the cable pulled in a jog")
        plc = self.plc
        plc.to_idle()
        self.press(True)
        self.assertEqual(self.give_start("JOG", rail=1), 0)
        plc.wait(lambda: self.hold(-1) or plc.moving(), 5, "a jog")
        mark = len(self.gateway.log())
        self.simulator.say("break 1 link-lost", "broken")
        pulled, at = time.monotonic(), self.true_um(0)
        plc.wait(lambda: self.hold(-1) or plc.state() in ("ABORTED", "HELD", "SUSPENDED"), 10, "a stop")
        time.sleep(max(0, pulled + WATCHDOG_MS / 1000 + 0.4 - time.monotonic()))  # not for luck: the ramp takes far less than the rest
        stopped = self.true_um(0)
        self.assertLessEqual(at - stopped, BLIND_UM_PER_S * WATCHDOG_MS / 1000 + PLAY_UM)
        self.simulator.say("mend 1 link-lost", "mended")
        self.gateway.wait_for_log_after(mark, "unit 1: connected", seconds=10)
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 10, "the link is back")
        self.assertEqual(self.true_um(0), stopped)  # nothing moves by a reconnect
        self.assertIn(plc.state(), ("ABORTING", "ABORTED", "SUSPENDED"))
        self.plc.to_stopped()
        self.press(False)

    def home(self, rail):
        step(f"rail {rail + 1}: home")
        plc, other = self.plc, self.true_um(1 - rail)
        self.complete_slowly("HOME", rail=rail + 1)
        self.assertEqual(plc.read("RAIL_REFERENCED", rail), 1)
        off_um = OFF_UM if rail == 0 else 0
        self.assertLessEqual(abs(self.true_um(rail) + off_um - PARK_UM), PLAY_UM)  # where it goes to rest
        self.assertLessEqual(abs(plc.read("CARRIAGE_POSITION", rail) - self.true_um(rail) - off_um), PLAY_UM)
        self.assertEqual(self.true_um(1 - rail), other)

    def calibrate(self, rail):
        """Readings by tape at standstill, both ways; what was found goes to the running station."""
        step(f"rail {rail + 1}: calibrate")
        plc = self.plc
        plc.to_idle()
        self.press(True)
        self.assertEqual(self.give_start("JOG", rail=rail + 1), 0)
        plc.wait(lambda: self.phase(rail) == "JOGGING", 5, "a carriage that waits to be jogged")
        rows = []
        for direction, name in ((1, "rising"), (-1, "falling")):
            for n in range(READINGS):
                at = self.true_um(rail)
                plc.wait(lambda: self.hold(direction) or direction * (self.true_um(rail) - at) > 50000, 10, "a jog to the next reading")
                self.let_go(rail)
                rows.append(f"{plc.read('CARRIAGE_POSITION', rail) / 1000:.3f},{self.true_um(rail) / 1000:.3f},{name},1")
        self.stop()
        readings = self.gateway.config.with_name("readings.csv")
        readings.write_text("\n".join(["target_mm,reading_mm,direction,run", *rows]) + "\n", encoding="ascii")
        told = self.gateway.ask("calibrate", readings, "--model", "offset_and_scale", "--apply", "--rail", rail + 1)
        self.assertEqual(told.returncode, 0, told.stderr)
        self.assertLessEqual(abs(plc.read("FRAME_OFFSET", rail) + OFF_UM), SCAN_UM)
        self.assertLessEqual(abs(plc.read("CARRIAGE_POSITION", rail) - self.true_um(rail)), SCAN_UM)
        self.assertTrue(plc.bit("STATUS", "STATUS", "SCAN_DUE"))

    def teach_the_references(self):
        """Their places are measured once and entered in the station file, which is loaded again."""
        step("references taught")
        mark = len(self.gateway.log())
        for flags, port in zip(FLAGS.values(), self.simulator.ports):
            self.gateway.change((rf'drive: {{ address = "127.0.0.1"; port = {port}; }};', rf'\g<0> {frame_group(flags)}'))
        self.gateway.process.send_signal(signal.SIGHUP)
        self.gateway.wait_for_log_after(mark, "reload: taken")
        for rail in range(RAILS):
            self.assertEqual(self.plc.read("REFERENCES_GOOD", rail), 0)

    def scan_alone(self, rail):
        """Without an order; the places agree with a tape."""
        step(f"rail {rail + 1}: scan alone")
        plc, other = self.plc, self.true_um(1 - rail)
        self.assertEqual(plc.read("ORDER_STAGED"), 0)
        self.complete_slowly("SCAN", rail=rail + 1)
        self.agrees_with_the_tape(rail, SCAN_UM + HOME_SCATTER_UM)
        self.assertEqual(plc.read("REFERENCES_GOOD", rail), 0xF)
        self.assertEqual(self.true_um(1 - rail), other)

    def move_one_holder(self, rail):
        """At reduced speed; the others stay."""
        step(f"rail {rail + 1}: one holder at reduced speed")
        before = self.simulator.holders()
        moved, to_um = HOLDERS - 1, before[rail][HOLDERS - 1] + 60000
        self.complete_slowly("MOVE", rail=rail + 1, holder=moved + 1, position_um=to_um)
        after = self.simulator.holders()
        self.assertLessEqual(abs(after[rail][moved] - to_um), TOLERANCE_UM)
        for r in range(RAILS):
            for h in range(HOLDERS):
                if (r, h) != (rail, moved):
                    self.assertEqual(after[r][h], before[r][h])
        known = ["MEASURED"] * HOLDERS
        known[moved] = "PLACED"  # by pin, brake and position; the next scan measures it
        self.agrees_with_the_tape(rail, TOLERANCE_UM, known)

    def change_over_at_reduced_speed(self):
        step("a whole changeover at reduced speed")
        plc = self.plc
        self.assertEqual(plc.order(1, 450000, SLITS), 0)
        self.complete_slowly("CHANGEOVER")
        self.verified(plc, TOLERANCE_UM)
        for rail in range(RAILS):
            self.agrees_with_the_tape(rail, SCAN_UM + HOME_SCATTER_UM)
        self.assertEqual(plc.line(), set())  # nobody has proven an edge
        self.assertEqual({name for name, *_ in plc.alarms()}, {"EDGE_UNPROVEN"})

    def a_test_cut_finds_the_mistyped_offset(self):
        """The strips show that a lower edge is elsewhere than was typed in; of the upper ones they show nothing."""
        step("test cut")
        plc = self.plc
        self.cut_strips()
        self.assertEqual(plc.line(), set())  # the first one is out of tolerance, which leaves the edges beside it unproven
        self.assertEqual(plc.read_all("HOLDER_CUT", HOLDERS, 1)[MISTYPED - 1], 1)
        self.assertEqual(plc.alarms(), {("EDGE_UNPROVEN", 2, MISTYPED, 2), self.upper_unproven()})
        before = plc.read("HOLDER_OFFSET", 1, MISTYPED - 1)
        self.gateway.set("apply")
        self.assertGreater(plc.read("HOLDER_OFFSET", 1, MISTYPED - 1) - before, MISTYPED_UM // 2)

    def upper_unproven(self):
        cuts = self.plc.read_all("HOLDER_CUT", HOLDERS, 0)
        return ("EDGE_UNPROVEN", 1, next(h + 1 for h in range(HOLDERS) if cuts[h]), len(SLITS) + 1)

    def cut_strips(self, *stated):
        """With a maintenance request the pairs may be lowered for a test cut; then its strips are measured. The answer."""
        said = self.gateway.set("trial", 2, "all")
        self.assertIn("look whether each upper blade stands beside its", said)
        self.assertEqual(self.plc.line(), {"MAY_LOWER", "TEST_CUT"})
        return self.tell_strips(*stated)

    def tell_strips(self, *stated):
        return self.gateway.set("test-cut", ",".join(f"{width / 1000:.3f}" for width in self.blades.strips(self.plc)), *stated)

    def change_over_at_production_speed(self):
        """The same order with the better offsets."""
        step("production speed")
        self.plc.write("COMMAND_SPEED", MAP.number("COMMAND_SPEED", "PRODUCTION"))
        self.plc.start_and_complete()
        self.verified(self.plc, TOLERANCE_UM)

    def a_test_cut_proves_the_edges(self):
        step("a test cut proves the edges: the line may run")
        plc = self.plc
        self.assertEqual(plc.line(), set())
        said = self.cut_strips()
        plc.wait(lambda: plc.alarms() == {self.upper_unproven()}, 5, "the upper edges alone are not proven")
        self.assertEqual(plc.line(), set())
        self.assertIn("not proven: 1/", said)
        self.assertIn("pairs-looked-at", said)
        self.assertRegex(said, "set bench.*set feeler")
        self.blades.look_at_pairs(self, plc)
        said = self.cut_strips("pairs-looked-at")
        self.assertNotIn("not proven", said)
        plc.wait(lambda: plc.alarms() == set(), 5, "no alarm")
        plc.wait(lambda: self.history("audit").count("each pair was looked at") == 1, 10, "the statement in the audit")
        self.tell_strips("pairs-looked-at")
        plc.wait(lambda: self.history("audit").count("each pair was looked at") == 2, 10, "the same statement once more")

    def history(self, table):
        return subprocess.run([KNIFERAIL, "history", "--config", self.gateway.config, "--table", table], capture_output=True, text=True,
                              timeout=30, check=True).stdout
        self.assertEqual(plc.line(), {"MAY_RUN", "MAY_LOWER", "MAY_START"})
        self.blades.judge(self, plc, SLITS, all_off_um=MISTYPED_UM // (len(SLITS) + 1))

    # ---- what they are made of

    def give_start(self, job, rail=0, holder=0, position_um=0, speed="PRODUCTION", output=None):
        """Start with all that a job can be told; its result."""
        plc = self.plc
        plc.write("COMMAND_POSITION", position_um)
        plc.write("COMMAND_OUTPUT", 1 << MAP.number("RAIL_OUTPUTS", output) if output else 0)
        plc.command += 1
        plc.write_words(MAP.address("COMMAND_SESSION"),
                        [plc.seen("SESSION"), MAP.number("COMMAND", "START"), MAP.number("COMMAND_JOB", job), rail, holder,
                         MAP.number("COMMAND_SPEED", speed)])
        plc.write("COMMAND_NUMBER", plc.command)
        plc.wait(lambda: plc.seen("COMMAND_ECHO") == plc.command, 5, "a command's echo")
        return plc.seen("COMMAND_RESULT")

    def complete_slowly(self, job, **how):
        """A job at reduced speed, to its end. One that a busy computer interrupted is given again, as a person would."""
        plc = self.plc
        for _ in range(TRIES):
            plc.to_idle()
            overruns = plc.read("OVERRUNS")
            self.assertEqual(self.give_start(job, speed="REDUCED", **how), 0)
            fastest = self.watch_speed()
            self.assertLessEqual(fastest, 1.1 * SETUP_UM_PER_S)
            if plc.state() == "COMPLETE":
                self.assertGreater(fastest, 0.5 * SETUP_UM_PER_S)
                return
            self.assertNotEqual(plc.read("OVERRUNS"), overruns, f"unit state {plc.state()}, alarm {plc.seen('ALARM_CODE')}")
            self.plc.to_stopped()
            plc.start("RELEASE")
            plc.wait_state("COMPLETE")
        self.fail(f"a busy computer interrupted the job {TRIES} times")

    def watch_speed(self):
        """To the job's end. Returns the highest speed of a carriage, on the average of half a second at least."""
        last, fastest = (time.monotonic(), self.true_all_um()), 0

        def over():
            nonlocal last, fastest
            began, places = time.monotonic(), self.true_all_um()
            lasted = time.monotonic() - last[0]  # from before the first reading to behind this one
            if lasted >= 0.5:
                fastest = max(fastest, max(abs(to_um - from_um) for to_um, from_um in zip(places, last[1])) / lasted)
                last = (began, places)
            return self.plc.state() in ("COMPLETE", "HELD", "SUSPENDED", "ABORTED")

        self.plc.wait(over, 180, "the job's end")
        return fastest

    def stop(self):
        self.press(False)
        self.plc.to_stopped()

    def press(self, on):
        """The hold-to-run device: a switch in somebody's hand, which no register can press."""
        self.simulator.ask(f"inputs jog_enable={int(on)}", 1)
        self.wait_inputs(lambda rail: ("JOG_ENABLE" in self.inputs(rail)) == on)

    def hold(self, direction=1):
        """One refresh of hold-to-run. Returns nothing, for conditions that hold on and look."""
        self.refresh = (self.refresh + 1) & 0xFFFF
        self.plc.write_words(MAP.address("JOG_REFRESH"), [self.refresh, direction & 0xFFFF])

    def let_go(self, rail):
        self.plc.write_words(MAP.address("JOG_REFRESH"), [self.refresh, 0])
        places = []

        def stands():
            places.append(self.true_um(rail))
            return len(places) > 50 and places[-50:] == [places[-1]] * 50

        self.plc.wait(stands, 10, "standstill")

    def wait_inputs(self, holds):
        self.plc.wait(lambda: all(holds(rail) for rail in range(RAILS)), 5, "an input")

    def agrees_with_the_tape(self, rail, within_um, known=("MEASURED",) * HOLDERS):
        truth, places = self.simulator.holders()[rail], self.plc.read_all("HOLDER_POSITION", HOLDERS, rail)
        self.assertEqual(self.plc.read_all("HOLDER_KNOWN", HOLDERS, rail), [MAP.number("HOLDER_KNOWN", how) for how in known])
        off = [places[h] - truth[h] for h in range(HOLDERS)]
        self.assertLessEqual(max(map(abs, off)), within_um, f"rail {rail + 1}: off {off}")

    def true_all_um(self):
        return [round(1000 * float(place)) for place in self.simulator.carriages()]

    def true_um(self, rail):
        return self.true_all_um()[rail]

    def phase(self, rail):
        number = self.plc.read("CARRIAGE_PHASE", rail)
        return next(name for name, row in MAP.json["numbers"]["CARRIAGE_PHASE"].items() if row["number"] == number)

    def bits(self, name, rail):
        value = self.plc.read(name, rail)
        return {bit for bit, row in MAP.json["numbers"][name].items() if value >> row["number"] & 1}

    def inputs(self, rail):
        return self.bits("RAIL_INPUTS", rail)

    def outputs(self, rail):
        return self.bits("RAIL_OUTPUTS", rail)


if __name__ == "__main__":
    main()
