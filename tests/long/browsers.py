"""Fifty browsers at the panel while its station changes over, again and again: memory stays flat, the gateway has one client
more, and no cycle of the daemon is late that the kernel's accounting does not explain.

    browsers.py KNIFERAILD KNIFERAIL KNIFERAIL-PANEL [MINUTES]

A browser here is what one is to the panel: a connection that reads a stream of server-sent events as it comes. The first
minute counts for nothing: memory that is used for the first time is used then.
"""
import contextlib
import pathlib
import re
import selectors
import socket
import sys
import time

PANEL = sys.argv.pop(3)
MINUTES = float(sys.argv.pop(3)) if len(sys.argv) > 3 else 10
ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "system"), str(ROOT / "tests" / "survive")]

from gateway_rig import Gateway, Plc  # noqa: E402 (it takes its own paths off the command line)
from panel_rig import Panel  # noqa: E402
from waiting import Waiting  # noqa: E402

BROWSERS = 50
PERIOD_MS = 500  # as the panel reads unless told otherwise
FLAT_KIB = 1024
OWN_LATE_MOST = 10  # what the kernel does for the daemon (a page to fetch) is not counted as waiting
ORDERS = ([125000] * 9, [230000] * 5)
WEB = 1200000


class Browsers:
    """Streams of events of one station, read as fast as they come."""

    def __init__(self, port):
        self.selector, self.events, self.bytes = selectors.DefaultSelector(), [0] * BROWSERS, 0
        for i in range(BROWSERS):
            connection = socket.create_connection(("127.0.0.1", port))
            connection.sendall(b"GET /api/v1/stations/1/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
            connection.setblocking(False)
            self.selector.register(connection, selectors.EVENT_READ, i)

    def read(self, seconds):
        for key, _ in self.selector.select(seconds):
            data = key.fileobj.recv(1 << 20)
            if not data:
                raise AssertionError(f"the panel closed the stream of browser {key.data + 1}")
            self.bytes += len(data)
            self.events[key.data] += data.count(b"event: ")

    def close(self):
        for key in list(self.selector.get_map().values()):
            key.fileobj.close()
        self.selector.close()


def resident_kib(process):
    status = pathlib.Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
    return int(re.search(r"VmRSS:\s+(\d+)", status).group(1))


def clients_at(port):
    """Established connections at the gateway's port, by proc_net_tcp(5)."""
    rows = pathlib.Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]
    return sum(row.split()[1].endswith(f":{port:04X}") and row.split()[3] == "01" for row in rows)


class Run:
    def __init__(self, gateway, panel, browsers):
        self.gateway, self.panel, self.browsers = gateway, panel, browsers
        self.plc, self.changeovers = Plc(gateway), 0
        self.plc.connect()

    def begin_changeover(self):
        if self.plc.order(self.changeovers + 1, WEB, ORDERS[self.changeovers % 2]) != 0:
            raise AssertionError("the order is refused")
        self.plc.start()
        self.changeovers += 1

    def go_on(self, seconds):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            scan_at = time.monotonic() + 0.1
            while time.monotonic() < scan_at:
                self.browsers.read(scan_at - time.monotonic() if scan_at > time.monotonic() else 0)
            self.plc.scan()
            if self.plc.state() == "COMPLETE":
                self.begin_changeover()

    def measured(self):
        return resident_kib(self.panel.process), resident_kib(self.gateway.process), self.plc.read("OVERRUNS"), \
            self.plc.read("CYCLES"), min(self.browsers.events)


def judge(run, before, after, waited_s, clients):
    panel_kib, daemon_kib, late, cycles, events = (b - a for a, b in zip(before, after))
    period_s = run.plc.read("PERIOD") / 1000
    print(f"{BROWSERS} browsers, {MINUTES:g} minutes: {events} events to each at least, {run.browsers.bytes / 1e6:.0f} MB in all, "
          f"{run.changeovers} changeovers begun; the gateway has {clients} clients")
    print(f"memory: the panel from {before[0]} to {after[0]} KiB, the daemon from {before[1]} to {after[1]} KiB")
    print(f"{cycles} cycles, {late} late by more than a period; the loop waited {waited_s:.2f} s for a processor")
    wrong = [text for is_wrong, text in (
        (panel_kib > FLAT_KIB, "the panel's memory grows"),
        (daemon_kib > FLAT_KIB, "the daemon's memory grows"),
        (late > waited_s / period_s + OWN_LATE_MOST, "cycles were late that nobody else held up"),
        (clients != 2, "the gateway has other clients than the panel and the PLC"),
        (events < MINUTES * 60000 / PERIOD_MS / 2, "browsers got fewer than half of the events")) if is_wrong]
    for text in wrong:
        print(f"FAILED: {text}")
    return 1 if wrong else 0


def main():
    with Gateway("small-shear.cfg", speed=1) as gateway, \
            Panel(PANEL, [(gateway.port, 1)], ["--period-ms", str(PERIOD_MS)]) as panel, \
            contextlib.closing(Browsers(panel.port)) as browsers:
        run = Run(gateway, panel, browsers)
        run.plc.permit("LINE_STOPPED", "KNIVES_RAISED", "GUARDS_CLOSED", "AIR", "ENABLE")
        run.begin_changeover()
        run.go_on(60)
        before, waiting = run.measured(), Waiting(gateway.process)
        run.go_on(60 * MINUTES)
        return judge(run, before, run.measured(), waiting.seconds(), clients_at(gateway.port))


if __name__ == "__main__":
    sys.exit(main())
