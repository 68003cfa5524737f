"""The gateway with its drives at the end of a Modbus wire, and the simulator in a process of its own.

A test program is called with the paths of kniferaild, kniferail and kniferail-sim. In real time, since the wire is: a
short rail.
"""
import re
import subprocess
import sys

if len(sys.argv) < 4:
    sys.exit(f"usage: {sys.argv[0]} KNIFERAILD KNIFERAIL KNIFERAIL-SIM [option ...]")
SIMULATOR = sys.argv.pop(3)

from gateway_rig import MAP, SLOW, TOLERANCE_UM, Gateway, Plc  # noqa: E402 (it takes its own paths off the command line)

RAILS, HOLDERS = 2, 4

# Both example stations are the same machine; here it is a third as long, with four holders a rail.
SHORT = [(r"most_mm = 1560", "most_mm = 620"), (r"travel_most_mm = 1600", "travel_most_mm = 660"),
         (r"widest_mm = 1300", "widest_mm = 500"), (r"centre_mm = 800", "centre_mm = 330"), (r"count = 12", f"count = {HOLDERS}")]

# For a computer that is busy with other tests: limits that are longer than in the example, and flags on which the switch dwells
# for 8 cycles, so that a late one loses no edge.
WATCHDOG_MS = 1500
WIDE_FLAGS = (r"flag_width_mm = 8;", "flag_width_mm = 16;")
LENIENT = [(r"stop_ms = 450;", "stop_ms = 1000;"), (r"lost_ms = 1000;", "lost_ms = 2500;"),
           (r"watchdog_ms = 600;", f"watchdog_ms = {WATCHDOG_MS};"), (r"watchdog_most = 600;", f"watchdog_most = {WATCHDOG_MS};")]

# References beyond the holders: two at each end, at distances of each rail's own; by the port of the rail's drive in the example.
FLAGS = {15021: (-20, 15, 640, 658), 15022: (-25, 15, 640, 665)}


def with_references():
    """Changes of the station file: these references, and a travel that reaches them."""
    return [(r"travel_least_mm = 0;", "travel_least_mm = -80;"), (r"travel_most_mm = 660;", "travel_most_mm = 720;"),
            *((rf'drive: {{ address = "127.0.0.1"; port = {port}; }};', rf'\g<0> {frame_group(flags)}') for port, flags in FLAGS.items())]


def frame_group(flags):
    return "frame: { references = ( " + ", ".join(f"{{ at_mm = {at}; width_mm = 8; }}" for at in flags) + " ); };"


class WiredGateway(Gateway):
    def __init__(self, changes=(), serial=False, baud=115200):
        super().__init__("wired-shear.cfg", speed=1, changes=[*SHORT, *changes])
        line = self.config.with_name("line")
        for unit, port in enumerate(("15021", "15022") if serial else (), 1):
            self.change((rf'drive: \{{ address = "127.0.0.1"; port = {port}; \}}',
                         f'drive: {{ line = "serial"; device = "{line}"; unit_id = {unit}; baud = {baud}; }}'))

    def __enter__(self):
        return self  # the simulator comes first

    def end_if_running(self):
        if self.process is not None:
            self.end()


class WiredPlc(Plc):
    TRIES = 6  # of what a busy computer may interrupt

    def start_and_complete(self, seconds=180):
        """A scan in which a late answer lost an edge of a flag is held; a person goes on, as the alarm's remedy says."""
        self.start()
        for _ in range(self.TRIES):
            self.wait_state("COMPLETE", "HELD", "SUSPENDED", "ABORTED", seconds=seconds)
            late = {"HELD": ("EDGES_LOST", "UNHOLD"), "SUSPENDED": ("ANSWERS_LATE", "UNSUSPEND")}.get(self.state())
            if late is None or MAP.alarm[late[0]] not in self.read_all("ALARM_CODES", self.read("ALARM_COUNT")):
                break
            if self.give(late[1]) != 0:
                break
            self.wait(lambda: self.state() not in ("HELD", "SUSPENDED"), 10, "a job that goes on")
        if self.state() != "COMPLETE":
            raise AssertionError(f"unit state {self.state()}, alarms {self.alarms()}")


