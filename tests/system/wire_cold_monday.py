"""A cold Monday, over the wire: what config/pages/maintenance.md says under 'The encoder's battery failed', step by step, from the alarm to may run.

Called with the paths of kniferaild, kniferail and kniferail-sim. The machine is judged by what the simulator knows of it.
In real time, since the wire is: a short rail.
"""
from wired_rig import HOLDERS, LENIENT, RAILS, Simulator, WiredGateway, WiredPlc, with_references  # it takes its own paths off the command line
from gateway_rig import MAP, TOLERANCE_UM, GatewayTest, main

BATTERY = 0x7305  # error code (603Fh) of a sensor: CiA 402, IEC 61800-7-201
LOST_UM = 123456  # so much more the drive counts since its battery failed
COLDER_PPM = 138  # 12 K at 11.5e-6 for each (carbon steel; common practice, no published source)
SCAN_UM = 25      # config/pages/integrator.md: a scan finds centres within 0.02 mm; and rounding

CHANGES = [*LENIENT, *with_references()]


class ColdMonday(GatewayTest):
    def test_after_a_battery_fault_in_a_cold_hall_the_line_may_run_again_by_the_steps_for_maintenance(self):
        with WiredGateway(CHANGES) as gateway, Simulator(gateway) as simulator:
            gateway.change((r"\Z", f'\nbook = "{gateway.book}";\n'))
            self.gateway, self.simulator = gateway, simulator
            gateway.start()
            self.friday()
            self.weekend()
            gateway.start()
            self.monday()
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)  # no holder was touched by another one, or dragged by an unseated pin

    def linked(self):
        plc = WiredPlc(self.gateway)
        for rail in range(RAILS):
            self.gateway.wait_for_log(f"rail {rail + 1}: drive at 127.0.0.1")
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 10, "both drives")
        return plc

    def friday(self):
        plc = self.linked()
        plc.to_idle()
        plc.confirm_edges()
        self.assertEqual(plc.order(1, 450000, [180000, 150000]), 0)
        plc.start_and_complete()
        self.verified(plc, TOLERANCE_UM)
        self.assertEqual([plc.read("REFERENCES_GOOD", rail) for rail in range(RAILS)], [0xF] * RAILS)

    def weekend(self):
        """The upper drive's battery fails; its rail gets colder than the frame."""
        self.assertEqual(self.gateway.end(), 0)
        self.simulator.say(f"break 1 drive-fault {BATTERY}", "broken")
        self.simulator.say(f"break 1 position-jump {LOST_UM}", "broken")
        self.simulator.say(f"break 1 rail-warmer -{COLDER_PPM}", "broken")

    def monday(self):
        plc = self.linked()
        plc.wait(lambda: plc.seen("ALARM_CODE") != 0, 10, "an alarm")
        self.assertIn(MAP.alarm["ENCODER_BLAMED"], plc.read_all("ALARM_CODE", 4))
        self.assertEqual(plc.read("RAIL_REFERENCED", 0), 0)
        self.assertEqual(plc.line(), set())
        self.simulator.say("mend 1 drive-fault", "mended")  # the battery is changed
        plc.to_idle()
        self.assertEqual(plc.give("START", "CHANGEOVER"), MAP.result["NOT_HOMED"])
        self.find(plc)
        self.assertEqual(plc.read("RAIL_REFERENCED", 0), 1)
        self.assertLessEqual(abs(plc.read("DATUM_CORRECTION", 0) + LOST_UM), 300)
        self.agrees_with_the_tape(plc, 0)
        plc.start_and_complete()
        self.verified(plc, TOLERANCE_UM)
        for rail in range(RAILS):
            self.agrees_with_the_tape(plc, rail)
        plc.wait(lambda: "MAY_RUN" in plc.line(), 5, "may run")

    def find(self, plc):
        plc.command += 1
        plc.write_words(MAP.address("COMMAND_SESSION"),
                        [plc.seen("SESSION"), MAP.number("COMMAND", "START"), MAP.number("COMMAND_JOB", "FIND"), 1])
        plc.write("COMMAND_NUMBER", plc.command)
        plc.wait(lambda: plc.seen("COMMAND_ECHO") == plc.command, 5, "a command's echo")
        self.assertEqual(plc.seen("COMMAND_RESULT"), 0)
        plc.wait_state("COMPLETE", "HELD", "SUSPENDED", "ABORTED", seconds=180)
        self.assertEqual(plc.state(), "COMPLETE", f"alarm {plc.seen('ALARM_CODE')}")

    def agrees_with_the_tape(self, plc, rail):
        truth, places = self.simulator.holders()[rail], plc.read_all("HOLDER_POSITION", HOLDERS, rail)
        off = [places[h] - truth[h] for h in range(HOLDERS)]
        self.assertLessEqual(max(map(abs, off)), SCAN_UM, f"rail {rail + 1}: off {off}")


if __name__ == "__main__":
    main()
