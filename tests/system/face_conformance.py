#!/usr/bin/python3
"""The face asked by masters that nobody here wrote: pymodbus, mbpoll, libmodbus's own client; and, for roles and control, by a
raw client from several loopback addresses.

Usage: face_conformance.py FACE_HOST FACE_LIBMODBUS [unittest arguments]"""
import struct
import subprocess
import sys
import time
import unittest

from face_server import Host, Raw, adu
from pymodbus_names import (GetCommEventCounterRequest, GetCommEventLogRequest, MaskWriteRegisterRequest, ReadCoilsRequest,
                            ReadDeviceInformationRequest, ReadExceptionStatusRequest, ReadFifoQueueRequest,
                            ReadWriteMultipleRegistersRequest, ReportSlaveIdRequest, ReturnQueryDataRequest, connected, execute)

FACE_HOST, FACE_LIBMODBUS = sys.argv[1:3]

# Addresses of the register map that the tests use.
HEARTBEAT, PERMISSIVES, ACCESS = 0, 1, 16
COMMAND, COMMAND_NUMBER = 33, 40
REQUEST_NUMBER, ORDER_NUMBER, SLIT_COUNT, WIDTH = 98, 100, 102, 120
STATUS, COMMAND_ECHO, REQUEST_BUSY, VERDICT_NUMBER, OWN_ROLE, OWN_CONTROL, HELD = 9, 22, 30, 32, 69, 70, 71
RAIL_1_POSITION, WINDOW = 2100, 10000
TAKE, RELEASE, TAKE_OVER = 1, 2, 3
ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, BUSY, NO_PATH = 1, 2, 3, 6, 10


def wait_until(condition, seconds=5.0):
    """Asks again and again; False if it never came true."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.002)
    return False


class Pymodbus(unittest.TestCase):
    """pymodbus's synchronous client."""

    @classmethod
    def setUpClass(cls):
        cls.host = Host(FACE_HOST).__enter__()

    @classmethod
    def tearDownClass(cls):
        cls.host.__exit__()

    def setUp(self):
        self.client = connected(self.host.port)
        self.assertFalse(self.client.write_register(ACCESS, TAKE, slave=1).isError())

    def tearDown(self):
        self.client.write_register(ACCESS, RELEASE, slave=1)
        self.client.close()

    def exception(self, answer):
        self.assertTrue(answer.isError(), answer)
        return answer.exception_code

    def test_reads_of_every_kind_at_their_largest(self):
        self.assertEqual(self.client.read_input_registers(0, count=125, slave=1).registers[:2], [0x0102, 0x0304])
        self.assertEqual(self.client.read_holding_registers(WINDOW, count=125, slave=1).registers[:2], [0x0102, 0x0304])
        self.assertEqual(len(self.client.read_coils(0, count=16, slave=1).bits), 16)
        self.assertEqual(len(self.client.read_discrete_inputs(1000, count=128, slave=1).bits), 128)

    def test_writes_of_every_kind_read_back(self):
        values = list(range(1, 124))
        self.assertFalse(self.client.write_registers(WIDTH, values, slave=1).isError())
        self.assertEqual(self.client.read_holding_registers(WIDTH, count=123, slave=1).registers, values)
        self.assertFalse(self.client.write_register(ORDER_NUMBER, 0x12, slave=1).isError())
        self.assertFalse(execute(self.client, MaskWriteRegisterRequest, address=ORDER_NUMBER, and_mask=0xF2, or_mask=0x25).isError())
        self.assertEqual(self.client.read_holding_registers(ORDER_NUMBER, count=1, slave=1).registers, [0x17])  # APP 6.16
        self.assertFalse(self.client.write_coil(2, True, slave=1).isError())
        self.assertFalse(self.client.write_coils(4, [True, False, True], slave=1).isError())
        self.assertEqual(self.client.read_holding_registers(PERMISSIVES, count=1, slave=1).registers, [0b1010100])
        both = execute(self.client, ReadWriteMultipleRegistersRequest, read_address=WIDTH, read_count=125, write_address=WIDTH,
                       write_registers=list(range(121)))
        self.assertEqual(both.registers[:121], list(range(121)))

    def test_exceptions(self):
        self.assertEqual(self.exception(self.client.read_holding_registers(60000, count=1, slave=1)), ILLEGAL_ADDRESS)
        self.assertEqual(self.exception(self.client.write_register(WINDOW, 1, slave=1)), ILLEGAL_ADDRESS)
        self.assertEqual(self.exception(self.client.write_registers(399, [1, 2], slave=1)), ILLEGAL_ADDRESS)
        for count in (0, 2001):
            answer = execute(self.client, ReadCoilsRequest, address=0, count=count)
            self.assertEqual(self.exception(answer), ILLEGAL_VALUE)
        self.assertEqual(self.exception(self.client.read_input_registers(0, count=1, slave=9)), NO_PATH)

    def test_functions_of_serial_lines_and_queues_are_not_offered(self):
        for kind, fields in ((ReadExceptionStatusRequest, {}), (ReturnQueryDataRequest, {"message": 0x1234}),
                             (GetCommEventCounterRequest, {}), (GetCommEventLogRequest, {}), (ReportSlaveIdRequest, {}),
                             (ReadFifoQueueRequest, {"address": 1})):
            with self.subTest(request=kind.__name__):
                self.assertEqual(self.exception(execute(self.client, kind, **fields)), ILLEGAL_FUNCTION)

    def test_device_identification(self):
        for code, objects in ((1, {0, 1, 2}), (2, {0, 1, 2, 4}), (3, {0, 1, 2, 4, 0x80, 0x81})):
            answer = execute(self.client, ReadDeviceInformationRequest, read_code=code)
            self.assertEqual(set(answer.information), objects)
            self.assertEqual(answer.conformity, 0x83)
            self.assertEqual(answer.information[1], b"face_host")
        answer = execute(self.client, ReadDeviceInformationRequest, unit=2, read_code=4, object_id=0x80)
        self.assertEqual(answer.information, {0x80: b"south"})


