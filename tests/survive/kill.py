"""The kill test: the daemon dies by SIGKILL at random instants of requests, commands, halts and changeovers, comes up again, and
is judged from outside: over Modbus, and against the truth of a kniferail-sim that goes on running. While it is down, faults of the
machine's frame strike (kill_frame.py); every fourth bench has a second rail, whose drive can be exchanged with the first one's.

    kill.py KNIFERAILD KNIFERAIL KNIFERAIL-SIM [--kills N] [--seed N] [--workers N]

Each worker has a bench of its own: a daemon, its book, a machine. Its seed alone says what happens when; how far the
daemon has come by then is the computer's business, so that a run can be made like another, but never the same. A run whose benches
are as many as the kinds of faults of the frame fails if one of these kinds never struck.
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
import kill_frame  # noqa: E402
from benches import must  # noqa: E402
from gateway_rig import MAP, SLOW, TOLERANCE_UM, Gateway, Plc  # noqa: E402

gateway_rig.POLL_S = 0.015  # several benches share a computer
CONFIG = "../tests/survive/kill.cfg"
HOLDERS, CENTRE_UM, WEB_UM = 3, 200000, 240000
EDGE_OFFSET_UM, CLEARANCE_UM = (4000, -4000), (500, 0)  # of each rail, where there are two; else (EDGE_OFFSET_UM[0], 0)
PAIR_UM = SLIT_UM = 300  # pair_mm and slit_mm, which the station file leaves as they are
STRIPS_UM = 20  # how well a person measures a strip; common practice, no published source
TRUE_UM = 100  # a place that is claimed is this near to the truth
JOB_S = 3.0  # a changeover with scan, moves and verification takes about two seconds
# What a cycle that comes a tenth of a second late, or later, is right to stop for.
ELSEWHERE = ("EDGES_LOST", "HEARTBEAT_STALE", "LINK_LOST", "ANSWERS_LATE", "NETWORK_SILENT", "STOOD_STILL", "DRIVE_FAULT", "DRIVE_DROPPED_OUT", "MOVE_LATE",
             "POSITION_JUMPED")
INTERRUPTIONS_MOST = 10  # of one changeover
INTERRUPTED_MOST = 0.25  # of all changeovers: more would be the daemon's own doing
SLITS = ((140000,), (180000,), (60000,))
UNKNOWN, MEASURED = 0, 3
UNPROVEN, BENCH, TEST_CUT = (MAP.number("HOLDER_EDGE", name) for name in ("UNPROVEN", "BENCH", "TEST_CUT"))
OTHER = "127.0.0.9"  # may control, as all of loopback may, and never is in control
# Where a halt leads, the weaker before the stronger: what else happens may only make it stronger.
HALTS = {"SUSPEND": "SUSPENDED", "HOLD": "HELD", "STOP": "STOPPED", "ABORT": "ABORTED"}
RUNS = ("STARTING", "EXECUTE", "UNHOLDING", "UNSUSPENDING")  # in these states every halt is taken
Orders = collections.namedtuple("Orders", "in_force staged")
PUSHED = "benches that ended where a pin that was off had pushed two holders together"


class PushedTogether(Exception):
    """As in the frame stories: nobody can know that the pin is off before dragged holders have been scanned."""


# A second rail, which slits: the first one once more, with references at distances of its own.
RAIL = re.compile(r"\n      \{\n        role = \"upper\";.*?\n      \}", re.S)
LOWER = ((r"upper", "lower"), (r"at_mm = -10;", "at_mm = -25;"), (r"edge_offset_mm = 4;", "edge_offset_mm = -4;"), (r"15021", "15022"),
         (r"first_mm = 80;", "first_mm = 75;"))


class BenchGateway(Gateway):
    def __init__(self, rails):
        super().__init__(CONFIG, speed=1, book=True)
        if rails > 1:
            upper = lower = RAIL.search(self.text)[0]
            for pattern, new in LOWER:
                lower = re.sub(pattern, new, lower)
            self.change((re.escape(upper), f"{upper},{lower}"),
                        (r'role = "upper";', f'role = "upper"; side_clearance_mm = {CLEARANCE_UM[0] / 1000};'))

    def __enter__(self):
        return self  # the machine comes first


class Machine:
    """kniferail-sim, for the length of a `with` block."""

    def __init__(self, gateway, rails):
        self.rails = rails
        self.process = subprocess.Popen([SIMULATOR, "--config", gateway.config, "--listen", "127.0.0.1:0"],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for rail in range(rails):
            found = re.search(r"port (\d+)", self.process.stdout.readline())
            gateway.change((f"port = {15021 + rail}", f"port = {found[1]}"))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()

    def ask(self, *commands):
        """Each command's answer begins with one line about each rail; what follows the last one's stays unread."""
        self.process.stdin.write("".join(f"{command}\n" for command in commands))
        self.process.stdin.flush()
        lines = []
        while sum(line.startswith(f"rail {self.rails}:") for line in lines) < len(commands):
            lines.append(self.process.stdout.readline())
            must(lines[-1] != "", "the machine has ended")
        return lines

    def say(self, command):
        """break or mend, which has to be possible."""
        self.process.stdin.write(f"{command}\n")
        self.process.stdin.flush()
        while (answer := self.process.stdout.readline()) not in ("broken\n", "mended\n"):
            must(answer not in ("", "not possible now\n"), f"{command}: {answer}")

    def of_rails(self, command):
        return self.ask(command)[-self.rails :]

    def holders(self):
        """Where they truly stand on each rail, in micrometres."""
        return [[round(1000 * float(place)) for place in line.partition(":")[2].split()] for line in self.of_rails("holders")]

    def carriages(self):
        """Where they truly stand."""
        return [re.search(r"carriage at ([-\d.]+) mm", line)[1] for line in self.of_rails("show")]

    def docked(self):
        """The holder that each pin is in, from 1; 0: none."""
        found = [re.search(r" mm, holder (\d)", line) for line in self.of_rails("show")]
        return [int(holder[1]) if holder else 0 for holder in found]

    def let_go(self):
        """How often each rail's pin let go of each holder."""
        return [[int(n) for n in line.rpartition(":")[2].split()] for line in self.of_rails("counts")]

    def end(self):
        """Its exit status: 3 if holders collided or were dragged by an unseated pin."""
        self.process.terminate()
        return self.process.wait(timeout=10 * SLOW)


