"""Which drive is at the end of the wire, and who else works it: the daemon, kniferail-sim, and real sockets.

Called with the paths of kniferaild, kniferail and kniferail-sim. In real time, since the wire is: a short rail.
"""
import subprocess

from wired_rig import Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import KNIFERAIL, MAP, TOLERANCE_UM, GatewayTest, Plc, main

ORDER = (450000, [180000, 150000])  # web and slits, um


def status(gateway):
    """What `kniferail status` shows."""
    return subprocess.run([KNIFERAIL, "status", "--port", str(gateway.port)], check=True, capture_output=True, text=True).stdout


class Drives(GatewayTest):
    def linked(self, gateway):
        plc = Plc(gateway)
        for rail in (1, 2):
            gateway.wait_for_log(f"rail {rail}: drive at")
        plc.wait(lambda: plc.bit("STATUS", "STATUS", "LINK"), 10, "links")
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
            self.assertIn("its drive: longest answer", status(gateway))
            self.assertEqual(gateway.end(), 0)
            self.assertEqual(simulator.end(), 0)


if __name__ == "__main__":
    main()
