"""A knife breaks while the next order is staged, over the wire: what config/pages/plc-programmer.md says under 'A crash' and
config/pages/maintenance.md under 'When a knife broke', step by step, from the crash to may run, and on to the staged order.

Called with the paths of kniferaild, kniferail and kniferail-sim. The knives are judged where they truly stand: by the
simulator's centres of the holders, and by what this test knows of each blade. In real time, since the wire is: a short rail.
"""
from wired_rig import HOLDERS, LENIENT, WIDE_FLAGS, Blades, Simulator, WiredGateway, WiredPlc  # it takes its own paths off the command line
from gateway_rig import ALL, MAP, TOLERANCE_UM, GatewayTest, main

RUNNING, STAGED = [180000, 150000], [120000, 200000]
UPPER, LOWER = 0, 1
BROKEN_CUT = 2
NEW_UM = -10400  # edge offset of the knife that takes the broken one's place, measured before it is put on
READY = {"MAY_RUN", "MAY_LOWER", "MAY_START"}


class BrokenKnife(GatewayTest):
    def test_a_knife_breaks_with_the_next_order_staged(self):
        with WiredGateway([*LENIENT, WIDE_FLAGS]) as gateway, Simulator(gateway) as simulator:
            gateway.change((r"\Z", f'\nbook = "{gateway.book}";\n'))
            self.gateway, self.simulator = gateway, simulator
            self.blades = Blades(simulator)
            gateway.start()
            self.plc = WiredPlc(gateway)
            self.plc.wait(lambda: self.plc.bit("STATUS", "STATUS", "LINK"), 10, "both drives")
            self.the_line_runs_and_the_next_order_is_staged()
            self.the_plc_reports_the_crash()
            self.maintenance_looks_and_swaps()
            self.the_order_in_force_is_set_up_again()
            self.a_test_cut_proves_the_new_edge()
            self.the_staged_order_by_its_own_start()
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)  # no holder was touched by another one, or dragged by an unseated pin

    # ---- the steps

    def the_line_runs_and_the_next_order_is_staged(self):
        plc = self.plc
        plc.confirm_edges()
        self.assertEqual(plc.order(1, 450000, RUNNING), 0)
        self.start_order(1)
        self.assertEqual(plc.line(), READY)
        self.blades.judge(self, plc, RUNNING)
        plc.permit("GUARDS_CLOSED", "AIR", "ENABLE")  # the line runs, with knives down
        plc.wait(lambda: not plc.seen("PERMISSIVES") & 1 << MAP.number("PERMISSIVES", "LINE_STOPPED"), 5, "a line that runs")
        self.assertEqual(plc.order(2, 450000, STAGED), 0)
        self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (1, 2))
        self.assertIn("MAY_RUN", plc.line())

    def the_plc_reports_the_crash(self):
        """VERIFIED falls; knife and partner are named; no job starts."""
        plc = self.plc
        self.pair = [plc.read_all("HOLDER_CUT", HOLDERS, rail).index(BROKEN_CUT) + 1 for rail in (UPPER, LOWER)]
        plc.permit(*ALL)
        plc.write_words(MAP.address("CRASH"), [1 << MAP.number("CRASH", "KNIFE_BROKEN"), BROKEN_CUT])
        plc.wait(lambda: plc.seen("ALARM_CODE") == MAP.alarm["KNIFE_STRUCK"], 5, "KNIFE_STRUCK")
        self.assertEqual((plc.line(), plc.bit("STATUS", "STATUS", "VERIFIED")), (set(), 0))
        self.assertEqual(plc.alarms(), {("KNIFE_STRUCK", rail + 1, self.pair[rail], 1) for rail in (UPPER, LOWER)})
        told = self.gateway.ask("status", "--full").stdout
        for rail in (UPPER, LOWER):
            self.assertRegex(told, rf"holder {self.pair[rail]} has to be inspected")
        self.refuses_to_start()
        self.refused(plc, "CRASH_STANDS", "bench", 2, self.pair[LOWER])
        self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (1, 2))

    def maintenance_looks_and_swaps(self):
        """The upper knife is sound; the lower one broke, and another one takes its place."""
        plc = self.plc
        plc.permit("LINE_STOPPED", "KNIVES_RAISED")  # drives and air are locked out, a guard is open
        plc.write_words(MAP.address("CRASH"), [0, 0])  # first step 2 of the page, and before that nothing is confirmed
        plc.scan()
        self.refused(plc, "LOOK_FIRST", "bench", 1, "all")
        self.gateway.set("bench", 1, self.pair[UPPER])
        self.refuses_to_start()  # the lower one waits
        self.refused(plc, "NO_KNIFE", "broken", f"2/{self.pair[LOWER]}", "crash", "complete")  # it is none of the ledger
        self.gateway.set("swap", 2, self.pair[LOWER], "2 in", f"{NEW_UM} um")
        self.blades.put(2, self.pair[LOWER], NEW_UM)
        plc.scan()
        self.assertNotIn("KNIFE_STRUCK", {name for name, *_ in plc.alarms()})
        self.assertEqual(self.edge(LOWER), "UNPROVEN")
        self.assertEqual(self.edge(UPPER), "BENCH")

    def the_order_in_force_is_set_up_again(self):
        """By its number; what is staged is left alone, and nothing moves but the one holder."""
        plc, let_go = self.plc, [row for _, row in self.simulator.counts()]
        plc.permit(*ALL)  # guards closed, air and drives on
        self.start_order(1)
        self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (1, 2))
        moved = {(rail, h + 1) for rail, (_, now) in enumerate(self.simulator.counts()) for h in range(HOLDERS) if now[h] != let_go[rail][h]}
        self.assertEqual(moved, {(LOWER, self.pair[LOWER])})
        self.verified(plc, TOLERANCE_UM)
        self.blades.judge(self, plc, RUNNING)
        self.assertEqual(plc.line(), set())
        self.assertEqual(plc.alarms(), {("EDGE_UNPROVEN", 2, self.pair[LOWER], 1)})

    def a_test_cut_proves_the_new_edge(self):
        plc = self.plc
        self.gateway.set("trial", 2, self.pair[LOWER])
        self.assertEqual(plc.line(), {"MAY_LOWER", "TEST_CUT"})
        self.gateway.set("test-cut", ",".join(f"{width / 1000:.3f}" for width in self.blades.strips(plc)))
        self.assertEqual(self.edge(LOWER), "TEST_CUT")
        self.assertEqual((plc.line(), plc.alarms()), (READY, set()))
        self.assertEqual(plc.read("ORDER_STAGED"), 2)

    def the_staged_order_by_its_own_start(self):
        plc = self.plc
        self.start_order(2)
        self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (2, 0))
        self.verified(plc, TOLERANCE_UM)
        self.blades.judge(self, plc, STAGED)
        self.assertEqual((plc.line(), plc.alarms()), (READY, set()))

    # ---- what they are made of

    def start_order(self, number):
        self.plc.write("COMMAND_ORDER", number)
        self.plc.start_and_complete()

    def refuses_to_start(self):
        plc = self.plc
        plc.write("COMMAND_ORDER", 1)
        plc.to_stopped()
        self.assertEqual(plc.give("RESET"), 0)
        plc.wait_state("IDLE")
        self.assertEqual(plc.give("START", "CHANGEOVER"), MAP.result["ALARM_STANDS"])

    def edge(self, rail):
        number = self.plc.read("HOLDER_EDGE", rail, self.pair[rail] - 1)
        return next(name for name, row in MAP.json["numbers"]["HOLDER_EDGE"].items() if row["number"] == number)


if __name__ == "__main__":
    main()
