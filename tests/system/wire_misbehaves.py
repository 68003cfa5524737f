"""Changeovers over a wire that misbehaves, judged from outside: over Modbus, against the simulated machine's own truth.

    wire_misbehaves.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM [--seconds N] [--seed S] [--tell]

The gateway and its drives meet through wire_weather.py, which spoils what passes by a schedule drawn from the seed. What has
to hold all the while:

- no holder is claimed to be measured at a place where it isn't;
- a changeover that ends Complete has every knife at its cut, in truth;
- the drives took no set-point, and the pins let go of no holder, that the gateway's record doesn't know of;
- what stops a changeover is a named alarm, and then nothing moves; the way that the manual gives leads on, without a restart
  of anything;
- troubles that only cost time within the limits (pieces, jitter) stop nothing, unless the computer itself is late;
- the machine has counted no collision and no holder dragged by an unseated pin.

Both rails have references on the frame. Between two changeovers the datum or the switch's bracket of a rail moves, by less than
the step that a scan takes off: all of the above holds all the same, in the machine's frame. A scan that is spoiled and counts
would lay its error on datum or switch.
"""
import argparse
import collections
import random
import time
import traceback

from wired_rig import HOLDERS, RAILS, Simulator, WiredGateway  # it takes its own paths off the command line
import gateway_rig
from gateway_rig import MAP, SLOW, TOLERANCE_UM, Plc
from wire_weather import Weather

UNKNOWN, MEASURED = 0, 3
TRUE_UM = 50       # a place that is claimed is this near to the truth: the scan's own 20, backlash, the clock's jitter
CENTRE_UM, WEB_UM = 330000, 450000
SLITS = ((180000, 150000), (140000, 200000), (200000, 190000), (160000, 170000))
EDGE_OFFSET_UM, SIDE_CLEARANCE_UM = (10000, -10000), (500, 0)  # of the station file: upper, lower
BUSY_S = 0.02      # a thread that waits so much too long has a computer that can't keep the drives' times
CUT_SHORT = 4      # interruptions in one changeover, after which the wire is left in peace until it is done
LEADS_ON = {"HELD": ("UNHOLD", "STOP"), "SUSPENDED": ("UNSUSPEND", "STOP"), "ABORTED": ("CLEAR",), "STOPPED": ("RESET",),
            "COMPLETE": ("RESET",)}
RESTS = ("HELD", "SUSPENDED", "ABORTED", "STOPPED", "IDLE", "COMPLETE")

# Quicker devices, ramps and scans, so that a minute is several changeovers.
QUICK = [(r"pin_in_ms = 550; pin_out_ms = 490; brake_open_ms = 250; brake_close_ms = 250",
          "pin_in_ms = 60; pin_out_ms = 60; brake_open_ms = 40; brake_close_ms = 40"),
         (r" dock_ms = 840", " dock_ms = 150"), (r"undock_ms = 840", "undock_ms = 200"),
         (r"empty_accel_mm_per_s2 = 1000", "empty_accel_mm_per_s2 = 4000"), (r"drag_accel_mm_per_s2 = 1000", "drag_accel_mm_per_s2 = 3000"),
         (r"travel_least_mm = 0", "travel_least_mm = -115"), (r"travel_most_mm = 660", "travel_most_mm = 795"),
         (r"flag_width_mm = 8;", "flag_width_mm = 24; passes_apart_mm = 1;"), (r"scan_speed_mm_per_s = 200", "scan_speed_mm_per_s = 500")]


# References beyond the holders, as wide as the holders' flags, at distances of each rail's own; by the port of its drive in the
# example.
FLAGS = {15021: (-45, 665, 715), 15022: (-45, 665, 725)}
FRAMES = [(rf'drive: {{ address = "127.0.0.1"; port = {port}; }};',
           r"\g<0> frame: { references = ( " + ", ".join(f"{{ at_mm = {at}; width_mm = 24; }}" for at in flags) + " ); };")
          for port, flags in FLAGS.items()]
MOVES_UM = (40, 200)  # so far datum or bracket moves at once
MOVED_MOST_UM = 400   # and so far from where it was taught, within the window


class Wrong(Exception):
    pass


