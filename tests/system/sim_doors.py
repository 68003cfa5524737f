"""The simulator's two doors, its control socket and its Modbus/TCP port, against what clients leave undone: to read the answers,
to ask anything, and to close. And the socket that a killed simulator leaves behind.

    sim_doors.py KNIFERAIL-SIM
"""
import fcntl
import os
import pathlib
import re
import select
import signal
import socket
import struct
import subprocess
import sys
import tempfile
import termios
import time
import unittest

SIMULATOR = sys.argv.pop(1)
ROOT = pathlib.Path(__file__).resolve().parents[2]
CONNECTIONS, CLIENTS = 16, 4      # sim/server.h, and the manual page
SILENT_S, UNREAD_S = 1, 5         # likewise
MEMORY_KIB = 16 * 1024            # far more than the answers that may wait, far less than all that was asked for
PATIENCE_S = 60                   # of the tests, on a busy computer
STATUSWORD = struct.pack(">HHHBBHH", 7, 0, 6, 1, 3, 0, 1)  # a request: transaction 7, unit 1, read one holding register


def until(what, done):
    end = time.monotonic() + PATIENCE_S
    while not done():
        if time.monotonic() > end:
            raise AssertionError(f"not after {PATIENCE_S} s: {what}")
        time.sleep(0.05)


def is_closed(client):
    """Whether the other side has closed, for a client that expects nothing to read."""
    if not select.select([client], [], [], 0)[0]:
        return False
    try:
        return client.recv(1) == b""
    except ConnectionResetError:
        return True


def unread_bytes(client):
    return struct.unpack("i", fcntl.ioctl(client, termios.FIONREAD, bytes(4)))[0]


def waits_for_lock(process):
    """By proc_locks(5): who waits has an arrow before the lock's kind."""
    return re.search(rf"(?m)-> FLOCK +ADVISORY +WRITE {process.pid} ", pathlib.Path("/proc/locks").read_text("ascii"))


