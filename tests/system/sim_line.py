"""The simulator's serial line: how long its characters take, what it makes of other settings than the station file's, and what a
killed simulator leaves of it.

    sim_line.py KNIFERAIL KNIFERAIL-SIM

How long an exchange takes is held against what `kniferail check` says, in its report and where it refuses a rate.
"""
import os
import pathlib
import re
import select
import signal
import subprocess
import sys
import tempfile
import termios
import time
import tty
import unittest

KNIFERAIL, SIMULATOR = sys.argv.pop(1), sys.argv.pop(1)
ROOT = pathlib.Path(__file__).resolve().parents[2]
PATIENCE_S = 60  # on a busy computer
ROUNDS = 25      # the quickest of them counts: no round can be quicker than the line is, and most are slower on a busy computer
OUTPUTS, INPUTS = 12, 15       # registers that the example's drive takes and gives in one exchange
NO_ANSWER_S = 0.3              # far longer than an exchange at the rates for which this waits
SLOW = 1.04                    # a few per cent: what programs and the kernel add


def crc(frame):
    """CRC-16 of MODBUS over Serial Line V1.02, 6.2.2, low byte first."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return value.to_bytes(2, "little")


def exchange_frame(unit):
    """Function 23: reads the drive's inputs and writes its outputs, all 0."""
    pdu = bytes([unit, 23, 0, 100, 0, INPUTS, 0, 0, 0, OUTPUTS, 2 * OUTPUTS]) + bytes(2 * OUTPUTS)
    return pdu + crc(pdu)


ANSWER_BYTES = 5 + 2 * INPUTS


class Station:
    """The example with both drives on one serial line."""

    def __init__(self, folder, baud, settings="", scan_speed=200, name="station.cfg"):
        self.device = folder / "line"
        self.path = folder / name
        self.baud = baud
        text = (ROOT / "config/wired-shear.cfg").read_text("ascii")
        for unit, port in enumerate(("15021", "15022"), 1):
            before = f'drive: {{ address = "127.0.0.1"; port = {port}; }}'
            assert before in text
            text = text.replace(before, f'drive: {{ line = "serial"; device = "{self.device}"; unit_id = {unit}; baud = {baud}; '
                                        f'{settings} }}')
        assert "scan_speed_mm_per_s = 200" in text
        self.path.write_text(text.replace("scan_speed_mm_per_s = 200", f"scan_speed_mm_per_s = {scan_speed}"), "ascii")

    def check(self):
        done = subprocess.run([KNIFERAIL, "check", self.path], capture_output=True, text=True, check=False)
        return done.returncode, done.stdout + done.stderr


class Line:
    """A master's end of the line."""

    def __init__(self, station, baud=None, parity="even", stop_bits=1):
        self.fd = os.open(station.device, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self.fd)
        iflag, oflag, cflag, lflag, _, _, cc = termios.tcgetattr(self.fd)
        cflag &= ~(termios.PARENB | termios.PARODD | termios.CSTOPB)
        iflag &= ~termios.INPCK
        if parity != "none":
            cflag |= termios.PARENB | (termios.PARODD if parity == "odd" else 0)
            iflag |= termios.INPCK
        if stop_bits == 2:
            cflag |= termios.CSTOPB
        speed = getattr(termios, f"B{baud or station.baud}")
        termios.tcsetattr(self.fd, termios.TCSANOW, [iflag, oflag, cflag, lflag, speed, speed, cc])
        bits = 10 + (parity != "none") + (stop_bits - 1)
        self.silence_s = 0.00175 if station.baud > 19200 else 3.5 * bits / station.baud

    def __enter__(self):
        return self

    def __exit__(self, *_):
        os.close(self.fd)

    def ask(self, unit, patience_s, silence=True):
        """The answer's bytes, as many as came, and silence behind them."""
        os.write(self.fd, exchange_frame(unit))
        got, end = b"", time.monotonic() + patience_s
        while len(got) < ANSWER_BYTES and (left := end - time.monotonic()) > 0:
            if select.select([self.fd], [], [], left)[0]:
                got += os.read(self.fd, 300)
        if silence:
            time.sleep(self.silence_s)
        return got

    def is_answered(self, unit, patience_s=PATIENCE_S, silence=True):
        got = self.ask(unit, patience_s, silence)
        return len(got) == ANSWER_BYTES and crc(got[:-2]) == got[-2:] and got[0] == unit

    def round_s(self):
        """How long it takes to ask both drives, and to be silent behind each."""
        began = time.monotonic()
        for unit in (1, 2):
            assert self.is_answered(unit)
        return time.monotonic() - began