def must(holds, what):
    if not holds:
        raise Wrong(what)


class Bench:
    def __init__(self, gateway, simulator, weather, rng):
        self.gateway, self.simulator, self.weather, self.rng = gateway, simulator, weather, rng
        self.plc = Plc(gateway)
        self.number, self.interruptions = 0, 0
        self.worst_um = 0
        self.off_um = collections.Counter()  # by (fault, rail)
        self.count, self.alarms = collections.Counter(), collections.Counter()

    # ---- what must hold at any moment

    def claims(self):
        return [list(zip(self.plc.read_all("HOLDER_KNOWN", HOLDERS, r), self.plc.read_all("HOLDER_POSITION", HOLDERS, r)))
                for r in range(RAILS)]

    def judge_claims(self):
        """A place that is claimed before and after a look at the machine was claimed while it was looked at."""
        before, truth, after = self.claims(), self.simulator.holders(), self.claims()
        for r in range(RAILS):
            for h in range(HOLDERS):
                known, place = after[r][h]
                if known != MEASURED or before[r][h] != after[r][h]:
                    continue
                off_um = place - truth[r][h]
                self.worst_um = max(self.worst_um, abs(off_um))
                self.count["claims of a measured place, all true"] += 1
                must(abs(off_um) <= TRUE_UM, f"rail {r + 1}, holder {h + 1} is claimed to be measured at {place} and stands at "
                                             f"{truth[r][h]}")

    def look(self):
        self.plc.scan()
        must(self.weather.failure is None, f"the wire itself: {self.weather.failure}")
        now = time.monotonic()
        if now >= getattr(self, "judge_at", 0):
            self.judge_claims()
            self.judge_at = now + 0.15
        time.sleep(gateway_rig.POLL_S)

    def look_until(self, condition, seconds, what):
        until = time.monotonic() + seconds * SLOW
        while not condition():
            must(time.monotonic() < until, f"not after {seconds * SLOW} s: {what}; unit state {self.plc.state()}, alarm "
                                           f"{self.alarm()}, result {self.plc.seen('COMMAND_RESULT')}")
            self.look()

    def alarm(self):
        code = self.plc.seen("ALARM_CODE")
        return next((name for name, number in MAP.alarm.items() if number == code), f"alarm {code}" if code else "none")

    # ---- interruptions

    def truth(self):
        return self.simulator.counts(), self.simulator.holders()

    def rest(self):
        """A job was stopped: by what, and is it at rest?"""
        self.interruptions += 1
        state, alarm = self.plc.state(), self.alarm()
        must(alarm in MAP.alarm, f"unit state {state}, but no alarm names the cause")
        self.alarms[f"{state}, {alarm}"] += 1
        if self.interruptions >= CUT_SHORT:
            self.weather.calm = True
        self.look_until(lambda: not self.plc.moving(), 20, "standstill")
        before, until = self.truth(), time.monotonic() + self.rng.uniform(0, 0.6)
        while time.monotonic() < until:
            self.look()
        must(self.truth() == before, f"something moved in {state}: {before}, then {self.truth()}")

    def lead_on(self):
        """A step of the way that the manual gives, again until it is taken: what refuses it may be on its way out."""
        state, until = self.plc.state(), time.monotonic() + 60 * SLOW
        while self.plc.state() == state:
            command = self.rng.choice(LEADS_ON[state])
            must(time.monotonic() < until, f"{command} does not lead on from {state}, alarm {self.alarm()}, result "
                                           f"{self.plc.seen('COMMAND_RESULT')}")
            if self.plc.give(command) == 0:
                self.count[f"{command} in {state}"] += 1
                self.look_until(lambda: self.plc.state() != state, 5, f"{command} is accepted and leads on")
            else:
                self.look()

    def to_idle(self):
        while self.plc.state() != "IDLE":
            if self.plc.state() in LEADS_ON:
                self.lead_on()
            else:
                self.look_until(lambda: self.plc.state() in RESTS, 30, "a state of rest")

    # ---- jobs

    def start(self, job):
        """Start, as soon as nothing speaks against it."""
        until = time.monotonic() + 60 * SLOW
        while True:
            self.to_idle()
            self.look_until(lambda: self.plc.bit("STATUS", "STATUS", "LINK"), 30, "the links to the drives")
            if self.plc.state() == "IDLE" and self.plc.give("START", job) == 0:
                return
            self.look()
            must(time.monotonic() < until, f"Start of {job} is refused: {self.plc.seen('COMMAND_RESULT')}")

    def follow(self):
        """To the end of the job that was started. False: it was stopped for good."""
        while True:
            self.look()
            state = self.plc.state()
            if state == "COMPLETE":
                return True
            if state not in RESTS:
                continue
            if state in ("STOPPED", "IDLE"):
                return False
            self.rest()
            self.lead_on()

    def small_job(self, name, wanted):
        """A job that mends what an interruption left."""
        while not self.plc.bit("STATUS", "STATUS", wanted):
            self.count[f"{name} jobs"] += 1
            self.start(name)
            self.follow()
            self.look_until(lambda: self.plc.bit("STATUS", "STATUS", "LINK"), 30, "the links to the drives")

    def make_ready(self):
        self.to_idle()
        self.look_until(lambda: self.plc.bit("STATUS", "STATUS", "LINK"), 30, "the links to the drives")
        self.small_job("RELEASE", "PINS_OUT")
        self.small_job("HOME", "REFERENCED")

    def move_frame(self):
        """A coupling slips, or somebody leans on a bracket."""
        fault, rail = self.rng.choice((("datum-shifted", 1), ("datum-shifted", 2), ("bracket-bumped", 1), ("bracket-bumped", 2)))
        by_um = self.rng.randint(*MOVES_UM) * self.rng.choice((-1, 1))
        to_um = self.off_um[fault, rail] + by_um
        if to_um == 0 or abs(to_um) > MOVED_MOST_UM:
            to_um = self.off_um[fault, rail] - by_um
        self.off_um[fault, rail] = to_um
        self.simulator.say(f"break {rail} {fault} {to_um}", "broken")
        self.count[f"moves of the frame: {fault}"] += 1

    def judge_frame(self):
        """What the references have found is what has moved; whether it was datum or bracket, dragged holders tell."""
        for rail in range(RAILS):
            found_um = sum(self.plc.read_all(name, 1, rail)[0] for name in ("DATUM_CORRECTION", "SWITCH_CORRECTION"))
            moved_um = self.off_um["bracket-bumped", rail + 1] - self.off_um["datum-shifted", rail + 1]
            must(abs(found_um - moved_um) <= TRUE_UM, f"rail {rail + 1}: corrected by {found_um}, moved by {moved_um}")

    def stage(self):
        self.number += 1
        must(self.plc.order(self.number, WEB_UM, SLITS[self.number % len(SLITS)]) == 0, "an order is refused")

    def changeover(self):
        """A new order, from staging to Complete, whatever the wire does."""
        self.weather.gentle = self.rng.random() < 0.3
        self.weather.calm, self.interruptions = False, 0
        gentle, self.weather.late_s, overruns = self.weather.gentle, 0.0, self.plc.read("OVERRUNS")
        self.stage()
        if self.number > 1:
            self.move_frame()
        while True:
            self.make_ready()
            first = self.interruptions
            here, scan_due = self.simulator.counts(), self.plc.bit("STATUS", "STATUS", "SCAN_DUE")
            record = self.plc.read("RECORD_NUMBER")
            self.start("CHANGEOVER")
            done = self.follow()
            self.judge_moves(here, scan_due, record, self.interruptions - first)
            if done:
                break
        self.judge_complete()
        self.judge_frame()
        undisturbed = self.interruptions == 0
        busy = self.plc.read("OVERRUNS") != overruns or self.weather.late_s > BUSY_S
        must(undisturbed or not gentle or busy, f"stopped by pieces and jitter: {dict(self.alarms)}")
        self.count["of these by a busy computer, without any other reason"] += self.interruptions * gentle
        self.count["interruptions"] += self.interruptions
        self.count["changeovers verified" + (", undisturbed" if undisturbed else "")] += 1

    def judge_moves(self, before, scan_due, record, interruptions):
        """Every holder that a pin let go of is in the record, unless an interruption came between; none twice."""
        self.look_until(lambda: self.plc.read("RECORD_NUMBER") != record, 5, "a record")
        after = self.simulator.counts()
        moves, corrections, retries = (self.plc.read_all(f"RECORD_{what}", RAILS) for what in ("MOVES", "CORRECTIONS", "RETRIES"))
        for r in range(RAILS):
            let_go = sum(after[r][1]) - sum(before[r][1])
            recorded = moves[r] + corrections[r]
            setpoints = after[r][0] - before[r][0]
            self.count["moves"] += recorded
            must(recorded <= let_go <= recorded + retries[r] + interruptions,
                 f"rail {r + 1}: the pin let go {let_go} times; {recorded} moves, {retries[r]} retries and {interruptions} "
                 f"interruptions are recorded")
            # A move takes two set-points: to the holder, and with it. A scan takes three: to its start, there, and back. The
            # one that finds the holders verifies them too, if they stand as they should.
            of_scans = setpoints - 2 * recorded - 1  # 1: to rest
            scans = 2 if scan_due and any(moves) else 1
            must(interruptions or of_scans == 3 * scans or (of_scans > 3 * scans and of_scans % 3 == 0 and any(corrections)),
                 f"rail {r + 1}: the drive took {setpoints} set-points for {recorded} moves and {scans} scans")

    def judge_complete(self):
        plc = self.plc
        plc.scan()
        must(plc.bit("STATUS", "STATUS", "VERIFIED") == 1, "complete, but not verified")
        must(plc.read("ORDER_IN_FORCE") == self.number, "another order came into force")
        truth = self.simulator.holders()
        half = sum(SLITS[self.number % len(SLITS)]) // 2
        lines = [CENTRE_UM - half, CENTRE_UM - half + SLITS[self.number % len(SLITS)][0], CENTRE_UM + half]
        for r in range(RAILS):
            cuts, known = plc.read_all("HOLDER_CUT", HOLDERS, r), plc.read_all("HOLDER_KNOWN", HOLDERS, r)
            must(known == [MEASURED] * HOLDERS, f"rail {r + 1}: {known} after a verification")
            for cut, line in enumerate(lines, 1):
                edge = truth[r][cuts.index(cut)] + EDGE_OFFSET_UM[r] - SIDE_CLEARANCE_UM[r]
                must(abs(edge - line) <= TOLERANCE_UM, f"rail {r + 1}: cut {cut} is in truth at {edge}, not at {line}")


