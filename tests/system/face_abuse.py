#!/usr/bin/python3
"""Bad clients against the face, while a well-behaved one polls beside them from another address. Whatever the bad ones do, the good
one must get every answer, and soon; and no cycle of the station may wait for the face.

Usage: face_abuse.py FACE_HOST FACE_LOAD [unittest arguments]
KR_SEED=n gives another seed for the random frames, KR_FRAMES=n another number of them."""
import json
import os
import random
import socket
import struct
import subprocess
import sys
import time
import unittest

from face_server import Host, Raw, adu

FACE_HOST, FACE_LOAD = sys.argv[1:3]
SEED = int(os.environ.get("KR_SEED", "4"))
FRAMES = int(os.environ.get("KR_FRAMES", "100000"))
SLOW = os.environ.get("KR_SLOW") == "1"  # under a sanitizer: the times mean nothing

# What is judged is the face's own doing, in its own CPU time; the clock on the wall also tells what the machine's other
# programs and its host took away, so that answers' times are printed here and compared in the benchmark. The kernel's work
# on other programs' sockets can count as CPU time of the face as well, so a run that held a cycle up is repeated once: the
# face's own doing comes again.
LONGEST_HOLD_US = 5_000  # CPU time for which the face may keep a cycle waiting: half a period
FEW = 50  # one late cycle in so many is the machine's noise; a face that holds cycles up misses them in rows
POLITE = "127.0.0.4"
OFFERED = (1, 2, 3, 4, 5, 6, 15, 16, 22, 23, 43)
GOOD = b"\x04\x00\x00\x00\x02"


class Polite:
    """The well-behaved client: 125 registers, 500 times a second, from its own address."""

    def __init__(self, port, seconds):
        command = [FACE_LOAD, f"port={port}", f"source={POLITE}", "pace_us=2000", "warm_ms=0", f"seconds={seconds}"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)

    def result(self):
        out, _ = self.process.communicate(timeout=60)
        return json.loads(out)