class Simulator:
    """kniferail-sim with a control socket, on ports of its own choice. What it says on standard error is in `log`."""

    def __init__(self, folder, name="control"):
        self.path = folder / name
        self.log = open(folder / f"log{time.monotonic_ns()}", "w+", encoding="utf-8")
        self.process = subprocess.Popen([SIMULATOR, "--config", ROOT / "config/wired-shear.cfg", "--listen", "127.0.0.1:0",
                                         "--control", self.path], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                        stderr=self.log, text=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()
        self.log.close()

    def serves(self):
        """Its first port; None if it ended without serving."""
        found = re.search(r" port (\d+), unit", self.process.stdout.readline())
        return int(found[1]) if found else None

    def said(self):
        self.log.seek(0)
        return self.log.read()

    def client(self):
        client = socket.socket(socket.AF_UNIX)
        client.settimeout(PATIENCE_S)
        client.connect(str(self.path))
        return client

    def shows(self):
        """Whether a client that asks is answered. One for whom there is no place is closed, before or after it asks."""
        with self.client() as client:
            try:
                client.sendall(b"show\n")
                return client.recv(100).startswith(b"rail 1")
            except (BrokenPipeError, ConnectionResetError):
                return False

    def memory_kib(self):
        return int(re.search(r"VmRSS:\s+(\d+)", pathlib.Path(f"/proc/{self.process.pid}/status").read_text("ascii"))[1])


class WithFolder(unittest.TestCase):
    def setUp(self):
        holder = tempfile.TemporaryDirectory(prefix="kr_sim_")
        self.addCleanup(holder.cleanup)
        self.folder = pathlib.Path(holder.name)

    def start(self, **how):
        simulator = Simulator(self.folder, **how)
        self.addCleanup(simulator.__exit__)
        return simulator

    def start_and_serve(self):
        simulator = self.start()
        self.assertIsNotNone(simulator.serves(), simulator.said())
        return simulator

    def ends(self, simulator):
        """What it said before it ended, having refused to start."""
        self.assertIsNone(simulator.serves())
        self.assertEqual(simulator.process.wait(PATIENCE_S), 1)
        return simulator.said()


class Clients(WithFolder):
    def test_one_that_never_reads_costs_little_and_is_dropped_with_a_word_in_the_log(self):
        simulator = self.start_and_serve()
        before = simulator.memory_kib()
        deaf = [simulator.client() for _ in range(CLIENTS)]
        for client in deaf:
            self.addCleanup(client.close)
            client.sendall(10000 * b"help\n")  # as many answers as 10 MB; the kernel has room for the questions
        most = 0

        def somebody_is_served():
            nonlocal most
            most = max(most, simulator.memory_kib() - before)
            return simulator.shows()
        until("a client is served, though four took all the places and never read", somebody_is_served)
        until("the log tells of all four", lambda: len(re.findall("left an answer unread for 5 s", simulator.said())) == CLIENTS)
        self.assertLess(most, MEMORY_KIB)
        self.assertIn("control socket", simulator.said())

    def test_one_that_asks_faster_than_it_reads_gets_every_answer(self):
        simulator = self.start_and_serve()
        with simulator.client() as client:
            client.sendall(b"help\n")
            once = client.recv(65536)
            client.sendall(2000 * b"help\n")
            client.shutdown(socket.SHUT_WR)
            looks = [0]

            def full():
                looks.append(unread_bytes(client))
                return looks[-1] == looks[-2] > 0
            until("the kernel takes no more of the answers", full)
            self.assertLess(looks[-1], 2000 * len(once))
            got = b""
            while piece := client.recv(1 << 20):
                got += piece
        self.assertEqual(got.count(once), 2000)
        self.assertEqual(len(got), 2000 * len(once))

    def test_the_one_that_is_silent_longest_gives_way_to_a_new_one(self):
        simulator = self.start_and_serve()
        silent = [simulator.client() for _ in range(CLIENTS)]
        for client in silent:
            self.addCleanup(client.close)
        for client in reversed(silent):  # the last one asks first
            client.sendall(b"counts\n")
            self.assertTrue(client.recv(1000).startswith(b"rail 1"))
            time.sleep(0.005)  # the simulator's clock has milliseconds
        until("a new client is served, though four silent ones have all the places", simulator.shows)
        self.assertTrue(is_closed(silent[-1]), "the one that was silent longest")
        self.assertEqual([c for c in silent[:-1] if is_closed(c)], [])
        self.assertIn("a client without a command for", simulator.said())

    def test_ones_that_give_commands_all_the_time_are_not_displaced(self):
        simulator = self.start_and_serve()
        clients = [simulator.client() for _ in range(CLIENTS)]
        for client in clients:
            self.addCleanup(client.close)
        for _ in range(20):
            began = time.monotonic()
            for client in clients:
                client.sendall(b"counts\n")
                self.assertTrue(client.recv(1000).startswith(b"rail 1"))
            refused = not simulator.shows()
            if time.monotonic() - began < SILENT_S * 0.9:
                self.assertTrue(refused)
        self.assertEqual([c for c in clients if is_closed(c)], [])


class SocketFile(WithFolder):
    def leave_stale(self):
        simulator = self.start_and_serve()
        simulator.process.send_signal(signal.SIGKILL)
        simulator.process.wait()
        self.assertTrue(simulator.path.is_socket(), "a killed process leaves its socket")

    def test_one_that_a_killed_simulator_left_is_replaced(self):
        self.leave_stale()
        simulator = self.start_and_serve()
        self.assertTrue(simulator.shows())
        self.assertIn(str(simulator.path), simulator.said())
        simulator.process.terminate()
        self.assertEqual(simulator.process.wait(PATIENCE_S), 0)
        self.assertFalse(simulator.path.exists(), "one that ends as asked takes its socket away")

    def test_one_at_which_somebody_listens_is_refused_by_name_and_left_alone(self):
        living = self.start_and_serve()
        said = self.ends(self.start())
        self.assertIn(str(living.path), said)
        self.assertIn("a running process listens there", said)
        self.assertTrue(living.shows())

    def test_a_file_that_is_no_socket_is_refused_by_name_and_left_alone(self):
        notes = self.folder / "notes"
        notes.write_text("of the night shift", encoding="ascii")
        said = self.ends(self.start(name="notes"))
        self.assertIn(str(notes), said)
        self.assertIn("is not a socket", said)
        self.assertEqual(notes.read_text("ascii"), "of the night shift")

    def test_of_two_that_start_at_once_one_serves(self):
        self.leave_stale()
        folder = os.open(self.folder, os.O_RDONLY)
        self.addCleanup(os.close, folder)
        fcntl.flock(folder, fcntl.LOCK_EX)
        both = [self.start(), self.start()]
        until("both wait for the folder's lock", lambda: all(waits_for_lock(simulator.process) for simulator in both))
        fcntl.flock(folder, fcntl.LOCK_UN)
        serving = [simulator for simulator in both if simulator.serves() is not None]
        self.assertEqual(len(serving), 1, [simulator.said() for simulator in both])
        self.assertTrue(serving[0].shows())

    def test_a_name_that_is_too_long_is_refused_not_cut(self):
        name = 108 * "x"
        self.assertIn("107", self.ends(self.start(name=name)))
        self.assertEqual([p.name for p in self.folder.iterdir() if p.is_socket()], [])


class Connections(WithFolder):
    def setUp(self):
        super().setUp()
        self.simulator = self.start()
        self.port = self.simulator.serves()
        until("the drive, which has just been switched on, answers", self.new_is_served)

    def connect(self):
        client = socket.create_connection(("127.0.0.1", self.port), PATIENCE_S)
        self.addCleanup(client.close)
        return client

    @staticmethod
    def asks(client):
        """Whether a request is answered."""
        try:
            client.sendall(STATUSWORD)
            return client.recv(100)[:2] == STATUSWORD[:2]
        except ConnectionError:
            return False

    def new_is_served(self):
        with socket.create_connection(("127.0.0.1", self.port), PATIENCE_S) as client:
            return self.asks(client)

    def fill(self):
        """Takes all the places. The simulator may not have seen yet that an earlier client has gone."""
        clients = []

        def full():
            clients[:] = [c for c in [*clients, self.connect()] if self.asks(c)]
            return len(clients) == CONNECTIONS
        until("all places are taken", full)
        return clients

    def test_the_one_that_is_idle_longest_gives_way_to_a_new_one(self):
        clients = self.fill()
        for client in reversed(clients):
            self.assertTrue(self.asks(client))
            time.sleep(0.005)  # the simulator's clock has milliseconds
        until("a new connection is served", self.new_is_served)
        self.assertTrue(is_closed(clients[-1]), "the one that was silent longest")
        self.assertEqual([c for c in clients[:-1] if is_closed(c)], [])
        self.assertIn("gives way", self.simulator.said())

    def test_ones_that_ask_all_the_time_are_not_displaced(self):
        clients = self.fill()
        end = time.monotonic() + PATIENCE_S
        while True:
            began = time.monotonic()
            answered = [self.asks(c) for c in clients]
            refused = not self.new_is_served()
            if time.monotonic() - began < SILENT_S * 0.9:
                break
            self.assertLess(time.monotonic(), end, "the computer is too busy for this test")
        self.assertEqual((answered, refused), (CONNECTIONS * [True], True))
        self.assertTrue(all(self.asks(c) for c in clients))


if __name__ == "__main__":
    unittest.main()