class Simulator:
    """kniferail-sim for a gateway's station file, on ports of its own choice, which the file then gets."""

    def __init__(self, gateway):
        gateway.end_if_running()
        self.process = subprocess.Popen([SIMULATOR, "--config", gateway.config, "--listen", "127.0.0.1:0"],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.ports = []
        for port in ("15021", "15022"):
            found = re.search(r" port (\d+), unit", self.process.stdout.readline())
            if found:  # else a serial line, which has its own name
                self.ports.append(int(found[1]))
                gateway.change((f"port = {port}", f"port = {found[1]}"))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()

    def ask(self, command, lines):
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()
        return [self.process.stdout.readline() for _ in range(lines)]

    def say(self, line, answer):
        got = self.ask(line, 1)[0]
        if got != answer + "\n":
            raise AssertionError(f"{line}: {got}")

    def carriages(self):
        """Where they truly stand."""
        return [re.search(r"carriage at ([-\d.]+) mm", line)[1] for line in self.ask("show", RAILS + 1)[:RAILS]]

    def holders(self):
        """Where they truly stand on each rail, in micrometres."""
        return [[round(1000 * float(place)) for place in line.partition(":")[2].split()] for line in self.ask("holders", RAILS)]

    def counts(self):
        """Of each rail: the set-points that its drive took, and how often the pin let go of each holder."""
        found = [re.fullmatch(r"rail \d+: (\d+) set-points; let go of each holder:((?: \d+)*)\n", line)
                 for line in self.ask("counts", RAILS)]
        return [(int(f[1]), [int(n) for n in f[2].split()]) for f in found]

    def end(self):
        """Its exit status: 3 if holders collided or were dragged by an unseated pin."""
        self.process.terminate()
        return self.process.wait(timeout=10 * SLOW)


class Blades:
    """Where the knives truly cut: the simulator's centres of the holders, and the true edge offset of each blade."""

    CLEARANCE_UM, PAIR_UM, SLIT_UM, CENTRE_UM = 500, 300, 300, 330000  # of the example's station file, shortened as above

    def __init__(self, simulator):
        self.simulator = simulator
        self.offset_um = [[10000] * HOLDERS, [-10000] * HOLDERS]

    def put(self, rail, holder, offset_um):
        """Another blade: its true edge is so far from the holder's centre. Rail and holder count from 1."""
        off_um = offset_um - (10000 if rail == 1 else -10000)
        self.simulator.say(f"break {rail} blade-off {holder} {off_um}", "broken")
        self.offset_um[rail - 1][holder - 1] = offset_um

    def edges(self, plc):
        """Of each rail the edges that cut, from the operator side."""
        edges = []
        for rail, centres in enumerate(self.simulator.holders()):
            cuts = plc.read_all("HOLDER_CUT", HOLDERS, rail)
            edges.append([centres[h] + self.offset_um[rail][h] for h in (cuts.index(c) for c in range(1, max(cuts) + 1))])
        return edges

    def strips(self, plc):
        """What lies between the lower edges: they part the web."""
        lower = self.edges(plc)[1]
        return [right - left for left, right in zip(lower, lower[1:])]

    def look_at_pairs(self, test, plc):
        """Each upper blade stands beside its counter-knife."""
        for cut, (upper, lower) in enumerate(zip(*self.edges(plc))):
            test.assertLessEqual(abs(upper - lower - self.CLEARANCE_UM), self.PAIR_UM, f"cut {cut + 1}: {upper}, {lower}")

    def judge(self, test, plc, widths, all_off_um=0):
        """Every lower edge is at its cut line, its upper one beside it, and every strip as wide as ordered.

        all_off_um: what all lower edges are off by, which strips cannot tell (config/pages/maintenance.md)."""
        _, lower = self.edges(plc)
        lines = [self.CENTRE_UM + all_off_um - sum(widths) // 2 + sum(widths[:cut]) for cut in range(len(widths) + 1)]
        test.assertEqual(len(lower), len(lines))
        for cut, line in enumerate(lines):
            test.assertLessEqual(abs(lower[cut] - line), TOLERANCE_UM, f"cut {cut + 1}: {lower}")
        self.look_at_pairs(test, plc)
        for strip, width in zip(self.strips(plc), widths):
            test.assertLessEqual(abs(strip - width), self.SLIT_UM)
