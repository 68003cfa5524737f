"""What happens to knives in motion: lost permissives, heartbeats, connections and control, and the daemon's own signals."""
import re
import signal
import time

from gateway_rig import MAP, SLOW, TOLERANCE_UM, Gateway, GatewayTest, Plc, Refused, main, wait_for

WEB, NINE, FIVE = 1200000, [125000] * 9, [230000] * 5
SPEED = 10


class InMotion(GatewayTest):
    def moving_plc(self, gateway, number=701):
        plc = Plc(gateway)
        self.assertEqual(plc.order(number, WEB, NINE), 0)
        plc.start()
        plc.wait_dragging()
        return plc

    def resume_and_complete(self, plc, command="UNSUSPEND"):
        self.assertEqual(plc.give(command), 0)
        plc.wait_state("COMPLETE", "HELD", "SUSPENDED", "ABORTED", seconds=90)
        self.assertEqual(plc.state(), "COMPLETE", f"alarm {plc.seen('ALARM_CODE')}")
        self.verified(plc, TOLERANCE_UM)

    def test_a_lost_permissive_stops_in_a_controlled_way_and_its_return_moves_nothing(self):
        for name in ("LINE_STOPPED", "KNIVES_RAISED", "AIR"):
            with self.subTest(name=name), Gateway(speed=SPEED) as gateway:
                plc = self.moving_plc(gateway)
                plc.permit(*({"LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE"} - {name}))
                plc.wait_state("SUSPENDED")
                self.assertEqual(plc.seen("ALARM_CODE"), MAP.alarm["PERMISSIVE_LOST"])
                self.stands(plc)
                plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
                self.stands(plc)
                self.resume_and_complete(plc)

    def test_after_open_guards_everything_is_scanned_again_before_anything_moves(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "AIR", "ENABLE")
            plc.wait_state("SUSPENDED")
            self.stands(plc)
            for rail in plc.rails():
                self.assertNotIn(3, plc.read_all("HOLDER_KNOWN", 12, rail), "measured, though hands may have moved it")
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
            self.stands(plc)
            self.resume_and_complete(plc)

    def test_without_the_missing_permissive_unsuspend_is_refused(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "ENABLE")
            plc.wait_state("SUSPENDED")
            self.assertEqual(plc.give("UNSUSPEND"), MAP.result["PERMISSIVE_MISSING"])
            self.stands(plc)

    def test_a_silent_heartbeat_stops_in_a_controlled_way_and_its_return_moves_nothing(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            self.silence(plc)
            self.assertEqual(plc.state(), "SUSPENDED")
            self.stands(plc)
            self.resume_and_complete(plc)

    def test_a_second_client_of_the_plcs_address_does_not_keep_a_dead_plc_alive(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            other = Plc(gateway)  # a panel behind the same address, whose heartbeat is no word of the PLC's
            until = time.monotonic() + 10 * SLOW
            beat = 0
            while plc.state() != "SUSPENDED":
                self.assertLess(time.monotonic(), until, f"unit state {plc.state()} by another's heartbeat")
                beat += 1
                other.write("PLC_HEARTBEAT", beat)
                plc.look()
            self.assertEqual(plc.seen("ALARM_CODE"), MAP.alarm["HEARTBEAT_STALE"])

    def test_a_gateway_that_stood_still_says_so(self):
        with Gateway(speed=1) as gateway:
            plc = self.moving_plc(gateway)
            gateway.process.send_signal(signal.SIGSTOP)
            time.sleep(5)
            gateway.process.send_signal(signal.SIGCONT)
            plc.wait_state("SUSPENDED")
            self.assertEqual(plc.seen("ALARM_CODE"), MAP.alarm["STOOD_STILL"])
            self.assertGreaterEqual(plc.read("OWN_GAP"), 4900)
            self.assertLess(plc.read("OWN_GAP_AGE"), 30 * SLOW)
            # Where a cycle was late before, this one is told a minute later.
            worst = r"cycles began late by more than a period, the worst by (\d+)\.\d ms at \S+Z; since the start \d+, the worst by "
            wait_for(lambda: any(int(ms) >= 4900 for ms in re.findall(worst, gateway.log())), 70, "the late cycle in the log")
            self.assertNotIn("alarm 2:", gateway.log())

    def silence(self, plc):
        """Reads on, but writes no heartbeat, until the unit has stopped."""
        until = time.monotonic() + 10 * SLOW
        while plc.state() != "SUSPENDED":
            self.assertLess(time.monotonic(), until, f"unit state {plc.state()} without a heartbeat")
            plc.look()

    def test_a_plc_that_vanishes_in_motion_and_comes_back_finds_it_suspended(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            plc.close()
            watcher = Plc(gateway, source="127.0.0.9")  # another address: it may read
            self.silence(watcher)
            plc.connect()
            plc.scan()
            self.stands(plc)
            self.resume_and_complete(plc)

    def test_a_connection_that_is_opened_again_in_time_loses_nothing(self):
        with Gateway(speed=20) as gateway:
            plc = self.moving_plc(gateway)
            for _ in range(20):
                plc.close()
                plc.connect()
                plc.scan()
                self.assertIn(plc.state(), ("EXECUTE", "COMPLETING", "COMPLETE"))
            plc.wait_state("COMPLETE", seconds=60)

    def test_hold_and_stop_by_command_stand_still_and_keep_the_order(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            self.assertEqual(plc.give("HOLD"), 0)
            plc.wait_state("HELD")
            self.stands(plc)
            self.assertEqual(plc.give("UNHOLD"), 0)
            plc.wait_dragging()
            self.assertEqual(plc.give("STOP"), 0)
            plc.wait_state("STOPPED")
            self.stands(plc)
            self.assertEqual(plc.read("ORDER_IN_FORCE"), 701)
            plc.start_and_complete(seconds=90)
            self.verified(plc, TOLERANCE_UM)

    def test_after_an_abort_what_was_docked_is_unknown_until_it_was_scanned(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            docked = plc.read("DOCKED_HOLDER", 0)
            self.assertEqual(plc.give("ABORT"), 0)
            plc.wait_state("ABORTED")
            self.assertEqual(plc.read("HOLDER_KNOWN", 0, docked - 1), 0)
            self.stands(plc)
            self.assertEqual(plc.give("CLEAR"), 0)
            plc.wait_state("STOPPED")
            plc.to_idle()
            self.assertEqual(plc.give("START", "CHANGEOVER"), MAP.result["RELEASE_NEEDED"])
            plc.start("RELEASE")
            plc.wait_state("COMPLETE")
            self.stands(plc)
            plc.start_and_complete(seconds=90)
            self.verified(plc, TOLERANCE_UM)

    def test_another_client_may_watch_but_not_meddle(self):
        with Gateway(speed=SPEED) as gateway:
            plc = self.moving_plc(gateway)
            other = Plc(gateway, source="127.0.0.9")
            self.assertEqual(other.state(), "EXECUTE")
            for call in (lambda: other.write("PERMISSIVES", 0), lambda: other.write_command("ABORT", None, 9),
                         lambda: other.hand_over("CANCEL", number=99)):
                with self.assertRaises(Refused) as refused:
                    call()
                self.assertEqual(refused.exception.code, 1)
            plc.wait_state("COMPLETE", seconds=60)


class Signals(GatewayTest):
    def test_sigterm_in_motion_sets_the_holder_down_then_ends_with_status_0(self):
        with Gateway(speed=SPEED, book=True) as gateway:
            plc = InMotion.moving_plc(self, gateway)
            self.assertEqual(gateway.end(signal.SIGTERM), 0)
            log = gateway.log()
            self.assertIn("SIGTERM: motion is stopped in a controlled way", log)
            self.assertIn("everything is at rest and stored", log)
            gateway.start()
            plc.connect()
            plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 5, "the link to the machine")
            self.assertEqual(plc.state(), "STOPPED")
            self.assertEqual(plc.seen("LINE_STATUS") & 3, 0)
            for rail in plc.rails():
                self.assertEqual(plc.read("DOCKED_HOLDER", rail), 0)
                self.assertEqual(set(plc.read_all("HOLDER_KNOWN", 12, rail)), {1}, "set down, so remembered")
            self.stands(plc)
            self.assertEqual(plc.read("ORDER_IN_FORCE"), 701)
            plc.start_and_complete(seconds=90)
            self.verified(plc, TOLERANCE_UM)

    def test_sigint_at_rest_ends_at_once(self):
        with Gateway() as gateway:
            began = time.monotonic()
            self.assertEqual(gateway.end(signal.SIGINT), 0)
            self.assertLess(time.monotonic() - began, 1 * SLOW)

    def test_a_second_sigterm_does_not_wait_and_says_so_by_its_status(self):
        with Gateway(speed=4) as gateway:
            InMotion.moving_plc(self, gateway)
            gateway.process.send_signal(signal.SIGTERM)
            gateway.wait_for_log("SIGTERM: motion")
            self.assertEqual(gateway.end(signal.SIGTERM, seconds=5), 1)
            self.assertIn("SIGTERM again", gateway.log())

    def reload(self, gateway, *changes):
        before = gateway.log().count("SIGHUP: reading")
        gateway.change(*changes)
        gateway.process.send_signal(signal.SIGHUP)
        wait_for(lambda: gateway.log().count("SIGHUP: reading") > before, 5, "SIGHUP in the log")
        mark = gateway.log().rindex("SIGHUP: reading")
        return lambda text: gateway.wait_for_log_after(mark, text)

    def test_sighup_takes_a_tolerance_in_motion_but_no_geometry(self):
        with Gateway(speed=4) as gateway:
            plc = InMotion.moving_plc(self, gateway)
            told = self.reload(gateway, (r"knife_most_mm = 1.0", "knife_most_mm = 0.9"))
            told("reload: taken: small-shear: placement.knife_most_mm: 0.9 mm, was 1 mm")
            told = self.reload(gateway, (r"centre_mm = 800", "centre_mm = 801"), (r"knife_most_mm = 0.9", "knife_most_mm = 0.8"))
            told("reload: not taken: small-shear: web.centre_mm: 801 mm, was 800 mm; a reload takes it only while "
                 "the unit is Stopped or Idle")
            told("reload: taken: small-shear: placement.knife_most_mm: 0.8 mm, was 0.9 mm")
            self.assertEqual(plc.order(702, WEB, FIVE, kind="CHECK", TOLERANCE=850), MAP.result["TOLERANCE"])
            self.assertEqual(plc.seen("VERDICT_LIMIT"), 800)
            self.assertEqual(plc.state(), "EXECUTE")

    def test_sighup_takes_geometry_while_idle_and_the_next_order_obeys_it(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            plc.to_idle()
            told = self.reload(gateway, (r"centre_mm = 800", "centre_mm = 801"))
            told("reload: taken: small-shear: web.centre_mm: 801 mm, was 800 mm")
            self.assertNotIn("not taken", gateway.log())
            self.assertEqual(plc.order(703, WEB, FIVE), 0)
            plc.start_and_complete()
            self.assertEqual(self.verified(plc, TOLERANCE_UM)[0], 801000 - 5 * 230000 // 2)

    def test_sighup_takes_a_settling_time_in_complete_and_the_verification_stands(self):
        with Gateway(speed=SPEED) as gateway:
            plc = Plc(gateway)
            plc.to_idle()
            self.assertEqual(plc.order(704, WEB, FIVE), 0)
            plc.start_and_complete()
            for old, new in ((50, 40), (40, 45)):  # in Complete, then in Idle
                told = self.reload(gateway, (f"settle_ms = {old}", f"settle_ms = {new}"))
                for rail in (1, 2):
                    told(f"reload: taken: small-shear: rail {rail}: carriage.settle_ms: {new} ms, was {old} ms")
                plc.scan()
                self.assertEqual(plc.bit("STATUS", "STATUS", "VERIFIED"), 1)
                plc.to_idle()
            self.assertNotIn("not taken", gateway.log())

    def test_sighup_names_the_holders_that_the_book_keeps(self):
        with Gateway() as gateway:
            told = self.reload(gateway, (r"edge_offset_mm = 10;", "edge_offset_mm = 11;"))
            told("reload: not taken: small-shear: rail 1: holder 1 and 11 more: edge_offset_mm: 11 mm, was 10 mm; "
                 "the book keeps it after the first start")
            told = self.reload(gateway, (r'size = "2 in"; edge_offset_mm = -10; first_mm = 80; pitch_mm = 120;',
                                         'size = "1 in"; edge_offset_mm = -10; first_mm = 81; pitch_mm = 119; state = "out";'))
            for what in ('holder 1 and 11 more: size: "1 in", was "2 in"', "holder 1 and 11 more: state: out, was in",
                         "holder 1 and 10 more: first_mm: 81 mm, was 80 mm"):  # holder 2 would stand where it stood
                told(f"reload: not taken: small-shear: rail 2: {what}; the book keeps it after the first start")

    def test_sighup_names_what_needs_a_restart_and_keeps_it(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            told = self.reload(gateway, (r"period_ms = 10", "period_ms = 8"), (r"unit_id = 1", "unit_id = 2"),
                               (r"scan_speed_mm_per_s = 200", "scan_speed_mm_per_s = 100"))
            told("reload: not taken: period_ms")
            told("reload: not taken: small-shear: unit_id: 2, was 1; it needs a restart")
            told("reload: not taken: small-shear: rail 1: carriage.scan_speed_mm_per_s: 100 mm/s, was 200 mm/s; it needs a "
                 "restart")
            self.assertNotIn("not taken: face.listen", gateway.log())  # the port is the command line's
            face = 'face: { queued_answers = 8; default_station = "small-shear"; user_application = "line 2";'
            told = self.reload(gateway, (r"unit_id = 2", "unit_id = 1"), (r"face: {", face),
                               (r"knife_most_mm = 1.0", "knife_most_mm = 0.9"), (r"seed = 2;", "seed = 77;"))
            for what in ("face.queued_answers", "face.default_station", "face.user_application",
                         "small-shear: simulated.seed"):
                told(f"reload: not taken: {what}")
            told("reload: taken: small-shear: placement.knife_most_mm")
            told("reload: taken: small-shear: rail 1: carriage.scan_speed_mm_per_s")
            plc.scan()
            self.assertEqual(plc.read("PERIOD"), 10)

    def test_sighup_with_a_wrong_file_takes_nothing_and_goes_on(self):
        with Gateway(speed=SPEED) as gateway:
            plc = InMotion.moving_plc(self, gateway)
            told = self.reload(gateway, (r"corrections_most = 3", "corrections_most = 3000"))
            told("reload: the station file has mistakes; nothing is taken")
            told("corrections_most")
            gateway.config.unlink()
            gateway.process.send_signal(signal.SIGHUP)
            told("No such file")
            plc.wait_state("COMPLETE", seconds=60)

    def test_sighup_takes_rights_from_a_client_at_once(self):
        rules = 'rules = ( { address = "127.0.0.9"; may = "nothing"; } ); listen ='
        with Gateway() as gateway:
            other = Plc(gateway, source="127.0.0.9")
            other.look()
            told = self.reload(gateway, (r"listen =", rules))
            told("reload: taken: face.rules")
            with self.assertRaises(Exception):
                other.look()
                other.close()
                other.connect()
                other.look()


if __name__ == "__main__":
    main()
