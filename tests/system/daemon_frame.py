"""Where a rail lies in the machine's frame, at the real daemon: set by `kniferail set` and `kniferail calibrate --apply`, kept by
the book whatever happens to the gateway, and taken back."""
import contextlib
import signal
import sqlite3
import subprocess
import tempfile
import time

from gateway_rig import KNIFERAIL, MAP, Gateway, GatewayTest, Plc, main, wait_for

FILES_FRAME = (r'role = "upper";', 'role = "upper"; frame: { offset_mm = 0.2; scale_ppm = 100; };')


def run(*arguments):
    return subprocess.run([KNIFERAIL, *map(str, arguments)], capture_output=True, text=True, timeout=30, check=False)


def frame(plc, rail=0):
    """Origin, offset in micrometres, scale in parts of 1,000,000,000, and the points of the table."""
    points = plc.read("FRAME_POINTS", rail)
    table = plc.read_all("FRAME_TABLE", 2 * points, rail) if points else []
    return (plc.read("FRAME_ORIGIN", rail), plc.read("FRAME_OFFSET", rail), plc.read("FRAME_SCALE", rail),
            list(zip(table[::2], table[1::2])))


class Frames(GatewayTest):
    def set(self, gateway, *arguments):
        answer = run("set", "--port", gateway.port, *arguments)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""), arguments)
        return answer.stdout

    def start_of_rail(self, plc, job, rail, holder):
        plc.scan()
        plc.command = plc.command % 65535 + 1
        plc.write("COMMAND_HOLDER", holder)
        plc.write_words(MAP.address("COMMAND_SESSION"), [plc.seen("SESSION"), MAP.number("COMMAND", "START"), MAP.number("COMMAND_JOB", job), rail])
        plc.write("COMMAND_NUMBER", plc.command)
        plc.wait(lambda: plc.seen("COMMAND_ECHO") == plc.command, 5, "the echo of Start")
        self.assertEqual(plc.seen("COMMAND_RESULT"), 0)

    def wait_for_audit(self, gateway, what):
        wait_for(lambda: what in run("history", "--book", gateway.book, "--table", "audit").stdout, 10, f"'{what}' in the audit")

    def test_it_is_set_shown_kept_and_taken_back(self):
        with Gateway(book=True, changes=[FILES_FRAME]) as gateway:
            plc = Plc(gateway)
            seeded, asked = (1, 200, 100000, []), (2, 350, 80000, [(0, 10), (800000, -25)])
            self.assertEqual(frame(plc), seeded)
            self.assertEqual(frame(plc, 1), (1, 0, 0, []))
            told = self.set(gateway, "frame", 1, "0.35", 80, "0:0.01,800:-0.025")
            self.assertIn("accepted: the rail's places are remembered; a scan comes before the next move\n", told)
            self.assertRegex(told, r"rail 1 +was +becomes\noffset +0\.200 mm +0\.350 mm\nscale +100\.000 ppm +80\.000 ppm\npoints +0 +2\n")
            self.assertRegex(told, r"the table becomes\n +0\.000 mm +0\.010 mm\n +800\.000 mm +-0\.025 mm\n")
            self.assertEqual(frame(plc), asked)
            self.assertEqual(frame(plc, 1), (1, 0, 0, []))
            plc.scan()
            self.assertTrue(plc.bit("STATUS", "STATUS", "SCAN_DUE"))
            self.assertIn("rail 1: offset 0.350 mm, scale 80.000 ppm, 2 points of error; set by: maintenance", run("status", "--port", gateway.port, "--full").stdout)
            self.wait_for_audit(gateway, "frame, rail 1")  # else the kill may take it
            gateway.end(signal.SIGKILL)
            told = run("check", gateway.config, "--book").stdout
            for line in ("rail 1: frame.offset_mm is 0.35 mm in the book and 0.2 mm in the file",
                         "rail 1: frame.scale_ppm is 80 ppm in the book and 100 ppm in the file",
                         "rail 1: frame.table is one of 2 points in the book and another of 0 points in the file"):
                self.assertIn(line, told)
            gateway.start()
            gateway.wait_for_log("rail 1: frame.offset_mm is 0.35 mm in the book and 0.2 mm in the file; the book counts")
            plc = Plc(gateway)
            self.assertEqual(frame(plc), asked)
            told = self.set(gateway, "frame-back", 1)
            self.assertRegex(told, r"offset +0\.350 mm +0\.200 mm\n")
            self.assertRegex(told, r"the table was\n +0\.000 mm +0\.010 mm\n")
            self.assertEqual(frame(plc), (2, *seeded[1:]))
            told = run("history", "--book", gateway.book, "--table", "edits").stdout
            self.assertRegex(told, r"127\.0\.0\.1 frame +1 .*accepted\n.*127\.0\.0\.1 frame_back +1 .*accepted\n")
            self.wait_for_audit(gateway, "frame back, rail 1")
            with contextlib.closing(sqlite3.connect(gateway.book)) as book:
                rows = book.execute("SELECT what, was, became, origin FROM edit WHERE what LIKE 'frame%' ORDER BY id").fetchall()
            self.assertEqual(rows, [("frame_offset_um", 200, 350, "127.0.0.1"), ("frame_scale_ppb", 100000, 80000, "127.0.0.1"),
                                    ("frame_points", 0, 2, "127.0.0.1"), ("frame_offset_um", 350, 200, "127.0.0.1"),
                                    ("frame_scale_ppb", 80000, 100000, "127.0.0.1"), ("frame_points", 2, 0, "127.0.0.1")])

    def test_what_the_file_seeds_is_in_the_book_before_anybody_can_connect(self):
        """Else a person's first request could be stored in one with it, and what the file had said would be in no history."""
        for _ in range(10):
            with Gateway(book=True, changes=[FILES_FRAME]) as gateway:
                gateway.end(signal.SIGKILL)  # it has just opened its port
                with contextlib.closing(sqlite3.connect(gateway.book)) as book:
                    self.assertEqual(book.execute("SELECT frame_origin, frame_offset_um FROM rail ORDER BY rail").fetchall()[:2], [(1, 200), (1, 0)])
                    self.assertEqual(book.execute("SELECT DISTINCT origin FROM edit").fetchall(), [("config",)])

    def test_a_changeover_goes_by_it_and_it_is_refused_while_one_runs(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            plc.confirm_edges()
            self.assertEqual(plc.order(700, 900000, [440000, 400000]), 0)
            plc.to_idle()
            plc.start()
            answer = run("set", "--port", gateway.port, "frame", 1, "0.1", 0)
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertRegex(answer.stderr, r"this can be set only while the unit is Stopped or Idle\n$")
            self.assertEqual(plc.edit("FRAME_BACK", 1), MAP.result["NOT_IN_THIS_STATE"])
            plc.wait_state("COMPLETE", seconds=60)
            plc.give("RESET")
            plc.wait_state("IDLE")
            parked = plc.read("CARRIAGE_POSITION", 0)
            self.set(gateway, "frame", 1, "0.1", 0)
            plc.scan()
            self.assertFalse(plc.bit("STATUS", "STATUS", "VERIFIED"))
            wait_for(lambda: plc.read("CARRIAGE_POSITION", 0) == parked + 100, 5, "the carriage, which stands, is shown by the new frame")
            self.assertFalse(plc.bit("STATUS", "STATUS", "MOVING"))
            self.assertEqual(plc.edit("FRAME_BACK", 2), MAP.result["NO_FRAME_BEFORE"])

    def test_a_switch_is_set_shown_kept_and_taken_back(self):
        with Gateway(book=True, changes=[(r"settle_ms = 50;", "settle_ms = 50; switch_offset_mm = 0.1;")]) as gateway:
            plc = Plc(gateway)

            def switch():
                return [plc.read(name, 0) for name in ("SWITCH_ORIGIN", "SWITCH_OFFSET", "SCAN_BIAS", "SWITCH_OFFSET_BEFORE", "SCAN_BIAS_BEFORE")]

            self.assertEqual(switch(), [1, 100, 0, 0, 0])
            told = self.set(gateway, "switch", 1, "-0.25", "0.14")
            self.assertIn("accepted: the rail's places are remembered; a scan comes before the next move\n", told)
            self.assertRegex(told, r"rail 1 +was +becomes\nswitch offset +0\.100 mm +-0\.250 mm\nscan bias +0\.000 mm +0\.140 mm\n")
            self.assertEqual(switch(), [2, -250, 140, 100, 0])
            self.assertIn("rail 1: offset -0.250 mm, scan bias 0.140 mm; set by: maintenance",
                          run("status", "--port", gateway.port, "--full").stdout)
            self.wait_for_audit(gateway, "switch, rail 1")
            gateway.end(signal.SIGKILL)
            told = run("check", gateway.config, "--book").stdout
            for line in ("rail 1: carriage.switch_offset_mm is -0.25 mm in the book and 0.1 mm in the file",
                         "rail 1: carriage.scan_bias_mm is 0.14 mm in the book and 0 mm in the file"):
                self.assertIn(line, told)
            gateway.start()
            plc = Plc(gateway)
            self.assertEqual(switch(), [2, -250, 140, 100, 0])
            self.assertRegex(self.set(gateway, "switch-back", 1), r"scan bias +0\.140 mm +0\.000 mm  \(scans go both ways\)\n")
            self.assertEqual(switch(), [2, 100, 0, -250, 140])
            answer = run("set", "--port", gateway.port, "switch-back", 2)
            self.assertIn("there is nothing to take back", answer.stderr)
            with contextlib.closing(sqlite3.connect(gateway.book)) as book:
                rows = book.execute("SELECT what, was, became FROM edit WHERE what LIKE 's%_um' ORDER BY id").fetchall()
            self.assertEqual(rows, [("switch_offset_um", 100, -250), ("scan_bias_um", 0, 140),
                                    ("switch_offset_um", -250, 100), ("scan_bias_um", 140, 0)])

    def test_what_the_jobs_measure_of_a_switch_is_shown_and_accepted(self):
        truth = (r"settle_ms = 50;", "settle_ms = 50; switch_offset_mm = 0.4; gauge_rounds = 2;")
        machine = (r'simulated: {', 'simulated: { switch_offset_um = 150; hysteresis_um = 260;')
        with Gateway(book=True, changes=[truth, machine]) as gateway:
            plc = Plc(gateway)
            told = run("calibrate", "--measured", "--rail", 1, "--port", gateway.port)
            self.assertEqual((told.returncode, told.stderr), (0, ""))
            self.assertIn("start job 11", told.stdout)
            self.assertIn("start job 12", told.stdout)
            answer = run("calibrate", "--measured", "--rail", 1, "--port", gateway.port, "--apply")
            self.assertEqual((answer.returncode, answer.stderr), (1, "kniferail calibrate: the switch of rail 1 was not measured: there is nothing to apply\n"))
            plc.to_idle()
            for job in ("SCAN_BIAS", "SWITCH_OFFSET"):
                self.start_of_rail(plc, job, 1, 2)
                plc.wait_state("COMPLETE", seconds=120)
                plc.give("RESET")
                plc.wait_state("IDLE")
            self.assertLessEqual(abs(plc.read("SWITCH_FOUND", 0) - 150), 2 * plc.read("SWITCH_UNCERTAINTY", 0))
            self.assertGreater(plc.read("BIAS_FOUND", 0), 130)
            answer = run("calibrate", "--measured", "--rail", 1, "--port", gateway.port, "--apply")
            self.assertEqual((answer.returncode, answer.stderr), (0, ""))
            self.assertRegex(answer.stdout, r"scan bias +0\.000 mm in force; 0\.1\d\d mm \+- 0\.0\d\d mm measured, \d+ readings\n")
            self.assertRegex(answer.stdout, r"0\.1\d\d mm \+- 0\.0\d\d mm measured, 4 readings of holder 2\n")
            self.assertRegex(answer.stdout, r"accepted: .*\nrail 1 +was +becomes\nswitch offset +0\.400 mm +0\.1\d\d mm\nscan bias +0\.000 mm +0\.1")
            self.assertEqual(plc.read("SWITCH_OFFSET", 0), plc.read("SWITCH_FOUND", 0))
            self.set(gateway, "switch-back", 1)
            self.assertEqual((plc.read("SWITCH_OFFSET", 0), plc.read("SCAN_BIAS", 0)), (400, 0))

    def test_what_cannot_be_is_refused_in_words(self):
        with Gateway() as gateway:
            for arguments, because in (((3, "0", 0), "there is no rail 3; the last rail is 2"),
                                       ((1, "20000.001", 0), "a frame offset of 20000.001 mm is not possible; the limit is 20000.000 mm"),
                                       ((1, "0", 0, "100:0,100:0"), "point 2 of the table is not possible: positions must grow"),
                                       ((1, "0", 0, "100:11"), "point 1 of the table"),
                                       ((1, "0", 0, "100:0,200:10.001"), "point 2 of the table"),
                                       ((1, "100", 0), "the carriage would have to go to its drive's position -")):
                answer = run("set", "--port", gateway.port, "frame", *arguments)
                self.assertEqual((answer.returncode, answer.stdout), (1, ""), arguments)
                self.assertIn(because, answer.stderr)
            for arguments in ((1, "0"), (1, "x", 0), (1, "0", "10000.1"), (1, "0", 0, "100"), (1, "0", 0, "100:x"),
                              (1, "0", 0, ",".join(f"{i}:0" for i in range(65)))):
                answer = run("set", "--port", gateway.port, "frame", *arguments)
                self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)

    def test_a_reload_leaves_it_to_the_book_and_no_start_takes_a_file_that_it_does_not_fit(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.set(gateway, "frame", 1, "0.35", 0)
            gateway.change(FILES_FRAME)
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("reload: not taken: small-shear: rail 1: frame.offset_mm")
            gateway.wait_for_log("the book keeps it after the first start")
            self.assertEqual(frame(plc), (2, 350, 0, []))
            self.set(gateway, "frame", 1, "11.99", 0)  # a scan begins there at 0.009 mm of the drive's own
            gateway.change((r"travel_least_mm = 0;", "travel_least_mm = 0.05;"))
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("reload: not taken after all: small-shear: rail 1: by the frame in the book")
            gateway.end()
            with self.assertRaisesRegex(AssertionError, "rail 1: by the frame in the book, the carriage would have to go to its "
                                                        r"drive's position 0\.009 mm, but its travel ends at 0\.050 mm"):
                gateway.start()
            gateway.change((r"travel_least_mm = 0.05;", "travel_least_mm = 0;"))
            gateway.start()
            self.assertEqual(frame(Plc(gateway)), (2, 11990, 0, []))

    def test_calibrate_applies_what_it_finds_and_what_was_read_before_another_frame_is_refused(self):
        rows = [f"{t},{t + 0.35 + 80e-6 * t:.4f},{way},{r}" for t in range(100, 1501, 100) for r in (1, 2) for way in ("rising", "falling")]
        with Gateway(book=True) as gateway, tempfile.TemporaryDirectory(prefix="kr_system_") as folder:
            plc, path = Plc(gateway), f"{folder}/readings.csv"
            with open(path, "w", encoding="ascii") as file:
                file.write("\n".join(["target_mm,reading_mm,direction,run", *rows]) + "\n")
            there = ("--apply", "--rail", 1, "--port", gateway.port)
            answer = run("calibrate", path, *there)
            self.assertEqual((answer.returncode, answer.stderr), (0, ""))
            self.assertRegex(answer.stdout, r"accepted: .*\nrail 1 +was +becomes\noffset +0\.000 mm +0\.350 mm\nscale +0\.000 ppm +80\.000 ppm\n")
            self.assertEqual(frame(plc), (2, 350, 80000, []))
            # The same differences once more, of places in the frame that is in force by now: they add up.
            answer = run("calibrate", path, *there)
            self.assertEqual(answer.returncode, 0, answer.stderr)
            self.assertEqual(frame(plc)[0], 2)
            self.assertAlmostEqual(frame(plc)[1], 700, delta=1)
            self.assertAlmostEqual(frame(plc)[2], 160006, delta=2000)  # rounded to micrometres at 15 targets
            self.set(gateway, "frame-back", 1)
            self.assertEqual(frame(plc), (2, 350, 80000, []))
            answer = run("calibrate", path, "--apply", "--rail", 3, "--port", gateway.port)
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertIn("there is no rail 3; the last rail is 2", answer.stderr)
            typed = subprocess.Popen([KNIFERAIL, "calibrate", "--targets", "500,1000", "--runs", "1", *map(str, there)], stdin=subprocess.PIPE,
                                     stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
            with typed:
                self.wait_for_reading(typed)
                self.set(gateway, "frame", 1, "0.4", 0)
                said, wrong = typed.communicate("1000\n1000\n500\n", timeout=30)
            self.assertEqual(typed.returncode, 1, said)
            self.assertIn("the rail's frame has changed since the readings were begun", wrong)
            self.assertEqual(frame(plc), (2, 400, 0, []))

    def wait_for_reading(self, process):
        """Its first reading was taken: by then it has the frame."""
        process.stdin.write("500\n")
        process.stdin.flush()
        wait_for(lambda: waits_for_input(process.pid), 10, "a calibration that waits for its next reading")

    def test_killed_between_store_and_answer_it_is_there_with_its_request_or_not_at_all(self):
        with Gateway(book=True) as gateway:
            for round_number in range(12):
                plc = Plc(gateway)
                before = frame(plc)
                asked = 1000 + round_number
                plc.look()
                number = plc.read("EDITED_NUMBER") % 65535 + 1
                plc.write("EDIT_FRAME_OFFSET", asked)
                plc.write_words(MAP.address("EDIT_FRAME_POINTS"), [0])
                plc.write_words(MAP.address("EDIT_RAIL"), [1, 0])
                plc.write_words(MAP.address("EDIT_SESSION"), [plc.seen("SESSION"), MAP.number("EDIT_KIND", "FRAME"), number])
                time.sleep(0.002 * round_number)
                told = plc.read("EDITED_NUMBER") == number and plc.read("EDIT_BUSY") == 0
                gateway.end(signal.SIGKILL)
                gateway.start()
                plc = Plc(gateway)
                kept = plc.read("EDITED_NUMBER") == number
                self.assertTrue(kept or not told, round_number)
                self.assertEqual(frame(plc), (2, asked, 0, []) if kept else before, round_number)


def waits_for_input(pid):
    """A process that sleeps in a read of its standard input."""
    with open(f"/proc/{pid}/syscall", encoding="ascii") as file:
        return file.read().split()[:2] in (["0", "0x0"], ["63", "0x0"])


if __name__ == "__main__":
    main()
