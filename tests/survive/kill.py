"""The kill test: the daemon dies by SIGKILL at random instants of requests, commands, halts and changeovers, comes up again, and
is judged from outside: over Modbus, and against the truth of a kniferail-sim that goes on running.

    kill.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM [--kills N] [--seed N] [--workers N]

Each worker has a bench of its own: a daemon, its book, a machine. Its seed alone says what happens when; how far the
daemon has come by then is the computer's business, so that a run can be made like another, but never the same.
"""
import collections
import os
import pathlib
import random
import re
import signal
import subprocess
import sys
import time
import traceback

SIMULATOR = sys.argv.pop(3) if len(sys.argv) > 3 else sys.exit(__doc__)
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "system"))

import benches  # noqa: E402
import gateway_rig  # noqa: E402 (it takes its own paths off the command line)
from benches import must  # noqa: E402
from gateway_rig import MAP, SLOW, TOLERANCE_UM, Gateway, Plc  # noqa: E402

gateway_rig.POLL_S = 0.015  # several benches share a computer
CONFIG = "../tests/survive/kill.cfg"
HOLDERS, EDGE_OFFSET_UM, CENTRE_UM, WEB_UM = 3, 4000, 200000, 240000
TRUE_UM = 100  # a place that is claimed is this near to the truth
SHIFT_UM = 35  # so much a datum shifts while the gateway is down, at most once between two verifications
JOB_S = 3.0  # a changeover with scan, moves and verification takes about two seconds
# What a cycle that comes a tenth of a second late, or later, is right to stop for.
ELSEWHERE = ("EDGES_LOST", "HEARTBEAT_STALE", "LINK_LOST", "ANSWERS_LATE", "NETWORK_SILENT", "STOOD_STILL", "DRIVE_FAULT", "DRIVE_DROPPED_OUT", "MOVE_LATE",
             "POSITION_JUMPED")
INTERRUPTIONS_MOST = 10  # of one changeover
INTERRUPTED_MOST = 0.25  # of all changeovers: more would be the daemon's own doing
SLITS = ((140000,), (180000,), (60000,))
UNKNOWN, MEASURED = 0, 3
UNPROVEN, BENCH = (MAP.number("HOLDER_EDGE", name) for name in ("UNPROVEN", "BENCH"))
OTHER = "127.0.0.9"  # may control, as all of loopback may, and never is in control
# Where a halt leads, the weaker before the stronger: what else happens may only make it stronger.
HALTS = {"SUSPEND": "SUSPENDED", "HOLD": "HELD", "STOP": "STOPPED", "ABORT": "ABORTED"}
RUNS = ("STARTING", "EXECUTE", "UNHOLDING", "UNSUSPENDING")  # in these states every halt is taken
Orders = collections.namedtuple("Orders", "in_force staged")


class BenchGateway(Gateway):
    def __init__(self):
        super().__init__(CONFIG, speed=1, book=True)

    def __enter__(self):
        return self  # the machine comes first


