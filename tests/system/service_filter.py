"""The systemd units that are shipped let the programs do what they have to. The daemon runs under its unit's own filter of system
calls, makes a plan, stores and reads its file again, and the thread that makes plans has stepped back behind the cycle; the panel
shows a station under that of its own unit.

Called with the paths of kniferaild, kniferail and kniferail-panel. Skipped where systemd-analyze or libseccomp is missing: the first says
what the unit's groups of calls hold (systemd.exec(5), SystemCallFilter=), the second has the kernel hold them.
"""
import contextlib
import ctypes
import ctypes.util
import functools
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys

from gateway_rig import ROOT, Gateway, GatewayTest, Plc, main, wait_for
from panel_rig import Panel

PANEL = sys.argv.pop(1)
ALLOW, KILL_PROCESS = 0x7FFF0000, 0x80000000  # seccomp.h
UNIT = ROOT / "config" / "kniferaild.service"
PANEL_UNIT = ROOT / "config" / "kniferail-panel.service"
# As root SQLite gives a file that belongs to a book the book's owner. The unit runs the gateway as a user of its own.
AS_ROOT = frozenset(["fchown"])
NICER = 5  # src/daemon/plans.h
LIBRARY = ctypes.util.find_library("seccomp")
if LIBRARY is None or shutil.which("systemd-analyze") is None:
    print("skipped: systemd-analyze or libseccomp is missing")
    sys.exit(77)


@functools.lru_cache(maxsize=None)
def calls_of(group):
    """A group's calls, those of the groups in it included; a call stands for itself."""
    if not group.startswith("@"):
        return frozenset([group])
    said = subprocess.run(["systemd-analyze", "--no-pager", "syscall-filter", group], capture_output=True, text=True, check=True).stdout
    names = re.findall(r"(?m)^ +(@?[\w-]+)$", said)
    return frozenset().union(*(calls_of(name) for name in names))


def allowed_by(text):
    """The first line says whether it lists what may be called; the others add and take away, in their order."""
    calls = set()
    for line in re.findall(r"(?m)^SystemCallFilter=(.*)$", text):
        named = frozenset().union(*(calls_of(name) for name in line.lstrip("~").split()))
        calls = calls - named if line.startswith("~") else calls | named
    return calls | calls_of("@default") | (AS_ROOT if os.geteuid() == 0 else frozenset())


class Filter:
    def __init__(self, calls):
        self.seccomp = ctypes.CDLL(LIBRARY)
        self.seccomp.seccomp_init.restype = ctypes.c_void_p
        self.context = ctypes.c_void_p(self.seccomp.seccomp_init(ctypes.c_uint32(KILL_PROCESS)))
        for call in sorted(calls):
            number = self.seccomp.seccomp_syscall_resolve_name(call.encode())
            if number >= 0:  # negative: another architecture's
                self.seccomp.seccomp_rule_add(self.context, ctypes.c_uint32(ALLOW), number, 0)

    def load(self):
        if self.seccomp.seccomp_load(self.context) != 0:
            raise OSError("the filter can't be loaded")


def niceness(pid):
    """Of every thread: the 19th field of its stat, proc(5), counted behind the name in brackets."""
    stats = (path.read_text(encoding="ascii").rpartition(")")[2].split() for path in pathlib.Path(f"/proc/{pid}/task").glob("*/stat"))
    return [int(fields[16]) for fields in stats]


class ServiceFilter(GatewayTest):
    def run_under(self, text, judge):
        gateway = Gateway(book=True)
        gateway.before_start = Filter(allowed_by(text)).load
        with gateway:
            judge(gateway)

    def test_the_gateway_does_all_its_work_under_the_units_filter(self):
        def judge(gateway):
            plc = Plc(gateway)
            self.assertEqual(plc.order(1, 900000, [440000, 420000]), 0)
            nice = niceness(gateway.process.pid)
            self.assertEqual(nice.count(min(nice) + NICER), 1, nice)
            self.assertNotIn("cycle's own priority", gateway.log())
            gateway.change(("pair_mm = 0.3;", "pair_mm = 0.4;"))
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("reload: taken")
            self.assertEqual(gateway.end(), 0)

        self.run_under(UNIT.read_text(encoding="utf-8"), judge)

    def test_the_panel_does_its_work_under_its_units_filter(self):
        with Gateway() as gateway:
            panel = Panel(PANEL, [(gateway.port, 1)])
            panel.before_start = Filter(allowed_by(PANEL_UNIT.read_text(encoding="utf-8"))).load
            with panel:
                wait_for(lambda: panel.ask("/api/v1/stations/1")[0] == 200, 10, "a station that the panel has read")
                for path in ("/", "/sheet?station=1", "/api/v1/stations/1/drawing.svg", "/metrics"):
                    self.assertEqual(panel.ask(path)[0], 200, path)

    def test_a_unit_without_that_line_would_end_the_gateway(self):
        """The filter of this test does hold. The gateway may end before it says that it listens, or after it."""
        without = UNIT.read_text(encoding="utf-8").replace("SystemCallFilter=setpriority\n", "")
        gateway = Gateway(book=True)
        gateway.before_start = Filter(allowed_by(without)).load
        with contextlib.suppress(AssertionError), gateway:
            wait_for(lambda: gateway.process.poll() is not None, 10, "the end of a gateway that may not call setpriority")
            gateway.status = gateway.process.returncode
        self.assertEqual(gateway.status, -signal.SIGSYS)


if __name__ == "__main__":
    main()
