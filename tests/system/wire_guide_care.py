"""`kniferail commission` over the wire, where it keeps people out of harm's way: what a start waits for, which answers count, which
steps come first, what the sheet of the safety interface is held against.

Called with the paths of kniferaild, kniferail and kniferail-sim.
"""
import os
import pty
import subprocess
import termios

from guide_rig import QUICK, QUICK_SETUP, SHORTER, Commissioner  # it takes its own paths off the command line
from wired_rig import Simulator, WiredGateway
from gateway_rig import KNIFERAIL, SLOW, main

AGAIN = r"heard again\. See that nobody is in the zone\. .*carriage moves\.$"


class Care(Commissioner):
    # ---- what a start waits for

    def test_a_start_that_waited_for_the_plc_asks_again_before_anything_moves(self):
        """The person has confirmed an empty zone long before the PLC comes back."""
        with WiredGateway([*QUICK, QUICK_SETUP, *SHORTER]) as gateway, Simulator(gateway) as simulator:
            gateway.start()
            before, asked = simulator.carriages(), []

            def comes_back():
                self.pretend(gateway)

            def asked_again():
                asked.append(simulator.carriages())
                return "leave"

            status, said = self.walk(gateway, simulator, "--only", "flag", "--rail", "1", told=(
                (r"is scanned next.*Press Enter\.$", ""), (r"Nobody is in control.*waits for it\.$", comes_back), (AGAIN, asked_again)))
            self.assertEqual((status, asked), (0, [before]), said)
            self.assertEqual(simulator.carriages(), before)
            self.assertEqual(simulator.end(), 0)

    # ---- which answers count

    def test_a_line_that_was_typed_before_a_question_does_not_answer_it(self):
        """Somebody holds Enter, or types ahead, at a terminal: each of the cautions is still asked for."""
        with WiredGateway(QUICK) as gateway:
            gateway.start()
            keyboard, terminal = pty.openpty()
            off = termios.tcgetattr(terminal)
            off[3] &= ~termios.ECHO
            termios.tcsetattr(terminal, termios.TCSANOW, off)
            program = subprocess.Popen(
                [KNIFERAIL, "commission", "--config", gateway.config, "--port", str(gateway.port), "--session", self.session(gateway),
                 "--only", "cautions"], stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
            os.close(terminal)
            said = b""

            def hear(what):
                nonlocal said
                said = b""
                while not said.rstrip().endswith(what):
                    byte = program.stdout.read(1)
                    self.assertTrue(byte, said)
                    said += byte

            hear(b"(text)>")
            os.write(keyboard, b"C. Lead\n" + 8 * b"yes\n")
            for _ in range(5):
                hear(b"(yes or no)>")
                os.write(keyboard, b"no\nyes\n")
            for name in (b"A. Fitter\n", b"B. Smith\n"):
                hear(b"(text)>")
                os.write(keyboard, name)
            program.stdout.read()
            self.assertEqual(program.wait(timeout=20 * SLOW), 1)
            program.stdout.close()
            os.close(keyboard)
            self.assertEqual(len(self.record(gateway)["findings"]), 5)


if __name__ == "__main__":
    main()
