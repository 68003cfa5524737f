"""What the real daemon keeps through restarts, kills and a disk that fails, judged over Modbus and by the sqlite3 tool."""
import datetime
import json
import os
import pathlib
import re
import signal
import socket
import subprocess
import time

from gateway_rig import KNIFERAIL, KNIFERAILD, MAP, ROOT, SLOW, TOLERANCE_UM, Gateway, GatewayTest, Plc, Refused, main, wait_for

WEB, NINE, FIVE = 1200000, [125000] * 9, [230000] * 5


def asked(gateway, query):
    """The book as any SQL tool reads it, also while the daemon uses it."""
    done = subprocess.run(["sqlite3", "-readonly", gateway.book, query], capture_output=True, text=True, timeout=20, check=True)
    return done.stdout.strip()


def run(command, *arguments):
    done = subprocess.run([KNIFERAIL, command, *map(str, arguments)], capture_output=True, text=True, timeout=30, check=False)
    return done.returncode, done.stdout, done.stderr


class Book(GatewayTest):
    def again(self, gateway, plc):
        gateway.start()
        plc.close()
        plc.connect()
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 5, "the link to the machine")

    def test_a_restart_keeps_orders_verdict_record_and_positions_as_remembered(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(901, WEB, NINE), 0)
            plc.start_and_complete()
            self.assertEqual(plc.order(902, WEB, FIVE), 0)
            verdict, session, positions = plc.run[31:50], plc.seen("SESSION"), plc.positions()
            record = plc.words(MAP.block["RECORD"]["first"], MAP.block["RECORD"]["words"])
            self.assertEqual(gateway.end(), 0)
            self.again(gateway, plc)
            self.assertEqual(plc.seen("SESSION"), session + 1)
            self.assertEqual(plc.run[31:50], verdict, "the verdict stands under its old session")
            self.assertEqual(plc.words(MAP.block["RECORD"]["first"], MAP.block["RECORD"]["words"]), record)
            self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (901, 902))
            self.assertEqual([holders for _, holders in plc.positions()], [holders for _, holders in positions])
            for rail in plc.rails():
                self.assertEqual(set(plc.read_all("HOLDER_KNOWN", 12, rail)), {1}, "remembered: hands may have moved them")
            self.assertEqual(plc.seen("LINE_STATUS") & 3, 0)
            self.assertEqual(plc.bit("STATUS", "STATUS", "SCAN_DUE"), 1)
            plc.start_and_complete()
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual(plc.read("ORDER_IN_FORCE"), 902)

    def test_a_size_that_a_holder_of_the_book_has_is_not_to_be_taken_out_of_the_file(self):
        third = r',\n *\{ name = "3 in"; spacing_mm = 76.2; \}'
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(run("set", "--port", gateway.port, "size", 2, 5, 3)[0], 0)
            self.assertEqual(plc.read("HOLDER_SIZE", 1, 4), 3)
            gateway.end()
            with_three = gateway.text
            gateway.change((third, ""))
            with self.assertRaises(AssertionError):
                gateway.start()
            self.assertIn("small-shear: rail 2, holder 5 (and 0 more) has size 3 in the book, and the station file lists sizes 1 to 2: "
                          "list the size again", gateway.log())
            status, out, err = run("check", "--book", gateway.config)
            self.assertEqual(status, 1)
            self.assertIn('rail 2, holder 5: size is "3, not listed" in the book and "2 in" in the file', out)
            self.assertIn("a holder has a size that the file doesn't list: the gateway does not start", err)
            gateway.text = with_three
            gateway.change()
            self.again(gateway, plc)
            self.assertIn('rail 2, holder 5: size is "3 in" in the book and "2 in" in the file; the book counts', gateway.log())
            self.assertEqual(plc.read("HOLDER_SIZE", 1, 4), 3)
            self.assertEqual(run("set", "--port", gateway.port, "size", 2, 5, 2)[0], 0)
            gateway.end()
            gateway.change((third, ""))
            self.again(gateway, plc)
            self.assertEqual(run("check", "--book", gateway.config)[0], 0)
            edits = json.loads(run("history", "--book", gateway.book, "--format", "json")[1])["edits"]
            self.assertEqual([(row["kind"], row["size"]) for row in edits], [("size", 3), ("size", 2)])

    def test_a_size_keeps_its_place_in_the_list_since_the_book_keeps_its_number(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            gateway.end()
            as_it_was = gateway.text
            gateway.change((r"sizes = \(\n", 'sizes = (\n      { name = "half"; spacing_mm = 12.7; },\n'))
            with self.assertRaises(AssertionError):
                gateway.start()
            self.assertIn("small-shear: size 1 in is number 1 in the book, and stands at place 2 of the station file's list: put it back to place 1, and new sizes at the end", gateway.log())
            status, out, err = run("check", "--book", gateway.config)
            self.assertEqual(status, 1)
            self.assertIn("    size 2 in is number 2 in the book and 3 in the file\n", out)
            self.assertIn("a size has another number in the file: the gateway does not start", err)
            gateway.text = as_it_was
            gateway.change((r'name = "3 in"; spacing_mm = 76.2; \}', 'name = "wide"; spacing_mm = 76.2; }, { name = "4 in"; '
                                                                    'spacing_mm = 101.6; }'))
            self.again(gateway, plc)
            self.assertIn("small-shear: size 3 was called 3 in in the book, and is called wide from now on", gateway.log())
            self.assertEqual(plc.read("SIZE_COUNT"), 4)
            self.assertEqual(asked(gateway, "SELECT group_concat(number || name) FROM size"), "11 in,22 in,3wide,44 in")

    def last_run(self, plc):
        return plc.read("LAST_RUN_END"), plc.read("LAST_RUN_SESSION")

    def test_a_restart_tells_in_log_and_registers_how_the_last_run_ended(self):
        ends = MAP.json["numbers"]["LAST_RUN_END"]
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(self.last_run(plc), (ends["UNKNOWN"]["number"], 0))
            self.assertEqual(plc.read("LAST_RUN_SIGN"), 0)

            def again(name, before_start=lambda: None):
                session, about = plc.seen("SESSION"), time.time()
                before_start()
                self.again(gateway, plc)
                self.assertEqual(self.last_run(plc), (ends[name]["number"], session))
                self.assertAlmostEqual(plc.read("LAST_RUN_SIGN"), about, delta=20 * SLOW)
                self.assertLess(plc.read("LAST_RUN_PAUSE"), 20 * SLOW)
                gateway.wait_for_log(f"the last run, session {session}: {ends[name]['meaning']}; its last entry in the book is of")

            def other_boot():
                subprocess.run(["sqlite3", gateway.book, "UPDATE session SET boot = 'another start of the computer'"],
                               timeout=20, check=True)

            self.assertEqual(gateway.end(), 0)
            self.assertIn(ends["ASKED"]["meaning"], run("book", "check", "--book", gateway.book)[1])
            again("ASKED")
            self.assertEqual(gateway.end(signal.SIGKILL), -signal.SIGKILL)
            self.assertIn("that run noted nothing, because it was killed or the power was lost", run("book", "check", "--book", gateway.book)[1])
            again("KILLED")
            self.assertEqual(gateway.end(signal.SIGKILL), -signal.SIGKILL)
            again("POWER", other_boot)
            self.assertEqual(gateway.end(), 0)
            again("ASKED", other_boot)

    def test_a_gateway_that_is_told_twice_to_end_says_that_it_did_before_it_was_at_rest(self):
        with Gateway(book=True, speed=1) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(931, WEB, NINE), 0)
            plc.start()
            plc.wait_dragging()
            gateway.process.send_signal(signal.SIGTERM)
            gateway.wait_for_log("motion is stopped in a controlled way")
            self.assertEqual(gateway.end(), 1)
            self.again(gateway, plc)
            self.assertEqual(plc.read("LAST_RUN_END"), MAP.json["numbers"]["LAST_RUN_END"]["HURRIED"]["number"])

    def test_without_a_book_nothing_survives_and_the_log_says_so(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(903, WEB, FIVE), 0)
            session = plc.seen("SESSION")
            gateway.end()
            self.again(gateway, plc)
            self.assertEqual(plc.read("ORDER_STAGED"), 0)
            self.assertEqual(plc.seen("VERDICT_NUMBER"), 0)
            self.assertNotEqual(plc.seen("SESSION"), session)
            self.assertIn("nothing survives a restart", gateway.log())

    def test_after_a_kill_in_motion_the_docked_holder_is_unknown_and_the_order_is_one_story(self):
        with Gateway(book=True, speed=5) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(904, WEB, NINE), 0)
            plc.start()
            plc.wait_dragging()
            docked = [plc.read("DOCKED_HOLDER", rail) for rail in plc.rails()]
            self.assertEqual(gateway.end(signal.SIGKILL), -signal.SIGKILL)
            self.again(gateway, plc)
            self.assertEqual(plc.state(), "STOPPED")
            self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (904, 0))
            for rail in plc.rails():
                known = plc.read_all("HOLDER_KNOWN", 12, rail)
                self.assertNotIn(3, known, "nothing is measured before a scan")
                if docked[rail]:
                    self.assertEqual(known[docked[rail] - 1], 0)
            self.stands(plc)
            plc.start_and_complete(seconds=90)
            self.verified(plc, TOLERANCE_UM)

    def test_a_verdict_that_was_seen_is_in_the_book_when_the_daemon_is_killed_the_moment_after(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            for number in range(905, 915):
                self.assertEqual(plc.order(number, WEB, FIVE if number % 2 else NINE), 0)
                gateway.end(signal.SIGKILL)
                self.again(gateway, plc)
                self.assertEqual(plc.seen("VERDICT_ORDER"), number)
                self.assertEqual(plc.read("ORDER_STAGED"), number)

    def limit_files(self, gateway, size):
        """Writes beyond that size fail with EFBIG from now on, as they do with ENOSPC on a full disk."""
        subprocess.run(["prlimit", f"--pid={gateway.process.pid}", f"--fsize={size}:unlimited"], check=True, timeout=20)

    def alarm(self, plc, name):
        return MAP.alarm[name] in plc.read_all("ALARM_CODES", 16)

    def test_a_full_disk_is_an_alarm_before_anything_is_asked_of_it(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            plc.scan()
            self.assertEqual(plc.seen("ALARM_COUNT"), 0)
            self.limit_files(gateway, 1)
            plc.wait(lambda: self.alarm(plc, "BOOK_DISK_FULL"), 5, "the alarm")
            gateway.wait_for_log("nothing can be written")
            self.limit_files(gateway, "unlimited")
            plc.wait(lambda: plc.seen("ALARM_COUNT") == 0, 5, "no alarm")

    def test_a_book_that_is_moved_is_an_alarm_and_takes_no_order_until_it_is_back(self):
        with Gateway(book=True) as gateway:
            plc, elsewhere = Plc(gateway), gateway.book.with_name("elsewhere.db")
            self.assertEqual(plc.order(927, WEB, NINE), 0)
            gateway.book.rename(elsewhere)
            plc.wait(lambda: self.alarm(plc, "BOOK_GONE"), 5, "the alarm")
            gateway.wait_for_log("was deleted or moved while it was in use")
            plc.wait(lambda: self.alarm(plc, "BOOK_FAILED"), 5, "the alarm")  # it could not store the first one
            self.assertEqual(plc.order(928, WEB, FIVE), MAP.result["NOT_STORED"])
            elsewhere.rename(gateway.book)
            plc.wait(lambda: plc.seen("ALARM_COUNT") == 0, 15, "no alarm")
            self.assertEqual(plc.order(929, WEB, FIVE), 0)
            self.assertEqual(asked(gateway, "SELECT order_number FROM orders WHERE place = 0"), "929")

    def refused(self, gateway, book):
        """What a second gateway says that comes to the same book by another name."""
        other = gateway.config.with_name("other.cfg")
        other.write_text(gateway.text.replace(str(gateway.book), str(book)), encoding="utf-8")
        done = subprocess.run([KNIFERAILD, "--config", other, "--port", "0"], capture_output=True, text=True, timeout=20, check=False)
        self.assertNotEqual(done.returncode, 0)
        return done.stdout + done.stderr

    def test_a_second_gateway_is_refused_by_whatever_name_it_comes_to_the_book(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            by_link, by_hard_link = gateway.book.with_name("link.db"), gateway.book.with_name("hard.db")
            by_link.symlink_to(gateway.book)
            gateway.book.with_name("book.db.lock").unlink()
            for name in (gateway.book, by_link):
                self.assertIn("another gateway uses this book", self.refused(gateway, name))
            by_hard_link.hardlink_to(gateway.book)
            self.assertIn("2 names", self.refused(gateway, by_hard_link))
            plc.wait(lambda: self.alarm(plc, "BOOK_GONE"), 5, "the alarm")
            by_hard_link.unlink()
            plc.wait(lambda: plc.seen("ALARM_COUNT") == 0, 5, "no alarm")
            self.assertEqual(plc.order(930, WEB, FIVE), 0)
            history = subprocess.run([KNIFERAIL, "history", "--book", gateway.book], capture_output=True, text=True, timeout=20, check=True)
            self.assertIn("changeovers", history.stdout)

    def test_an_older_book_is_copied_and_brought_up_and_the_log_says_so(self):
        gateway = Gateway(book=True)
        sql = (ROOT / "tests" / "survive" / "book-version-2.sql").read_text(encoding="utf-8")
        subprocess.run(["sqlite3", gateway.book], input=sql, text=True, timeout=20, check=True)
        with gateway:
            copy = f"{gateway.book}.version-2"
            gateway.wait_for_log(f"it was brought from schema version 2 to 3; a copy of the old version is in {copy}")
            self.assertEqual(os.stat(copy).st_mode & 0o137, 0)
            done = subprocess.run(["sqlite3", "-readonly", copy, "PRAGMA user_version"], capture_output=True, text=True, timeout=20, check=True)
            self.assertEqual(done.stdout.strip(), "2")
            self.assertEqual(asked(gateway, "PRAGMA user_version"), "3")

    def ask_of_a_full_disk(self, plc, number):
        """The refusal may be said only once the withdrawal is stored: a kill could still bring the order to light. If the disk
        was seen to be full before the request came, nothing of it was written, and it is refused at once."""
        plc.look()
        verdict = plc.seen("VERDICT_NUMBER")
        plc.fill_order(number, WEB, FIVE)
        plc.hand_over()
        plc.wait(lambda: self.alarm(plc, "BOOK_FAILED"), 5, "the alarm")
        self.assertIn((plc.seen("REQUEST_BUSY"), plc.seen("VERDICT_NUMBER"), plc.seen("VERDICT_CODE")),
                      ((1, verdict, 0), (0, plc.request, MAP.result["NOT_STORED"])))

    def test_a_disk_that_fills_refuses_orders_then_stores_again_by_itself(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(921, WEB, NINE), 0)
            self.limit_files(gateway, 1)
            self.ask_of_a_full_disk(plc, 922)
            self.assertEqual(plc.read("ORDER_STAGED"), 921)
            gateway.wait_for_log("the book could not store")
            self.limit_files(gateway, "unlimited")
            plc.wait(lambda: plc.bit("STATUS", "STATUS", "BOOK"), 15, "the book stores again")
            gateway.wait_for_log("the book stores again")
            self.assertEqual(plc.verdict(), MAP.result["NOT_STORED"])
            plc.wait(lambda: plc.seen("ALARM_COUNT") == 0, 5, "no alarm")
            self.assertEqual(plc.order(923, WEB, FIVE), 0)
            gateway.end(signal.SIGKILL)
            self.again(gateway, plc)
            self.assertEqual(plc.read("ORDER_STAGED"), 923)

    def test_a_disk_that_fills_in_motion_holds_the_job_and_unhold_completes_it(self):
        with Gateway(book=True, speed=5) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(924, WEB, NINE), 0)
            plc.start()
            plc.wait_dragging()
            self.limit_files(gateway, 1)
            plc.wait_state("HELD", seconds=30)
            self.assertTrue(self.alarm(plc, "BOOK_FAILED"))
            self.stands(plc)
            self.limit_files(gateway, "unlimited")
            plc.wait(lambda: plc.bit("STATUS", "STATUS", "BOOK"), 15, "the book stores again")
            self.stands(plc)
            self.assertEqual(plc.give("UNHOLD"), 0)
            plc.wait_state("COMPLETE", "HELD", "ABORTED", seconds=90)
            self.assertEqual(plc.state(), "COMPLETE")
            self.verified(plc, TOLERANCE_UM)

    def test_sigterm_with_a_book_that_fails_ends_within_seconds_and_says_so(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(925, WEB, NINE), 0)
            self.limit_files(gateway, 1)
            self.ask_of_a_full_disk(plc, 926)
            began = time.monotonic()
            self.assertEqual(gateway.end(), 1)
            self.assertLess(time.monotonic() - began, 15 * SLOW)  # it is given 10 s
            self.assertIn("the book does not store", gateway.log())

    def test_somebody_who_locks_the_file_for_a_moment_costs_no_order(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            locker = subprocess.Popen(["sqlite3", gateway.book], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            locker.stdin.write(".timeout 10000\nBEGIN IMMEDIATE;\nSELECT 'locked';\n")
            locker.stdin.flush()
            self.assertEqual(locker.stdout.readline(), "locked\n")
            plc.look()
            plc.fill_order(931, WEB, FIVE)
            plc.hand_over()
            plc.scan()
            locker.stdin.write("COMMIT;\n.quit\n")
            locker.stdin.close()
            self.assertEqual(locker.wait(timeout=20), 0)
            locker.stdout.close()
            self.assertEqual(plc.verdict(), 0)

    def test_any_sql_tool_reads_the_history_while_the_daemon_runs(self):
        with Gateway(book=True, speed=10) as gateway:
            plc = Plc(gateway)
            plc.confirm_edges()
            self.assertEqual(plc.order(932, WEB, NINE), 0)
            plc.start()
            plc.wait_dragging()
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "ENABLE")
            plc.wait_state("SUSPENDED")
            plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
            plc.scan()
            self.assertEqual(plc.give("UNSUSPEND"), 0)
            plc.wait_state("COMPLETE", seconds=90)
            record = gateway.wait_for_record(1)
            plc.wait(lambda: asked(gateway, "SELECT count(*) FROM changeover") == "1", 5, "the changeover in the book")
            self.assertEqual(asked(gateway, "SELECT order_number, outcome.meaning, total_ms FROM changeover "
                                            "JOIN outcome ON outcome.number = outcome"),
                             f"932|verified|{record['total_ms']}")
            self.assertEqual(asked(gateway, "SELECT count(*) FROM changeover_move"), str(len(record["moves"])))
            self.assertEqual(asked(gateway, "SELECT max(abs(deviation_um)) FROM changeover_holder"),
                             str(max(abs(rail["worst_um"]) for rail in record["rails"])))
            self.assertEqual(asked(gateway, "SELECT sentence FROM alarm WHERE raised = 1 ORDER BY id LIMIT 1"),
                             "permissives were lost during motion: mask 0008 hex")
            self.assertEqual(asked(gateway, "SELECT count(*) FROM alarm WHERE raised = 0"),
                             asked(gateway, "SELECT count(*) FROM alarm WHERE raised = 1"))
            self.assertEqual(asked(gateway, "SELECT count(*) FROM holder JOIN known ON known = number "
                                            "WHERE meaning = 'measured'"), "24")
            self.assertEqual(asked(gateway, "PRAGMA integrity_check"), "ok")

    def text_of_sheet(self, gateway, *options):
        """The words of a sheet, as poppler finds them in the PDF."""
        path = gateway.book.parent / "sheet.pdf"
        status, out, error = run("sheet", "--pdf", path, *options)
        self.assertEqual((status, out, error), (0, "", ""))
        return subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, timeout=30,
                              check=True).stdout

    def test_a_changeover_of_the_book_is_drawn_as_the_registers_said_when_it_ended(self):
        """Also after another one, with the gateway ended, in inches, and with an edge that is not trimmed."""
        for config, places, unit, web, widths in (("small-shear.cfg", 3, 1000, 900000, [440000, 430000]),
                                                  ("razor.cfg", 4, 10000, 230000, [110000, 110000])):
            with self.subTest(config), Gateway(config, book=True) as gateway:
                plc = Plc(gateway)
                self.assertEqual(plc.order(4711, web, widths, EDGE_FLAGS=1), 0)
                plc.start_and_complete()
                cuts = plc.read_all("CUT_LINE", plc.read("CUT_COUNT"))
                numbers = cuts + plc.read_all("SLIT_MEASURED", 2)
                for r in plc.rails():
                    n = plc.read("RAIL_HOLDERS", r)
                    for cut, at, target, off in zip(*(plc.read_all(f"HOLDER_{name}", n, r)
                                                      for name in ("CUT", "POSITION", "TARGET", "DEVIATION"))):
                        numbers += [at, target, off] if cut else [at]
                self.assertEqual(plc.order(4712, web, [widths[0] // 2] * 4), 0)
                plc.start_and_complete()
                history = json.loads(run("history", "--book", gateway.book, "--format", "json")[1])
                ended_at = history["changeovers"][0]["ended_at"]
                gateway.end()
                sheet = self.text_of_sheet(gateway, "--book", gateway.book, "--changeover", ended_at[:-1])
                for number in numbers:
                    self.assertIn(f"{number / unit:.{places}f}", sheet)
                for word in ("order 4711", "verified", "started from 127.0.0.1", "no operator-side trim",
                             ended_at[:10]):
                    self.assertIn(word, sheet)
                newest = self.text_of_sheet(gateway, "--config", gateway.config, "--changeover", "last")
                self.assertIn("order 4712", newest)
                for wrong in (("--changeover", "1999"), ("--changeover", "yesterday"),
                              ("--changeover", "last", "--widths", "5"), ("--changeover", "last", "--port", "5")):
                    status, _, error = run("sheet", "--pdf", "/dev/null", "--book", gateway.book, *wrong)
                    self.assertEqual(status, 1 if wrong[1] == "1999" else 2, (wrong, error))

    def test_the_book_wins_over_the_file_and_the_log_names_each_difference(self):
        with Gateway(book=True) as gateway:
            Plc(gateway).scan()
            gateway.end()
            gateway.change((r"edge_offset_mm = 10;", "edge_offset_mm = 11;"))
            gateway.start()
            gateway.wait_for_log("rail 1, holder 12: edge_offset_mm is 10 mm in the book and 11 mm in the file; the book counts")
            self.assertEqual(gateway.log().count("; the book counts"), 12)

    def test_no_file_of_the_book_is_open_to_others(self):
        with Gateway(book=True) as gateway:
            self.assertEqual(Plc(gateway).order(933, WEB, FIVE), 0)
            for suffix in ("", "-wal", "-shm", ".lock"):
                self.assertEqual(os.stat(f"{gateway.book}{suffix}").st_mode & 0o137, 0, suffix)


class HistoryLimits(GatewayTest):
    """A book with a year's history (tests/bench/year_book.c: 1,250 changeovers of 2025) under limits of the station file."""

    def add_year(self, gateway):
        self.assertEqual(Plc(gateway).order(939, WEB, FIVE), 0)  # the holders are stored with it
        gateway.end()
        name = re.search(r'(?m)^ *name = "([^"]+)";', gateway.text).group(1)
        maker = pathlib.Path(KNIFERAILD).resolve().with_name("tests") / "year_book"
        subprocess.run([maker, gateway.book, name], check=True, timeout=120 * SLOW)
        self.assertEqual(self.changeovers(gateway), 1250)

    def changeovers(self, gateway):
        return int(asked(gateway, "SELECT count(*) FROM changeover"))

    def limit(self, gateway, days=0, mb=0):
        gateway.text = re.sub(r"(?m)^history_.*\n", "", gateway.text)
        gateway.change((r"(?m)^book = .*$", rf"\g<0>\nhistory_days = {days};\nhistory_mb = {mb};"))

    def sound(self, gateway):
        status, out, err = run("book", "check", "--book", gateway.book)
        self.assertEqual((status, err), (0, ""), out)
        return out

    def test_limits_hold_through_a_kill_in_the_middle_and_neither_orders_nor_the_end_wait(self):
        days = (datetime.date.today() - datetime.date(2025, 7, 1)).days
        with Gateway(book=True) as gateway:
            self.add_year(gateway)
            gateway.start()
            plc = Plc(gateway)
            self.assertIn("kept for ever", run("check", gateway.config)[1])
            self.limit(gateway, days=days)
            self.assertIn(f"kept for {days} days", run("check", gateway.config)[1])
            gateway.process.send_signal(signal.SIGHUP)  # taken while it runs
            gateway.wait_for_log(f"reload: taken: history_days: {days}, was 0")
            wait_for(lambda: self.changeovers(gateway) < 1240, 15, "the first are gone")
            slowest = 0
            for number in range(940, 946):  # while it goes on
                began = time.monotonic()
                self.assertEqual(plc.order(number, WEB, FIVE), 0)
                slowest = max(slowest, time.monotonic() - began)
            self.assertLess(slowest, 1 * SLOW)
            gateway.end(signal.SIGKILL)
            left = self.changeovers(gateway)
            self.assertGreater(left, 345, "it was in the middle")
            self.sound(gateway)
            gateway.start()
            plc.close()
            plc.connect()
            wait_for(lambda: self.changeovers(gateway) < left, 15, "it goes on")
            began = time.monotonic()
            self.assertEqual(gateway.end(), 0)
            self.assertLess(time.monotonic() - began, 5 * SLOW)
            self.assertGreater(self.changeovers(gateway), 345, "the end did not wait")
            gateway.start()
            gateway.wait_for_log("history: rows older than", 120)
            self.assertEqual(asked(gateway, "SELECT min(ended_at) >= '2025-07-01' FROM changeover"), "1")
            self.assertEqual(asked(gateway, "SELECT count(*) FROM alarm WHERE at < '2025-06-30'"), "0")
            gateway.end()
            self.sound(gateway)

    def test_a_limit_by_size_takes_the_oldest_and_says_what_went(self):
        with Gateway(book=True) as gateway:
            self.add_year(gateway)
            self.limit(gateway, mb=18)
            self.assertIn("until the book holds 18 MB", run("check", gateway.config)[1])
            gateway.start()
            gateway.wait_for_log("history: rows older than", 120)
            line = next(line for line in gateway.log().splitlines() if "history: rows older than" in line)
            left = self.changeovers(gateway)
            self.assertRegex(line, rf"by the limits of the station file: .*changeover {1250 - left}\b")
            self.assertGreater(left, 700)
            self.assertEqual(asked(gateway, "SELECT min(id) FROM changeover"), str(1250 - left + 1))
            gateway.end()
            self.sound(gateway)
            pages = asked(gateway, "SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size")
            self.assertLessEqual(int(pages), 18_000_000)


class Audit(GatewayTest):
    """Who did what at the gateway, as `kniferail history` and any SQL tool read it."""

    RULES = ('rules = ( { address = "127.0.0.2"; may = "control"; }, { address = "127.0.0.5"; may = "maintain"; }, '
             '{ address = "127.0.0.9"; may = "nothing"; } ); '
             'groups = ( { name = "line PLC"; addresses = [ "127.0.0.2", "127.0.0.3" ]; } ); listen = (')

    def gateway(self):
        return Gateway(book=True, changes=[(r"listen = \(", self.RULES)])

    def audit(self, gateway):
        status, out, err = run("history", "--book", gateway.book, "--table", "audit", "--format", "json")
        self.assertEqual((status, err), (0, ""))
        return json.loads(out)["audit"]

    def find(self, gateway, seconds=2, **wanted):
        """The rows that have these words in their columns; waits for the first."""
        rows = []

        def found():
            rows[:] = [row for row in self.audit(gateway) if all(str(value) in str(row[column]) for column, value in wanted.items())]
            return rows
        wait_for(found, seconds, f"a row of the audit with {wanted}")
        return rows

    def test_every_kind_of_act_says_who_from_where_and_with_which_result(self):
        with self.gateway() as gateway:
            plc, hmi = Plc(gateway, source="127.0.0.2"), Plc(gateway, source="127.0.0.5")
            self.assertEqual(plc.order(951, WEB, NINE), 0)
            self.assertNotEqual(plc.order(952, WEB, [1000]), 0)
            plc.start()
            hmi.write("HALT", MAP.number("HALT", "STOP"))
            plc.wait_state("STOPPED")
            self.assertNotEqual(plc.give("HOLD"), 0)
            with self.assertRaises(Refused):
                hmi.write_command("STOP", None, 1)
            number = hmi.hand_over_edit("OFFSET", 1, 3, 9900)
            wait_for(lambda: hmi.read("EDITED_NUMBER") == number, 5, "a maintenance verdict")
            with socket.create_connection(("127.0.0.1", gateway.port), source_address=("127.0.0.9", 0)) as client:
                client.settimeout(5)
                self.assertEqual(client.recv(1), b"")
            gateway.process.send_signal(signal.SIGHUP)
            plc.write("ACCESS_REQUEST", MAP.number("ACCESS_REQUEST", "RELEASE"))
            who = {"origin": "127.0.0.2", "group": "line PLC"}
            self.find(gateway, kind="gateway", what="starts: kniferaild", origin="gateway")
            self.assertGreater(self.find(gateway, kind="connected", **who)[0]["port"], 0)
            self.find(gateway, kind="control", what="takes control", **who)
            self.find(gateway, kind="order", what="stage 951", result="accepted", **who)
            self.find(gateway, kind="order", what="stage 952", result="refused, code", **who)
            self.find(gateway, kind="command", what="start changeover", result="accepted", **who)
            self.find(gateway, kind="command", what="hold", result="refused, code", **who)
            self.find(gateway, kind="halt", what="stop", result="accepted", origin="127.0.0.5", group="")
            self.find(gateway, kind="refused", what="writes block COMMAND", result="exception 01", origin="127.0.0.5")
            self.find(gateway, kind="edit", what="offset, rail 1, holder 3", result="accepted", origin="127.0.0.5")
            self.find(gateway, kind="not connected", result="its address has no right", origin="127.0.0.9")
            self.find(gateway, kind="gateway", what="reads the station file again", result="taken: 0 settings; not taken: 0")
            self.find(gateway, kind="control", what="releases control", **who)
            plc.close()
            self.assertEqual(gateway.end(), 0)
            self.find(gateway, kind="gateway", what="is asked to end: SIGTERM")
            self.find(gateway, kind="gateway", what="ends", result="at rest, and stored")
            times = [row["at"] for row in self.audit(gateway)]
            self.assertEqual(times, sorted(times))
            self.assertIn("is asked to end: SIGTERM", run("history", "--book", gateway.book, "--table", "audit")[1])
            text = run("history", "--book", gateway.book, "--table", "audit", "--format", "csv")[1]
            self.assertEqual(text.splitlines()[0].rstrip(), "at,kind,origin,port,group,what,result,times,until_at")

    def test_control_that_is_lost_names_who_had_it_and_why(self):
        with self.gateway() as gateway:
            plc = Plc(gateway, source="127.0.0.2")
            self.assertEqual(plc.order(953, WEB, NINE), 0)
            self.find(gateway, 15, kind="control", what="control of line PLC: the heartbeat is stale", result="lost")

    def test_a_kill_takes_at_most_the_last_second(self):
        with self.gateway() as gateway:
            plc = Plc(gateway, source="127.0.0.2")
            numbers = []
            for number in range(960, 1110):
                plc.order(number, WEB, FIVE)
                numbers.append((time.time(), number))
                plc.scan()
            killed = time.time()
            gateway.end(signal.SIGKILL)
            self.assertEqual(run("book", "check", "--book", gateway.book)[2], "")
            stored = {int(row["what"].split()[1]) for row in self.audit(gateway) if row["kind"] == "order"}
            missing = [at for at, number in numbers if number not in stored]
            self.assertGreater(len(stored), 1)
            self.assertTrue(all(killed - at <= 1 * SLOW for at in missing), missing)

    def test_a_flood_of_refusals_is_counted_and_fills_no_disk(self):
        with self.gateway() as gateway:
            Plc(gateway, source="127.0.0.2").order(954, WEB, FIVE)
            write = bytes([0, 1, 0, 0, 0, 6, 1, 6, 0, 32, 0, 1])  # block COMMAND, by one who only reads
            sent, until = 0, time.monotonic() + 3
            with socket.create_connection(("127.0.0.1", gateway.port), timeout=5, source_address=("127.0.0.7", 0)) as client:
                while time.monotonic() < until:
                    client.sendall(write * 8)
                    answers = b""
                    while len(answers) < 8 * 9:
                        answers += client.recv(8 * 9 - len(answers))
                    self.assertEqual(answers[7:9], bytes([0x86, 1]))
                    sent += 8
            self.assertGreater(sent, 3000)

            def refused():
                return [row for row in self.audit(gateway) if row["kind"] == "refused" and row["origin"] == "127.0.0.7"]
            wait_for(lambda: sum(row["times"] for row in refused()) == sent, 5, f"{sent} refusals in the audit")
            self.assertLessEqual(len(refused()), 22)
            gateway.end()
            self.assertEqual(run("book", "check", "--book", gateway.book)[2], "")

    def test_a_row_that_was_changed_is_told(self):
        with self.gateway() as gateway:
            gateway.end()
            subprocess.run(["sqlite3", gateway.book, "UPDATE audit SET origin = '192.0.2.1' WHERE id = 1"], check=True, timeout=20)
            status, _, err = run("history", "--book", gateway.book)
            self.assertEqual(status, 1)
            self.assertIn("table audit: 1 row does not agree with its seal", err)
            self.assertIn("table audit: rows that do not agree with their seals: 1", run("book", "check", "--book", gateway.book)[2])


if __name__ == "__main__":
    main()
