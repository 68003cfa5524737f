"""Kills inside failing commits: every sync of the book fails behind its write, the PLC asks for something, the daemon dies by
SIGKILL at a random instant, comes up again on a disk that works, and is judged at the PLC's sentence: what the PLC was
told is so, and what it was not told is one of the two. In between, second gateways come to the book by other names.

    failing_commits.py KNIFERAILD KNIFERAIL SYNC-LIBRARY [--kills N] [--seed N] [--workers N]
"""
import collections
import pathlib
import random
import signal
import subprocess
import sys
import time
import traceback

LIBRARY = sys.argv.pop(3) if len(sys.argv) > 3 else sys.exit(__doc__)
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "system"))

import benches  # noqa: E402
from benches import must  # noqa: E402
from gateway_rig import KNIFERAILD, MAP, Gateway, Plc  # noqa: E402 (it takes its own paths off the command line)

WEB_UM, SLITS = 1200000, ([125000] * 9, [230000] * 5)
LONGEST_S = 0.3  # from the request to the kill: the daemon tries again after 0.1, 0.2, 0.4 s
NOT_STORED = MAP.result["NOT_STORED"]
RAIL, HOLDER = 1, 3
MOST_UM, STEP_UM, FAR_UM = 1000, 7, 5000  # a step of more than offset_step_mm (1 mm) would have to be asked for twice


