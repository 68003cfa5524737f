"""The same job through drives at the end of a Modbus wire: the daemon, and the simulator in a process of its own.

Called with the paths of kniferaild, kniferail and kniferail-sim. In real time, since the wire is: a short rail.
"""
import re
import signal
import subprocess
import sys
import time

if len(sys.argv) < 4:
    sys.exit(f"usage: {sys.argv[0]} KNIFERAILD KNIFERAIL KNIFERAIL-SIM [unittest options]")
SIMULATOR = sys.argv.pop(3)

from gateway_rig import MAP, SLOW, Gateway, GatewayTest, Plc, main  # noqa: E402 (it takes its own paths off the command line)

TOLERANCE_UM = 203
ORDER = (450000, [180000, 150000])  # web and slits, um

# Both example stations are the same machine; here it is a third as long, with four holders a rail.
SHORT = [(r"most_mm = 1560", "most_mm = 620"), (r"travel_most_mm = 1600", "travel_most_mm = 660"),
         (r"widest_mm = 1300", "widest_mm = 500"), (r"centre_mm = 800", "centre_mm = 330"), (r"count = 12", "count = 4")]


class Simulator:
    """kniferail-sim for a gateway's station file, on ports of its own choice, which the file then gets."""

    def __init__(self, gateway):
        gateway.end_if_running()
        self.process = subprocess.Popen([SIMULATOR, "--config", gateway.config, "--listen", "127.0.0.1:0"],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for port in ("15021", "15022"):
            found = re.search(r"port (\d+)", self.process.stdout.readline())
            gateway.change((f"port = {port}", f"port = {found[1]}"))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()

    def say(self, line, answer):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        got = self.process.stdout.readline()
        if got != answer + "\n":
            raise AssertionError(f"{line}: {got}")

    def carriages(self):
        """Where they truly stand."""
        self.process.stdin.write("show\n")
        self.process.stdin.flush()
        lines = [self.process.stdout.readline() for _ in range(3)]
        return [re.search(r"carriage at ([-\d.]+) mm", line)[1] for line in lines[:2]]

    def end(self):
        """Its exit status: 3 if holders collided or were dragged by an unseated pin."""
        self.process.terminate()
        return self.process.wait(timeout=10)


class WiredGateway(Gateway):
    def __init__(self):
        super().__init__("wired-shear.cfg", speed=1, changes=SHORT)

    def __enter__(self):
        return self  # the simulator comes first

    def end_if_running(self):
        if self.process is not None:
            self.end()


def moves_of(record):
    """Who was moved in which order, on each rail; how long it took is the machine's own."""
    return [[(m["holder"]) for m in record["moves"] if m["rail"] == rail["rail"]] for rail in record["rails"]]


class Wire(GatewayTest):
    def linked(self, gateway):
        plc = Plc(gateway)
        gateway.wait_for_log("rail 1: drive at 127.0.0.1")
        gateway.wait_for_log("rail 2: drive at 127.0.0.1")
        return plc

    def test_embedded_and_over_the_wire_the_same_job_is_the_same_moves_and_the_same_verdict(self):
        with Gateway("small-shear.cfg", speed=20, changes=SHORT) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(601, *ORDER), 0)
            plc.start_and_complete()
            lines = self.verified(plc, TOLERANCE_UM)
            embedded = gateway.wait_for_record(1)
        with WiredGateway() as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.linked(gateway)
            self.assertEqual(plc.order(601, *ORDER), 0)
            plc.start_and_complete(seconds=120)
            self.assertEqual(self.verified(plc, TOLERANCE_UM), lines)
            wired = gateway.wait_for_record(1)
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)
        self.assertEqual(moves_of(wired), moves_of(embedded))
        for key in ("order", "result", "job"):
            self.assertEqual(wired[key], embedded[key])

    def test_a_drive_that_is_cut_off_in_mid_drag_is_named_and_the_order_is_set_up_after_it_is_back(self):
        with WiredGateway() as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.linked(gateway)
            self.assertEqual(plc.order(602, *ORDER), 0)
            plc.start()
            plc.wait_dragging()
            simulator.say("break 1 link-lost", "broken")
            plc.wait(lambda: plc.state() in ("HELD", "ABORTED"), 10, "a stop")
            self.assertEqual(plc.seen("ALARM_RAIL"), 1)
            self.assertEqual(plc.bit("STATUS", "STATUS", "VERIFIED"), 0)
            self.assertNotIn(3, [plc.read_all("HOLDER_KNOWN", 4, 0)[h] for h in self.maybe_moved(plc)])
            simulator.say("mend 1 link-lost", "mended")
            gateway.wait_for_log_after(gateway.log().rfind("no answer"), "unit 1: connected", seconds=10)
            self.recover(plc)
            plc.start_and_complete(seconds=120)
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual(simulator.end(), 0)

    def test_a_gateway_that_is_killed_in_mid_drag_leaves_drives_that_stop_and_a_successor_that_claims_nothing(self):
        with WiredGateway() as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.linked(gateway)
            self.assertEqual(plc.order(603, *ORDER), 0)
            plc.start()
            plc.wait_dragging()
            gateway.end(signal.SIGKILL)
            time.sleep(1)  # not for luck: the drives' watchdogs have 200 ms, their ramps far less than the rest
            stopped = simulator.carriages()
            time.sleep(0.5)
            self.assertEqual(simulator.carriages(), stopped)
            gateway.start()
            plc = self.linked(gateway)
            plc.scan()
            self.assertNotIn(3, plc.read_all("HOLDER_KNOWN", 4, 0) + plc.read_all("HOLDER_KNOWN", 4, 1))
            self.assertEqual(plc.seen("LINE_STATUS") & 3, 0)
            self.recover(plc)
            self.assertEqual(plc.order(604, *ORDER), 0)
            plc.start_and_complete(seconds=120)
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual(simulator.end(), 0)

    def maybe_moved(self, plc):
        """Holders that the interrupted move may have left anywhere: those not known by a scan."""
        return [h for h, known in enumerate(plc.read_all("HOLDER_KNOWN", 4, 0)) if known < 2]

    def recover(self, plc):
        """What an operator does: clear and reset, and have a pin released that isn't proven out."""
        plc.scan()
        if plc.state() in ("ABORTED", "ABORTING"):
            self.assertEqual(plc.give("CLEAR"), 0)
            plc.wait_state("STOPPED")
        if plc.state() == "HELD":
            self.assertEqual(plc.give("STOP"), 0)
            plc.wait_state("STOPPED")
        plc.start("RELEASE")
        plc.wait_state("COMPLETE")


if __name__ == "__main__":
    main()