class WithLine(unittest.TestCase):
    def setUp(self):
        holder = tempfile.TemporaryDirectory(prefix="kr_line_")
        self.addCleanup(holder.cleanup)
        self.folder = pathlib.Path(holder.name)

    def start(self, station):
        """The simulator, and whether it serves."""
        log = open(self.folder / f"log{time.monotonic_ns()}", "w+", encoding="utf-8")
        self.addCleanup(log.close)
        simulator = subprocess.Popen([SIMULATOR, "--config", station.path], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                     stderr=log, text=True)
        self.addCleanup(simulator.stdout.close)
        self.addCleanup(simulator.wait)
        self.addCleanup(simulator.kill)
        simulator.said = lambda: (log.seek(0), log.read())[1]
        return simulator, " unit 1" in simulator.stdout.readline()

    def start_and_serve(self, station, **how):
        simulator, serves = self.start(station)
        self.assertTrue(serves, simulator.said())
        with Line(station, **how) as line:  # a drive that has just been switched on is silent for a while
            end = time.monotonic() + PATIENCE_S
            while not all(line.is_answered(unit, NO_ANSWER_S) for unit in (1, 2)):
                self.assertLess(time.monotonic(), end)
        return simulator


class Pace(WithLine):
    def measured_and_reckoned_ms(self, baud, settings=""):
        station = Station(self.folder, baud, f"retries = 0; answer_ms = 400; {settings}", scan_speed=20)
        status, said = station.check()
        self.assertEqual(status, 0, said)
        reckoned = re.search(rf"at {baud} bits a second: .* all drives of the line take ([\d.]+) ms", said)
        words = dict(re.findall(r'(\w+) = "?(\w+)"?;', settings))
        how = {"parity": words.get("parity", "even"), "stop_bits": int(words.get("stop_bits", 1))}
        simulator = self.start_and_serve(station, **how)
        with Line(station, **how) as line:
            fastest = 1000 * min(line.round_s() for _ in range(ROUNDS))
        simulator.kill()
        simulator.wait()
        return fastest, float(reckoned[1])

    def is_right(self, baud, settings=""):
        fastest, reckoned = self.measured_and_reckoned_ms(baud, settings)
        self.assertGreater(fastest, reckoned - 0.1, "the report has tenths of a millisecond")
        self.assertLess(fastest, reckoned * SLOW + 0.1)
        return reckoned

    def test_the_time_of_an_exchange_is_what_check_reckons_at_rates_that_it_accepts(self):
        for baud in (57600, 115200):
            with self.subTest(baud=baud):
                self.is_right(baud)
                status, said = Station(self.folder, baud, name="as-shipped.cfg").check()
                self.assertEqual(status, 0, said)

    def test_it_is_what_check_reckons_at_rates_that_it_refuses(self):
        for baud, says in ((9600, "a question and its answer take {half} ms"), (19200, "all drives of the line takes {all} ms"),
                           (38400, "all drives of the line takes {all} ms")):
            with self.subTest(baud=baud):
                reckoned = self.is_right(baud)
                status, said = Station(self.folder, baud, name="as-shipped.cfg").check()
                self.assertNotEqual(status, 0)
                self.assertIn(says.format(half=int(reckoned / 2), all=int(reckoned)), said)

    def test_parity_and_stop_bits_are_reckoned_with(self):
        with_parity = self.is_right(38400)
        self.assertLess(self.is_right(38400, 'parity = "none";'), 0.96 * with_parity)
        self.assertGreater(self.is_right(38400, 'parity = "odd"; stop_bits = 2;'), 1.04 * with_parity)


