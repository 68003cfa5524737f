"""Drags through a wire on which single answers are late by 200 to 400 ms: no drag is stopped or aborted by that.

    wire_late_answers.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM [--drags N] [--seed S]

The drives' watchdogs are set to 600 ms, motion stops at answers of 450 ms: the settings that the example has. Of 1,000 drags
999 have to end without a stop; of fewer all. Scans are left in peace: they need every answer in time.
"""
import argparse
import random
import time

from wired_rig import RAILS, Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import MAP, Plc
from wire_misbehaves import QUICK, SLITS, WEB_UM
from wire_weather import ANSWERS, Weather


class LateAnswers(Weather):
    """Now and then one answer of a link comes 200 to 400 ms late, while `calm` is not set."""

    def __init__(self, far_ports, seed):
        super().__init__(far_ports, seed)
        self.rng, self.next_late, self.late = random.Random(seed), {}, 0

    def get_into_trouble(self, now):
        pass

    def spoil(self, end, frame):
        now = time.monotonic()
        if self.calm or end.way != ANSWERS or now < self.next_late.get(end.link, 0):
            return [(0, frame)]
        self.next_late[end.link] = now + 0.4 + self.rng.uniform(0.2, 0.8)
        self.late += 1
        return [(self.rng.uniform(0.2, 0.4), frame)]


def changeover(plc, weather, number):
    """Returns how many drags were made, and how often something stopped them."""
    stops, moving = [], MAP.number("PHASE", "MOVE")
    assert plc.order(number, WEB_UM, SLITS[number % len(SLITS)]) == 0
    record = plc.read("RECORD_NUMBER")
    plc.to_idle()
    assert plc.give("START", "CHANGEOVER") == 0
    while plc.state() != "COMPLETE":
        plc.scan()
        weather.calm = plc.seen("PHASE") != moving
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
    with WiredGateway(QUICK) as gateway, Simulator(gateway) as simulator, \
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
        print(f"{drags} drags, {weather.late} late answers, the longest {longest} ms, stops: {stops or 'none'}", flush=True)
        assert weather.failure is None, weather.failure
        assert weather.late > drags // 2 and max(longest) >= 200, "hardly an answer was late"
        assert len(stops) <= drags // 1000, stops
        assert gateway.end() == 0 and simulator.end() == 0


if __name__ == "__main__":
    main()
