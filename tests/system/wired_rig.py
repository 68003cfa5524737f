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

from gateway_rig import SLOW, Gateway  # noqa: E402 (it takes its own paths off the command line)

RAILS, HOLDERS = 2, 4

# Both example stations are the same machine; here it is a third as long, with four holders a rail.
SHORT = [(r"most_mm = 1560", "most_mm = 620"), (r"travel_most_mm = 1600", "travel_most_mm = 660"),
         (r"widest_mm = 1300", "widest_mm = 500"), (r"centre_mm = 800", "centre_mm = 330"), (r"count = 12", f"count = {HOLDERS}")]


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
