"""Faults of the machine's frame for the kill test: they strike while the gateway is down, and people mend them, or confirm them, once
an alarm has called. They are the frame stories' (tests/long/frames.c), as far as a rail with a reference at either end has them
across a restart, and so is what is excused: dirt too small to be seen, and nothing else.

All draws come from a stream of their own."""
import random
import time

DATUM, BRACKET, SCALE, WARMER, DIRTY, MISSING, EXCHANGED = KINDS = (
    "a datum shifted", "a switch's bracket was bumped", "a drive's scale changed", "a rail got warmer or colder than the frame",
    "a reference got dirty", "a reference is missing", "the drives of two rails were exchanged")
REFERENCES, REFERENCE_UM = 2, 20000  # of a rail in kill.cfg, and their width
UNSEEN_UM = REFERENCE_UM // 64  # a reference that looks wider by less is no other one: src/motion/match.c
CREEP_UM = 35  # a coupling that slips a little, the only thing that strikes while a pin is in a holder
SHIFT_MOST_UM, BUMP_MOST_UM, SCALE_MOST_PPM, WARMER_MOST_PPM = 3000, 1200, 1000, 500
BENT_UM = 300  # a bracket that is bent so far has to be straightened: the pin would no longer find its holders
# What an alarm of the frame says, and what exchanged drives say before a scan can tell.
ALARMS = ("REFERENCES_UNSEEN", "REFERENCES_SHIFTED", "REFERENCES_EXCHANGED")
ALARMS_EXCHANGED = ("POSITION_JUMPED", "CARRIAGE_DRIFTED")


def bounded(value, most):
    return max(-most, min(most, value))


class Rail:
    """What is wrong with it now. A homing takes the datum's shift in: homed_um is what it was then."""

    def __init__(self):
        self.off = {"datum-shifted": 0, "bracket-bumped": 0, "scale-off": 0, "rail-warmer": 0}
        self.dirt_um, self.missing, self.homed_um = [0] * REFERENCES, [False] * REFERENCES, 0
        self.unseen_um = 0  # the most that dirt can have hidden since the last verification
        self.bumped_um = 0  # what the bracket was off by then
        self.warmed_um = 0  # how far warmth has moved a holder since then

    def unseen_now_um(self):
        return max(min(dirt, UNSEEN_UM) for dirt in self.dirt_um) // 2

    def stands(self):
        """Something that people can mend; warmth nobody mends."""
        off = self.off
        return off["datum-shifted"] != self.homed_um or off["bracket-bumped"] != 0 or off["scale-off"] != 0


