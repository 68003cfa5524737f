"""The recorder of the real daemon: a changeover over the wire that a drive's fault ends is kept, replayed bit for bit, and told
in words; a file on request; how many are kept; what a folder that can't be written costs.

Called with the paths of kniferaild, kniferail and kniferail-sim.
"""
import datetime
import os
import pathlib
import re
import signal
import subprocess

from wired_rig import RAILS, Simulator, WiredGateway  # it takes its own paths off the command line
from gateway_rig import KNIFERAIL, Gateway, GatewayTest, Plc, main, wait_for

ORDER = (450000, [180000, 150000])  # web and slits, um
CONTROL = (r"face: \{", 'face: { rules = ( { address = "127.0.0.1"; may = "control"; } );')
FILES, AFTER_S = 16, 5  # of each station; recorded after a cause: as src/daemon/traces.h says


def trace(*arguments, status=0):
    done = subprocess.run([KNIFERAIL, "trace", *map(str, arguments)], capture_output=True, text=True, timeout=60)
    if done.returncode != status:
        raise AssertionError(f"trace {arguments}: {done.returncode}: {done.stdout[-500:]}{done.stderr}")
    return done.stdout + done.stderr


def told(gateway, station):
    """What the log tells of each step, without the time and the station."""
    return re.findall(rf"(?m)^\S+ step +{station}: (.*)$", gateway.log())


def kept(gateway, n, seconds=20):
    """The paths of the traces that the log names, once there are n."""
    wait_for(lambda: len(re.findall("trace kept: ", gateway.log())) >= n, seconds, f"{n} traces kept")
    return re.findall(r"trace kept: (\S+\.trace): ", gateway.log())