class Mbpoll(unittest.TestCase):
    """mbpoll: numbers registers from 1, speaks of types 0 (coil), 1 (discrete input), 3 (input) and 4 (holding)."""

    @classmethod
    def setUpClass(cls):
        cls.host = Host(FACE_HOST, first_write=1).__enter__()

    @classmethod
    def tearDownClass(cls):
        cls.host.__exit__()

    def mbpoll(self, *arguments):
        # -B: 32-bit values high word first
        command = ["mbpoll", "-m", "tcp", "-p", str(self.host.port), "-1", "-q", "-o", "2", "-B", *arguments]
        done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
        return done.returncode, done.stdout + done.stderr

    def values(self, *arguments):
        status, text = self.mbpoll(*arguments)
        self.assertEqual(status, 0, text)
        return [line.split("\t")[-1].split()[0] for line in text.splitlines() if line.startswith("[")]

    def test_reads(self):
        self.assertEqual(self.values("-a", "1", "-t", "3:int", "-r", "1", "-c", "1", "127.0.0.1"), ["16909060"])
        self.assertEqual(self.values("-a", "1", "-t", "4:int", "-r", "10001", "-c", "1", "127.0.0.1"), ["16909060"])
        self.assertEqual(len(self.values("-a", "1", "-t", "0", "-r", "1", "-c", "16", "127.0.0.1")), 16)
        self.assertEqual(len(self.values("-a", "1", "-t", "1", "-r", "1001", "-c", "125", "127.0.0.1")), 125)

    def test_writes(self):
        status, text = self.mbpoll("-a", "1", "-t", "4", "-r", "121", "127.0.0.1", "7", "8", "9")
        self.assertEqual(status, 0, text)
        self.assertEqual(self.values("-a", "1", "-t", "4", "-r", "121", "-c", "3", "127.0.0.1"), ["7", "8", "9"])
        status, text = self.mbpoll("-a", "1", "-t", "0", "-r", "3", "127.0.0.1", "1")
        self.assertEqual(status, 0, text)
        self.assertEqual(self.values("-a", "1", "-t", "4", "-r", "2", "-c", "1", "127.0.0.1"), ["4"])

    def test_an_exception_is_told(self):
        status, text = self.mbpoll("-a", "1", "-t", "4", "-r", "60001", "-c", "1", "127.0.0.1")
        self.assertNotEqual(status, 0)
        self.assertIn("Illegal data address", text)