class Bench:
    def __init__(self, gateway, rng):
        self.gateway, self.rng, self.count = gateway, rng, collections.Counter()
        self.fault = gateway.config.with_name("syncs-fail")
        gateway.environment = {"LD_PRELOAD": LIBRARY, "KR_SYNC_FAILS": str(self.fault)}
        self.plc, self.number, self.edit_number = None, 0, 0

    def up(self):
        self.fault.unlink(missing_ok=True)
        self.gateway.start()
        if self.plc is not None:
            self.plc.close()
        self.plc = Plc(self.gateway)

    # ---- what is asked: an order, or an edge offset. Each returns what stands now, asks, and tells what the PLC reads.

    def ask_order(self):
        before, self.number = self.plc.read("ORDER_STAGED"), self.number + 1
        self.plc.fill_order(self.number, WEB_UM, SLITS[self.number % 2])
        self.plc.look()
        session = self.plc.seen("SESSION")
        self.fail_or_not()
        self.plc.hand_over()
        return before, self.number, (session, self.plc.request)

    def read_order(self):
        self.plc.look()
        verdict = tuple(self.plc.seen(f"VERDICT_{name}") for name in ("SESSION", "NUMBER", "CODE"))
        return verdict, self.plc.read("ORDER_STAGED"), self.plc.seen("REQUEST_BUSY")

    def ask_edit(self):
        before, self.edit_number = self.plc.read("HOLDER_OFFSET", RAIL - 1, HOLDER - 1), self.edit_number % 65535 + 1
        wanted, session = before + (STEP_UM if before < FAR_UM else STEP_UM - MOST_UM), self.plc.seen("SESSION")
        for name, value in (("EDIT_RAIL", RAIL), ("EDIT_HOLDER", HOLDER), ("EDIT_OFFSET", wanted)):
            self.plc.write(name, value)
        self.fail_or_not()
        self.plc.write_words(MAP.address("EDIT_SESSION"), [session, MAP.number("EDIT_KIND", "OFFSET"), self.edit_number])
        return before, wanted, (session, self.edit_number)

    def read_edit(self):
        verdict = tuple(self.plc.read(f"EDITED_{name}") for name in ("SESSION", "NUMBER", "CODE"))
        return verdict, self.plc.read("HOLDER_OFFSET", RAIL - 1, HOLDER - 1), self.plc.read("EDIT_BUSY")

    # ---- a kill

    def fail_or_not(self):
        """Most requests meet a disk that fails already; some have it fail a moment later, or not at all."""
        if self.rng.random() < 0.85:
            self.fault.touch()

    def second_gateway(self):
        """By a symbolic link, or by the same name without the lock file: it has to be refused."""
        link, other = self.gateway.book.with_name("second.db"), self.gateway.config.with_name("second.cfg")
        link.unlink(missing_ok=True)
        link.symlink_to(self.gateway.book)
        if self.rng.random() < 0.5:
            self.gateway.book.with_name("book.db.lock").unlink()
        other.write_text(self.gateway.text.replace(str(self.gateway.book), str(link)), encoding="utf-8")
        done = subprocess.run([KNIFERAILD, "--config", other, "--port", "0"], capture_output=True, text=True, timeout=60, check=False)
        must(done.returncode != 0 and "another gateway uses this book" in done.stdout + done.stderr, f"a second gateway: {done}")
        self.count["second gateways refused"] += 1

    def wait_for_the_kill(self, read, asked):
        """Reads until the time has come, and lets the disk work again before that, in half of the stories. Returns the last
        that the PLC was told, and what it then saw."""
        kill_s = self.rng.uniform(0, LONGEST_S)
        mended_s = self.rng.uniform(0, kill_s) if self.rng.random() < 0.5 else kill_s + 1
        began, told = time.monotonic(), None
        while True:
            verdict, value, _ = read()
            told = (verdict[2], value) if verdict[:2] == asked else None
            if time.monotonic() - began >= mended_s:
                self.fault.unlink(missing_ok=True)
            if time.monotonic() - began >= kill_s:
                return told

    def kill(self):
        ask, read = self.rng.choice(((self.ask_order, self.read_order), (self.ask_edit, self.read_edit)))
        if self.rng.random() < 0.05:
            self.second_gateway()
        before, wanted, asked = ask()
        told = self.wait_for_the_kill(read, asked)
        self.gateway.end(signal.SIGKILL)
        self.count["kills"] += 1
        self.up()
        verdict, value, busy = read()
        must(busy == 0, "busy after a start")
        self.judge(told, (before, wanted), (verdict, value), asked)

    def judge(self, told, values, found, asked):
        (before, wanted), (verdict, value) = values, found
        scene = f"told {told}, before {before}, wanted {wanted}; found {value}, verdict {verdict}, asked {asked}"
        must(value in (before, wanted), f"neither what was nor what was asked for: {scene}")
        if told is None:
            self.count[f"the PLC was told nothing, and it is {'done' if value == wanted else 'not done'}"] += 1
            must((value == wanted) == (verdict == (*asked, 0)), f"what is so and its verdict disagree: {scene}")
            return
        code, seen = told
        self.count["the PLC was told 'accepted'" if code == 0 else "the PLC was told 'not stored'"] += 1
        must(code in (0, NOT_STORED), scene)
        must(seen == (wanted if code == 0 else before), f"shown beside its verdict: {scene}")
        must(value == seen, f"not as the PLC was told: {scene}")
        if code == 0:
            must(verdict == (*asked, 0), f"another verdict than the PLC was told: {scene}")
        elif verdict[:2] == asked:
            must(verdict[2] == NOT_STORED, f"another verdict than the PLC was told: {scene}")
        else:  # refused while the book was known to fail: nothing of it was given to the book, its verdict neither
            self.count["of these, refused without having been written"] += 1


def work(number, kills, seed, results):
    rng, bench = random.Random(f"{seed}/{number}"), None
    try:
        with Gateway(book=True, speed=1) as gateway:
            bench = Bench(gateway, rng)
            gateway.end()
            bench.up()
            while bench.count["kills"] < kills:
                bench.kill()
        results.put((number, bench.count, None))
    except Exception:
        count = bench.count if bench else collections.Counter()
        results.put((number, count, f"seed {seed}, worker {number}, kill {count['kills']}: {traceback.format_exc()}"))


def main():
    args = benches.arguments(__doc__, kills=100, workers=4)
    total, failures = benches.run(work, args)
    sys.exit(1 if failures or total["kills"] < args.kills else 0)


if __name__ == "__main__":
    main()