class Bench:
    """What the PLC was told, and what it asked for without having been told."""

    def __init__(self, gateway, machine, frame, rng):
        self.gateway, self.machine, self.frame, self.rng = gateway, machine, frame, rng
        self.rails = machine.rails
        self.plc, self.other, self.session, self.told = None, None, 0, Orders(0, 0)
        self.verdict = None
        self.asked = None       # (session, number, order): a request without a verdict yet
        self.before_start = None  # orders before a Start of which nobody knows whether it is stored
        self.edges = [[UNPROVEN] * HOLDERS for _ in range(self.rails)]  # as maintenance was told
        self.edges_asked = None   # as they are if the request without a verdict was stored
        self.number = 0         # of the newest order
        self.let_go = machine.let_go()  # at the last verification
        self.pin_off_um = [0] * self.rails  # at the most, since then
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
        self.judge_collisions()
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
        now = self.of_rails("HOLDER_EDGE")
        must(now in (self.edges, self.edges_asked), f"edges {now}; told {self.edges}, asked {self.edges_asked}")
        self.count["an unanswered maintenance request was kept"] += now != self.edges
        self.edges, self.edges_asked = now, None

    def pins_off_um(self):
        return [self.frame.pin_off_um(rail, self.plc.read("SWITCH_CORRECTION", rail)) for rail in range(self.rails)]

    def judge_collisions(self):
        self.pin_off_um = [max(both) for both in zip(self.pin_off_um, self.pins_off_um())]
        for line in self.machine.ask("show", "holders"):
            collided = re.match(r"COLLISIONS: .* on rail (\d)", line)
            if collided:
                must(self.pin_off_um[int(collided[1]) - 1] > TRUE_UM, line)
                raise PushedTogether

    def of_rails(self, name):
        return [self.plc.read_all(name, HOLDERS, rail) for rail in range(self.rails)]

    def judge_places(self):
        """No place is claimed that is not so, none to be measured. What the pin still held may have been put down with proof."""
        truth, known, places = self.machine.holders(), self.of_rails("HOLDER_KNOWN"), self.of_rails("HOLDER_POSITION")
        let_go, docked, pins_um = self.machine.let_go(), self.machine.docked(), self.pins_off_um()
        for rail in range(self.rails):
            must(MEASURED not in known[rail], f"rail {rail + 1}: known {known[rail]} before a scan")
            self.count["holders unknown after a kill"] += known[rail].count(UNKNOWN)
            what, pin_um = self.frame.rails[rail], pins_um[rail]
            for h in range(HOLDERS):
                put_down = let_go[rail][h] != self.let_go[rail][h] or docked[rail] == h + 1
                off_um = abs(places[rail][h] - truth[rail][h])
                limit_um = TRUE_UM + what.unseen_um + what.warmed_um + (pin_um if put_down else 0)
                must(known[rail][h] == UNKNOWN or off_um <= limit_um,
                     f"rail {rail + 1}, holder {h + 1} is claimed to be at {places[rail][h]} (known {known[rail][h]}) and stands at "
                     f"{truth[rail][h]}; limit {limit_um}")

    def scene(self):
        """For whoever has to find out what went wrong: what the machine knows, and what the gateway says of it."""
        said = {name: self.of_rails(name) for name in ("HOLDER_POSITION", "HOLDER_KNOWN", "HOLDER_TARGET", "HOLDER_CUT")}
        said |= {name: [self.plc.read(name, rail) for rail in range(self.rails)]
                 for name in ("CARRIAGE_POSITION", "DOCKED_HOLDER", "DATUM_CORRECTION", "SWITCH_CORRECTION")}
        said |= {name: self.plc.read(name) for name in ("ORDER_IN_FORCE", "ORDER_STAGED")} | {"alarms": self.plc.alarms()}
        return (f"machine: {''.join(self.machine.ask('show', 'holders'))}gateway: {said}\ntold: {self.told}\nframe: {self.frame.scene()}")

    # ---- what the PLC does

    def kill(self, after_s):
        time.sleep(after_s)
        self.gateway.end(signal.SIGKILL)
        self.count["kills"] += 1
        struck = self.frame.strike()
        if struck:
            self.count[f"frame: {struck}"] += 1

    def ask(self):
        """Hands over an order; the verdict is not waited for."""
        self.number += 1
        self.plc.scan()
        self.plc.fill_order(self.number, WEB_UM, SLITS[self.number % len(SLITS)])
        self.plc.hand_over()
        self.asked = (self.session, self.plc.request, self.number)

    def maintain(self):
        """Edges are confirmed, or an offset is written once more; the verdict is not waited for."""
        rail = self.rng.randrange(self.rails)
        self.edges_asked = [list(edges) for edges in self.edges]
        if self.rng.random() < 0.5:
            self.plc.hand_over_edit("BENCH", rail + 1)
            self.edges_asked[rail] = [BENCH] * HOLDERS
        else:
            holder = self.rng.randint(1, HOLDERS)
            self.plc.hand_over_edit("OFFSET", rail + 1, holder, EDGE_OFFSET_UM[rail])
            self.edges_asked[rail][holder - 1] = UNPROVEN

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
            self.frame.homed()
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
            must(self.busy_alarm() is not None or self.frame_alarm() is not None, f"HALT {what} led to {after}")
        plc.wait(lambda: not plc.moving(), 10, "standstill")
        stood = self.machine.carriages()
        for _ in range(10):
            plc.scan()
        must(self.machine.carriages() == stood, f"a carriage moves in {after}, from {stood} mm to {self.machine.carriages()} mm")
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
        self.people_come()
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
        must(not self.frame.exchanged, "verified, while the drives of two rails are exchanged")
        must(Orders(plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")) == self.told, "another order came into force")
        self.judge_collisions()
        self.judge_knives()
        self.prove_edges()
        self.judge_may_run()
        self.count["changeovers verified"] += 1
        self.frame.verified()
        self.let_go, self.pin_off_um = self.machine.let_go(), self.pins_off_um()

    def go_on(self):
        """A computer that was elsewhere for a while interrupts a job, rightly, and so does an alarm of the frame; whatever else does
        is wrong."""
        plc = self.plc
        if not self.people_come():
            alarm = self.busy_alarm()
            must(alarm is not None, f"unit state {plc.state()}, alarms {plc.read_all('ALARM_CODES', 16)}")
            self.count[f"interruptions by a busy computer: {alarm}"] += 1
        if plc.state() in ("HELD", "SUSPENDED"):
            what = "UNHOLD" if plc.state() == "HELD" else "UNSUSPEND"
            must(plc.give(what) == 0, f"{what} is refused")
            plc.wait(lambda: plc.state() not in ("HELD", "SUSPENDED"), 10, "the job that goes on")
        else:
            self.make_ready()
            self.give_start()
            plc.wait(lambda: plc.state() != "IDLE", 10, "the job that is begun again")

    # ---- what people do about the frame

    def frame_alarm(self):
        """Name and rail of the alarm that stands first, if it is the frame's, in which something has changed since a verification."""
        if self.frame.settled:
            return None
        rows = zip(self.plc.read_all("ALARM_CODES", 16), self.plc.read_all("ALARM_RAILS", 16))
        names = kill_frame.ALARMS + (kill_frame.ALARMS_EXCHANGED if self.frame.exchanged else ())
        first = next(((code, rail) for code, rail in rows if code not in (0, MAP.alarm["JOB_LATE"])), (0, 0))
        return next(((name, first[1] - 1) for name in names if first[0] == MAP.alarm[name]), None)

    def people_come(self):
        """If an alarm of the frame calls them. Then they mend what it names, or confirm a shift."""
        called = self.frame_alarm()
        if called is None:
            return False
        alarm, rail = called
        self.count[f"people called: {alarm}"] += 1
        if self.frame.exchanged:
            self.put_drives_back()
        elif alarm == "REFERENCES_UNSEEN":
            self.frame.clean(rail)
        else:
            shift_um = self.plc.read("RAIL_SHIFT", 0, rail)  # 0: they have confirmed it, and a halt came before a scan
            if shift_um != 0 and self.frame.is_confirmed(rail):
                self.gateway.set("shift", rail + 1, f"{shift_um} um")
                self.count["shifts confirmed"] += 1
        return True

    def put_drives_back(self):
        """With the job ended, and the power off."""
        plc = self.plc
        if plc.state() != "ABORTED":
            plc.to_stopped()
        self.frame.exchange(False)
        plc.wait(lambda: not plc.bit("STATUS", "STATUS", "LINK"), 10, "the drives have lost their power")
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 10, "the links to the drives")
        plc.wait_state("STOPPED", "ABORTED")

    def busy_alarm(self):
        """The alarm that stands first, if a busy computer is its reason."""
        standing = [code for code in self.plc.read_all("ALARM_CODES", 16) if code not in (0, MAP.alarm["JOB_LATE"])]
        return next((name for name in ELSEWHERE if standing[:1] == [MAP.alarm[name]]), None)

    def edges_at(self, truth, cuts, rail):
        """Of each cut: its edge, in truth, less the clearance of its rail."""
        side_um = CLEARANCE_UM[rail] if self.rails > 1 else 0
        return [truth[rail][cuts[rail].index(cut)] + EDGE_OFFSET_UM[rail] - side_um for cut in (1, 2)]

    def judge_knives(self):
        """Of all that is verified: places, knives, pairs and the slit, in the frame's truth."""
        truth, known, places, cuts = (self.machine.holders(),
                                      *(self.of_rails(name) for name in ("HOLDER_KNOWN", "HOLDER_POSITION", "HOLDER_CUT")))
        half, edges = self.slit_um() // 2, []
        for rail in range(self.rails):
            unseen_um = self.frame.rails[rail].unseen_um
            for h in range(HOLDERS):
                must(known[rail][h] == MEASURED, f"rail {rail + 1}, holder {h + 1} is not measured")
                must(abs(places[rail][h] - truth[rail][h]) <= TRUE_UM + unseen_um,
                     f"rail {rail + 1}, holder {h + 1} measured at {places[rail][h]}, stands at {truth[rail][h]}")
            edges.append(self.edges_at(truth, cuts, rail))
            for edge, line in zip(edges[rail], (CENTRE_UM - half, CENTRE_UM + half)):
                must(abs(edge - line) <= TOLERANCE_UM + unseen_um, f"rail {rail + 1}: a cut is at {edge}, not at {line}")
        all_unseen_um = sum(what.unseen_um for what in self.frame.rails)
        left, right = edges[-1]
        must(abs(right - left - self.slit_um()) <= SLIT_UM + 2 * all_unseen_um, f"the slit is {right - left} wide, not {self.slit_um()}")
        for upper, lower in zip(edges[0], edges[-1]):
            must(abs(upper - lower) <= PAIR_UM + all_unseen_um, f"a pair is off by {upper - lower}")

    def slit_um(self):
        return sum(SLITS[self.told.in_force % len(SLITS)])

    def is_proven(self):
        cuts = self.of_rails("HOLDER_CUT")
        return all(self.edges[r][h] != UNPROVEN for r in range(self.rails) for h in range(HOLDERS) if cuts[r][h])

    def prove_edges(self):
        """By a test cut, half of the time: its strip is measured on the true blades, and the pairs were looked at."""
        if self.is_proven() or self.rng.random() < 0.5:
            return
        truth, cuts, rail = self.machine.holders(), self.of_rails("HOLDER_CUT"), self.rails - 1
        left, right = self.edges_at(truth, cuts, rail)
        strip_um = right - left + self.rng.randint(-STRIPS_UM, STRIPS_UM)
        for unproven in range(self.rails):
            if UNPROVEN in (edge for edge, cut in zip(self.edges[unproven], cuts[unproven]) if cut):
                self.gateway.set("trial", unproven + 1, "all")
        self.gateway.set("test-cut", f"{strip_um / 1000:.3f}", *(["pairs-looked-at"] if self.rails > 1 else []))
        before, self.edges = self.edges, self.of_rails("HOLDER_EDGE")
        for r in range(self.rails):
            for h in range(HOLDERS):
                may_be = {before[r][h]} | ({TEST_CUT} if cuts[r][h] and before[r][h] == UNPROVEN else set())
                must(self.edges[r][h] in may_be, f"a test cut has left the edges {self.edges} of {before}, cuts {cuts}")
        within = abs(right - left - self.slit_um()) <= SLIT_UM + STRIPS_UM + 2
        must(within or self.edges == before, f"a test cut has proven edges beside a slit of {right - left}, not {self.slit_um()}")
        self.count["test cuts that proved the edges" if self.is_proven() else "test cuts that proved none"] += 1

    def judge_may_run(self):
        proven = self.is_proven()
        self.plc.scan()
        must(proven or not self.plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN"), f"may run with edges {self.edges}")
        self.plc.wait(lambda: self.plc.bit("LINE_STATUS", "LINE_STATUS", "MAY_RUN") == proven, 5, f"MAY_RUN {proven}")
        self.count["changeovers after which the line may run"] += proven

    # ---- a story

    def next_kill(self, is_last):
        """Up to the next kill. The bench is up, and is up again afterwards."""
        rng = self.rng
        what = rng.choices(("request", "maintenance", "Start", "job", "getting ready"), (25, 10, 10, 50, 10))[0]
        if not self.told.staged and not self.told.in_force and what != "maintenance":
            what = "request"
        if is_last and not self.frame.struck:  # no pin is in a holder then
            self.make_ready()
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
    if kills > 0:
        bench.end_verified()  # what the frame is compared with
    while bench.count["kills"] < kills:
        bench.next_kill(is_last=bench.count["kills"] + 1 == kills)
        if bench.rng.random() < 0.45 or bench.count["kills"] == kills:
            bench.end_verified()
    must(bench.gateway.end() == 0, "the daemon's exit status")
    must(bench.machine.end() == 0, "holders collided, or were dragged by an unseated pin")


def work(number, kills, seed, results):
    rng, bench, trace = random.Random(f"{seed}/{number}"), None, ""
    rails = 2 if number % 4 == 0 else 1
    try:
        with BenchGateway(rails) as gateway, Machine(gateway, rails) as machine:
            bench = Bench(gateway, machine, kill_frame.Frame(machine, rails, number, seed), rng)
            try:
                play(bench, kills)
            except PushedTogether:
                bench.count[PUSHED] += 1
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
    never = [kind for kind in kill_frame.KINDS if not total[f"frame: {kind}"]]
    if never:
        print(f"never struck: {'; '.join(never)}")
        if args.kills >= args.workers >= len(kill_frame.KINDS):
            failures.append("a kind of fault of the frame never struck")
    sys.exit(1 if failures or (total["kills"] < args.kills and not total[PUSHED]) else 0)


if __name__ == "__main__":
    main()