class Libmodbus(unittest.TestCase):
    def test_all_that_its_client_can_ask(self):
        with Host(FACE_HOST) as host:
            done = subprocess.run([FACE_LIBMODBUS, str(host.port)], capture_output=True, text=True, timeout=60,
                                  check=False)
            self.assertEqual(done.returncode, 0, done.stderr)


class Roles(unittest.TestCase):
    """From 127.0.0.1 (maintain), .2 and .3 (control), .4 (read), .6 and .7 (the group "cabinet"), .9 (nothing)."""

    def setUp(self):
        self.host = Host(FACE_HOST, judge=5).__enter__()
        self.clients = []

    def tearDown(self):
        for client in self.clients:
            client.close()
        self.host.__exit__()

    def client(self, source):
        self.clients.append(Raw(self.host.port, source))
        return self.clients[-1]

    def test_each_reads_its_own_role(self):
        for source, role in (("127.0.0.1", 2), ("127.0.0.2", 1), ("127.0.0.4", 0), ("127.0.0.6", 2)):
            self.assertEqual(self.client(source).read(4, OWN_ROLE, 1), [role])

    def test_no_right_no_connection(self):
        self.assertIsNone(self.client("127.0.0.9").ask(b"\x04\x00\x00\x00\x01"))

    def test_a_reader_writes_nothing(self):
        reader = self.client("127.0.0.4")
        self.assertEqual(reader.write(ACCESS, TAKE), ILLEGAL_FUNCTION)
        self.assertEqual(reader.write(PERMISSIVES, 1), ILLEGAL_FUNCTION)
        self.assertEqual(reader.read(3, PERMISSIVES, 1), [0])

    def test_a_master_that_connects_for_every_request_keeps_control(self):
        with Raw(self.host.port, "127.0.0.2") as plc:
            self.assertEqual(plc.write(ACCESS, TAKE), 0)
        for beat in range(20):
            with Raw(self.host.port, "127.0.0.2") as plc:
                self.assertEqual(plc.write(HEARTBEAT, beat), 0)
        with Raw(self.host.port, "127.0.0.2") as plc:
            self.assertEqual(plc.read(4, OWN_CONTROL, 1), [1])
        self.assertEqual(self.client("127.0.0.3").write(ACCESS, TAKE), ILLEGAL_FUNCTION)

    def test_a_master_may_write_on_one_connection_and_read_on_another(self):
        writing, reading = self.client("127.0.0.2"), self.client("127.0.0.2")
        self.assertEqual(writing.write(ACCESS, TAKE), 0)
        for number in range(1, 20):
            self.assertEqual(writing.write(COMMAND_NUMBER, number), 0)
            self.assertTrue(wait_until(lambda n=number: reading.read(4, COMMAND_ECHO, 1) == [n]))

    def test_two_addresses_of_a_group_share_control(self):
        one, other = self.client("127.0.0.6"), self.client("127.0.0.7")
        self.assertEqual(one.write(ACCESS, TAKE), 0)
        self.assertEqual(other.write(HEARTBEAT, 1), 0)
        self.assertEqual(other.read(4, OWN_CONTROL, 2), [1, 1])
        name = struct.pack(">20H", *self.client("127.0.0.4").read(4, HELD + 1, 20))
        self.assertEqual(name.rstrip(b"\0"), b"cabinet")

    def test_a_take_over_stops_motion_first(self):
        plc, maintainer = self.client("127.0.0.2"), self.client("127.0.0.1")
        self.assertEqual(plc.write(ACCESS, TAKE), 0)
        self.assertEqual(plc.write(COMMAND, 2), 0)
        self.assertEqual(plc.write(COMMAND_NUMBER, 1), 0)
        self.assertTrue(wait_until(lambda: plc.read(4, STATUS, 1)[0] & 8))
        self.assertEqual(maintainer.write(ACCESS, TAKE_OVER), 0)
        self.assertEqual(plc.write(HEARTBEAT, 1), ILLEGAL_FUNCTION)  # at once
        moving, held = [], []
        while maintainer.read(4, OWN_CONTROL, 1) == [0]:
            status = maintainer.read(4, STATUS, 1)[0]
            moving.append(status & 8)
            held.append(maintainer.read(4, HELD, 1)[0])
        self.assertIn(8, moving)
        self.assertIn(2, held)
        self.assertEqual(maintainer.read(4, STATUS, 1)[0] & 8, 0)
        self.assertEqual(plc.write(HEARTBEAT, 1), ILLEGAL_FUNCTION)
        self.assertEqual(maintainer.write(HEARTBEAT, 1), 0)

    def test_one_request_at_a_time_from_the_write_to_the_verdict(self):
        plc = self.client("127.0.0.2")
        self.assertEqual(plc.write(ACCESS, TAKE), 0)
        self.assertEqual(plc.write(SLIT_COUNT, 3), 0)
        self.assertEqual(plc.write(REQUEST_NUMBER, 7), 0)
        self.assertEqual(plc.write(REQUEST_NUMBER, 8), BUSY)
        self.assertEqual(plc.write(REQUEST_NUMBER, 7), 0)
        self.assertTrue(wait_until(lambda: plc.read(4, VERDICT_NUMBER, 1) == [7]))
        self.assertEqual(plc.read(4, REQUEST_BUSY, 1), [0])
        self.assertEqual(plc.write(REQUEST_NUMBER, 8), 0)


