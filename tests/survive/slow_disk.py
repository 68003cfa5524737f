"""A book that takes two seconds for every commit: the cycle goes on as if nothing were, nothing is shown before it is
stored, and the job takes longer but ends verified.

Called with the paths of kniferaild, kniferail and the library that makes syncs slow.
"""
import pathlib
import sys
import time

SLOW_SYNC = sys.argv.pop(3)
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "system"))

from gateway_rig import SLOW, Gateway, GatewayTest, Plc, main  # noqa: E402 (it takes its own paths off the command line)

COMMIT_S, PERIOD_S = 2.0, 0.005
# One commit that the cycle waited for would show as 400 late cycles. A few are the computer's own, which others use.
LATE_MOST = 40 * SLOW
ORDER = (240000, [140000])
SIMULATED = [(r'positioner = "modbus"', 'positioner = "simulated"'), (r"(?s)    drive: \{.*?\n    \};\n", ""),
             (r"        drive: \{ address.*\n", "")]


class SlowDisk(GatewayTest):
    def setUp(self):
        self.gateway = Gateway("../tests/survive/kill.cfg", speed=1, book=True, changes=SIMULATED)

    def watch(self, plc, condition, seconds):
        """Scans until the condition holds; no answer may be late, and cycles have to be counted all the while."""
        began, cycles, longest = time.monotonic(), plc.read("CYCLES"), 0.0
        while not condition():
            asked = time.monotonic()
            plc.scan()
            longest = max(longest, time.monotonic() - asked)
            self.assertLess(time.monotonic() - began, seconds * SLOW, f"unit state {plc.state()}, alarm {plc.seen('ALARM_CODE')}")
            time.sleep(0.005)
        took = time.monotonic() - began
        self.assertLess(longest, COMMIT_S / 4, "an answer waited for the disk")
        counted = plc.read("CYCLES") - cycles
        self.assertGreater(counted + plc.read("OVERRUNS"), took / PERIOD_S * 0.9 - 10, "cycles are missing")
        return took

    def test_no_cycle_waits_for_a_book_that_takes_two_seconds_for_every_commit(self):
        with self.gateway as gateway:
            gateway.end()  # the book is made: that alone takes a dozen syncs
            gateway.environment = {"LD_PRELOAD": SLOW_SYNC, "KR_SYNC_MS": str(int(1000 * COMMIT_S))}
            gateway.start()
            plc = Plc(gateway)
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
            plc.to_idle()
            plc.write_command("START", "CHANGEOVER", 50)
            began = time.monotonic()
            executing = []

            def done():
                if plc.state() == "EXECUTE":
                    executing.append(time.monotonic() - began)
                return plc.state() in ("COMPLETE", "HELD", "SUSPENDED", "ABORTED")

            self.watch(plc, done, 120)
            self.assertEqual(plc.state(), "COMPLETE", f"alarm {plc.seen('ALARM_CODE')}")
            self.assertGreater(executing[0], COMMIT_S * 0.9, "the job ran before its Start can have been stored")
            self.verified(plc, 203)
            late, cycles = plc.read("OVERRUNS"), plc.read("CYCLES")
            print(f"{cycles} cycles, {late} of them late by more than a period")
            self.assertLessEqual(late, LATE_MOST)
            self.assertEqual(gateway.end(seconds=40), 0)


if __name__ == "__main__":
    main()
