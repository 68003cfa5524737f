"""Drags and scans through a wire on which single answers are late: none is stopped or aborted by that, and no scan loses an
edge of a flag.

    wire_late_answers.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM [--drags N] [--seed S]

The drives' watchdogs are set to 600 ms, motion stops at answers of 450 ms: the settings that the example has. Of 1,000 drags
999 have to end without a stop; of fewer all. While drags are made, answers are late by 200 to 400 ms. While the rails are
scanned, they are late by 50 to 75 ms: longer than a flag takes, which is 48 ms, and shorter than from one flag to the next,
which is 100 ms where holders stand side by side.
"""
import argparse
import random
import time

from wired_rig import RAILS, Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import MAP, Plc
from wire_misbehaves import QUICK, SLITS, WEB_UM
from wire_weather import ANSWERS, Weather


DRAGS_S, SCANS_S = (0.2, 0.4), (0.05, 0.075)  # how late
FAST = (r"scan_speed_mm_per_s = 500;", "scan_speed_mm_per_s = 500; scan_fast_mm_per_s = 1000;")


class LateAnswers(Weather):
    """Now and then one answer of a link comes as late as `seconds` says, while `calm` is not set."""

    def __init__(self, far_ports, seed):
        super().__init__(far_ports, seed)
        self.rng, self.next_late, self.late = random.Random(seed), {}, 0
        self.seconds, self.late_in_scans = DRAGS_S, 0

    def get_into_trouble(self, now):
        pass

    def spoil(self, end, frame):
        now = time.monotonic()
        if self.calm or end.way != ANSWERS or now < self.next_late.get(end.link, 0):
            return [(0, frame)]
        self.next_late[end.link] = now + 0.4 + self.rng.uniform(0.2, 0.8)
        self.late += 1
        self.late_in_scans += self.seconds == SCANS_S
        return [(self.rng.uniform(*self.seconds), frame)]


def changeover(plc, weather, number):
    """Returns how many drags were made, and how often something stopped them."""
    stops, moving = [], MAP.number("PHASE", "MOVE")
    scanning = [MAP.number("PHASE", phase) for phase in ("SCAN", "VERIFY")]
    assert plc.order(number, WEB_UM, SLITS[number % len(SLITS)]) == 0
    record = plc.read("RECORD_NUMBER")
    plc.to_idle()
    assert plc.give("START", "CHANGEOVER") == 0
    while plc.state() != "COMPLETE":
        plc.scan()
        weather.calm = plc.seen("PHASE") not in (moving, *scanning)
        weather.seconds = SCANS_S if plc.seen("PHASE") in scanning else DRAGS_S
        if plc.state() in ("HELD", "SUSPENDED", "ABORTED", "STOPPED"):
            stops.append(f"{plc.state()} by alarm {plc.seen('ALARM_CODE')}")
            weather.calm = True
            if plc.state() == "ABORTED" or plc.give("UNSUSPEND" if plc.state() == "SUSPENDED" else "UNHOLD") != 0:
                raise AssertionError(f"order {number}: {stops}")
        time.sleep(0.02)
    weather.calm = True
    plc.wait(lambda: plc.read("RECORD_NUMBER") != record, 5, "a record")
    made = [plc.read_all(f"RECORD_{what}", RAILS) for what in ("MOVES", "CORRECTIONS")]
    return sum(map(sum, made)), stops


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--drags", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with WiredGateway([*QUICK, FAST]) as gateway, Simulator(gateway) as simulator, \
            LateAnswers(simulator.ports, args.seed) as weather:
        for far, near in zip(simulator.ports, weather.ports):
            gateway.change((f"port = {far}", f"port = {near}"))
        gateway.start()
        plc, drags, stops, number = Plc(gateway), 0, [], 0
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 20, "the links to the drives")
        while drags < args.drags:
            number += 1
            made, stopped = changeover(plc, weather, number)
            drags, stops = drags + made, stops + stopped
        longest = plc.read_all("DRIVE_LONGEST_ANSWER", RAILS)
        print(f"{drags} drags, {weather.late} late answers, {weather.late_in_scans} of them in scans, the longest {longest} ms, stops: {stops or 'none'}", flush=True)
        assert weather.failure is None, weather.failure
        assert weather.late_in_scans > number, "hardly an answer was late in a scan"
        assert weather.late > drags // 2 and max(longest) >= 200, "hardly an answer was late"
        assert len(stops) <= drags // 1000, stops
        assert gateway.end() == 0 and simulator.end() == 0


if __name__ == "__main__":
    main()