class Heartbeat(unittest.TestCase):
    def test_control_is_lost_by_silence_and_not_by_a_disconnect(self):
        with Host(FACE_HOST, stale_ms=300) as host, Raw(host.port, "127.0.0.4") as reader:
            with Raw(host.port, "127.0.0.2") as plc:
                self.assertEqual(plc.write(ACCESS, TAKE), 0)
                self.assertEqual(plc.write(PERMISSIVES, 5), 0)
            for beat in range(1, 6):  # 500 ms of life, each beat on a connection of its own
                with Raw(host.port, "127.0.0.2") as plc:
                    self.assertEqual(plc.ask(struct.pack(">BHHBHH", 16, HEARTBEAT, 2, 4, beat, 5))[0], 16)
                self.assertEqual(reader.read(4, HELD, 1), [1])
                time.sleep(0.1)
            self.assertTrue(wait_until(lambda: reader.read(4, HELD, 1) == [0], 3.0))
            self.assertEqual(reader.read(3, PERMISSIVES, 1), [0])


class Consistency(unittest.TestCase):
    """The made-up station writes the cycle's number to every element of its arrays."""

    def test_what_one_request_reads_is_of_one_cycle(self):
        seen = set()
        with Host(FACE_HOST, period_ms=1) as host, Raw(host.port) as client:
            for _ in range(3000):
                words = client.read(4, RAIL_1_POSITION, 124)
                pairs = set(zip(words[0::2], words[1::2]))
                self.assertEqual(len(pairs), 1)
                seen |= pairs
        self.assertGreater(len(seen), 50)

    def test_requests_of_one_segment_are_answered_with_one(self):
        with Host(FACE_HOST) as host, Raw(host.port) as client:
            begin = time.monotonic()
            for _ in range(50):
                client.send(b"".join(adu(n, b"\x04\x00\x00\x00\x02") for n in range(3)))
                self.assertEqual([client.frame()[1] for _ in range(3)], [0, 1, 2])
            # Nagle's algorithm against delayed acknowledgement would cost 40 ms a burst.
            self.assertLess(time.monotonic() - begin, 1.0)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0]] + sys.argv[3:], verbosity=2)