class Abuse(unittest.TestCase):
    seconds = 2
    again = False

    def setUp(self):
        self.host = Host(FACE_HOST, connections=400, per_address=300, partial_ms=500, watch=1).__enter__()
        self.sockets = []

    def begin(self):
        self.polite = Polite(self.host.port, self.seconds)
        self.end = time.monotonic() + self.seconds

    def tearDown(self):
        polite = self.polite.result()
        for each in self.sockets:
            each.close()
        self.host.__exit__()
        counts = self.host.counts
        print(f"\n  the polite client: {polite['requests']} requests, worst {polite['max']} us; the station: "
              f"{counts['cycles']} cycles, {counts['missed']} missed ({counts['missed_running']} while it had the processor), held up "
              f"{counts['longest_cpu_us']} us at most", end=" ")
        self.assertEqual(polite["errors"], 0)
        self.assertGreater(polite["requests"], 10 * self.seconds)
        if not SLOW and counts["longest_cpu_us"] > LONGEST_HOLD_US and not self.again:
            self.again = True
            self.setUp()
            getattr(self, self._testMethodName)()
            self.tearDown()
        elif not SLOW:
            self.assertLessEqual(counts["longest_cpu_us"], LONGEST_HOLD_US)
            self.assertLessEqual(counts["missed_running"], counts["cycles"] // FEW)

    def connect(self, n):
        for _ in range(n):
            self.sockets.append(socket.create_connection(("127.0.0.1", self.host.port)))
        return self.sockets[-n:]

    def over(self):
        return time.monotonic() >= self.end

    def test_nobody_else(self):
        """The polite client alone: what the others are measured by."""
        self.begin()

    def test_bytes_that_dribble_on_200_connections(self):
        self.begin()
        dribbling = self.connect(200)
        for byte in adu(1, GOOD):
            for each in dribbling:
                try:
                    each.send(bytes([byte]))
                except OSError:
                    pass  # its half frame has expired
            time.sleep(0.02)

    def test_half_frames_on_250_connections_expire(self):
        self.begin()
        for each in self.connect(250):
            each.send(adu(1, GOOD)[:7])
        for each in self.sockets:
            each.settimeout(5)
            self.assertEqual(each.recv(1), b"")

    def test_disconnects_in_the_middle_of_a_frame(self):
        self.begin()
        while not self.over():
            for cut in range(1, 12):
                with socket.create_connection(("127.0.0.1", self.host.port)) as each:
                    each.send(adu(1, GOOD)[:cut])

    def test_readers_that_never_read_with_deep_pipelines(self):
        self.begin()
        pipeline = b"".join(adu(n, b"\x04\x00\x00\x00\x7d") for n in range(1000))
        for each in self.connect(100):
            each.setblocking(False)
        while not self.over():
            for each in self.sockets:
                try:
                    each.send(pipeline)
                except (BlockingIOError, ConnectionError):
                    pass
            time.sleep(0.001)

    def test_deep_pipelines_that_are_read(self):
        self.begin()
        pipeline = b"".join(adu(n, GOOD) for n in range(1000))
        clients = [Raw(self.host.port) for _ in range(10)]
        while not self.over():
            for each in clients:
                each.send(pipeline)
            for each in clients:
                self.assertEqual(len(each.receive(13 * 1000)), 13 * 1000)
        for each in clients:
            each.close()

    def test_a_thousand_connections(self):
        self.begin()
        clients = self.connect(1000)
        time.sleep(0.2)
        open_still = 0
        for each in clients:
            each.setblocking(False)
            try:
                each.send(adu(1, GOOD))
                time.sleep(0.0005)
                open_still += each.recv(100) != b""
            except BlockingIOError:
                open_still += 1
            except ConnectionError:
                pass
        self.assertLessEqual(open_still, 300)

    def test_connections_that_come_and_go_without_end(self):
        self.begin()
        while not self.over():
            for each in self.connect(20):
                each.close()
            self.sockets.clear()


class Crowd(unittest.TestCase):
    """512 clients, each with 16 requests at once and the next 16 as soon as it has the answers."""

    def load(self):
        with Host(FACE_HOST, connections=600, per_address=600, watch=1) as host:
            command = [FACE_LOAD, f"port={host.port}", "clients=512", "depth=16", "seconds=2"]
            done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
        load, counts = json.loads(done.stdout), host.counts
        print(f"\n  {load['per_s']} requests a second; {counts['cycles']} cycles, {counts['missed']} missed, of these "
              f"{counts['missed_running']} while the host had the processor; held up {counts['longest_cpu_us']} us at "
              f"most; requests waited {counts['postponed']} times", end=" ")
        self.assertEqual(load["errors"], 0)
        self.assertEqual((counts["refused"], counts["evicted"]), (0, 0))
        self.assertGreater(counts["postponed"], 0)
        return counts

    def test_no_cycle_is_missed_under_512_pipelining_clients(self):
        counts = self.load()
        if not SLOW and counts["longest_cpu_us"] > LONGEST_HOLD_US:
            counts = self.load()
        if not SLOW:
            self.assertLessEqual(counts["longest_cpu_us"], LONGEST_HOLD_US)
            self.assertLessEqual(counts["missed_running"], counts["cycles"] // FEW)


class Frames(unittest.TestCase):
    """One bad client; each of its requests is followed, in the same segment, by a good one, which must be answered."""

    def setUp(self):
        self.host = Host(FACE_HOST, first_write=1).__enter__()
        self.client = Raw(self.host.port)

    def tearDown(self):
        self.client.close()
        self.host.__exit__()

    def ask(self, pdu, unit=1, again=True):
        """The answer's PDU; the good request behind it must not be lost. An answer that sleeps does so every time: one slow
        answer alone is the machine's."""
        begin = time.monotonic()
        self.client.send(adu(0x4242, pdu, unit) + adu(0x4343, GOOD))
        answer = self.client.frame()
        behind = self.client.frame()
        if not SLOW and time.monotonic() - begin >= 0.25:
            self.assertTrue(again, f"{pdu.hex()} takes long each time")
            return self.ask(pdu, unit, again=False)
        self.assertEqual(answer[:4], b"\x42\x42\x00\x00", pdu.hex())
        self.assertEqual(behind[:2] + behind[7:], b"\x43\x43\x04\x04\x01\x02\x03\x04", pdu.hex())
        return answer[7:]

    def expect_exception(self, pdu, code, unit=1):
        self.assertEqual(self.ask(pdu, unit), bytes([pdu[0] | 0x80, code]), pdu.hex())

    def test_every_function_code_with_payloads_of_every_length(self):
        for function in range(256):
            for length in (0, 1, 3, 4, 5, 7, 20, 252):
                answer = self.ask(bytes([function]) + bytes(length))
                if function not in OFFERED:
                    self.assertEqual(answer, bytes([function | 0x80, 1]))

    def test_every_unit_identifier(self):
        for unit in range(256):
            if unit in (0, 1, 2, 255):
                self.assertEqual(self.ask(GOOD, unit)[0], 4)
            else:
                self.expect_exception(GOOD, 10, unit)

    def test_every_edge_of_a_quantity(self):
        for function, most in ((1, 2000), (2, 2000), (3, 125), (4, 125)):
            for quantity in (0, most + 1, most + 2, 255, 256, 2001, 32767, 32768, 65535):
                if quantity == 0 or quantity > most:
                    self.expect_exception(struct.pack(">BHH", function, 0, quantity), 3)

    def test_byte_counts_that_disagree_with_quantities_and_lengths(self):
        for count in range(256):
            for n in (0, 1, 2, 123):
                payload = bytes(min(2 * n, 240))
                if count != 2 * n or len(payload) != 2 * n:
                    self.expect_exception(struct.pack(">BHHB", 16, 120, n, count) + payload, 3)
                if count != 1 or len(payload) != 1:
                    self.expect_exception(struct.pack(">BHHB", 15, 0, 8, count) + payload, 3)
                if count != 2 * n or len(payload) != 2 * n or n == 0 or n > 121:
                    self.expect_exception(struct.pack(">BHHHHB", 23, 120, 1, 120, n, count) + payload[:230], 3)

    def test_bytes_behind_a_request_are_never_carried_out(self):
        hidden = adu(9, b"\x06\x00\x01\x00\x55")
        for pdu in (GOOD, b"\x03\x00\x00\x00\x01", b"\x06\x00\x64\x00\x01", b"\x10\x00\x64\x00\x01\x02\x00\x01"):
            self.expect_exception(pdu + hidden, 3)
        self.assertEqual(self.ask(b"\x03\x00\x01\x00\x01"), b"\x03\x02\x00\x00")

    def test_a_write_of_wrong_length_writes_nothing(self):
        for pdu in (b"\x10\x00\x64\x00\x02\x04\x11\x11\x22", b"\x10\x00\x64\x00\x01\x02\x11\x11\x22", b"\x06\x00\x64\x11",
                    b"\x06\x00\x64\x11\x11\x11", b"\x16\x00\x64\x00\x00\x11\x11\x00",
                    b"\x17\x00\x64\x00\x01\x00\x64\x00\x01\x02\x11"):
            self.expect_exception(pdu, 3)
        self.assertEqual(self.ask(b"\x03\x00\x64\x00\x02"), b"\x03\x04\x00\x00\x00\x00")

    def test_every_length_field(self):
        for length in list(range(0, 300)) + [0x7FFF, 0x8000, 0xFFFF]:
            with Raw(self.host.port) as client:
                client.send(adu(1, GOOD, length=length) + bytes(300))
                answer = client.frame()
                if length < 2 or length > 254:
                    self.assertEqual(answer, b"", length)
                else:
                    self.assertEqual(answer[:2], b"\x00\x01", length)

    def test_every_bit_of_the_protocol_identifier(self):
        for bit in range(16):
            self.client.send(adu(1, GOOD, protocol=1 << bit) + adu(2, GOOD))
            self.assertEqual(self.client.frame()[:2], b"\x00\x02")

    def test_other_protocols(self):
        for greeting in (b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(500),
                         b"SSH-2.0-x\r\n" + bytes(500), bytes(2000), b"\xff" * 2000):
            with Raw(self.host.port) as client:
                try:
                    client.send(greeting)
                    self.assertEqual(client.receive(10000), b"")
                except ConnectionError:
                    pass
        self.assertEqual(self.ask(GOOD)[0], 4)


class RandomFrames(unittest.TestCase):
    def random_pdu(self, rng):
        kind = rng.randrange(4)
        function = rng.choice(OFFERED) if kind else rng.randrange(256)
        if kind < 2:
            return bytes([function]) + rng.randbytes(rng.randrange(253))
        first, n = rng.choice((0, 16, 32, 96, 120, 10000, 9999, 65535, rng.randrange(65536))), rng.randrange(130)
        pdu = struct.pack(">BHH", function, first, n)
        if function in (15, 16):
            values = rng.randbytes(min(2 * n if function == 16 else (n + 7) // 8, 246))
            pdu += bytes([len(values)]) + values
        if kind == 3:  # one byte changed
            at = rng.randrange(len(pdu))
            pdu = pdu[:at] + rng.randbytes(1) + pdu[at + 1:]
        return pdu

    def test_every_frame_that_can_be_framed_gets_exactly_one_answer(self):
        rng = random.Random(SEED)
        print(f"\n  {FRAMES} frames, seed {SEED}", end=" ")
        with Host(FACE_HOST, first_write=1) as host, Raw(host.port) as client:
            for begin in range(0, FRAMES, 50):
                frames = [adu((begin + i) & 0xFFFF, self.random_pdu(rng), rng.choice((0, 1, 2, 255, rng.randrange(256))))
                          for i in range(50)]
                client.send(b"".join(frames))
                for frame in frames:
                    answer = client.frame()
                    self.assertEqual(answer[:4] + answer[6:7], frame[:4] + frame[6:7], f"seed {SEED}: {frame.hex()}")
                    self.assertEqual(answer[7] & 0x7F, frame[7] & 0x7F, f"seed {SEED}: {frame.hex()}")
        self.assertEqual(host.counts["requests"], FRAMES + 1)  # one took control

    def test_streams_with_any_byte_changed_do_no_harm(self):
        rng = random.Random(SEED)
        with Host(FACE_HOST, connections=50, per_address=50, first_write=1, partial_ms=10) as host:
            for _ in range(2000):
                stream = bytearray(b"".join(adu(n, self.random_pdu(rng)) for n in range(5)))
                for _ in range(rng.randrange(1, 4)):
                    stream[rng.randrange(len(stream))] = rng.randrange(256)
                with Raw(host.port) as client:
                    client.send(bytes(stream))
            with Raw(host.port) as client:
                self.assertEqual(client.read(4, 0, 2), [0x0102, 0x0304])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0]] + sys.argv[3:], verbosity=2)
