"""What the gateway tells the service manager that started it, judged by a stand-in for the manager's socket.

The messages are those of sd_notify(3): READY, STATUS, WATCHDOG, RELOADING with MONOTONIC_USEC, STOPPING. Called with the
paths of kniferaild and kniferail.
"""
import os
import pathlib
import signal
import socket
import threading
import time
import unittest

from gateway_rig import SLOW, Gateway, GatewayTest, Plc, main, wait_for

LIMIT_S = 2  # WATCHDOG_USEC


class Manager:
    """The socket that a service manager gives: what came is kept as (time, the message's lines by name)."""

    def __init__(self, folder):
        self.path = pathlib.Path(folder) / "notify"
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(self.path))
        self.messages = []
        self.thread = threading.Thread(target=self.listen, daemon=True)
        self.thread.start()

    def listen(self):
        while message := self.socket.recv(4096):
            lines = (line.partition("=") for line in message.decode().splitlines())
            self.messages.append((time.monotonic(), {name: value for name, _, value in lines}))

    def close(self):
        self.socket.shutdown(socket.SHUT_RDWR)
        self.thread.join()
        self.socket.close()

    def of(self, name, since=0):
        return [(at, message) for at, message in self.messages if name in message and at >= since]

    def wait(self, name, seconds=5, since=0, value=None):
        wait_for(lambda: any(value in (None, message[name]) for _, message in self.of(name, since)), seconds, f"{name} of {self.messages}")


class Supervised(GatewayTest):
    def setUp(self):
        self.gateway = Gateway(book=True)
        self.manager = Manager(self.gateway.folder.name)
        self.addCleanup(self.manager.close)
        self.gateway.environment = {"NOTIFY_SOCKET": str(self.manager.path), "WATCHDOG_USEC": str(LIMIT_S * 1000000)}

    def test_it_is_ready_when_it_listens_and_not_before(self):
        with self.gateway as gateway:
            self.manager.wait("READY")
            with socket.create_connection(("127.0.0.1", gateway.port), timeout=5):
                pass
            self.assertEqual(len(self.manager.of("READY")), 1)

    def test_a_gateway_that_cannot_start_is_never_ready(self):
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            taken.listen()
            with self.assertRaisesRegex(AssertionError, "does not start"):
                self.gateway.start(taken.getsockname()[1])
        self.assertEqual(self.gateway.status, 1)
        self.assertEqual(self.manager.of("READY"), [])
        self.gateway.folder.cleanup()

    def test_its_status_says_what_each_station_does(self):
        with self.gateway as gateway:
            self.manager.wait("STATUS", value="small-shear: stopped")
            Plc(gateway).to_idle()
            self.manager.wait("STATUS", value="small-shear: idle")

    def test_the_cycle_feeds_the_watchdog_and_a_cycle_that_stands_does_not(self):
        with self.gateway as gateway:
            wait_for(lambda: len(self.manager.of("WATCHDOG")) >= 5, 10, "watchdog messages")
            times = [at for at, _ in self.manager.of("WATCHDOG")]
            self.assertLess(max(b - a for a, b in zip(times, times[1:])), LIMIT_S / 2 * SLOW)
            os.kill(gateway.process.pid, signal.SIGSTOP)
            stood = time.monotonic() + 0.2  # what was on its way is there by then
            time.sleep(LIMIT_S)
            between = self.manager.of("WATCHDOG", stood)
            os.kill(gateway.process.pid, signal.SIGCONT)
            self.assertEqual(between, [])
            self.manager.wait("WATCHDOG", since=time.monotonic())

    def test_without_a_watchdog_none_is_fed(self):
        del self.gateway.environment["WATCHDOG_USEC"]
        with self.gateway as gateway:
            Plc(gateway).to_idle()
            self.manager.wait("STATUS", value="small-shear: idle")
            self.assertEqual(self.manager.of("WATCHDOG"), [])

    def test_a_reload_is_told_with_its_time_and_its_end_whether_the_file_is_right_or_not(self):
        with self.gateway as gateway:
            self.manager.wait("READY")
            for change in (("pair_mm = 0.3;", "pair_mm = 0.4;"), ("pair_mm = 0.4;", "pair_mm = -1;")):
                gateway.change(change)
                since = time.monotonic()
                gateway.process.send_signal(signal.SIGHUP)
                self.manager.wait("READY", since=since)
                (began, told), (ended, _) = self.manager.of("RELOADING", since)[0], self.manager.of("READY", since)[0]
                self.assertNotIn("READY", told, "in one message the manager would see no reload")
                self.assertLess(began, ended)
                self.assertTrue(since - 0.001 <= int(told["MONOTONIC_USEC"]) / 1e6 <= began, told)

    def test_it_says_that_it_ends_before_it_ends(self):
        with self.gateway as gateway:
            self.manager.wait("READY")
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(len(self.manager.of("STOPPING")), 1)

    def test_a_manager_that_does_not_read_holds_up_nothing(self):
        """Its socket's queue is full: the cycle goes on, and the gateway ends in time."""
        path = pathlib.Path(self.gateway.folder.name) / "deaf"
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as deaf, self.gateway as gateway:
            deaf.bind(str(path))
            gateway.end()
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as filler:
                filler.setblocking(False)
                with self.assertRaises(BlockingIOError):
                    while True:
                        filler.sendto(b"X=1", str(path))
            gateway.environment["NOTIFY_SOCKET"] = str(path)
            gateway.start()
            plc = Plc(gateway)
            self.assertEqual(plc.order(1, 900000, [440000, 420000]), 0)
            self.assertEqual(gateway.end(), 0)

    def test_a_manager_that_is_not_there_is_told_of_in_the_log_once(self):
        self.gateway.environment["NOTIFY_SOCKET"] = str(self.manager.path) + "-none"
        with self.gateway as gateway:
            Plc(gateway).to_idle()
            gateway.wait_for_log("the service manager can't be reached (NOTIFY_SOCKET): No such file or directory")
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(gateway.log().count("NOTIFY_SOCKET"), 1)


if __name__ == "__main__":
    main()