def run(args):
    rng = random.Random(f"{args.seed}/bench")
    began = time.monotonic()

    def tell(trouble):
        print(f"{time.monotonic() - began:8.3f} s  {trouble}", flush=True)

    with WiredGateway([*QUICK, *FRAMES]) as gateway, Simulator(gateway) as simulator, \
            Weather(simulator.ports, args.seed, tell if args.tell else None) as weather:
        for far, near in zip(simulator.ports, weather.ports):
            gateway.change((f"port = {far}", f"port = {near}"))
        gateway.start()
        bench = Bench(gateway, simulator, weather, rng)
        try:
            while time.monotonic() < began + args.seconds:
                bench.changeover()
            weather.calm = True
            must(gateway.end() == 0, "the daemon's exit status")
            must(simulator.end() == 0, "holders collided, or were dragged by an unseated pin")
        finally:
            report(bench, weather, args.seed, time.monotonic() - began)


def report(bench, weather, seed, seconds):
    for name in sorted(weather.troubles):
        print(f"{weather.troubles[name]:6d} x {name}: {weather.frames[name]} frames")
    for counter in (bench.alarms, bench.count):
        for what in sorted(counter):
            print(f"{counter[what]:6d} {what}")
    print(f"the worst measured place that was claimed is {bench.worst_um} um off the truth")
    print(f"{sum(weather.troubles.values())} troubles; seed {seed}, {seconds:.0f} s", flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=75)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tell", action="store_true", help="every trouble as it comes")
    args = parser.parse_args()
    print(f"seed {args.seed}", flush=True)
    try:
        run(args)
    except (Wrong, AssertionError):
        traceback.print_exc()
        raise SystemExit(f"FAILED  seed {args.seed}") from None


if __name__ == "__main__":
    main()