class Frame:
    def __init__(self, machine, n_rails, number, seed):
        self.machine, self.rails = machine, [Rail() for _ in range(n_rails)]
        self.rng = random.Random(f"{seed}/{number}/frame")
        self.kinds = KINDS if n_rails > 1 else KINDS[:-1]
        # Each bench begins with another kind, and those with two rails with that which only they can have.
        first = len(KINDS) - 1 if n_rails > 1 else number % len(self.kinds)
        self.deck = [self.kinds[first]]
        self.exchanged = self.struck = False  # so far
        self.settled = False  # a verification has come since something changed last

    # ---- what strikes

    def strike(self):
        """The gateway is down. Returns what has struck, or None. At most once between two verifications."""
        if not self.settled or (self.struck and self.rng.random() >= 0.6):
            return None
        if any(self.machine.docked()):
            return self.creep() if self.struck else None
        if self.struck and self.rng.random() < 0.1:
            for rail in range(len(self.rails)):
                self.mend(rail)
            return "what was wrong with the rails was mended"
        kind = self.deal()
        self.struck, self.settled = True, False
        if kind == EXCHANGED:
            self.exchange(True)
        else:
            self.change(self.rng.randrange(len(self.rails)), kind)
        return kind

    def deal(self):
        if not self.deck:
            self.deck = self.rng.sample(self.kinds, len(self.kinds))
        return self.deck.pop()

    def either_way(self, least, most):
        return self.rng.randint(least, most) * self.rng.choice((-1, 1))

    def creep(self):
        rail = self.rng.randrange(len(self.rails))
        self.settled = False
        self.shift(rail, self.either_way(CREEP_UM, CREEP_UM))
        return "a datum crept while a pin was in a holder"

    def shift(self, rail, by_um):
        now_um = self.rails[rail].off["datum-shifted"]
        self.lay(rail, "datum-shifted", now_um + by_um if abs(now_um + by_um) <= SHIFT_MOST_UM else now_um - by_um)

    def change(self, rail, kind):
        off, few = self.rails[rail].off, self.rng.random() < 0.7
        if kind == DATUM:
            self.shift(rail, self.either_way(10, 250) if few else self.either_way(300, 2000))
        elif kind == BRACKET:
            self.lay(rail, "bracket-bumped", bounded(off["bracket-bumped"] + self.either_way(10, 250 if few else 1200), BUMP_MOST_UM))
        elif kind == SCALE:
            self.lay(rail, "scale-off", bounded(off["scale-off"] + self.either_way(5, 100 if few else 500), SCALE_MOST_PPM))
        elif kind == WARMER:
            self.warm(rail, bounded(off["rail-warmer"] + self.either_way(5, 250), WARMER_MOST_PPM))
        else:
            self.spoil(rail, self.rng.randrange(REFERENCES), self.rng.randint(20, 3000) if kind == DIRTY else 0)

    def lay(self, rail, fault, value):
        self.rails[rail].off[fault] = value
        self.machine.say(f"break {rail + 1} {fault} {value}" if value else f"mend {rail + 1} {fault}")

    def warm(self, rail, ppm):
        before = self.machine.holders()[rail]
        self.lay(rail, "rail-warmer", ppm)
        self.rails[rail].warmed_um += max(abs(now - was) for now, was in zip(self.machine.holders()[rail], before))

    def spoil(self, rail, reference, dirt_um):
        what = self.rails[rail]
        if dirt_um:
            what.dirt_um[reference] = dirt_um
            self.machine.say(f"break {rail + 1} reference-dirty {reference + 1} {dirt_um}")
        else:
            what.missing[reference] = True
            self.machine.say(f"break {rail + 1} reference-missing {reference + 1}")
        what.unseen_um = max(what.unseen_um, what.unseen_now_um())

    def exchange(self, on):
        """Nobody does it with the power on."""
        self.machine.say("break 1 power-cut")
        time.sleep(0.2)
        self.machine.say(f"{'break' if on else 'mend'} 1 drives-exchanged")
        self.machine.say("mend 1 power-cut")
        self.exchanged = on

    # ---- people

    def mend(self, rail):
        what = self.rails[rail]
        self.settled = False
        self.lay(rail, "datum-shifted", what.homed_um)
        self.lay(rail, "bracket-bumped", 0)
        self.lay(rail, "scale-off", 0)
        self.clean(rail)

    def clean(self, rail):
        what = self.rails[rail]
        self.settled = False
        for reference in range(REFERENCES):
            for fault, is_spoiled in (("dirty", what.dirt_um[reference] != 0), ("missing", what.missing[reference])):
                if is_spoiled:
                    self.machine.say(f"mend {rail + 1} reference-{fault} {reference + 1}")
        what.dirt_um, what.missing = [0] * REFERENCES, [False] * REFERENCES

    def is_confirmed(self, rail):
        """People have looked after REFERENCES_SHIFTED. True: they leave what is wrong as it is, since the references stand where they
        were taught. False: it is mended now."""
        what = self.rails[rail]
        may_confirm = abs(what.off["bracket-bumped"]) <= BENT_UM
        if what.stands() and not (may_confirm and self.rng.random() < 0.6):
            self.mend(rail)
            return False
        return True

    def homed(self):
        for what in self.rails:
            what.homed_um = what.off["datum-shifted"]

    def verified(self):
        self.settled = True
        for what in self.rails:
            what.unseen_um, what.bumped_um, what.warmed_um = what.unseen_now_um(), what.off["bracket-bumped"], 0

    def pin_off_um(self, rail, switch_correction_um):
        """How far the pin may stand from where it is taken to be: what a bracket was bumped by and the switch was not corrected by is
        laid on the datum, until dragged holders have told it from the switch."""
        what = self.rails[rail]
        return max(abs(switch_correction_um - bump_um) for bump_um in (what.bumped_um, what.off["bracket-bumped"]))

    def scene(self):
        return f"exchanged {self.exchanged}, settled {self.settled}, rails {[vars(what) for what in self.rails]}"
