"""What bad input gets at the daemon's other doors: command line, station file, port, limits, and what it prints."""
import json
import os
import pathlib
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import unittest
import zlib

# The third argument, where there is one, is the library to preload.
COUNT_MALLOC = sys.argv.pop(3) if len(sys.argv) > 3 and sys.argv[3].endswith(".so") else None

from gateway_rig import KNIFERAILD, MAP, ROOT, SLOW, Gateway, GatewayTest, Plc, Refused, main, wait_for


def run(*args, **more):
    return subprocess.run([KNIFERAILD, *map(str, args)], capture_output=True, text=True, timeout=20, check=False, **more)


class CommandLine(unittest.TestCase):
    def test_help_tells_the_options_the_exit_status_and_the_cautions(self):
        done = run("--help")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        for word in ("--config", "--port", "--speed-factor", "--print-port", "SIGTERM", "SIGHUP", "exit status",
                     "not a safety function", "Lock out", "gloves", "nobody in the zone", "reduced"):
            self.assertIn(word, done.stdout)
        self.assertLessEqual(max(map(len, done.stdout.splitlines())), 120)

    @unittest.skipUnless(os.path.exists("/dev/full"), "no /dev/full")
    def test_help_that_can_not_be_written_is_no_success(self):
        for option in ("--help", "--version"):
            with open("/dev/full", "w", encoding="ascii") as full:
                done = subprocess.run([KNIFERAILD, option], stdout=full, timeout=20, check=False)
            self.assertEqual(done.returncode, 1, option)

    def test_version_names_the_register_map_too(self):
        self.assertRegex(run("--version").stdout, r"^kniferaild \d+\.\d+\.\d+, register map \d+, build [0-9a-f]{40}\n$")

    def test_what_is_not_understood_is_named_and_the_status_is_2(self):
        for args, word in (((), "--config"), (("--config",), "config"), (("--frobnicate",), "frobnicate"),
                           (("station.cfg",), "station.cfg"), (("--config", "x", "--port", "65536"), "65536"),
                           (("--config", "x", "--port", "-1"), "0 to 65535"), (("--config", "x", "--port", "80x"), "80x"),
                           (("--config", "x", "--speed-factor", "0"), "1 to 1000"),
                           (("--config", "x", "--speed-factor", ""), "whole number")):
            with self.subTest(args=args):
                done = run(*args)
                self.assertEqual(done.returncode, 2)
                self.assertEqual(done.stdout, "")
                self.assertIn(word, done.stderr)