class Machine:
    """kniferail-sim, for the length of a `with` block."""

    def __init__(self, gateway):
        self.process = subprocess.Popen([SIMULATOR, "--config", gateway.config, "--listen", "127.0.0.1:0"],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        found = re.search(r"port (\d+)", self.process.stdout.readline())
        gateway.change(("port = 15021", f"port = {found[1]}"))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()

    def ask(self, *commands):
        """Each command's answer begins with one line about its only rail; what follows the last one's stays unread."""
        self.process.stdin.write("".join(f"{command}\n" for command in commands))
        self.process.stdin.flush()
        lines = []
        while sum(line.startswith("rail 1:") for line in lines) < len(commands):
            lines.append(self.process.stdout.readline())
            must(lines[-1] != "", "the machine has ended")
        return lines

    def shift_datum(self, by_um):
        """From now on its drive counts so much more than at the start."""
        self.process.stdin.write(f"break 1 datum-shifted {by_um}\n")
        self.process.stdin.flush()
        while (answer := self.process.stdout.readline()) != "broken\n":
            must(answer != "", "the machine has ended")

    def holders(self):
        """Where they truly stand, in micrometres."""
        line = self.ask("holders")[-1]
        return [round(1000 * float(place)) for place in line.removeprefix("rail 1:").split()]

    def carriage(self):
        """Where it truly stands."""
        return re.search(r"carriage at ([-\d.]+) mm", self.ask("show")[-1])[1]

    def end(self):
        """Its exit status: 3 if holders collided or were dragged by an unseated pin."""
        self.process.terminate()
        return self.process.wait(timeout=10 * SLOW)


class Bench:
    """What the PLC was told, and what it asked for without having been told."""

    def __init__(self, gateway, machine, rng):
        self.gateway, self.machine, self.rng = gateway, machine, rng
        self.plc, self.other, self.session, self.told = None, None, 0, Orders(0, 0)
        self.verdict = None
        self.asked = None       # (session, number, order): a request without a verdict yet
        self.before_start = None  # orders before a Start of which nobody knows whether it is stored
        self.edges = [UNPROVEN] * HOLDERS  # as maintenance was told
        self.edges_asked = None   # as they are if the request without a verdict was stored
        self.number = 0         # of the newest order
        self.frame_rng = random.Random(rng.getstate()[1][0])  # of its own: other draws stay as they are
        self.shift_um, self.verified = 0, False  # of the drive's datum; since it shifted last
        self.count = collections.Counter()

    # ---- coming up, and what must hold then

    def up(self):
        self.gateway.start()
        if self.plc is not None:
            self.plc.close()
            self.other.close()
        self.plc, self.other = Plc(self.gateway), Plc(self.gateway, source=OTHER)
        self.plc.wait(lambda: self.plc.bit("STATUS", "STATUS", "LINK"), 10, "the link to the drive")
        self.judge_orders()
        self.judge_verdict()
        self.judge_edges()
        self.asked = self.before_start = None
        must(self.plc.state() in ("STOPPING", "STOPPED"), f"unit state {self.plc.state()} after a start")
        must(self.plc.seen("LINE_STATUS") & 3 == 0, "the line may run after a start")
        self.plc.wait_state("STOPPED", seconds=10)  # a drive that was left running is stopped first
        self.plc.wait(lambda: not self.plc.moving(), 10, "standstill")
        self.judge_places()

    def judge_orders(self):
        session = self.plc.seen("SESSION")
        first = self.session == 0  # a new book begins at a random number of the lower half
        must(1 <= session <= 32767 if first else session == self.session + 1, f"session {session} after {self.session}")
        self.session = session
        now = Orders(self.plc.read("ORDER_IN_FORCE"), self.plc.read("ORDER_STAGED"))
        possible = {self.told} | ({self.before_start} if self.before_start else set())
        if self.asked:
            possible |= {Orders(orders.in_force, self.asked[2]) for orders in possible}
        must(now in possible, f"{now}; told {self.told}, asked {self.asked}, before Start {self.before_start}")
        self.count["an unanswered request was kept"] += bool(self.asked) and now.staged == self.asked[2]
        self.count["an unanswered Start was kept"] += bool(self.before_start) and now.in_force == self.told.in_force
        if self.asked and now.staged == self.asked[2]:
            must(self.seen_verdict() == (*self.asked, 0), "an order is staged, and its verdict is not there")
        self.told = now

    def seen_verdict(self):
        return tuple(self.plc.seen(name) for name in ("VERDICT_SESSION", "VERDICT_NUMBER", "VERDICT_ORDER", "VERDICT_CODE"))

    def judge_verdict(self):
        now = self.seen_verdict()
        must(now == self.verdict or self.verdict is None or (self.asked and now == (*self.asked, 0)),
             f"verdict {now}; it was {self.verdict}, asked {self.asked}")
        self.verdict = now

    def judge_edges(self):
        """No edge is proven that nobody has confirmed, and none has lost its proof."""
        now = self.plc.read_all("HOLDER_EDGE", HOLDERS)
        must(now in (self.edges, self.edges_asked), f"edges {now}; told {self.edges}, asked {self.edges_asked}")
        self.count["an unanswered maintenance request was kept"] += now != self.edges
        self.edges, self.edges_asked = now, None

    def judge_places(self):
        """No place is claimed that is not so, none to be measured. What the pin still held may have been put down with proof."""
        truth, known = self.machine.holders(), self.plc.read_all("HOLDER_KNOWN", HOLDERS)
        places = self.plc.read_all("HOLDER_POSITION", HOLDERS)
        must(MEASURED not in known, f"known {known} before a scan")
        self.count["holders unknown after a kill"] += known.count(UNKNOWN)
        for h in range(HOLDERS):
            must(known[h] == UNKNOWN or abs(places[h] - truth[h]) <= TRUE_UM,
                 f"holder {h + 1} is claimed to be at {places[h]} (known {known[h]}) and stands at {truth[h]}")

    def scene(self):
        """For whoever has to find out what went wrong: what the machine knows, and what the gateway says of it."""
        said = {name: self.plc.read_all(name, HOLDERS) for name in ("HOLDER_POSITION", "HOLDER_KNOWN", "HOLDER_TARGET", "HOLDER_CUT")}
        said |= {name: self.plc.read(name) for name in ("CARRIAGE_POSITION", "DOCKED_HOLDER", "ORDER_IN_FORCE", "ORDER_STAGED")}
        return f"machine: {''.join(self.machine.ask('show', 'holders'))}gateway: {said}\ntold: {self.told}"

    # ---- what the PLC does

    def kill(self, after_s):
        time.sleep(after_s)
        self.gateway.end(signal.SIGKILL)
        self.count["kills"] += 1
        self.shift()

    def shift(self):
        """A datum that creeps, across restarts: in the end by far more than a knife's tolerance, as the references have to say."""
        if not self.verified or self.frame_rng.random() < 0.4:
            return
        self.shift_um += self.frame_rng.choice((SHIFT_UM, SHIFT_UM, -SHIFT_UM)) * (1 if self.shift_um < 700 else -1)
        self.machine.shift_datum(self.shift_um)
        self.verified = False
        self.count["datums shifted across a restart"] += 1

    def ask(self):
        """Hands over an order; the verdict is not waited for."""
        self.number += 1
        self.plc.scan()
        self.plc.fill_order(self.number, WEB_UM, SLITS[self.number % len(SLITS)])
        self.plc.hand_over()
        self.asked = (self.session, self.plc.request, self.number)

    def maintain(self):
        """Edges are confirmed, or an offset is written once more; the verdict is not waited for."""
        if self.rng.random() < 0.5:
            self.plc.hand_over_edit("BENCH", 1)
            self.edges_asked = [BENCH] * HOLDERS
        else:
            holder = self.rng.randint(1, HOLDERS)
            self.plc.hand_over_edit("OFFSET", 1, holder, EDGE_OFFSET_UM)
            self.edges_asked = [UNPROVEN if h + 1 == holder else edge for h, edge in enumerate(self.edges)]

    def stage(self):
        self.ask()
        # Session and number: numbers begin anew with every session, and the last verdict of an older one still stands.
        self.plc.wait(lambda: self.seen_verdict()[:2] == self.asked[:2], 10, "a verdict")
        self.verdict = self.seen_verdict()
        must(self.verdict == (*self.asked, 0), f"verdict {self.verdict} on {self.asked}")
        must(self.plc.seen("VERDICT_REPLACED") == self.told.staged, "the order that was replaced is another")
        self.told, self.asked = Orders(self.told.in_force, self.number), None

    def make_ready(self):
        """To Idle, by way of whatever the kill has left."""
        plc = self.plc
        plc.scan()
        if plc.state() == "ABORTED":
            must(plc.give("CLEAR") == 0, "Clear is refused")
            plc.wait_state("STOPPED")
        plc.to_idle()
        if not plc.bit("STATUS", "STATUS", "PINS_OUT"):
            self.count["pins released"] += 1
            plc.start("RELEASE")
            plc.wait_state("COMPLETE")
            plc.to_idle()
        if not plc.bit("STATUS", "STATUS", "REFERENCED"):
            self.count["carriages homed, whose position had jumped"] += 1
            plc.start("HOME")
            plc.wait_state("COMPLETE")
            plc.to_idle()

    def give_start(self):
        """Start, its answer not waited for."""
        self.before_start = self.told
        if self.told.staged:
            self.told = Orders(self.told.staged, 0)
        self.plc.command = self.plc.command % 65535 + 1
        self.plc.write_command("START", "CHANGEOVER", self.plc.command)

    def halt(self):
        """A random halt by the register, from the address that is in control or from another. Returns which one, and what ran."""
        self.plc.scan()
        what, writer = self.rng.choice(list(HALTS)), self.rng.choice((self.plc, self.other))
        before, mark = self.plc.state(), len(self.gateway.log())
        writer.write("HALT", MAP.number("HALT", what))
        self.count[f"halts: {what}, {'from the PLC' if writer is self.plc else 'from another address'}"] += 1
        return what, writer.source or "127.0.0.1", before, mark

    def judge_halt(self, what, origin, before, mark):
        """It is taken or refused as the command of the same name is; taken, it leads where that one leads, and all stands."""
        plc, number = self.plc, MAP.number("HALT", what)
        said = re.compile(rf"{re.escape(origin)}(?: port \d+)? writes HALT {number}, {what.lower()}: (accepted|refused, code (\d+))")
        plc.wait(lambda: said.search(self.gateway.log(), mark), 5, f"the log says what became of HALT {what}")
        is_taken = said.search(self.gateway.log(), mark)[1] == "accepted"
        self.judge_start()
        rests = list(HALTS.values())
        plc.wait_state(*rests, *(() if is_taken else ("IDLE", "COMPLETE")), seconds=20)
        after = plc.state()
        if not is_taken:
            must(int(said.search(self.gateway.log(), mark)[2]) == MAP.result["NOT_IN_THIS_STATE"], "a halt is refused for another reason")
            must(before not in RUNS or after != "IDLE", f"HALT {what} was refused in {before}, then {after}")
            must(what in ("SUSPEND", "HOLD") or after in ("STOPPED", "ABORTED"), f"HALT {what} was refused, and the unit is {after}")
            self.count["halts that came where nothing ran"] += 1
            return
        must(rests.index(after) >= rests.index(HALTS[what]), f"HALT {what} was taken, and the unit is {after}")
        if after != HALTS[what] and (before, after) != ("UNHOLDING", "HELD"):  # what was Held is Held again
            must(self.busy_alarm() is not None, f"HALT {what} led to {after}")
        plc.wait(lambda: not plc.moving(), 10, "standstill")
        stood = self.machine.carriage()
        for _ in range(10):
            plc.scan()
        must(self.machine.carriage() == stood, f"the carriage moves in {after}, from {stood} mm to {self.machine.carriage()} mm")
        must(plc.state() == after, f"{after} was left by itself")
        self.count[f"halts that led to {after}"] += 1

    def judge_start(self):
        """A Start that waited when a halt came is refused, and no order came into force; any other one is stored."""
        plc = self.plc
        if self.before_start is None:
            return
        plc.wait(lambda: plc.seen("COMMAND_ECHO") == plc.command, 5, "the echo of Start")
        if plc.seen("COMMAND_RESULT") == MAP.result["HALTED"]:
            self.count["Starts refused because a halt came before them"] += 1
            self.told = self.before_start
        else:
            must(plc.seen("COMMAND_RESULT") == 0, f"Start is refused with {plc.seen('COMMAND_RESULT')}")
        self.before_start = None
        plc.wait(lambda: Orders(plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")) == self.told, 5, f"orders {self.told}")

    def resume(self):
        """What leads on from a halt."""
        plc = self.plc
        plc.scan()
        if plc.state() in ("HELD", "SUSPENDED"):
            must(plc.give("UNHOLD" if plc.state() == "HELD" else "UNSUSPEND") == 0, f"{plc.state()} can't be left")
        elif plc.state() != "COMPLETE":
            self.make_ready()
            self.give_start()
            plc.wait(lambda: plc.state() != "IDLE", 10, "the job that is begun again")

    def run_for(self, seconds):
        """Plays the PLC in a changeover for so long, or to its end."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self.plc.scan()
            if self.plc.state() == "EXECUTE":
                self.before_start = None  # it runs: then it is stored
            if self.plc.state() == "COMPLETE":
                return
            time.sleep(gateway_rig.POLL_S)

    def complete(self):
        plc, ends = self.plc, ("COMPLETE", "HELD", "ABORTED", "SUSPENDED")
        plc.wait_state("EXECUTE", *ends)
        self.before_start = None
        plc.wait_state(*ends, seconds=60)
        for _ in range(INTERRUPTIONS_MOST):
            if plc.state() == "COMPLETE":
                break
            self.go_on()
            plc.wait_state(*ends, seconds=60)
            self.before_start = None
        must(plc.state() == "COMPLETE", f"unit state {plc.state()}, alarm {plc.seen('ALARM_CODE')}")
        must(plc.bit("STATUS", "STATUS", "VERIFIED") == 1, "complete, but not verified")
        must(Orders(plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")) == self.told, "another order came into force")
        self.judge_knives()
        self.count["changeovers verified"] += 1
        self.verified = True

    def go_on(self):
        """A computer that was elsewhere for a while interrupts a job, rightly; whatever else does is wrong."""
        plc, alarm = self.plc, self.busy_alarm()
        must(alarm is not None, f"unit state {plc.state()}, alarms {plc.read_all('ALARM_CODES', 16)}")
        self.count[f"interruptions by a busy computer: {alarm}"] += 1
        if plc.state() == "ABORTED":
            self.make_ready()
            self.give_start()
            plc.wait(lambda: plc.state() != "IDLE", 10, "the job that is begun again")
        else:
            what = "UNHOLD" if plc.state() == "HELD" else "UNSUSPEND"
            must(plc.give(what) == 0, f"{what} is refused")
            plc.wait(lambda: plc.state() not in ("HELD", "SUSPENDED"), 10, "the job that goes on")

    def busy_alarm(self):
        """The alarm that stands first, if a busy computer is its reason."""
        standing = [code for code in self.plc.read_all("ALARM_CODES", 16) if code not in (0, MAP.alarm["JOB_LATE"])]
        return next((name for name in ELSEWHERE if standing[:1] == [MAP.alarm[name]]), None)

    def judge_knives(self):
        truth, known = self.machine.holders(), self.plc.read_all("HOLDER_KNOWN", HOLDERS)
        places, cuts = self.plc.read_all("HOLDER_POSITION", HOLDERS), self.plc.read_all("HOLDER_CUT", HOLDERS)
        half = sum(SLITS[self.told.in_force % len(SLITS)]) // 2
        for h in range(HOLDERS):
            must(known[h] == MEASURED, f"holder {h + 1} is not measured")
            must(abs(places[h] - truth[h]) <= TRUE_UM, f"holder {h + 1} measured at {places[h]}, stands at {truth[h]}")
        for cut, line in ((1, CENTRE_UM - half), (2, CENTRE_UM + half)):
            edge = truth[cuts.index(cut)] + EDGE_OFFSET_UM
            must(abs(edge - line) <= TOLERANCE_UM, f"cut {cut} is at {edge}, not at {line}")
        proven = all(self.edges[h] == BENCH for h in range(HOLDERS) if cuts[h])
        self.plc.scan()
        must(proven or not self.plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN"), f"may run with edges {self.edges}, cuts {cuts}")
        self.plc.wait(lambda: self.plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN") == proven, 5, f"MAY_RUN {proven}")
        self.count["changeovers after which the line may run"] += proven

    # ---- a story

    def next_kill(self):
        """Up to the next kill. The bench is up, and is up again afterwards."""
        rng = self.rng
        what = rng.choices(("request", "maintenance", "Start", "job", "getting ready"), (25, 10, 10, 50, 10))[0]
        if not self.told.staged and not self.told.in_force and what != "maintenance":
            what = "request"
        if what == "maintenance":
            self.maintain()
            self.kill(rng.uniform(0, 0.03))
        elif what == "request":
            self.ask()
            self.kill(rng.uniform(0, 0.03))
        elif what == "getting ready":
            self.plc.scan()
            self.plc.give("RESET")
            self.kill(rng.uniform(0, 0.6))
        else:
            if rng.random() < 0.6:
                self.stage()
            self.make_ready()
            self.give_start()
            if what == "job":
                self.run_for(rng.uniform(0, JOB_S * SLOW))
            if rng.random() < 0.3:
                self.count["kills behind a halt"] += 1
                self.halt()
            self.kill(rng.uniform(0, 0.03))
        self.count[f"kills in {what}"] += 1
        self.up()

    def end_verified(self):
        if not self.told.in_force and not self.told.staged:
            self.stage()
        self.make_ready()
        self.give_start()
        for _ in range(self.rng.choice((0, 0, 1, 2))):
            self.run_for(self.rng.choice((0, self.rng.uniform(0, JOB_S * SLOW))))
            self.judge_halt(*self.halt())
            self.resume()
        self.complete()


def play(bench, kills):
    bench.up()
    while bench.count["kills"] < kills:
        bench.next_kill()
        if bench.rng.random() < 0.45 or bench.count["kills"] == kills:
            bench.end_verified()
    must(bench.gateway.end() == 0, "the daemon's exit status")
    must(bench.machine.end() == 0, "holders collided, or were dragged by an unseated pin")


def work(number, kills, seed, results):
    rng, bench, trace = random.Random(f"{seed}/{number}"), None, ""
    try:
        with BenchGateway() as gateway, Machine(gateway) as machine:
            bench = Bench(gateway, machine, rng)
            try:
                play(bench, kills)
            except Exception:
                trace = traceback.format_exc()
                trace += bench.scene()
                raise
        results.put((number, bench.count, None))
    except Exception:
        trace = trace or traceback.format_exc()
        count = bench.count if bench else collections.Counter()
        results.put((number, count, f"seed {seed}, worker {number}, kill {count['kills']}: {trace}"))


def main():
    args = benches.arguments(__doc__, kills=300, workers=8)
    total, failures = benches.run(work, args)
    interruptions = sum(n for what, n in total.items() if what.startswith("interruptions"))
    if interruptions > 5 + INTERRUPTED_MOST * total["changeovers verified"]:
        failures.append("too many interruptions")
        print(f"FAILED  {interruptions} interruptions: no computer is as busy as that")
    sys.exit(1 if failures or total["kills"] < args.kills else 0)


if __name__ == "__main__":
    main()