class Settings(WithLine):
    def garbage(self, said, **how):
        station = Station(self.folder, 115200)
        simulator = self.start_and_serve(station)
        with Line(station, **how) as line:
            self.assertEqual([line.ask(1, NO_ANSWER_S) for _ in range(3)], [b""] * 3)
        self.assertEqual(simulator.said().count("is garbage"), 1, "one line, not one for each request")
        self.assertIn(f"a request at {said} is garbage on this line, which has 115200, even, 1", simulator.said())
        with Line(station) as line:
            self.assertTrue(line.is_answered(1))
        simulator.kill()
        simulator.wait()

    def test_another_rate_is_garbage(self):
        self.garbage("57600 bits a second, parity even, stop bits 1", baud=57600)

    def test_another_parity_is_garbage(self):
        self.garbage("115200 bits a second, parity odd, stop bits 1", parity="odd")
        self.garbage("115200 bits a second, parity none, stop bits 1", parity="none")

    def test_other_stop_bits_are_garbage(self):
        self.garbage("115200 bits a second, parity even, stop bits 2", stop_bits=2)

    def test_a_request_without_silence_before_it_is_garbage(self):
        station = Station(self.folder, 1200, "retries = 0; answer_ms = 5000; watchdog_ms = 0; stop_ms = 6000", scan_speed=1)
        self.assertEqual(station.check()[0], 0, station.check()[1])
        simulator, serves = self.start(station)
        self.assertTrue(serves)
        with Line(station) as line:
            end = time.monotonic() + PATIENCE_S
            while not line.is_answered(1, 3, silence=False):
                self.assertLess(time.monotonic(), end)
            self.assertEqual(line.ask(1, 3), b"", "3.5 characters last 32 ms at that rate")
            self.assertTrue(line.is_answered(1))
        self.assertIn("before the line was silent for 32083 us", simulator.said())

    def test_a_rate_that_no_line_can_be_set_to_is_a_mistake(self):
        status, said = Station(self.folder, 100000).check()
        self.assertNotEqual(status, 0)
        self.assertIn("baud: 100000; a serial line can't be set to this rate; possible are 1200 2400 4800 9600 ", said)


class Name(WithLine):
    def setUp(self):
        super().setUp()
        self.station = Station(self.folder, 115200)

    def test_a_link_that_a_killed_simulator_left_is_replaced(self):
        simulator = self.start_and_serve(self.station)
        simulator.send_signal(signal.SIGKILL)
        simulator.wait()
        self.assertTrue(self.station.device.is_symlink(), "a killed process leaves its link")
        after = self.start_and_serve(self.station)
        self.assertIn(f"{self.station.device}: its link led to /dev/pts/", after.said())
        after.terminate()
        self.assertEqual(after.wait(PATIENCE_S), 0)
        self.assertFalse(self.station.device.is_symlink(), "one that ends as asked takes its link away")

    def is_refused(self, reason):
        simulator, serves = self.start(self.station)
        self.assertFalse(serves)
        self.assertEqual(simulator.wait(PATIENCE_S), 1)
        self.assertIn(f"serial line {self.station.device}: {reason}", simulator.said())

    def test_a_link_to_a_living_line_is_refused_by_name_and_left_alone(self):
        self.start_and_serve(self.station)
        living = os.readlink(self.station.device)
        self.is_refused(f"a link of that name leads to {living}, which exists and may be in use")
        self.assertEqual(os.readlink(self.station.device), living)
        with Line(self.station) as line:
            self.assertTrue(line.is_answered(1))

    def test_a_file_of_that_name_is_left_alone(self):
        self.station.device.write_text("of the night shift", "ascii")
        self.is_refused("a file of that name exists, and is not a link")
        self.assertEqual(self.station.device.read_text("ascii"), "of the night shift")


if __name__ == "__main__":
    unittest.main()