class StationFile(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory(prefix="kr_system_")
        self.file = pathlib.Path(self.folder.name) / "station.cfg"
        self.text = (ROOT / "config" / "small-shear.cfg").read_text(encoding="utf-8")

    def tearDown(self):
        self.folder.cleanup()

    def refused(self, text, status, *words):
        self.file.write_text(text, encoding="utf-8")
        done = run("--config", self.file, "--port", 0)
        self.assertEqual(done.returncode, status, done.stderr)
        for word in words:
            self.assertIn(word, done.stderr)
        return done.stderr

    def test_a_file_that_is_not_there_is_named(self):
        done = run("--config", "/nonexistent/station.cfg")
        self.assertEqual(done.returncode, 2)
        self.assertIn("/nonexistent/station.cfg", done.stderr)

    def test_a_folder_an_empty_file_and_a_file_of_nonsense_are_refused(self):
        self.assertEqual(run("--config", self.folder.name).returncode, 2)
        self.refused("", 2, "station.cfg")
        self.refused("\1\2 nonsense { ( [", 2, "station.cfg:1")

    def test_all_mistakes_of_meaning_are_told_in_one_run_with_file_and_line(self):
        text = self.text.replace("corrections_most = 3", "corrections_most = 300").replace("unit_id = 1", "unit_id = 248")
        told = self.refused(text.replace("period_ms = 10", "perod_ms = 10"), 2)
        for word in ("corrections_most", "unit_id", "perod_ms"):
            self.assertRegex(told, rf"station\.cfg:\d+: [^\n]*{word}")

    def test_a_book_that_cannot_be_opened_is_named_with_the_reason(self):
        self.refused(self.text + '\nbook = "/nonexistent/folder/book.db";\n', 1, "/nonexistent/folder/book.db", "No such file")
        garbage = pathlib.Path(self.folder.name) / "garbage.db"
        garbage.write_bytes(b"not a database at all, whatever it says; " * 40)
        self.refused(self.text + f'\nbook = "{garbage}";\n', 1, str(garbage), "not a database")

    def test_more_connections_than_files_may_be_open_are_refused_with_both_numbers(self):
        text = self.text.replace("face: {", "face: { connections = 4000;")
        self.file.write_text(text, encoding="utf-8")
        done = subprocess.run(["prlimit", "--nofile=1000:1000", KNIFERAILD, "--config", self.file, "--port", "0"],
                              capture_output=True, text=True, timeout=20, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("4000 connections need 4073 open files; the limit is 1000", done.stderr)

    def test_a_soft_limit_is_raised_as_far_as_the_connections_need_it(self):
        for connections in (950, 960, 970):  # with what else is needed, just below and above 1024
            self.file.write_text(self.text.replace("face: {", f"face: {{ connections = {connections};"), encoding="utf-8")
            limited = ["sh", "-c", 'ulimit -Sn 1024; exec "$0" "$@"', KNIFERAILD]
            with self.subTest(connections=connections), \
                 subprocess.Popen([*limited, "--config", self.file, "--port", "0", "--print-port"], text=True,
                                  stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
                port = process.stdout.readline()
                process.terminate()
                told = process.communicate(timeout=20)[1]
                self.assertNotEqual(port, "", told)
                self.assertEqual(process.returncode, 0, told)

    def test_a_port_in_use_is_named(self):
        with socket.create_server(("127.0.0.1", 0)) as taken:
            port = taken.getsockname()[1]
            self.file.write_text(self.text, encoding="utf-8")
            done = run("--config", self.file, "--port", port)
            self.assertEqual(done.returncode, 1)
            self.assertIn(str(port), done.stderr)
            self.assertIn("in use", done.stderr)


class Running(GatewayTest):
    def test_two_daemons_cannot_share_a_book(self):
        with Gateway(book=True) as gateway:
            done = run("--config", gateway.config, "--port", 0)
            self.assertEqual(done.returncode, 1)
            self.assertIn("another gateway uses this book", done.stderr)
            Plc(gateway).scan()

    def test_for_journald_every_line_carries_its_priority(self):
        with Gateway(options=["--journal"]) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(801, 1200000, [230000] * 5), 0)
            plc.start_and_complete()
            gateway.end()
            lines = gateway.log().splitlines()
            for line in lines:
                self.assertRegex(line, r"^<[3-6]>\S")
            records = [json.loads(line[3:]) for line in lines if line[3:].startswith("{")]
            self.assertEqual([r["record"]["order"] for r in records if "record" in r], [801])

    def test_journald_is_found_out_by_the_stream_that_it_reads_and_not_by_a_variable_that_was_inherited(self):
        with Gateway() as gateway, tempfile.TemporaryFile(mode="w+") as log:
            gateway.end()
            st = os.fstat(log.fileno())
            for stream, pattern in ((f"{st.st_dev}:{st.st_ino}", r"^<[3-6]>\S"), (f"{st.st_dev}:{st.st_ino + 1}", r"^\d{4}-"),
                                    ("nonsense", r"^\d{4}-")):
                with self.subTest(stream=stream):
                    log.seek(0)
                    log.truncate()
                    daemon = [KNIFERAILD, "--config", gateway.config, "--port", "0", "--print-port"]
                    with subprocess.Popen(daemon, stdout=subprocess.PIPE, stderr=log, text=True,
                                          env={**os.environ, "JOURNAL_STREAM": stream}) as process:
                        process.stdout.readline()
                        process.terminate()
                    log.seek(0)
                    lines = log.read().splitlines()
                    self.assertGreater(len(lines), 2)
                    for line in lines:
                        self.assertRegex(line, pattern)

    def test_a_log_that_nobody_reads_holds_nothing_up(self):
        with Gateway() as gateway:
            gateway.end()
            read, write = os.pipe()
            gateway.process = subprocess.Popen([KNIFERAILD, "--config", gateway.config, "--port", "0", "--print-port"],
                                               stdout=subprocess.PIPE, stderr=write, text=True)
            os.close(write)
            gateway.port = int(gateway.process.stdout.readline())
            gateway.process.stdout.close()
            plc = Plc(gateway)
            for number in range(1, 800):  # each leaves lines of some 500 characters: more than pipe and ring take
                plc.look()
                plc.fill_order(900, 1200000, [230000] * (number % 5 + 1))
                plc.hand_over("CHECK")
                plc.verdict()
            before = plc.read("CYCLES")
            plc.wait(lambda: plc.read("CYCLES") > before + 20, 5, "cycles go on")
            os.close(read)
            self.assertEqual(gateway.end(), 0)

    @unittest.skipIf(COUNT_MALLOC is None, "a sanitizer has taken malloc's place")
    def test_a_whole_changeover_takes_nothing_from_the_heap_on_the_loops_thread(self):
        with Gateway(book=True) as gateway:
            gateway.end()
            counter = pathlib.Path(gateway.folder.name) / "counter"
            counter.write_bytes(bytes(8))
            gateway.environment = {"LD_PRELOAD": COUNT_MALLOC, "KR_COUNT_MALLOC": str(counter)}
            gateway.start()
            count = lambda: int.from_bytes(counter.read_bytes(), sys.byteorder)
            plc = Plc(gateway)
            self.assertEqual(plc.order(802, 1200000, [230000] * 5), 0)
            before = count()
            self.assertGreater(before, 0, "the counter does not count")
            plc.start_and_complete()
            self.assertEqual(plc.order(803, 1200000, [125000] * 9), 0)
            plc.start_and_complete()
            self.assertEqual(count(), before)

    def test_descriptors_do_not_grow_with_connections_and_reloads(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            count = lambda: len(os.listdir(f"/proc/{gateway.process.pid}/fd"))
            plc.scan()
            before = count()
            for i in range(50):
                plc.close()
                plc.connect()
                plc.scan()
                if i % 10 == 0:
                    gateway.process.send_signal(signal.SIGHUP)
            wait_for(lambda: count() <= before, 5, f"{before} descriptors again")

    def test_however_fast_several_machines_are_to_run_their_clients_are_answered(self):
        with Gateway(speed=1000) as gateway:
            gateway.end()
            head, station = gateway.text.split("stations = (")
            station = station[:station.rindex(")")]
            gateway.text = head + "stations = (" + ",".join(
                station.replace('name = "small-shear"', f'name = "s{n}"').replace("unit_id = 1;", f"unit_id = {n};")
                for n in range(1, 5)) + ");\n"
            gateway.change()
            gateway.start()
            plc = Plc(gateway)
            before = plc.read("CYCLES")
            for _ in range(100):
                plc.look()
            plc.wait(lambda: plc.read("CYCLES") > before, 5, "cycles go on beside the answers")

    def test_the_cycle_keeps_its_period_while_clients_ask_as_fast_as_they_can(self):
        with Gateway(speed=1) as gateway:
            plcs = [Plc(gateway, source=f"127.0.0.{n}") for n in range(2, 6)]
            first = plcs[0].read("CYCLES")
            began = time.monotonic()
            while time.monotonic() - began < 3:
                for plc in plcs:
                    plc.look()
            cycles, seconds = plcs[0].read("CYCLES") - first, time.monotonic() - began
            # absolute schedule: what is late is counted, never dropped silently
            self.assertAlmostEqual(cycles + plcs[0].read("OVERRUNS"), seconds * 100, delta=seconds * 5 + 3)


class WhatRuns(GatewayTest):
    """Build and station file, as a PLC and the log have them; the digest is held against Python's zlib."""

    def test_the_build_is_a_register_and_the_one_that_version_prints(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            build = run("--version").stdout.rpartition(" ")[2]
            self.assertEqual(plc.read("BUILD_ID"), int(build[:8], 16))
            self.assertIn(f"build {build[:8]}, ", gateway.log())

    def test_the_digest_is_of_the_file_and_what_it_includes_as_last_found_right(self):
        included = "corrections_most = 2;\n"
        with Gateway() as gateway:
            part = pathlib.Path(gateway.folder.name) / "part.cfg"
            plc = Plc(gateway)

            def expected(*more):
                digest = zlib.crc32(gateway.config.read_bytes())
                for text in more:
                    digest = zlib.crc32(text.encode(), digest)
                return digest

            self.assertEqual(plc.read("FILE_DIGEST"), expected())
            part.write_text(included, encoding="utf-8")
            gateway.change((r"corrections_most = \d+;", '@include "part.cfg"\n'))
            first = plc.read("FILE_DIGEST")
            gateway.process.send_signal(signal.SIGHUP)
            wait_for(lambda: plc.read("FILE_DIGEST") == expected(included), 5, "the digest of both files")
            gateway.wait_for_log(f"the station file is {expected(included):08x}, was {first:08x}")
            part.write_text("corrections_most = 300;\n", encoding="utf-8")
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("the station file has mistakes; nothing is taken")
            self.assertEqual(plc.read("FILE_DIGEST"), expected(included))


class Log(GatewayTest):
    """What clients can provoke at will fills no disk, and hides nothing that an inquiry asks for."""

    RULES = ('rules = ( { address = "127.0.0.2"; may = "control"; }, { address = "127.0.0.5"; may = "control"; }, '
             '{ address = "127.0.0.9"; may = "nothing"; } ); listen = (')
    MOST_A_SECOND = 2000  # bytes, once the first lines are written
    FIRST = 20000

    def gateway(self):
        return Gateway(speed=1, changes=[(r"listen = \(", self.RULES)])

    @staticmethod
    def flood(gateway, source, pdus, seconds):
        """Asks in turn, many at once, as fast as they are answered. Returns how often it was answered."""
        frames = b"".join(bytes([0, i, 0, 0, 0, 1 + len(pdu), 1]) + pdu for i, pdu in enumerate(pdus * 8))
        answers, until = 0, time.monotonic() + seconds
        with socket.create_connection(("127.0.0.1", gateway.port), timeout=5, source_address=(source, 0)) as client:
            while time.monotonic() < until:
                client.sendall(frames)
                for _ in range(8 * len(pdus)):
                    length = client.recv(6, socket.MSG_WAITALL)[5]
                    client.recv(length, socket.MSG_WAITALL)
                    answers += 1
        return answers

    def small(self, gateway, seconds):
        self.assertLess(len(gateway.log()), self.FIRST + self.MOST_A_SECOND * seconds * SLOW)

    def test_control_that_is_taken_and_released_without_end_writes_little(self):
        take, release = b"\x06\x00\x10\x00\x01", b"\x06\x00\x10\x00\x02"
        with self.gateway() as gateway:
            answers = self.flood(gateway, "127.0.0.5", [take, release], 4)
            self.assertGreater(answers, 1000)
            self.small(gateway, 4)
            gateway.wait_for_log("were left out", 15)
            log = gateway.log()
            self.assertGreaterEqual(log.count("takes control"), 20)
            self.assertLessEqual(abs(log.count("takes control") - log.count("releases control")), 1)

    def test_a_button_that_is_held_writes_little_and_what_is_taken_is_always_told(self):
        with self.gateway() as gateway:
            plc, until, pressed = Plc(gateway, source="127.0.0.2"), time.monotonic() + 4, 0
            while time.monotonic() < until:  # a Start that is refused, under a new number each time
                self.assertNotEqual(plc.give("START", "CHANGEOVER"), 0)
                pressed += 1
            self.assertGreater(pressed, 100)
            self.small(gateway, 4)
            self.assertEqual(plc.give("RESET", number=60001), 0)
            gateway.wait_for_log("command 60001 of 127.0.0.2, reset: accepted")
            gateway.wait_for_log("lines about refused commands were left out", 15)

    def test_refused_connections_do_not_hide_how_permissives_change(self):
        with self.gateway() as gateway:
            plc = Plc(gateway, source="127.0.0.2")
            plc.scan()
            for _ in range(200):
                with socket.create_connection(("127.0.0.1", gateway.port), source_address=("127.0.0.9", 0)) as client:
                    client.settimeout(5)
                    self.assertEqual(client.recv(1), b"")
            for i in range(12):
                plc.permissives = i
                plc.scan()
            gateway.wait_for_log("changes PERMISSIVES from 000Ah to 000Bh")
            self.assertEqual(gateway.log().count("changes PERMISSIVES"), 13)

    def test_whoever_may_control_stops_motion_by_halt_and_the_log_says_who(self):
        with self.gateway() as gateway:
            plc, hmi = Plc(gateway, source="127.0.0.2"), Plc(gateway, source="127.0.0.5")
            self.assertEqual(plc.order(71, 1200000, [230000] * 5), 0)
            plc.start()
            plc.wait_state("EXECUTE")
            with self.assertRaises(Refused):
                hmi.write_command("STOP", None, 1)
            with self.assertRaises(Refused):
                hmi.write("HALT", MAP.number("COMMAND", "START"))
            hmi.write("HALT", MAP.number("HALT", "STOP"))
            plc.wait_state("STOPPED")
            self.assertEqual((plc.read("OWN_CONTROL"), hmi.read("OWN_CONTROL")), (1, 0))
            gateway.wait_for_log("127.0.0.5 writes HALT 3, stop: accepted")
            hmi.write("HALT", MAP.number("HALT", "HOLD"))
            gateway.wait_for_log("127.0.0.5 writes HALT 4, hold: refused, code 12")


class Readers(threading.Thread):
    """Sixteen connections from one address, which ask as fast as they can, and connect again as soon as one is closed."""

    REQUEST = bytes.fromhex("000100000006010400000032")

    def __init__(self, port, address):
        super().__init__()
        self.port, self.address, self.sockets, self.answers, self.over = port, address, [None] * 16, 0, False
        self.start()

    def ask(self, i):
        if self.sockets[i] is None:
            self.sockets[i] = socket.create_connection(("127.0.0.1", self.port), timeout=2, source_address=(self.address, 0))
        self.sockets[i].sendall(self.REQUEST)
        if not self.sockets[i].recv(300):
            raise ConnectionError
        self.answers += 1

    def run(self):
        while not self.over:
            for i in range(16):
                try:
                    self.ask(i)
                except OSError:  # refused, displaced, or the gateway is just being started again
                    self.forget(i)

    def forget(self, i):
        if self.sockets[i] is not None:
            self.sockets[i].close()
        self.sockets[i] = None

    def end(self):
        self.over = True
        self.join()
        for i in range(16):
            self.forget(i)


class Crowded(GatewayTest):
    ADDRESSES = [f"127.0.0.{n}" for n in range(11, 15)]
    RULES = "rules = ( " + ", ".join([f'{{ address = "{a}"; may = "read"; }}' for a in ADDRESSES] +
                                     ['{ address = "127.0.0.2"; may = "control"; }']) + " ); listen = ("

    def gets_in(self, gateway):
        """Whether the PLC's new connection is answered, and may write."""
        try:
            self.plcs.append(Plc(gateway, source="127.0.0.2"))
            self.plcs[-1].scan()
            return True
        except Exception:  # whatever pymodbus makes of a connection that is closed
            return False

    def test_after_each_restart_and_silence_the_plc_gets_in_with_64_readers_at_every_door(self):
        with Gateway(speed=1, changes=[(r"listen = \(", self.RULES)]) as gateway:
            readers, self.plcs, tries = [Readers(gateway.port, address) for address in self.ADDRESSES], [], []
            try:
                for i in range(27):
                    wait_for(lambda: all(r.answers > 50 for r in readers), 10, "readers that are answered")
                    if i % 3 == 0:
                        port = gateway.port
                        gateway.end()
                        gateway.start(port)
                    else:
                        time.sleep(1.1)  # a connection that is silent for a second may be closed for others
                    for reader in readers:
                        reader.answers = 0
                    wait_for(lambda: all(r.answers > 50 for r in readers), 10, "readers that are answered")
                    tries.append(self.gets_in(gateway))
            finally:
                for reader in readers:
                    reader.end()
            self.assertEqual(tries, [True] * 27)


if __name__ == "__main__":
    main()
