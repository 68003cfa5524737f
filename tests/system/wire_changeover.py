"""The same job through drives at the end of a Modbus wire: the daemon, and the simulator in a process of its own.

Called with the paths of kniferaild, kniferail and kniferail-sim. In real time, since the wire is: a short rail.
"""
import contextlib
import os
import resource
import signal
import socket
import time

from wired_rig import RAILS, SHORT, Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import TOLERANCE_UM, Gateway, GatewayTest, Plc, main

ORDER = (450000, [180000, 150000])  # web and slits, um


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

    def set_up_over_a_serial_line(self, baud, scan_speed):
        """The simulator carries each character as long as the line would. How long that is, and that `check` reckons it right, is
        sim_line's to show; here the scans leave a reserve for a computer that has other work and runs both ends of the line."""
        slower = [(r"scan_speed_mm_per_s = 200", f"scan_speed_mm_per_s = {scan_speed}")]
        with WiredGateway(slower, serial=True, baud=baud) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = Plc(gateway)
            for rail in (1, 2):
                gateway.wait_for_log(f"rail {rail}: drive at {gateway.config.with_name('line')}")
            self.assertEqual(plc.order(605, *ORDER), 0)
            plc.start_and_complete(seconds=240)
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual(plc.read_all("DRIVE_LINKS_LOST", RAILS), [0, 0])
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)

    def test_two_drives_on_one_serial_line_set_up_an_order(self):
        self.set_up_over_a_serial_line(115200, 100)

    def test_a_slower_line_is_quick_enough_for_a_slower_scan(self):
        self.set_up_over_a_serial_line(57600, 80)

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
            time.sleep(1)  # not for luck: the drives' watchdogs have 600 ms, their ramps far less than the rest
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

    def test_a_successor_that_comes_before_the_watchdogs_stops_what_it_finds_running(self):
        patient = ((r"watchdog_most = 600", "watchdog_most = 20000"), (r"seed = 2;\s+watchdog_ms = 600", "seed = 2; watchdog_ms = 20000"))
        with WiredGateway(patient) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.linked(gateway)
            self.assertEqual(plc.order(605, *ORDER), 0)
            plc.start()
            plc.wait_dragging()
            gateway.end(signal.SIGKILL)
            gateway.start()
            mark = gateway.log().rindex("session")
            gateway.wait_for_log_after(mark, "unit state stopped -> stopping")
            plc = self.linked(gateway)
            plc.wait_state("STOPPED", seconds=20)
            self.assertNotIn("the drive reports fault", gateway.log()[mark:])
            self.assertEqual(simulator.end(), 0)

    def test_a_drive_is_connected_again_while_the_face_is_at_its_limit_of_clients(self):
        """libmodbus waits with select(), which ends a process at a descriptor of 1024 or more: the next free one is that."""
        limit, hard = 1200, resource.getrlimit(resource.RLIMIT_NOFILE)[1]
        resource.setrlimit(resource.RLIMIT_NOFILE, (limit + 100, hard))
        places = (r"face: \{", f"face: {{ connections = {limit}; connections_per_address = {limit};")
        with WiredGateway([places]) as gateway, Simulator(gateway) as simulator, contextlib.ExitStack() as clients:
            gateway.start()
            plc = self.linked(gateway)
            for i in range(limit):  # the last is refused, or takes the place of one that has been silent for too long
                if i % 50 == 0:
                    plc.scan()  # which the PLC never is, however long this takes
                clients.enter_context(socket.create_connection(("127.0.0.1", gateway.port)))
            highest = lambda: max(int(fd) for fd in os.listdir(f"/proc/{gateway.process.pid}/fd"))
            plc.wait(lambda: highest() > limit, 10, "as many clients as may be")
            for fault in ("link-lost", "drive-reboot"):
                mark = len(gateway.log())
                simulator.say(f"break 1 {fault}", "broken")
                plc.wait(lambda: not plc.bit("STATUS", "STATUS", "LINK"), 10, "the link is lost")
                simulator.say(f"mend 1 {fault}", "mended")
                gateway.wait_for_log_after(mark, "unit 1: connected", seconds=15)
            plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 10, "the link is back")
            plc.start("RELEASE")
            plc.wait_state("COMPLETE")
            self.assertEqual(gateway.end(), 0)

    def test_a_master_that_goes_away_while_it_has_answers_to_come_is_no_end_of_the_simulator(self):
        read = bytes.fromhex("0001 0000 0006 01 03 0064 0001")
        with WiredGateway() as gateway, Simulator(gateway) as simulator:
            simulator.say("break 1 slow-answers 30", "broken")
            with socket.create_connection(("127.0.0.1", simulator.ports[0])) as master:
                master.sendall(read + read)
            with socket.create_connection(("127.0.0.1", simulator.ports[0])) as master:  # both answers are due before this one
                for _ in range(3):
                    master.sendall(read)
                    self.assertEqual(master.recv(100)[:8].hex(), "0001000000050103")
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
