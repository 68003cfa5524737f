"""Which drive is at the end of the wire, and who else works it: the daemon, kniferail-sim, and real sockets.

Called with the paths of kniferaild, kniferail and kniferail-sim. In real time, since the wire is: a short rail.
"""
import re
import signal
import subprocess

from wired_rig import Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import KNIFERAIL, MAP, TOLERANCE_UM, GatewayTest, Plc, main

OWNER = (r"registers: \{ watchdog = 210;", "registers: { watchdog = 210; owner = 240;")
READ_BACK = (r'function_23 = "yes";', 'function_23 = "yes"; read_back = "yes";')
ORDER = (450000, [180000, 150000])  # web and slits, um


def status(gateway):
    """What `kniferail status` shows."""
    return subprocess.run([KNIFERAIL, "status", "--full", "--port", str(gateway.port)], check=True, capture_output=True, text=True).stdout


class Drives(GatewayTest):
    def linked(self, gateway):
        plc = Plc(gateway)
        for rail in (1, 2):
            gateway.wait_for_log(f"rail {rail}: drive at")
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 10, "links")
        return plc

    def dragging(self, gateway):
        """A gateway that is setting up order 1, and drags a holder."""
        gateway.start()
        plc = self.linked(gateway)
        self.assertEqual(plc.order(1, *ORDER), 0)
        plc.start()
        plc.wait_dragging()
        return plc

    def test_an_exchanged_drive_is_refused_by_the_name_of_its_parameter_until_it_is_set_up(self):
        with WiredGateway() as gateway, Simulator(gateway) as simulator:
            gateway.start()
            plc = self.linked(gateway)
            self.assertEqual(plc.read("DRIVE_REFUSED", index=0), 0)
            before = simulator.carriages(), simulator.holders()
            simulator.say("break 1 factory-settings", "broken")
            plc.wait(lambda: plc.seen("ALARM_CODE") == MAP.alarm["DRIVE_PARAMETER"], 20, "DRIVE_PARAMETER")
            self.assertEqual(plc.seen("ALARM_RAIL"), 1)
            self.assertEqual([plc.read("RAIL_LINK", rail) for rail in (0, 1)], [0, 1])
            self.assertEqual(plc.read("DRIVE_REFUSED", index=0), MAP.number("DRIVE_REFUSED", "PARAMETER"))
            self.assertEqual([plc.read(name, index=0) for name in
                              ("DRIVE_PARAMETER", "DRIVE_PARAMETER_SEEN", "DRIVE_PARAMETER_EXPECTED")], [220, 0, -2048])
            words = 'parameter "position limit, low" (register 220) shows 0'
            self.assertIn(words, gateway.log())
            self.assertIn(f'REFUSED: {words}, and -2048 is expected', status(gateway))
            plc.to_idle()
            for job in ("HOME", "SCAN"):
                self.assertEqual(plc.give("START", job), MAP.result["ALARM_STANDS"])
                self.assertEqual(plc.seen("COMMAND_RESULT_VALUE"), MAP.alarm["DRIVE_PARAMETER"])
            self.assertEqual((simulator.carriages(), simulator.holders()), before)
            simulator.say("mend 1 factory-settings", "mended")
            plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 15, "the link is back")
            plc.give("STOP")
            plc.wait_state("STOPPED")
            self.assertEqual(plc.order(1, *ORDER), 0)
            plc.start_and_complete(seconds=120)
            self.verified(plc, TOLERANCE_UM)
            self.assertIn(": its longest answer took ", status(gateway))
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)

    def second_of(self, first, changes=()):
        """Another gateway on the same drives: the same file, a folder of its own."""
        second = WiredGateway(changes)
        second.text = first.text
        second.config.write_text(second.text, encoding="utf-8")
        return second

    def others_drives(self, plc, seconds=10):
        """What a gateway shows whose drives another one works: it has no link, and nothing starts."""
        plc.wait(lambda: plc.seen("ALARM_CODE") == MAP.alarm["OTHER_GATEWAY"], seconds, "OTHER_GATEWAY")
        for rail in (0, 1):
            plc.wait(lambda: plc.read("DRIVE_REFUSED", index=rail) == MAP.number("DRIVE_REFUSED", "OTHER_GATEWAY"), 5, "refusal")
            self.assertEqual(plc.read("RAIL_LINK", rail), 0)

    def nothing_starts(self, plc):
        plc.to_idle()
        for job in ("HOME", "SCAN"):
            self.assertEqual(plc.give("START", job), MAP.result["ALARM_STANDS"])
            self.assertEqual(plc.seen("COMMAND_RESULT_VALUE"), MAP.alarm["OTHER_GATEWAY"])

    def test_a_second_gateway_leaves_the_drives_alone_until_the_first_one_ends(self):
        """The first goes on and does not notice."""
        with WiredGateway([OWNER]) as gateway, Simulator(gateway) as simulator, self.second_of(gateway) as second:
            plc = self.dragging(gateway)
            second.start()
            other = Plc(second)
            plc.wait(lambda: other.scan() or other.seen("ALARM_CODE") == MAP.alarm["OTHER_GATEWAY"], 10, "OTHER_GATEWAY")
            self.others_drives(other)
            number = re.search(r"this is gateway number (\d+)", gateway.log())[1]
            self.assertIn(f"another gateway works it, number {number}", second.log())
            for rail in (1, 2):
                self.assertRegex(status(second), rf"(?m)^drive +rail {rail}: it is NOT USED, because another gateway works it$")
            self.nothing_starts(other)
            plc.wait_state("COMPLETE", seconds=120)
            self.verified(plc, TOLERANCE_UM)
            stand = simulator.carriages(), simulator.counts()
            self.assertEqual(gateway.end(), 0)
            other.wait(lambda: other.bit("STATUS", "STATUS", "LINK"), 10, "the drives are free")
            other.give("STOP")
            other.wait_state("STOPPED")
            other.to_idle()
            self.assertEqual(other.seen("ALARM_CODE"), 0)
            self.assertEqual((simulator.carriages(), simulator.counts()), stand)  # nothing moves by that
            self.assertEqual(second.end(), 0)
            self.assertEqual(simulator.end(), 0)

    def test_the_drives_of_a_gateway_that_stands_still_are_taken_over_and_when_it_goes_on_it_has_lost_them(self):
        with WiredGateway([OWNER]) as gateway, Simulator(gateway) as simulator, self.second_of(gateway) as second:
            plc = self.dragging(gateway)
            second.start()
            other = Plc(second)
            self.others_drives(other)
            gateway.process.send_signal(signal.SIGSTOP)  # the drives' watchdogs stop what moves
            other.wait(lambda: other.bit("STATUS", "STATUS", "LINK"), 10, "drives that nobody works any more")
            stand = simulator.carriages(), simulator.holders()
            gateway.process.send_signal(signal.SIGCONT)
            plc.wait(lambda: plc.read("DRIVE_REFUSED", index=0) == MAP.number("DRIVE_REFUSED", "OTHER_GATEWAY"), 10, "a lost drive")
            plc.wait_state("ABORTED", seconds=15)
            self.assertIn("OTHER_GATEWAY", status(gateway))
            other.scan()
            self.assertEqual((simulator.carriages(), simulator.holders()), stand)
            self.assertEqual(simulator.end(), 0)

    def test_without_an_owner_register_what_another_writes_is_told_and_at_most_one_of_them_moves(self):
        """Both rest and don't know of each other; one begins, and each sees what it has not written. Whoever sees that first
        leaves the drive alone: if that is the one that rests, the other may find nothing any more, and goes on alone."""
        with WiredGateway([READ_BACK]) as gateway, Simulator(gateway) as simulator, self.second_of(gateway) as second:
            gateway.start()
            plc = self.linked(gateway)
            second.start()
            other = self.linked(second)
            stand = simulator.carriages(), simulator.counts()
            plc.to_idle()
            self.assertEqual(plc.order(1, *ORDER), 0)
            plc.start()
            words = "its registers are not as this one wrote them"
            plc.wait(lambda: other.scan() or words in gateway.log() + second.log(), 10, "somebody who leaves a drive alone")
            plc.wait_state("ABORTED", "HELD", "COMPLETE", seconds=120)
            if plc.state() == "COMPLETE":
                self.assertIn(words, second.log())
                self.verified(plc, TOLERANCE_UM)
            else:
                self.assertIn("OTHER_GATEWAY", status(gateway))
                self.assertEqual((simulator.carriages(), simulator.counts()), stand)
            self.assertEqual(simulator.end(), 0)

    def test_without_an_owner_register_a_second_gateway_leaves_a_drive_alone_that_runs(self):
        with WiredGateway([READ_BACK]) as gateway, Simulator(gateway) as simulator, self.second_of(gateway) as second:
            plc = self.dragging(gateway)
            second.start()
            other = Plc(second)
            plc.wait(lambda: other.scan() or "its registers are not as" in second.log(), 10, "a drive that somebody works")
            plc.wait_state("COMPLETE", seconds=120)
            self.verified(plc, TOLERANCE_UM)
            self.assertEqual(simulator.end(), 0)


if __name__ == "__main__":
    main()
