"""The main job, judged from outside: slit widths written over Modbus/TCP end as verified, measured knife positions."""
import subprocess

from gateway_rig import KNIFERAIL, MAP, TOLERANCE_UM, Gateway, GatewayTest, Plc, Refused, main


class Changeover(GatewayTest):
    def test_ten_knives_are_set_and_verified_within_two_minutes_of_the_machine(self):
        # 2 min for 10 knives: common practice, no published source
        with Gateway("small-shear.cfg") as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(501, 1200000, [125000] * 9), 0)
            plc.start_and_complete()
            lines = self.verified(plc, TOLERANCE_UM)
            first = 800000 - 9 * 125000 // 2  # centred on the machine's centre line, from the station file
            self.assertEqual(lines, [first + 125000 * i for i in range(10)])
            self.assertLess(plc.read("RECORD_TOTAL"), 120000)
            self.assertEqual(plc.read("RECORD_RESULT"), 1)
            for i, width in enumerate(plc.read_all("SLIT_MEASURED", 9)):
                self.assertLessEqual(abs(width - 125000), 300, f"slit {i + 1}")

    def test_a_hundred_knives_on_each_rail_take_less_than_ten_minutes_of_the_machine(self):
        # 10 min for 100 knives: common practice, no published source
        with Gateway("wide-shear.cfg", speed=100) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(502, 2600000, [26000] * 99), 0)
            plc.start_and_complete(seconds=120)
            self.verified(plc, TOLERANCE_UM)
            self.assertLess(plc.read("RECORD_TOTAL"), 600000)

    def test_a_razor_machine_has_one_rail_and_no_pairs(self):
        with Gateway("razor.cfg", speed=50) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.read("LENGTH_UNIT"), 1)  # 0.0001 in
            self.assertEqual(plc.order(503, 440000, [15000] * 20), MAP.result["TRIM_TOO_LARGE"])
            self.assertEqual(plc.order(504, 440000, [21250] * 20), 0)
            plc.start_and_complete()
            self.verified(plc, 80)
            self.assertEqual(plc.read("RECORD_WORST_PAIR"), 0)
            self.assertEqual(plc.read("RAIL_ROLE", 1), 65535)

    def test_a_score_machine_cuts_against_a_plain_roll(self):
        with Gateway("score.cfg", speed=50) as gateway:
            plc = Plc(gateway)
            plc.confirm_edges()
            self.assertEqual(plc.order(508, 1000000, [95000] * 10), 0)
            plc.start_and_complete()
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual((plc.read("RECORD_WORST_PAIR"), plc.read("RAIL_ROLE", 1)), (0, 65535))
            self.assertEqual(plc.seen("LINE_STATUS") & 3, 3)  # the line may run, knives may be lowered

    def test_the_second_order_is_set_up_without_another_scan_before_it(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(505, 1200000, [125000] * 9), 0)
            plc.start_and_complete()
            self.assertEqual(plc.order(506, 1200000, [230000] * 5), 0)
            first = plc.read("RECORD_TOTAL")
            plc.start_and_complete()
            self.verified(plc, TOLERANCE_UM)
            self.assertLess(plc.read("RECORD_TOTAL"), first)
            self.assertEqual(plc.read("ORDER_IN_FORCE"), 506)
            self.assertEqual(plc.read("ORDER_STAGED"), 0)

    def test_only_the_knives_at_a_cut_may_be_lowered_and_only_when_all_are_verified(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            plc.scan()
            self.assertEqual(plc.seen("LINE_STATUS"), 0)
            plc.confirm_edges()
            self.assertEqual(plc.order(507, 1200000, [230000] * 5), 0)
            plc.start()
            while plc.state() != "COMPLETE":
                plc.scan()
                if plc.state() == "EXECUTE":
                    self.assertEqual(plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN"), 0)
                    self.assertEqual(plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_LOWER"), 0)
                    self.assertEqual(plc.bit("LINE_STATUS", "LINE_STATUS", "RAISE"), 1)
            plc.scan()
            self.assertEqual(plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN"), 1)
            self.assertEqual(plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_LOWER"), 1)
            for rail in plc.rails():
                mask = plc.read_all("CUTTING", 8, rail)
                cuts = plc.read_all("HOLDER_CUT", 12, rail)
                lowered = [bool(mask[h // 16] >> h % 16 & 1) for h in range(12)]
                self.assertEqual(lowered, [cut > 0 for cut in cuts])

    def test_an_inch_station_with_the_low_word_first_does_the_same_job(self):
        changes = [(r'length_unit = "mm"', 'length_unit = "in"'), (r'"high_word_first"', '"low_word_first"')]
        with Gateway(changes=changes) as gateway:
            plc = Plc(gateway)
            self.assertTrue(plc.low_first)
            self.assertEqual(plc.read("LENGTH_UNIT"), 1)
            self.assertEqual(plc.order(508, 472000, [50000] * 9), 0)  # 5 in slits on a web of 47.2 in
            plc.start_and_complete()
            lines = self.verified(plc, 80)  # 0.008 in
            for left, right in zip(lines, lines[1:]):
                self.assertLessEqual(abs(right - left - 50000), 1)

    def test_a_third_rail_is_one_more_group_in_the_station_file(self):
        rail = ('rails = ( { role = "upper"; side_clearance_mm = 0.5; least_mm = 40; most_mm = 1560; holders = ( { '
                'count = 12; size = "2 in"; edge_offset_mm = 0; first_mm = 70; pitch_mm = 120; } ); },')
        with Gateway(changes=[(r"rails = \(", rail)]) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.read("RAIL_COUNT"), 3)
            self.assertEqual(plc.order(509, 1200000, [230000] * 5), 0)
            plc.start_and_complete()
            self.verified(plc, TOLERANCE_UM)

    def test_one_gateway_runs_two_stations_by_their_unit_identifiers(self):
        with Gateway() as gateway:
            first = gateway.text[gateway.text.index("stations = (") + len("stations = (") : gateway.text.rindex(");")]
            second = first.replace('"small-shear"', '"second"').replace("unit_id = 1;", "unit_id = 7;")
            gateway.end()
            gateway.change((r"stations = \(", "stations = (" + second.replace("\\", "") + ","))
            gateway.start()
            one, two = Plc(gateway, unit=1), Plc(gateway, unit=7)
            self.assertEqual(one.order(510, 1200000, [230000] * 5), 0)
            self.assertEqual(two.order(511, 1200000, [125000] * 9), 0)
            one.start()
            two.start()
            while one.state() != "COMPLETE" or two.state() != "COMPLETE":
                one.scan()
                two.scan()
                self.assertNotIn(one.state(), ("HELD", "SUSPENDED", "ABORTED"))
                self.assertNotIn(two.state(), ("HELD", "SUSPENDED", "ABORTED"))
            self.assertEqual(one.read("ORDER_IN_FORCE"), 510)
            self.assertEqual(two.read("ORDER_IN_FORCE"), 511)
            with self.assertRaises(Refused) as refused:
                Plc(gateway, unit=9)
            self.assertEqual(refused.exception.code, 0x0A)

    def test_verify_only_moves_no_holder_and_park_clears_the_web(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(512, 600000, [110000] * 5), 0)
            plc.start_and_complete()
            plc.start("VERIFY")
            plc.wait_state("COMPLETE")
            self.assertEqual(sum(plc.read_all("RECORD_MOVES", 4)), 0)
            self.verified(plc, TOLERANCE_UM)
            plc.start("PARK")
            plc.wait_state("COMPLETE", seconds=40)
            for rail in plc.rails():
                for at in plc.read_all("HOLDER_POSITION", 12, rail):
                    self.assertFalse(500000 <= at <= 1100000, f"rail {rail + 1}: a holder rests at {at} um")
            plc.scan()
            self.assertEqual(plc.seen("LINE_STATUS") & 3, 0)

    def test_the_record_in_the_log_names_order_times_moves_and_every_deviation(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(513, 1200000, [230000] * 5), 0)
            plc.start_and_complete()
            record = gateway.wait_for_record(1)
            self.assertEqual((record["order"], record["result"], record["job"]), (513, "verified", "changeover"))
            self.assertEqual(record["planned_ms"], plc.read("RECORD_PLANNED"))
            self.assertEqual(record["actual_ms"], plc.read("RECORD_ACTUAL"))
            moves = plc.read_all("RECORD_MOVES", 4)
            for rail in record["rails"]:
                made = [m for m in record["moves"] if m["rail"] == rail["rail"]]
                self.assertEqual(len(made), moves[rail["rail"] - 1] + rail["corrections"])
                self.assertTrue(all(a["end_ms"] <= b["start_ms"] for a, b in zip(made, made[1:])))
                worst = max((h for h in record["holders"] if h["rail"] == rail["rail"] and h["cut"]),
                            key=lambda h: abs(h["deviation_um"]))
                self.assertEqual(abs(worst["deviation_um"]), abs(rail["worst_um"]))

    def test_the_command_line_shows_the_station_that_runs(self):
        with Gateway() as gateway:
            Plc(gateway).scan()
            shown = subprocess.run([KNIFERAIL, "status", "--port", str(gateway.port)], capture_output=True, text=True,
                                   timeout=20, check=False)
            self.assertEqual(shown.returncode, 0, shown.stderr)
            self.assertIn("small-shear", shown.stdout)

    def status(self, gateway):
        return subprocess.run([KNIFERAIL, "status", "--full", "--port", str(gateway.port)], capture_output=True, text=True,
                              timeout=20, check=True).stdout

    def test_the_command_line_tells_the_job_that_runs_from_the_last_one(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(512, 1200000, [230000] * 5), 0)
            plc.start()
            self.assertRegex(self.status(gateway), r"(?m)^job +CHANGEOVER, ")
            plc.give("STOP")
            plc.wait_state("STOPPED")
            self.assertRegex(self.status(gateway), r"(?m)^last job +CHANGEOVER$")
            self.assertNotRegex(self.status(gateway), r"(?m)^job ")
            self.assertEqual(gateway.wait_for_record(1)["cause"]["text"], "a client's Stop ended the job")

    def test_the_command_line_tells_nothing_of_the_past_as_if_it_stood(self):
        """24 holders stand elsewhere than they were said to, of which a list of 16 has the first; then the job is over."""
        with Gateway() as gateway:
            for rail, first in ((1, 60), (2, 80)):
                for holder in range(12):
                    gateway.set("absent", rail, holder + 1)
                    gateway.set("insert", rail, holder + 1, f"{first + 120 * holder + (4, -5, 6)[holder % 3]} mm")
            plc = Plc(gateway)
            self.assertEqual(plc.order(514, 1200000, [230000] * 5), 0)
            plc.start()
            plc.wait_state("COMPLETE")
            self.assertRegex(self.status(gateway), r"(?m)^  the list has no room for \d+ more alarms$")
            plc.give("RESET")
            plc.wait_state("IDLE")
            gateway.confirm_edges(2)
            shown = self.status(gateway)
            self.assertRegex(shown, r"(?m)^alarms +none$")
            self.assertRegex(shown, r"(?m)^last job +CHANGEOVER$")
            for past in ("has no room", "65535", "oldest first"):
                self.assertNotIn(past, shown)

    def test_log_and_command_line_say_what_to_do_about_an_alarm(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(513, 1200000, [230000] * 5), 0)
            plc.start()
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR")
            plc.wait_state("SUSPENDED")
            remedy = "Give the missing permissives again, then give Unsuspend."
            shown = self.status(gateway)
            self.assertRegex(shown, rf"(?m)^  alarm 1 PERMISSIVE_LOST \(suspend\), has stood for \d:\d\d min: .*\n    {remedy}$")
            self.assertNotIn("verified 0:00 min after Start", shown)  # a time that is not planned yet is not shown
            self.assertRegex(gateway.log(), rf"alarm 1: permissives were lost during motion: .*\. {remedy}")


if __name__ == "__main__":
    main()
