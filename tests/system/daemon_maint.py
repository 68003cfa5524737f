"""Maintenance's part of the job at the real daemon: every edit by `kniferail set`, and what `kniferail history` tells."""
import contextlib
import csv
import io
import itertools
import json
import math
import re
import sqlite3
import statistics
import subprocess
import tempfile
import time

from gateway_rig import KNIFERAIL, MAP, TOLERANCE_UM, Gateway, GatewayTest, Plc, Refused, main, wait_for

SLITS = [125000] * 9


def ask(gateway, *arguments):
    return subprocess.run([KNIFERAIL, "set", "--port", str(gateway.port), *map(str, arguments)], capture_output=True, text=True,
                          timeout=30, check=False)


def history(*arguments):
    return subprocess.run([KNIFERAIL, "history", *map(str, arguments)], capture_output=True, text=True, timeout=30, check=False)


def set_up(plc, number, widths):
    code = plc.order(number, sum(widths) + 60000, widths)
    assert code == 0, code
    plc.start_and_complete()


def set_up_proven(plc, number, widths):
    """The same where the line is to run: maintenance has confirmed the edges."""
    plc.confirm_edges()
    set_up(plc, number, widths)


def may_run(plc):
    plc.scan()
    return plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN")


class Edits(GatewayTest):
    def accepted(self, gateway, *arguments):
        answer = ask(gateway, *arguments)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""), arguments)
        self.assertTrue(answer.stdout.startswith("accepted: "), answer.stdout)
        hands = arguments[0] not in ("offset", "in", "out", "fixed", "test-cut", "test-cut-more", "apply", "shift")
        self.assertEqual("locked out and tagged out" in answer.stdout, hands, answer.stdout)
        return answer.stdout

    def refused(self, gateway, *arguments, because):
        answer = ask(gateway, *arguments)
        self.assertEqual((answer.returncode, answer.stdout), (1, ""), arguments)
        self.assertRegex(answer.stderr, because)

    def accepted_twice(self, gateway, *arguments):
        """A great step of an edge offset: it is refused first, and taken when it is asked for once more."""
        self.refused(gateway, *arguments, because=r"would change from -?[\d.]+ mm to -?[\d.]+ mm in one step; repeat the request")
        return self.accepted(gateway, *arguments)

    def test_every_edit_by_the_command_line(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            told = self.accepted_twice(gateway, "offset", 2, 4, "-1.25")
            self.assertRegex(told, r"rail 2, holder 4: in service, size 2 \(2 in\), edge offset -1\.250 mm \(unproven\), 0 m cut; at 4\d\d\.\d{3} mm")
            self.assertNotIn("in force", told)  # no order is
            self.assertEqual(plc.read("HOLDER_OFFSET", 1, 3), -1250)
            self.accepted_twice(gateway, "regrind", 2, 4, "1/64 in")
            self.assertEqual(plc.read("HOLDER_OFFSET", 1, 3), 397)  # 0.396875 mm
            self.accepted_twice(gateway, "swap", 1, 12, 1, "0.5 mm")
            self.assertEqual((plc.read("HOLDER_SIZE", 0, 11), plc.read("HOLDER_OFFSET", 0, 11)), (1, 500))
            self.accepted(gateway, "size", 1, 12, "2 in")
            self.assertEqual(plc.read("HOLDER_SIZE", 0, 11), 2)
            answer = ask(gateway, "size", 1, 12, "2in")
            self.assertEqual((answer.returncode, answer.stdout), (2, ""))
            self.assertIn("size '2in': the station lists no such size; its sizes are \"1 in\", \"2 in\", \"3 in\"", answer.stderr)
            for word, state in (("out", 1), ("in", 0), ("fixed", 2), ("in", 0), ("absent", 3)):
                self.accepted(gateway, word, 1, 12)
                self.assertEqual(plc.read("HOLDER_STATE", 0, 11), state, word)
            last = plc.read("HOLDER_POSITION", 0, 10)
            self.accepted(gateway, "insert", 1, 12, f"{(last + 60000) / 1000:.3f} mm")
            self.assertEqual(plc.read("HOLDER_STATE", 0, 11), 0)
            self.assertEqual(plc.read("HOLDER_POSITION", 0, 11), last + 60000)

    def test_what_cannot_be_is_refused_in_words_with_value_and_limit(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.refused(gateway, "out", 3, 1, because=r"refused: there is no rail 3; the last rail is 2")
            self.refused(gateway, "out", 1, 99, because=r"refused: there is no holder 99; the holders are 1 to 12")
            self.refused(gateway, "size", 1, 1, 4, because=r"refused: rail 1: size 4 of holder 1 is unknown; the sizes are 1 to 3")
            self.refused(gateway, "offset", 1, 1, "300 mm", because=r"300\.000 mm of holder 1 is not possible; the limit is 200\.000 mm")
            self.refused(gateway, "insert", 1, 3, 100, because=r"rail 1: holder 3 is on the rail already")
            self.accepted(gateway, "absent", 1, 3)
            neighbour = plc.read("HOLDER_POSITION", 0, 1)
            self.refused(gateway, "insert", 1, 3, f"{(neighbour + 50000) / 1000} mm",
                         because=r"holder 3 would be 50\.000 mm from its neighbour; at least 50\.700 mm is needed")
            self.refused(gateway, "in", 1, 3, because=r"holder 3 is not on the rail")
            self.refused(gateway, "apply", because=r"no edge offsets are proposed")
            self.refused(gateway, "test-cut", "125,125", because=r"no placement of this order was verified")

    def test_a_swap_that_breaks_spacing_is_refused_with_the_reason_and_the_order_stays_verified(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            set_up_proven(plc, 803, [55000] * 9)
            holder = plc.read_all("HOLDER_CUT", 12).index(5) + 1
            self.refused(gateway, "swap", 1, holder, 3, "10 mm",
                         because=rf"holder {holder} would be 5\d\.\d+ mm from its neighbour; at least 63\.400 mm is needed")
            self.assertEqual((plc.read("HOLDER_SIZE", 0, holder - 1), may_run(plc)), (2, 1))
            self.accepted(gateway, "swap", 1, holder, 1, "10 mm")
            self.assertEqual((plc.read("HOLDER_SIZE", 0, holder - 1), may_run(plc)), (1, 0))

    def test_numbers_and_sessions_of_maintenance_requests_are_taken_once(self):
        with Gateway() as gateway:
            plc = Plc(gateway)

            def hand_over(number):
                try:
                    plc.write("EDIT_NUMBER", number)
                except Refused as refused:
                    self.assertEqual(refused.code, 6)  # the one before waits for its cycle: a little later
                    return False
                return True

            def edit(session, number, offset):
                plc.write_words(MAP.address("EDIT_SESSION"), [session, MAP.number("EDIT_KIND", "OFFSET")])
                plc.write_words(MAP.address("EDIT_RAIL"), [1, 2, 0])
                plc.write("EDIT_OFFSET", offset)
                before = plc.read("EDIT_GENERATION")
                wait_for(lambda: hand_over(number), 5, "a request before that is taken")
                wait_for(lambda: (plc.read("EDITED_NUMBER"), plc.read("EDIT_BUSY")) == (number, 0), 5, "a maintenance verdict")
                return plc.read("EDITED_CODE"), plc.read("HOLDER_OFFSET", 0, 1), plc.read("EDIT_GENERATION") - before

            plc.scan()
            session = plc.seen("SESSION")
            offset = plc.read("HOLDER_OFFSET", 0, 1) + 500
            self.assertEqual(edit(session, 7, offset), (0, offset, 1))
            self.assertEqual(edit(session, 7, offset), (0, offset, 0))  # the same once more
            self.assertEqual(edit(session, 7, offset + 100)[1:], (offset, 0))
            wait_for(lambda: plc.read("EDITED_CODE") == MAP.result["NUMBER_REUSED"], 5, "the number that was used before")
            self.assertEqual(edit(session % 65535 + 1, 8, offset + 100), (MAP.result["STALE_SESSION"], offset, 0))
            self.assertEqual(edit(session, 9, 300000), (MAP.result["EDGE_OFFSET"], offset, 0))

    def test_a_holder_may_be_written_as_one_with_every_request(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            for word, state in (("out", 1), ("in", 0), ("fixed", 2), ("in", 0), ("absent", 3)):
                self.accepted(gateway, word, "1/12")
                self.assertEqual(plc.read("HOLDER_STATE", 0, 11), state, word)
            offset_um = plc.read("HOLDER_OFFSET", 1, 3)
            self.accepted(gateway, "offset", "2/4", f"{offset_um + 500} um")
            self.assertEqual(plc.read("HOLDER_OFFSET", 1, 3), offset_um + 500)
            self.assertIn("(bench)", self.accepted(gateway, "bench", "2/4"))
            self.assertIn("all edges of the rail are confirmed", self.accepted(gateway, "feeler", "1/all"))
            self.refused(gateway, "out", "3/1", because="there is no rail 3; the last rail is 2")

    def test_wrong_usage_is_status_2_and_asks_nobody(self):
        for arguments in ((), ("frobnicate",), ("out", 1), ("out", 1, 2, 3), ("out", "1/"), ("out", "/3"), ("out", "1/2/3"), ("out", "1/2", 3),
                          ("dismount", 1, 3, "grinder"), ("shift", "1/3"), ("offset", 1, 2, "x"), ("size", 1, 2, 9), ("out", 0, 1),
                          ("test-cut", "1,,2"), ("test-cut", "1" + 70 * " " + "in"),
                          ("--port", "0", "out", "1", "1"), ("--speed", "1"), ("apply", "now")):
            answer = subprocess.run([KNIFERAIL, "set", *map(str, arguments)], capture_output=True, text=True, timeout=30, check=False)
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)
            self.assertTrue(answer.stderr.startswith("kniferail set: "), arguments)

    def test_an_option_behind_the_request_is_named(self):
        answer = subprocess.run([KNIFERAIL, "set", "out", "1/3", "--port", "1502"], capture_output=True, text=True, timeout=30, check=False)
        self.assertEqual((answer.returncode, answer.stdout), (2, ""))
        self.assertIn("--port stands behind the request 'out': write options before it", answer.stderr)

    def test_maintenance_needs_the_right_and_no_control_and_control_is_no_such_right(self):
        rules = 'face: { rules = ( { address = "127.0.0.3"; may = "control"; } );'
        with Gateway(changes=((r"face: \{", rules),)) as gateway:
            plc = Plc(gateway, source="127.0.0.3")
            plc.scan()
            self.assertEqual(plc.read("OWN_CONTROL"), 1)
            with self.assertRaises(Refused) as refused:
                plc.write("EDIT_NUMBER", 1)
            self.assertEqual(refused.exception.code, 1)
            self.accepted(gateway, "out", 1, 3)
            self.assertEqual(plc.read("OWN_CONTROL"), 1)
            self.assertEqual(plc.read("HOLDER_STATE", 0, 2), 1)

    def test_an_edge_waits_for_somebody_to_confirm_it_or_for_a_test_cut(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            set_up(plc, 804, SLITS)
            self.assertEqual((may_run(plc), plc.seen("ALARM_CODE")), (0, MAP.alarm["EDGE_UNPROVEN"]))
            shown = subprocess.run([KNIFERAIL, "status", "--full", "--port", str(gateway.port)], capture_output=True, text=True, timeout=30,
                                   check=False)
            self.assertEqual(shown.stdout.count(": nobody has proven the edges of holders 1-12\n"), 2)
            self.assertIn("kniferail set bench, feeler or trial", shown.stdout)
            self.refused(gateway, "bench", 3, "all", because="there is no rail 3; the last rail is 2")
            self.assertIn("all edges of the rail are confirmed", self.accepted(gateway, "bench", 1, "all"))
            self.accepted(gateway, "trial", 2, "all")
            plc.scan()
            self.assertEqual([name for name in ("MAY_RUN", "MAY_LOWER", "TEST_CUT") if plc.bit("LINE_STATUS", "LINE_STATUS", name)],
                             ["MAY_LOWER", "TEST_CUT"])
            self.accepted(gateway, "test-cut", ",".join(f"{w / 1000:.3f}" for w in SLITS))
            self.assertEqual((may_run(plc), plc.seen("ALARM_CODE")), (1, 0))
            cut = plc.read_all("HOLDER_CUT", 12, 1)
            self.assertEqual(plc.read_all("HOLDER_EDGE", 12, 1), [3 if c else 0 for c in cut])
            holder = cut.index(1) + 1
            self.assertIn("(feeler)", self.accepted(gateway, "feeler", 2, holder))
            self.assertEqual(gateway.end(), 0)
            gateway.start()
            plc = Plc(gateway)
            self.assertEqual(plc.read("HOLDER_EDGE", 1, holder - 1), 2)
            told = sqlite3.connect(f"file:{gateway.book}?mode=ro", uri=True).execute(
                "SELECT was, became, origin FROM edit WHERE what = 'edge' AND rail = 2 AND holder = ? ORDER BY id", (holder,)).fetchall()
            self.assertEqual(told, [(0, 3, "127.0.0.1"), (3, 2, "127.0.0.1")])

    def test_a_crash_that_the_plc_reports_waits_for_somebody_to_look(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            set_up_proven(plc, 805, SLITS)
            upper, lower = (plc.read_all("HOLDER_CUT", 12, rail).index(3) + 1 for rail in (0, 1))
            plc.write_words(MAP.address("CRASH"), [1 << MAP.number("CRASH", "KNIFE_BROKEN"), 3])
            plc.wait(lambda: plc.seen("ALARM_CODE") == MAP.alarm["KNIFE_STRUCK"], 5, "the alarm")
            self.assertEqual((plc.seen("ALARM_ITEM"), may_run(plc), plc.bit("STATUS", "STATUS", "VERIFIED")), (upper, 0, 0))
            self.refused(gateway, "feeler", 2, lower, because="the PLC still reports a crash")
            plc.write_words(MAP.address("CRASH"), [0, 0])
            plc.scan()
            self.refused(gateway, "bench", 1, "all", because=f"holder {upper} was in a crash")
            for rail, holder in ((1, upper), (2, lower)):
                self.accepted(gateway, "feeler", rail, holder)
            plc.start_and_complete()
            self.assertEqual(may_run(plc), 1)
            told = sqlite3.connect(f"file:{gateway.book}?mode=ro", uri=True).execute(
                "SELECT became, origin FROM edit WHERE what = 'edge' AND rail = 1 AND holder = ? ORDER BY id", (upper,)).fetchall()
            self.assertEqual(told, [(1, "127.0.0.1"), (4, "PLC"), (2, "127.0.0.1")])

    def test_a_broken_blade_in_mid_order(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            set_up_proven(plc, 801, SLITS)
            self.assertEqual(may_run(plc), 1)
            cuts, lower = plc.read_all("HOLDER_CUT", 12), plc.read_all("HOLDER_POSITION", 12, 1)
            broken = cuts.index(5)
            told = self.accepted(gateway, "out", 1, broken + 1)
            self.assertIn(f"holder {broken + 1}: out of service, size 2 (2 in)", told)
            self.assertIn("order 801 is in force and not verified", told)
            self.assertEqual(may_run(plc), 0)
            self.stands(plc)
            plc.start_and_complete()
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual(plc.read("ORDER_IN_FORCE"), 801)
            self.assertEqual(plc.read("HOLDER_CUT", 0, broken), 0)
            self.assertEqual(plc.read("RECORD_MOVES", 0, 1), 0)  # the lower knives cut where they cut
            for before, now in zip(lower, plc.read_all("HOLDER_POSITION", 12, 1)):
                self.assertLessEqual(abs(before - now), 60)  # found again by another scan
            self.assertEqual(may_run(plc), 1)

    def test_a_test_cut_proposes_and_only_apply_changes(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            set_up_proven(plc, 802, SLITS)
            before = plc.read_all("HOLDER_OFFSET", 12, 1)
            measured = plc.read_all("SLIT_MEASURED", 9)
            measured[2] += 80  # the third strip is wider, the fourth narrower: one edge is off
            measured[3] -= 80
            out = self.accepted(gateway, "test-cut", ",".join(f"{w / 1000:.3f}" for w in measured))
            self.assertIn("with no strip to spare", out)
            out = self.accepted(gateway, "test-cut-more", ",".join(f"{w / 1000:.3f}" for w in measured))
            self.assertNotIn("with no strip to spare", out)
            self.assertEqual(plc.read("PROPOSAL_TEST_CUTS"), 2)
            self.assertEqual(plc.read_all("HOLDER_OFFSET", 12, 1), before)
            self.assertEqual(may_run(plc), 1)
            out = self.accepted(gateway, "apply")
            after = plc.read_all("HOLDER_OFFSET", 12, 1)
            self.assertRegex(out, r"(?m)^rail 2\nholder +was +becomes +change$")
            told = {int(h): tuple(round(1000 * float(mm)) for mm in row) for h, *row in
                    re.findall(r"(?m)^ *(\d+) +(-?[\d.]+) mm +(-?[\d.]+) mm +(-?[\d.]+) mm$", out)}
            self.assertLessEqual({h for h in range(1, 13) if before[h - 1] != after[h - 1]}, set(told))
            for h, row in told.items():
                self.assertEqual(row, (before[h - 1], after[h - 1], after[h - 1] - before[h - 1]))
            self.assertEqual(may_run(plc), 0)
            change = [a - b for a, b in zip(plc.read_all("HOLDER_OFFSET", 12, 1), before)]
            cut4 = plc.read_all("HOLDER_CUT", 12, 1)
            self.assertEqual(sum(cut4), 0)  # who cuts is planned anew
            self.assertEqual(sorted(change)[-1], 72)  # 80 less what the mean must not take along
            self.assertLessEqual(abs(sum(change)), 9)  # the mean stays, each rounded

    def test_a_jog_runs_while_it_is_refreshed_and_the_device_is_pressed(self):
        press = 'inputs = ["line_stopped", "knives_raised", "guards_closed", "air", "enable", "jog_enable"];'
        with Gateway(speed=1, changes=((r"simulated: \{", "simulated: { " + press),)) as gateway:
            plc = Plc(gateway)
            plc.to_idle()
            plc.write("COMMAND_RAIL", 1)
            plc.command += 1
            plc.write_words(MAP.address("COMMAND_SESSION"),
                            [plc.seen("SESSION"), MAP.number("COMMAND", "START"), MAP.number("COMMAND_JOB", "JOG"), 1])
            plc.write("COMMAND_NUMBER", plc.command)
            plc.wait_state("EXECUTE")
            jogging = MAP.number("CARRIAGE_PHASE", "JOGGING")
            plc.wait(lambda: plc.read("CARRIAGE_PHASE") == jogging, 5, "a carriage that waits to be jogged")
            start = plc.read("CARRIAGE_POSITION")
            until, refresh = time.monotonic() + 2, 0
            while time.monotonic() < until:
                refresh += 1
                plc.write_words(MAP.address("JOG_REFRESH"), [refresh, 1])
                plc.scan()
            ran = plc.read("CARRIAGE_POSITION") - start
            self.assertGreater(ran, 30000)
            self.assertLess(ran, 105000)  # 50 mm/s
            wait_for(lambda: plc.scan() or time.monotonic() > until + 1, 3, "a second without a refresh")
            at = plc.read("CARRIAGE_POSITION")
            self.assertLess(at - start - ran, 50 * 400)
            wait_for(lambda: plc.scan() or time.monotonic() > until + 2, 3, "another one")
            self.assertLessEqual(abs(plc.read("CARRIAGE_POSITION") - at), 20)
            self.assertEqual(plc.give("STOP"), 0)
            plc.wait_state("STOPPED")
            self.stands(plc)

    def test_metres_run_come_from_the_counter_or_the_speed_and_call_maintenance(self):
        due = (r"carriage: \{", "carriage: { metres_notice = 40;")
        by_speed = (r"unit_id = 1;", 'unit_id = 1; metres = "speed";')
        counter = itertools.count(0, 3)
        for changes, write in (((due,), lambda plc: plc.write("LINE_METRES", next(counter))),
                               ((due, by_speed), lambda plc: plc.write("LINE_SPEED", 6000))):
            with Gateway(changes=changes) as gateway:
                plc = Plc(gateway)
                set_up_proven(plc, 811, SLITS)
                plc.permit("GUARDS_CLOSED", "AIR", "ENABLE")
                plc.wait(lambda: write(plc) or plc.seen("ALARM_CODE") == MAP.alarm["KNIFE_METRES"], 20, "a knife that is due")
                cuts = plc.read_all("HOLDER_CUT", 12)
                for h, run in enumerate(plc.read_all("HOLDER_METRES", 12)):
                    self.assertEqual(run >= 40, cuts[h] > 0, (h + 1, run))
                self.assertEqual(may_run(plc), 1)

    def test_without_the_device_no_register_can_make_it_jog(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            plc.to_idle()
            plc.permissives = 0xFFFF
            plc.scan()
            plc.command += 1
            plc.write_words(MAP.address("COMMAND_SESSION"),
                            [plc.seen("SESSION"), MAP.number("COMMAND", "START"), MAP.number("COMMAND_JOB", "JOG"), 1])
            plc.write("COMMAND_NUMBER", plc.command)
            plc.wait(lambda: plc.seen("COMMAND_ECHO") == plc.command, 5, "a command's echo")
            self.assertEqual(plc.seen("COMMAND_RESULT"), MAP.result["JOG_NOT_ENABLED"])

    def test_status_says_for_how_long_an_alarm_has_stood(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(911, 1200000, SLITS), 0)
            plc.start()
            plc.wait_dragging()
            plc.permissives &= ~(1 << MAP.number("PERMISSIVES", "AIR"))
            plc.wait_state("SUSPENDED", "HELD")
            plc.wait(lambda: plc.read("ALARM_AGES") >= 2, 10, "an alarm that has stood for 2 s")
            shown = subprocess.run([KNIFERAIL, "status", "--full", "--port", str(gateway.port)], capture_output=True, text=True, timeout=30,
                                   check=True)
            self.assertRegex(shown.stdout, r"PERMISSIVE_LOST \(suspend\), has stood for 0:0[2-9] min: ")

    def test_orders_and_recipes_wait_over_a_restart(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(901, 1200000, [230000] * 5), 0)
            self.assertEqual(plc.order(902, 1200000, SLITS, kind="QUEUE"), 0)
            self.assertEqual(plc.order(1, 1200000, [220000] * 5, kind="STORE_RECIPE", RECIPE=17), 0)
            self.assertEqual(gateway.end(), 0)
            gateway.start()
            plc = Plc(gateway)
            self.assertEqual((plc.read("ORDER_STAGED"), plc.read("QUEUE_COUNT"), plc.read("QUEUE_ORDER")), (901, 1, 902))
            self.assertEqual(plc.read_all("RECIPES_STORED", 4), [0, 1, 0, 0])
            self.assertEqual(plc.order(903, 0, [1], kind="QUEUE_RECIPE", RECIPE=17, WIDTH_SUM=0), 0)
            self.assertEqual(plc.read("VERDICT_SUM"), 1100000)
            shown = subprocess.run([KNIFERAIL, "status", "--full", "--port", str(gateway.port)], capture_output=True, text=True, timeout=30,
                                   check=False)
            self.assertIn("order 901 is staged; then 902, 903\n", shown.stdout)
            for number in (901, 902, 903):
                plc.start_and_complete()
                self.assertEqual(plc.read("ORDER_IN_FORCE"), number)
            self.verified(plc, TOLERANCE_UM)


class History(GatewayTest):
    """One gateway with a past; what is told of it is recomputed from the book with Python's own statistics."""

    MOVED = "(h.rail, h.holder) IN (SELECT m.rail, m.holder FROM changeover_move m WHERE m.changeover = c.id)"

    @classmethod
    def setUpClass(cls):
        cls.gateway = Gateway(book=True, speed=50)
        cls.gateway.__enter__()
        cls.plc = Plc(cls.gateway)
        for i in range(8):
            set_up(cls.plc, 700 + i, SLITS if i % 2 else [230000] * 5)
            if i == 3:
                assert ask(cls.gateway, "regrind", 1, 2, "9.3 mm").returncode == 0
        assert ask(cls.gateway, "out", 1, 99).returncode == 1
        cls.book = cls.gateway.book
        database = sqlite3.connect(f"file:{cls.book}?mode=ro", uri=True)
        wait_for(lambda: database.execute("SELECT count(*) FROM changeover").fetchone()[0] == 8, 10, "eight records in the book")
        cls.database = database

    @classmethod
    def tearDownClass(cls):
        cls.database.close()
        cls.gateway.__exit__(None)

    def json(self, *arguments):
        answer = history("--book", self.book, "--format", "json", *arguments)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        return json.loads(answer.stdout)

    def test_changeovers_are_told_while_the_gateway_runs(self):
        told = self.json()["changeovers"]
        self.assertEqual([row["order_number"] for row in told], list(range(700, 708)))
        for row in told:
            self.assertEqual((row["job"], row["outcome"], row["cause"]), ("changeover", "verified", ""))
            self.assertLessEqual(abs(row["worst_um"]), TOLERANCE_UM)
            self.assertGreaterEqual(row["total_ms"], row["actual_ms"])

    def test_edits_are_told_with_who_asked_and_the_verdict(self):
        told = self.json()["edits"]
        self.assertEqual([(row["kind"], row["origin"], row["code"]) for row in told],
                         [("regrind", "127.0.0.1", 0), ("out", "127.0.0.1", MAP.result["UNKNOWN_HOLDER"])])
        self.assertEqual(told[0]["edge_offset_um"], 9300)
        self.assertIn("no holder 99", told[1]["verdict"])

    def test_the_statistics_are_those_of_the_deviations_in_the_book(self):
        told = self.json("--tolerance", "0.15 mm")
        self.assertEqual(told["tolerance_um"], 150)
        self.assertEqual(len(told["holders"]), 24)
        for row in told["holders"]:
            errors = [e for (e,) in self.database.execute(
                "SELECT deviation_um FROM changeover_holder h JOIN changeover c ON c.id = h.changeover "
                f"WHERE h.rail = ? AND h.holder = ? AND deviation_um IS NOT NULL AND {self.MOVED} ORDER BY c.id", (row["rail"], row["holder"]))]
            self.assertEqual(row["placements"], len(errors))
            if len(errors) < 2:
                self.assertIsNone(row["sd_um"])
                continue
            self.assertAlmostEqual(row["mean_um"], statistics.fmean(errors), delta=1e-9)
            self.assertAlmostEqual(row["sd_um"], statistics.stdev(errors), delta=1e-9)
            if statistics.stdev(errors) > 0:
                self.assertAlmostEqual(row["cpk"], (150 - abs(statistics.fmean(errors))) / 3 / statistics.stdev(errors), delta=1e-9)

    def test_drift_is_the_slope_since_the_last_regrind_and_no_longer(self):
        for row in self.json()["holders"]:
            since = "2000" if (row["rail"], row["holder"]) != (1, 2) else self.json()["edits"][0]["at"]
            points = self.database.execute(
                "SELECT julianday(ended_at), deviation_um FROM changeover_holder h JOIN changeover c ON c.id = h.changeover "
                f"WHERE h.rail = ? AND h.holder = ? AND deviation_um IS NOT NULL AND {self.MOVED} AND ended_at > ? ORDER BY c.id",
                (row["rail"], row["holder"], since)).fetchall()
            self.assertEqual(row["since_regrind"], len(points))
            if len(points) < 3:
                self.assertIsNone(row["drift_um"])
                continue
            x, y = [p[0] - points[0][0] for p in points], [p[1] for p in points]
            self.assertAlmostEqual(row["drift_um"], statistics.linear_regression(x, y).slope * x[-1], delta=1e-6)

    def test_a_period_is_both_its_bounds(self):
        times = [row["ended_at"] for row in self.json("--table", "changeovers")["changeovers"]]
        inner = self.json("--table", "changeovers", "--from", times[2][:-1], "--to", times[5][:-1])["changeovers"]
        self.assertEqual([row["order_number"] for row in inner], [702, 703, 704, 705])
        self.assertEqual(self.json("--table", "changeovers", "--to", "2001")["changeovers"], [])
        self.assertEqual(len(self.json("--table", "changeovers", "--from", times[0][:4])["changeovers"]), 8)

    def test_csv_is_read_back_as_the_same_and_has_its_heading_without_rows_too(self):
        answer = history("--book", self.book, "--format", "csv", "--table", "changeovers")
        rows = list(csv.DictReader(io.StringIO(answer.stdout)))
        for told, row in zip(self.json()["changeovers"], rows):
            self.assertEqual({k: str(v) for k, v in told.items()}, row)
        none = subprocess.run([KNIFERAIL, "history", "--book", self.book, "--format", "csv", "--table", "alarms", "--to", "2001"],
                              capture_output=True, timeout=30, check=True).stdout
        self.assertEqual(none, b"at,event,code,rail,item,value,limit,sentence\r\n")  # RFC 4180

    def test_the_text_has_every_table_in_columns(self):
        answer = history("--config", self.gateway.config)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        for title in ("changeovers", "edits", "holders"):
            self.assertRegex(answer.stdout, rf"(?m)^{title}$")
        self.assertIn("tolerance 0.203 mm either way", answer.stdout)
        self.assertNotRegex(answer.stdout, r"(?m) $")
        self.assertNotRegex(answer.stdout, r"(?m)[a-z]-( |$)")  # no name of a column is hyphenated
        self.assertRegex(answer.stdout, r"(?m)^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ changeover +700 verified( +-?[\d.]+)+$")
        self.assertRegex(answer.stdout, r"(?m)^    (\w+ -?[\d.]+, )*worst_slit_mm -?\d\.\d{3}$")
        self.assertRegex(answer.stdout, r"(?m)^    rail 1: there is no holder 99; the holders are 1 to 12$")
        self.assertLessEqual(max(len(line) for line in answer.stdout.splitlines()), 100)

    def test_of_one_rail_or_holder_there_is_only_what_concerns_it(self):
        whole, upper, lower = self.json(), self.json("--rail", 1), self.json("--rail", 2)
        for a, b, c in zip(whole["changeovers"], upper["changeovers"], lower["changeovers"], strict=True):
            self.assertEqual(a["moves"], b["moves"] + c["moves"])
        self.assertEqual(whole["holders"], upper["holders"] + lower["holders"])
        self.assertEqual([row["kind"] for row in upper["edits"]], ["regrind", "out"])
        self.assertEqual(lower["edits"], [])
        one = self.json("--rail", 1, "--holder", 2)
        self.assertEqual(one["holders"], [row for row in whole["holders"] if (row["rail"], row["holder"]) == (1, 2)])
        self.assertEqual([row["kind"] for row in one["edits"]], ["regrind"])
        moved = self.database.execute("SELECT c.order_number, count(*) FROM changeover_move m JOIN changeover c ON c.id = m.changeover "
                                      "WHERE m.rail = 1 AND m.holder = 2 GROUP BY c.id ORDER BY c.id").fetchall()
        self.assertEqual([(row["order_number"], row["moves"]) for row in one["changeovers"]], moved)
        self.assertGreater(len(moved), 0)
        for before, after in zip(one["changeovers"], one["changeovers"][1:]):
            self.assertLessEqual(abs(before["to_um"] - after["from_um"]), 2 * TOLERANCE_UM)
        answer = history("--book", self.book, "--rail", 1, "--holder", 99)
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))
        self.assertIn("has no holder 99 on rail 1", answer.stderr)

    def test_lengths_are_in_the_stations_unit_or_in_the_one_that_is_asked_for(self):
        told = self.json("--table", "changeovers")["changeovers"]
        for unit, um, decimals in (("mm", 1000, 3), ("in", 25400, 4)):
            for row, plain in zip(self.json("--table", "changeovers", "--unit", unit)["changeovers"], told, strict=True):
                self.assertAlmostEqual(row[f"worst_slit_{unit}"], plain["worst_slit_um"] / um, delta=1e-12)
                self.assertNotIn("worst_slit_um", row)
            csv_text = history("--book", self.book, "--table", "changeovers", "--format", "csv", "--unit", unit).stdout
            for row, plain in zip(csv.DictReader(io.StringIO(csv_text)), told, strict=True):
                self.assertEqual(row[f"worst_slit_{unit}"], f"{plain['worst_slit_um'] / um:.{decimals}f}")
        self.assertIn("tolerance 0.0080 in either way", history("--config", self.gateway.config, "--unit", "in").stdout)
        with tempfile.TemporaryDirectory(prefix="kr_system_") as folder:
            copy = f"{folder}/copy.db"  # as an inch station leaves it
            with contextlib.closing(sqlite3.connect(copy)) as book:
                self.database.backup(book)
                book.execute("UPDATE station SET length_unit = 1")
                book.commit()
            self.assertRegex(history("--book", copy).stdout, r"(?m)^    (\w+ -?[\d.]+, )*worst_slit_in -?\d\.\d{4}$")

    def test_the_report_tells_on_what_these_changeovers_spent_their_time(self):
        answer = subprocess.run([KNIFERAIL, "report", "--config", self.gateway.config, "--format", "json"], capture_output=True, text=True,
                                timeout=30, check=True)
        told = json.loads(answer.stdout)
        whole = told["changeovers"][-1]
        self.assertEqual((whole["period"], whole["changeovers"], whole["verified"], whole["uncounted_min"]), ("all", 8, 8, 0))
        for spent in ("scanning", "dragging", "docking", "travelling"):
            self.assertGreater(whole[f"{spent}_min"], 0.05, spent)
        self.assertEqual(whole["held_min"], 0)
        total = sum(row["total_ms"] for row in self.json()["changeovers"]) / 60000
        self.assertAlmostEqual(whole["total_min"], total, delta=1e-9)
        spent = sum(whole[f"{s}_min"] for s in ("held", "correcting", "scanning", "dragging", "docking", "travelling", "waiting"))
        self.assertAlmostEqual(spent, total, delta=8 * 0.001)  # a few cycles of each
        capability = {(row["rail"], row["holder"]): (row["cp"], row["cpk"]) for row in self.json("--tolerance", "0.203 mm")["holders"]}
        for row in told["holders"]:
            self.assertEqual((row["cp"], row["cpk"]), capability[row["rail"], row["holder"]])
            self.assertEqual(row["caution"], "few")

    def test_check_tells_where_the_book_differs_from_the_file(self):
        answer = subprocess.run([KNIFERAIL, "check", self.gateway.config, "--book"], capture_output=True, text=True, timeout=30, check=True)
        self.assertEqual(re.findall(r"(?m)^    rail \d+, holder .*$", answer.stdout),
                         ["    rail 1, holder 2: edge_offset_mm is 9.3 mm in the book and 10 mm in the file"])
        with Gateway(book=True) as gateway:
            gateway.end()
            answer = subprocess.run([KNIFERAIL, "check", gateway.config, "--book"], capture_output=True, text=True, timeout=30, check=True)
            self.assertIn("    24 holders and the frames of the rails are the same in both\n", answer.stdout)
            gateway.book.write_bytes(b"no book")
            answer = subprocess.run([KNIFERAIL, "check", gateway.config, "--book"], capture_output=True, text=True, timeout=30, check=False)
            self.assertEqual(answer.returncode, 1)
            self.assertIn(f"book {gateway.book}: ", answer.stderr)
            gateway.book.unlink()
            answer = subprocess.run([KNIFERAIL, "check", gateway.config, "--book"], capture_output=True, text=True, timeout=30, check=True)
            self.assertIn("is not there yet", answer.stdout)

    def test_a_row_that_is_not_what_was_stored_is_told(self):
        with tempfile.TemporaryDirectory(prefix="kr_system_") as folder:
            copy = f"{folder}/copy.db"
            with contextlib.closing(sqlite3.connect(copy)) as book:
                self.database.backup(book)
                self.assertEqual(history("--book", copy).returncode, 0)
                book.execute("UPDATE changeover_holder SET deviation_um = deviation_um + 1 WHERE changeover = 3 AND rail = 1 AND cut = 2")
                book.commit()
            answer = history("--book", copy)
            self.assertEqual(answer.returncode, 1)
            self.assertEqual(answer.stderr, "kniferail history: table changeover_holder: 1 row does not agree with its seal, the "
                                            "first of changeover 3: the file was damaged or changed by hand\n")

    def test_what_is_no_book_is_named(self):
        answer = history("--book", "/nonexistent/book.db")
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))
        self.assertIn("/nonexistent/book.db", answer.stderr)
        answer = history("--book", self.gateway.config)
        self.assertEqual(answer.returncode, 1)
        self.assertEqual(history("--book", self.book, "--station", "elsewhere").returncode, 1)

    def test_wrong_usage_is_status_2(self):
        for arguments in ((), ("--book",), ("--book", "a", "--config", "b"), ("--book", "a", "--format", "csv"),
                          ("--book", "a", "--from", "yesterday"), ("--book", "a", "--to", "2026-3-1"),
                          ("--book", "a", "--from", "2026-03-02", "--to", "2026-03-01"), ("--book", "a", "--table", "x"),
                          ("--book", "a", "--tolerance", "-1"), ("--book", "a", "--unit", "um"), ("--book", "a", "--holder", "1"),
                          ("--book", "a", "--rail", "0"), ("--book", "a", "--rail", "1", "--holder", "x"), ("here",)):
            answer = history(*arguments)
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)
            self.assertTrue(answer.stderr.startswith("kniferail history: "), arguments)

    def test_a_capability_is_no_number_where_nothing_varies(self):
        for row in self.json()["holders"]:
            for name in ("cp", "cpk"):
                self.assertTrue(row[name] is None or math.isfinite(row[name]))


if __name__ == "__main__":
    main()