class Recorder(GatewayTest):
    def test_a_changeover_that_a_drive_s_fault_ends_is_kept_replayed_and_told(self):
        with WiredGateway() as gateway, Simulator(gateway) as simulator:
            gateway.change((r"\Z", f'\nbook = "{gateway.book}";\nlog = "steps";\n'))
            gateway.start()
            plc = Plc(gateway)
            for rail in range(1, RAILS + 1):
                gateway.wait_for_log(f"rail {rail}: drive at 127.0.0.1")
            self.assertEqual(plc.order(701, *ORDER), 0)
            plc.start()
            plc.wait_dragging()
            holder = plc.read("DOCKED_HOLDER")
            simulator.say("break 1 drive-fault 34321", "broken")  # 8611h
            plc.wait(lambda: plc.state() in ("HELD", "ABORTED"), 10, "a stop")
            path = kept(gateway, 1)[0]
            self.assertEqual(pathlib.Path(path).parent, pathlib.Path(f"{gateway.book}.traces"))
            self.assertRegex(trace("replay", path), r"^\d{3,} cycles replayed bit for bit")
            story = trace("show", path, "--rail", "1")
            self.assertRegex(story, r"kept because: alarm \d+: rail 1.*fault")
            fault = story.index("the drive shows a fault, error code 8611h: following error")
            stopped = re.search(rf"! rail 1 dragging, holder {holder}, move \d+: waited \d+\.\d{{3}} s of at most \d+\.\d{{3}} s "
                                r"for the [^;]+; then stopping", story)  # at its target, or still shaking hands
            self.assertIsNotNone(stopped, story[-3000:])
            self.assertLess(fault, stopped.start())
            self.assertIn("start changeover: accepted", story)
            whole = re.findall(r"(?m)^[-0-9]{10}T\S+Z (!| ) (rail \d|      ) (.*)$", trace("show", path))
            lines = [(mark + " " if mark == "!" else "") + (of + " " if of.strip() else "") + line for mark, of, line in whole]
            lines = [line for line in lines if not line.endswith(", and waits on")]  # the trace ends there, the log goes on
            self.assertGreater(len(lines), 20, whole)
            self.assertEqual(told(gateway, "wired-shear")[:len(lines)], lines)  # a journal alone tells it, too
            self.assertIn("alarm", trace("list", "--book", gateway.book))
            self.assertIn(path, trace("list", "--config", gateway.config))
            gateway.end()
            self.assertEqual(simulator.end(), 0)

    def test_a_person_may_ask_for_one_in_every_state_and_the_oldest_give_way(self):
        with Gateway(book=True) as gateway:
            self.assertIn("no trace is kept", trace("list", "--book", gateway.book))
            plc = Plc(gateway)
            self.assertEqual(plc.order(702, 900000, [440000, 420000]), 0)
            plc.start()
            self.assertIn("accepted", trace("save", "--port", gateway.port))
            path = kept(gateway, 1)[0]
            self.assertIn("asked for by 127.0.0.1", trace("show", path))
            self.assertIn("bit for bit", trace("replay", path))
            plc.wait_state("COMPLETE", seconds=60)
            self.verified(plc, 203)  # it changed nothing
            folder = pathlib.Path(path).parent
            for i in range(FILES):
                (folder / f"1-small_shear-20200101T0000{i:02}Z-01.trace").write_bytes(b"x")
            trace("save", "--port", gateway.port)
            last = kept(gateway, 2)[-1]
            self.assertEqual(len(os.listdir(folder)), FILES)
            for name in (os.path.basename(path), os.path.basename(last), "1-small_shear-20200101T000002Z-01.trace"):
                self.assertIn(name, os.listdir(folder))
            self.assertNotIn("1-small_shear-20200101T000001Z-01.trace", os.listdir(folder))
            self.assertEqual(gateway.end(), 0)

    def test_files_of_one_second_do_not_overwrite_each_other(self):
        with Gateway(book=True) as gateway:
            Plc(gateway)
            for i in range(1, 9):  # so many that some begin in the same second
                trace("save", "--port", gateway.port)
                kept(gateway, i)
            paths = kept(gateway, 8)
            self.assertEqual(len(set(paths)), 8, paths)
            self.assertEqual(paths, sorted(paths))  # the oldest gives way, and it is found by its name
            self.assertEqual(sorted(os.listdir(f"{gateway.book}.traces")), [os.path.basename(path) for path in paths])
            self.assertEqual(gateway.end(), 0)

    def test_who_asks_right_after_a_stop_gets_what_follows_from_it_too(self):
        with Gateway(book=True, speed=1) as gateway:
            plc = Plc(gateway)
            plc.to_idle()
            self.assertEqual(plc.give("ABORT"), 0)
            trace("save", "--port", gateway.port)
            story = trace("show", kept(gateway, 1)[0])
            self.assertIn("kept because: the unit aborts", story)
            times = [datetime.datetime.fromisoformat(time) for time in re.findall(r"([-0-9]{10}T[:.0-9]{12})Z", story)]
            stop = re.search(r"(?m)^(\S+)Z .*unit state idle -> aborted", story)
            since = times[1] - datetime.datetime.fromisoformat(stop[1])  # the head's second time: the last cycle's
            self.assertGreaterEqual(since.total_seconds(), AFTER_S - 0.1, story)
            self.assertEqual(gateway.end(), 0)

    def test_who_asks_where_none_can_be_kept_finds_that_in_the_log(self):
        with Gateway() as gateway:
            Plc(gateway)
            self.assertIn("accepted: the gateway's log", trace("save", "--port", gateway.port))
            gateway.wait_for_log("the trace asked for by 127.0.0.1 could not be kept: no book is configured")
            self.assertEqual(gateway.end(), 0)

    def test_it_goes_on_over_a_reload_and_what_is_wanted_at_the_end_is_kept(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            plc.to_idle()
            gateway.change((r"heartbeat_limit_ms = 3000", "heartbeat_limit_ms = 2900"))
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("taken: ")
            self.assertEqual(plc.order(703, 900000, [440000, 420000]), 0)
            plc.start()
            plc.wait_dragging()
            plc.give("ABORT")
            self.assertEqual(gateway.end(), 0)
            path = kept(gateway, 1)[0]
            self.assertIn("bit for bit", trace("replay", path))
            self.assertRegex(trace("show", path), r"kept because: (alarm|the unit aborts)")
            self.assertRegex(trace("show", path), r"command \d+, abort: accepted")

    def test_each_step_comes_into_the_log_while_the_station_file_asks_for_it(self):
        with Gateway() as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(705, 900000, [440000, 420000]), 0)
            plc.start_and_complete()
            self.assertEqual(told(gateway, "small-shear"), [])
            gateway.change((r"\Z", '\nlog = "steps";\n'))
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("reload: taken: log: steps, was events")
            plc.give("RESET")
            plc.wait_state("IDLE")
            plc.start_and_complete()
            lines = told(gateway, "small-shear")
            self.assertRegex("\n".join(lines), r"(?m)^! command \d+, start changeover: accepted$")
            self.assertRegex("\n".join(lines), r"(?m)^rail \d scanning: waited \d+\.\d{3} s of at most \d+\.\d{3} s for ")
            gateway.change(('log = "steps"', 'log = "events"'))
            gateway.process.send_signal(signal.SIGHUP)
            gateway.wait_for_log("reload: taken: log: events, was steps")
            n = len(told(gateway, "small-shear"))
            plc.give("RESET")
            plc.wait_state("IDLE")
            self.assertEqual(len(told(gateway, "small-shear")), n)
            self.assertEqual(gateway.end(), 0)

    def test_a_folder_that_can_t_be_written_costs_a_line_and_nothing_else(self):
        with Gateway(book=True) as gateway:
            pathlib.Path(f"{gateway.book}.traces").write_text("in the way")
            plc = Plc(gateway)
            self.assertEqual(plc.order(704, 900000, [440000, 420000]), 0)
            trace("save", "--port", gateway.port)
            gateway.wait_for_log("could not be kept: ")
            plc.start_and_complete()
            self.verified(plc, 203)
            self.assertEqual(gateway.end(), 0)

    def test_without_the_maintain_right_it_is_refused(self):
        with Gateway(book=True, changes=[CONTROL]) as gateway:
            Plc(gateway)
            self.assertIn("no maintain right", trace("save", "--port", gateway.port, status=1))


if __name__ == "__main__":
    main()
