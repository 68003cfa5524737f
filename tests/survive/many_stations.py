"""Four gateways with eight stations each, every one with two rails of 100 holders, on one computer: at rest, all planning at
once, and all dragging. No cycle is late but for what the kernel gave to others.

Called with the paths of kniferaild and kniferail; --seconds S watches each state for so long.

That a cycle came late says nothing of who was to blame. The kernel counts how long the daemon's loop was ready to run and
was not run (tests/survive/slow_disk.py). Here the plans are a load of the daemon's own, though: what the loop waited while
all plan counts as an excuse only as far as it waited at rest, too.
"""
import pathlib
import random
import re
import sys
import time

SECONDS = float(sys.argv.pop(sys.argv.index("--seconds") + 1)) if "--seconds" in sys.argv else 5.0
if "--seconds" in sys.argv:
    sys.argv.remove("--seconds")
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "system"))

from gateway_rig import ROOT, SLOW, Gateway, GatewayTest, MAP, Plc, main, wait_for  # noqa: E402 (it takes its own paths off the command line)
from waiting import Waiting  # noqa: E402

GATEWAYS, STATIONS, PERIOD_S = 4, 8, 0.010
OWN_LATE_MOST = 2  # of each gateway in each state: what the kernel does for it (a page to fetch) is not counted as waiting
SEED = 7
WEB, SLITS = 1500000, 25  # um


def eight_stations():
    """The file's one station eight times."""
    text = (ROOT / "config" / "wide-shear.cfg").read_text(encoding="utf-8")
    whole, head, station = re.fullmatch(r"(?s)((.*?stations = \(\n)(  \{\n.*\n  \})\n\);\n?)", text).groups()
    assert whole == text
    # One PLC for all of them, which is not a quick one, writes the heartbeats.
    station = station.replace("    unit_id = 1;", "    unit_id = 1;\n    heartbeat_limit_ms = 5000;")
    several = (station.replace('name = "wide-shear"', f'name = "line-{n}"').replace("unit_id = 1;", f"unit_id = {n};")
               for n in range(1, STATIONS + 1))
    return head + ",\n".join(several) + "\n);\n"


class Loop:
    """Of one gateway: how long its loop waited for a processor, and how many cycles were late, since it was marked."""

    def __init__(self, gateway, plc):
        self.waiting, self.plc = Waiting(gateway.process), plc
        self.mark()

    def mark(self):
        self.waiting.mark()
        self.late_before = self.plc.read("OVERRUNS")

    def since(self):
        return self.waiting.ready(), self.waiting.stolen(), self.plc.read("OVERRUNS") - self.late_before


class ManyStations(GatewayTest):
    def setUp(self):
        self.gateways = [Gateway("wide-shear.cfg", speed=1) for _ in range(GATEWAYS)]
        self.random = random.Random(SEED)
        for gateway in self.gateways:
            gateway.text = eight_stations()
            gateway.change()
            gateway.__enter__()
            self.addCleanup(gateway.__exit__, None, None, None)
        self.plcs = [Plc(gateway, unit) for gateway in self.gateways for unit in range(1, STATIONS + 1)]
        self.loops = [Loop(gateway, self.plcs[STATIONS * i]) for i, gateway in enumerate(self.gateways)]

    def scan(self):
        for plc in self.plcs:
            plc.scan()

    def scan_until(self, condition, seconds, what):
        def scanned():
            self.scan()
            return all(condition(plc) for plc in self.plcs)

        wait_for(scanned, seconds, what)

    def watch(self, seconds):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self.scan()
            time.sleep(0.05)

    def mark(self):
        for loop in self.loops:
            loop.mark()

    def widths(self):
        """Each another width, and another order for each station and each time."""
        mean = WEB * 95 // 100 // SLITS
        return [mean + self.random.randrange(-3000, 3000) for _ in range(SLITS)]

    def plan_at_once(self):
        """Fills every station's order first, then hands all of them over. Returns when the last verdict is there."""
        for number, plc in enumerate(self.plcs, 1):
            plc.fill_order(number, WEB, self.widths())
            plc.scan()
        self.mark()
        began = time.monotonic()
        for plc in self.plcs:
            plc.hand_over("CHECK" if plc.request % 2 else "STAGE")
        self.scan_until(lambda plc: plc.seen("VERDICT_NUMBER") == plc.request and plc.seen("REQUEST_BUSY") == 0, 20, "all verdicts")
        took = time.monotonic() - began
        for plc in self.plcs:
            self.assertEqual(plc.seen("VERDICT_CODE"), 0)
        return took

    def command_all(self, command, job, number, state):
        self.scan()
        for plc in self.plcs:
            plc.write_command(command, job, number)
        self.scan_until(lambda plc: plc.state() == state, 20, f"all in {state}")

    def judge(self, state, quiet=None):
        """quiet: what each loop waited at rest, for as long as this state was looked at; None: all that it waited counts."""
        found = [loop.since() for loop in self.loops]
        print(f"{state}: late cycles {[late for _, _, late in found]}, the loops waited "
              f"{[round(1000 * ready) for ready, _, _ in found]} ms, {round(1000 * found[0][1])} ms were stolen")
        for i, (ready_s, stolen_s, late) in enumerate(found):
            excuse_s = stolen_s + (ready_s if quiet is None else min(ready_s, quiet[i]))
            self.assertLessEqual(late, excuse_s / PERIOD_S + OWN_LATE_MOST * SLOW, f"gateway {i + 1}, {state}")
        return [ready_s for ready_s, _, _ in found]

    def test_no_cycle_of_32_stations_is_late_at_rest_planning_or_dragging(self):
        self.scan_until(lambda plc: plc.seen("SESSION") != 0, 10, "all stations")
        self.mark()
        self.watch(SECONDS)
        at_rest = self.judge("at rest")
        plans, took = 5, 0.0
        for i in range(plans):
            took = self.plan_at_once()
            self.judge(f"all planning, {took:.2f} s", [waited * took / SECONDS for waited in at_rest])
        self.command_all("RESET", None, 1, "IDLE")
        self.command_all("START", "CHANGEOVER", 2, "EXECUTE")
        dragging = MAP.number("CARRIAGE_PHASE", "DRAGGING")
        self.scan_until(lambda plc: plc.read("CARRIAGE_PHASE") == dragging or plc.read("MOVES_DONE") > 0, 120, "all at their moves")
        self.mark()
        self.watch(SECONDS)
        self.assertEqual({plc.state() for plc in self.plcs}, {"EXECUTE"})
        self.judge("all moving")


if __name__ == "__main__":
    main()
