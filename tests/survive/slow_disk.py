"""A book that takes two seconds for every commit: the cycle goes on as if nothing were, nothing is shown before it is
stored, and the job takes longer but ends verified.

Called with the paths of kniferaild, kniferail and the library that makes syncs slow.

That a cycle came late says nothing of who was to blame: others use this computer, too. The kernel counts how long the
daemon's loop was ready to run and was not run, and how long the whole machine was not; late cycles beyond that are the
daemon's own. One commit that the cycle waited for would be 400 of them.
"""
import contextlib
import pathlib
import sqlite3
import sys
import time

SLOW_SYNC = sys.argv.pop(3)
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "system"))

from gateway_rig import SLOW, TOLERANCE_UM, Gateway, GatewayTest, Plc, main, wait_for  # noqa: E402 (it takes its own paths off the command line)
from waiting import Waiting  # noqa: E402

COMMIT_S, PERIOD_S = 2.0, 0.005
OWN_LATE_MOST = 100  # a quarter of one commit: what the kernel does for the daemon (a page to fetch) is not counted as waiting
TOLD = "by the first thread"  # by the library, of a sync that the loop itself made
ORDER = (240000, [140000])
SIMULATED = [(r'positioner = "modbus"', 'positioner = "simulated"'), (r"(?s)    drive: \{.*?\n    \};\n", ""),
             (r"        drive: \{ address.*\n", "")]


class SlowDisk(GatewayTest):
    def setUp(self):
        self.gateway = Gateway("../tests/survive/kill.cfg", speed=1, book=True, changes=SIMULATED)

    def start_slow(self):
        self.gateway.end()  # the book is made: that alone takes a dozen syncs
        self.gateway.environment = {"LD_PRELOAD": SLOW_SYNC, "KR_SYNC_MS": str(int(1000 * COMMIT_S))}
        self.gateway.start()

    def watch(self, plc, condition, seconds):
        """Scans until the condition holds, and returns how long that was. No answer may have waited for the disk."""
        began, longest = time.monotonic(), 0.0
        while not condition():
            asked = time.monotonic()
            plc.scan()
            longest = max(longest, time.monotonic() - asked)
            self.assertLess(time.monotonic() - began, seconds * SLOW, f"unit state {plc.state()}, alarm {plc.seen('ALARM_CODE')}")
            time.sleep(PERIOD_S)
        self.assertLess(longest, COMMIT_S / 2, "an answer waited for the disk")
        return time.monotonic() - began

    def stage(self, plc):
        plc.fill_order(71, *ORDER)
        plc.hand_over()
        shown = []

        def judged():
            shown.append(plc.read("ORDER_STAGED"))
            return plc.seen("VERDICT_NUMBER") == 1

        took = self.watch(plc, judged, 15)
        self.assertGreater(took, COMMIT_S * 0.9, "the verdict came before it can have been stored")
        self.assertEqual(set(shown[:-2]), {0}, "the order was shown as staged before that was stored")
        self.assertEqual((plc.seen("VERDICT_CODE"), plc.read("ORDER_STAGED")), (0, 71))

    def change_over(self, plc):
        plc.to_idle()
        plc.write_command("START", "CHANGEOVER", 50)
        began, executing = time.monotonic(), []

        def done():
            if plc.state() == "EXECUTE":
                executing.append(time.monotonic() - began)
            return plc.state() in ("COMPLETE", "HELD", "SUSPENDED", "ABORTED")

        self.watch(plc, done, 120)
        self.assertEqual(plc.state(), "COMPLETE", f"alarm {plc.seen('ALARM_CODE')}")
        self.assertGreater(executing[0], COMMIT_S * 0.9, "the job ran before its Start can have been stored")
        self.verified(plc, TOLERANCE_UM)

    def wait_for_record(self):
        """In the book, read by others while the daemon writes it."""
        with contextlib.closing(sqlite3.connect(f"file:{self.gateway.book}?mode=ro", uri=True)) as book:
            wait_for(lambda: book.execute("SELECT count(*) FROM changeover").fetchone() == (1,), 20, "the record in the book")

    def test_no_cycle_waits_for_a_book_that_takes_two_seconds_for_every_commit(self):
        with self.gateway as gateway:
            self.start_slow()
            plc = Plc(gateway)
            began, cycles, late = time.monotonic(), plc.read("CYCLES"), plc.read("OVERRUNS")
            told, waiting = gateway.log().count(TOLD), Waiting(gateway.process)
            self.stage(plc)
            self.change_over(plc)
            periods, late, waited_s = (time.monotonic() - began) / PERIOD_S, plc.read("OVERRUNS") - late, waiting.seconds()
            made = plc.read("CYCLES") - cycles
            print(f"{made} cycles, {late} late by more than a period; the loop waited {waited_s:.2f} s for a processor")
            self.assertGreater(told, 0, "the library sees no sync at all")
            self.assertEqual(gateway.log().count(TOLD), told, "the loop itself waited for the disk")
            self.assertLessEqual(late, waited_s / PERIOD_S + OWN_LATE_MOST * SLOW, "cycles were late that nobody else held up")
            self.assertGreater(made + late, periods * 0.98 - 10, "cycles are missing that are not counted as late either")
            self.wait_for_record()
            self.assertEqual(gateway.end(seconds=40), 0)


if __name__ == "__main__":
    main()
