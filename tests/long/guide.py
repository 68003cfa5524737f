"""`kniferail commission` from the cautions to the last alarm, in one session: a machine that was never homed, both rails of a wired
station with references and limit inputs, all persons in turn, in real time. The other alarms are provoked on a second gateway.

    guide.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM [FOLDER]

FOLDER: where protocol, safety sheet and session are put; without it they are gone with the station. A step that this computer has
spoilt by being busy (an edge of a flag lost, an answer late) is walked again, as a person would: the run says so. Everything else
that does not pass fails the run.
"""
import pathlib
import re
import shutil
import sys
import time

FOLDER = pathlib.Path(sys.argv.pop(4)) if len(sys.argv) > 4 else None
ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "system"))

from guide_rig import (  # noqa: E402 (it takes its own paths off the command line)
    ACCEPTANCE, LIMIT_MM, NEVER_HOMED, QUICK, SPOILT, TRIES, Commissioner, Cutler, Cutter, DooredSimulator, Fitter, Person, Provoker,
    Reader, StandIn, slow_travel)
from wired_rig import LENIENT, RAILS, Simulator, WiredGateway, with_references  # noqa: E402
from gateway_rig import main  # noqa: E402

TRAVEL_MM, BEYOND_MM = (-80, 860), 50  # the stops are so much further than the ends of travel
# Slow enough that a carriage stops within the rail by a watchdog of 1500 ms, which a busy computer does not trip.
EMPTY_UM_PER_S, SETUP_UM_PER_S = 220000, 150000
STATION = [*NEVER_HOMED, *(change for change in QUICK if change not in LENIENT), *ACCEPTANCE, *slow_travel(EMPTY_UM_PER_S),
           (r"setup_speed_mm_per_s = \d+;", f"setup_speed_mm_per_s = {SETUP_UM_PER_S // 1000};"),
           (r"lost_ms = 2500;", "lost_ms = 2000;"),  # the gateway is silent for longer
           (r"settle_ms = 50;", "settle_ms = 50; gauge_rounds = 2;"),
           (r"(registers: \{ watchdog = 210;[^}]*\};)", r"\1 inputs: { limit_low = 14; limit_high = 15; };"),
           *with_references(), (r"travel_most_mm = 720;", f"travel_most_mm = {TRAVEL_MM[1]};")]
STEPS, PER_RAIL = 24, 15


class Team(Person):
    """All who take part: what the program says is heard by those whose step it is."""

    def __init__(self, gateway, simulator, plc_ends):
        super().__init__(simulator)
        fitter, cutler, mover = Fitter(simulator), Cutler(simulator), Person(simulator, told=(
            (r"Press Enter\.$", ""), (r"Did carriage \d dock", "yes"), (r"Was all that you saw", "yes"), (r"to count from now on", "yes")))
        fitter.stops_mm = tuple(end + side * (BEYOND_MM - LIMIT_MM) for end, side in zip(TRAVEL_MM, (-1, 1)))
        self.gateway, self.plc_ends, self.stand_in, self.now = gateway, plc_ends, None, self
        self.teams = {
            "The ends of travel": fitter, "The width of the flags": fitter, "The switch's offset": fitter,
            "Nobody is heard": Cutter(gateway, simulator), "The frame": Reader(simulator), "Reference flags": mover, "Scan bias": mover,
            "One holder": mover, "A changeover": mover, "Blades beside": cutler, "Edges": cutler, "Acceptance: dockings": mover,
            "Acceptance: changeovers": mover, "Acceptance: alarms": Provoker(simulator, None)}
        self.began = time.monotonic()

    def follow(self, program):
        self.said = []
        for who in (self, *self.teams.values()):
            who.program, who.said, who.text, who.rail, who.leaving = program, self.said, "", 1, False
        self.now = self
        while self.now.take_line():
            heading = re.match(r"== (.*?)(?:, rail (\d))?$", self.said[-1]) if self.said else None
            if heading:
                self.enter(heading[1], int(heading[2] or self.now.rail))
            elif re.fullmatch("(NOT )?PASSED", self.said[-1]):
                print(f"  {self.said[-1].lower()} after {time.monotonic() - self.began:.0f} s", flush=True)
            self.now.answer()
        return "\n".join(self.said)

    def enter(self, title, rail):
        self.press(0)
        text, self.now = self.now.text, next((who for start, who in self.teams.items() if title.startswith(start)), self)
        self.now.text, self.now.rail = text, rail
        print(self.said[-1], flush=True)
        if isinstance(self.now, Provoker) and self.stand_in is None:  # that person works at the machine's PLC
            self.plc_ends()
            self.now.stand_in = self.stand_in = StandIn(self.gateway)
        if isinstance(self.now, Reader):
            self.now.way, self.now.rise, self.now.read = "drive", [], False

    def end(self):
        if self.stand_in:
            self.stand_in.end()


class Way(Commissioner):
    def walk_on(self, gateway, simulator, team, *options):
        """Calls the program until the way is gone; what was spoilt is walked again."""
        tries = {}
        while True:
            status, said = self.walk(gateway, simulator, *options, who=team, seconds=3600)
            if status == 0:
                return
            record = self.record(gateway)
            name = f"{record['step']}, rail {record['rail']}"
            why = "; ".join(finding["seen"] for finding in record["findings"])
            tries[name] = tries.get(name, 0) + 1
            spoilt = not record["passed"] and "was to be provoked" not in why and re.search(SPOILT, why) and tries[name] < TRIES
            self.assertTrue(spoilt, f"{name}: {why}\n{said[-3000:]}")
            print(f"  step {name} is walked again: {why}", flush=True)

    def test_the_whole_way(self):
        with WiredGateway(STATION) as gateway, Simulator(gateway) as simulator, \
                WiredGateway(STATION) as copy, DooredSimulator(copy) as double:
            for one in (gateway, copy):
                one.change((r"\Z", f'\nbook = "{one.book}";\n'))
                one.start()
            plc = self.pretend(gateway)
            self.pretend(copy)
            team = Team(gateway, simulator, lambda: self.end(plc))
            try:
                self.walk_on(gateway, simulator, team, "--rehearsal", f"127.0.0.1:{copy.port}", "--simulator", double.socket)
            finally:
                team.end()
                self.keep(gateway)
            self.judge(gateway)
            self.assertEqual(simulator.end(), 0)

    def keep(self, gateway):
        if FOLDER:
            FOLDER.mkdir(parents=True, exist_ok=True)
            for path in gateway.config.parent.glob("session*"):
                shutil.copy(path, FOLDER)

    def judge(self, gateway):
        """What a customer reads: all has passed, each step with its figures, and who signs."""
        protocol = gateway.config.with_name("session.md").read_text(encoding="utf-8")
        n = STEPS + (RAILS - 1) * PER_RAIL
        self.assertIn(f"**{n} of {n} steps have passed**; 0 have not passed, 0 are doubtful", protocol)
        for text in ("C. Lead", "A. Fitter \\| B. Smith", "| who led the commissioning | C. Lead | | |", "digest"):
            self.assertIn(text, protocol)
        for section in re.split(r"(?m)^## ", protocol)[1:-1]:
            self.assertIn("| figure | value |", section)
        self.assertNotRegex(protocol, r"\b(nan|inf)\b|%[a-z]")


if __name__ == "__main__":
    main()
