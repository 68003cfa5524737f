"""kniferail status on a terminal, in a pipe and for programs: what fits, what is written over, how it ends.

    terminal.py KNIFERAIL KNIFERAILD
"""
import fcntl
import json
import os
import pathlib
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time
import unittest

KNIFERAIL, KNIFERAILD = (sys.argv.pop(1) for _ in range(2))
ROOT = pathlib.Path(__file__).resolve().parents[2]


class Gateway:
    def __init__(self, config="config/small-shear.cfg"):
        self.process = subprocess.Popen((KNIFERAILD, "--config", config, "--port", "0", "--print-port"), cwd=ROOT,
                                        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.port = re.search(r"\d+", self.process.stdout.readline()).group()

    def end(self):
        self.process.terminate()
        self.process.stdout.close()
        return self.process.wait(30)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(60)
            self.process.stdout.close()


class Terminal:
    """The program on a terminal of its own, and all that it wrote."""

    def __init__(self, *arguments, rows=24, columns=80, **environment):
        self.mine, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        env = {**os.environ, "TERM": "xterm", "LC_ALL": "C.UTF-8", **environment}
        self.process = subprocess.Popen((KNIFERAIL, *arguments), stdin=theirs, stdout=theirs, stderr=theirs, env=env, cwd=ROOT)
        os.close(theirs)
        self.written = ""

    def resize(self, rows, columns):
        fcntl.ioctl(self.mine, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def read_until(self, words, seconds=30):
        until = time.monotonic() + seconds
        while not re.search(words, self.written):
            left = until - time.monotonic()
            if left <= 0 or not select.select([self.mine], [], [], left)[0]:
                raise AssertionError(f"'{words}' does not come: {self.written[-2000:]}")
            try:
                self.written += os.read(self.mine, 65536).decode()
            except OSError as error:  # the program ended, and with it the terminal
                raise AssertionError(f"'{words}' does not come: {self.written[-2000:]}") from error
        return self.written

    def end(self):
        status = self.process.wait(30)
        os.close(self.mine)
        return status


class Status(unittest.TestCase):
    def test_it_fits_80_columns_and_24_rows_on_every_example(self):
        for example in ("config/small-shear.cfg", "config/razor.cfg", "config/score.cfg", "config/wide-shear.cfg",
                        "config/wired-shear.cfg"):
            with Gateway(example) as gateway:
                terminal = Terminal("status", "--port", gateway.port)
                terminal.read_until(r"(upper|lower) +[^\n]*drive[^\n]*\n|NO LINK[^\n]*\n")
                self.assertEqual(terminal.process.wait(30), 0)
                while select.select([terminal.mine], [], [], 0)[0]:
                    try:
                        terminal.written += os.read(terminal.mine, 65536).decode()
                    except OSError:
                        break
                os.close(terminal.mine)
                lines = terminal.written.replace("\r", "").splitlines()
                self.assertLessEqual(len(lines), 23, example)
                self.assertLessEqual(max(map(len, lines)), 80, example)
                self.assertIn("station", lines[0])
                self.assertNotIn("\033", terminal.written)

    def test_alarms_come_with_what_to_do(self):
        with tempfile.TemporaryDirectory() as folder:
            book, path = pathlib.Path(folder) / "book.db", pathlib.Path(folder) / "booked.cfg"
            path.write_text(f'book = "{book}";\n' + (ROOT / "config/small-shear.cfg").read_text())
            with Gateway(path) as gateway:
                book.rename(book.with_suffix(".gone"))
                until, told = time.monotonic() + 60, ""
                while "! BOOK_GONE: " not in told and time.monotonic() < until:
                    told = subprocess.run((KNIFERAIL, "status", "--port", gateway.port), capture_output=True, text=True,
                                          timeout=30, check=True).stdout
        self.assertRegex(told, r"(?m)^! BOOK_GONE: .*\n(  .*\n)*  > \S")
        self.assertLessEqual(len(told.splitlines()), 23)
        self.assertLessEqual(max(map(len, told.splitlines())), 80)

    def test_watch_writes_over_itself_says_when_the_gateway_is_gone_and_ends_cleanly(self):
        with Gateway() as gateway:
            terminal = Terminal("status", "--port", gateway.port, "--watch")
            terminal.read_until(r"(?s)read at .*read at ")
            self.assertEqual(gateway.end(), 0)
            told = terminal.read_until(r"(?s)DOES NOT ANSWER.*it was read at [^\n]*ago.*\033\[J")
        for screen in told.split("\033[H")[1:]:
            self.assertLessEqual(screen.count("\n"), 23)
        self.assertNotIn("\033[2J", told)  # no screen is emptied before it is written
        self.assertIn("\033[K", told)
        terminal.process.send_signal(signal.SIGINT)
        self.assertEqual(terminal.end(), 0)

    def test_what_is_urgent_stands_out_unless_no_color_is_asked_for(self):
        """no-color.org: NO_COLOR, if it is not empty, asks for no added colour or emphasis."""
        for environment, expected in (({}, True), ({"NO_COLOR": ""}, True), ({"NO_COLOR": "1"}, False)):
            with Gateway() as gateway:
                terminal = Terminal("status", "--port", gateway.port, "--watch", **environment)
                terminal.read_until(r"read at ")
                gateway.end()
                told = terminal.read_until(r"DOES NOT ANSWER[^\n]*\n")
                terminal.process.send_signal(signal.SIGINT)
                self.assertEqual(terminal.end(), 0)
            self.assertEqual("\033[1;7mTHE GATEWAY DOES NOT ANSWER" in told, expected, environment)
            self.assertEqual(re.search(r"\033\[[\d;]*m", told) is not None, expected, environment)

    def test_watch_draws_as_wide_as_the_terminal_has_become(self):
        with Gateway() as gateway:
            terminal = Terminal("status", "--port", gateway.port, "--watch")
            terminal.read_until(r"read at ")
            terminal.resize(24, 120)
            terminal.read_until(r"\n[^\n\033]{100,120}\033")
            terminal.process.send_signal(signal.SIGINT)
            self.assertEqual(terminal.end(), 0)

    def test_nothing_but_lines_goes_into_a_pipe_or_to_a_dumb_terminal(self):
        with Gateway() as gateway:
            watching = subprocess.Popen((KNIFERAIL, "status", "--port", gateway.port, "--watch"), stdout=subprocess.PIPE, cwd=ROOT)
            told = b""
            while told.count(b"read at ") < 2:
                told += os.read(watching.stdout.fileno(), 65536)
            watching.send_signal(signal.SIGTERM)
            self.assertEqual(watching.wait(30), 0)
            watching.stdout.close()
            self.assertNotIn(b"\033", told)
            self.assertTrue(told.isascii())
            dumb = Terminal("status", "--port", gateway.port, "--watch", TERM="dumb")
            self.assertNotIn("\033", dumb.read_until(r"(?s)read at .*read at "))
            dumb.process.send_signal(signal.SIGINT)
            self.assertEqual(dumb.end(), 0)

    def test_json_has_what_a_station_that_has_just_started_is_like(self):
        with Gateway() as gateway:
            told = json.loads(subprocess.run((KNIFERAIL, "status", "--port", gateway.port, "--json"), capture_output=True, text=True,
                                             timeout=30, check=True).stdout)
        self.assertEqual((told["station"], told["unit_state"], told["order_in_force"]), ("small-shear", "STOPPED", 0))
        self.assertEqual([rail["rail"] for rail in told["rails"]], ["upper", "lower"])
        self.assertEqual([len(rail["holders"]) for rail in told["rails"]], [12, 12])
        first = told["rails"][0]["holders"][0]
        self.assertEqual(first, {"holder": 1, "cut": None, "state": "in service", "known": "remembered", "position_um": 60000,
                                 "target_um": None, "deviation_um": None})
        self.assertEqual(told["permissives_missing"], ["LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE"])

    def test_a_station_is_found_by_its_name_and_all_are_listed_where_none_is_named(self):
        text = (ROOT / "config/small-shear.cfg").read_text()
        start, end = text.index("\nstations"), text.rindex(")")
        station = text[text.index("{", start):end].rstrip().rstrip(",")
        both = []
        for unit, name in ((3, "first-line"), (9, "second-line")):
            one = re.sub(r'name *= *"small-shear"', f'name = "{name}"', station, count=1)
            self.assertNotEqual(one, station)
            one = re.sub(r"unit_id *= *\d+;", "", one)
            both.append(one.replace("{", f"{{ unit_id = {unit};", 1))
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "two.cfg"
            path.write_text(text[:text.index("{", start)] + ",\n".join(both) + "\n" + text[end:])
            with Gateway(path) as gateway:
                def status(*more):
                    return subprocess.run((KNIFERAIL, "status", "--port", gateway.port, *more), capture_output=True, text=True,
                                          timeout=60, check=False)
                named, wrong, none = status("--station", "second-line", "--json"), status("--station", "third"), status()
        self.assertEqual(json.loads(named.stdout)["station"], "second-line")
        self.assertEqual(wrong.returncode, 1)
        self.assertIn("no station 'third'", wrong.stderr)
        self.assertEqual(none.returncode, 1)
        self.assertRegex(none.stderr, r"--unit 3 +first-line\n +--unit 9 +second-line")


if __name__ == "__main__":
    unittest.main(verbosity=2)
