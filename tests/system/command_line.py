"""The command line as a stranger uses it: exit statuses, what goes to which stream, and three forms of one map.

    command_line.py KNIFERAIL [KNIFERAILD [KNIFERAIL-SIM]]
"""
import csv
import io
import json
import os
import pathlib
import re
import socket
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree

KNIFERAIL = os.path.abspath(sys.argv.pop(1))
DAEMON = os.path.abspath(sys.argv.pop(1)) if len(sys.argv) > 1 else None
SIMULATOR = os.path.abspath(sys.argv.pop(1)) if len(sys.argv) > 1 else None
COMMANDS = ("check", "map", "status", "plan", "sheet", "set", "knives", "history", "report", "records", "trace", "book", "calibrate", "commission", "help", "version")
EXAMPLES = ("config/small-shear.cfg", "config/framed-shear.cfg", "config/razor.cfg", "config/wide-shear.cfg", "config/score.cfg")


def run(*arguments, **more):
    return subprocess.run((KNIFERAIL,) + arguments, capture_output=True, text=True, timeout=30, check=False, **more)


class Usage(unittest.TestCase):
    def test_without_a_command_the_overview_goes_to_standard_error_with_status_2(self):
        answer = run()
        self.assertEqual((answer.returncode, answer.stdout), (2, ""))
        self.assertIn("kniferail check FILE", answer.stderr)

    def test_the_overview_has_the_arguments_of_every_command_whole(self):
        overview = run("help").stdout
        self.assertEqual(tuple(re.findall(r"^  kniferail (\w+)", overview, re.M)), COMMANDS)
        for command in COMMANDS:
            usage, summary = run("help", command).stdout.splitlines()[:2]
            self.assertRegex(overview, rf"(?m)^  {re.escape(usage.rstrip())}\s+{re.escape(summary)}$")

    def test_usage_and_refusal_of_map_name_every_form(self):
        forms = re.search("allowed: ([a-z, ]+);", run("map", "--format", "xml").stderr).group(1).split(", ")
        self.assertEqual(run("help", "map").stdout.splitlines()[0], f"kniferail map [--format {'|'.join(forms)}]")

    def test_help_carries_the_cautions_whatever_is_asked(self):
        for arguments in (("help",), ("--help",), ("-h",), ("help", "check"), ("help", "map"), ("help", "status"),
                          ("help", "config")):
            answer = run(*arguments)
            self.assertEqual(answer.returncode, 0, arguments)
            for word in ("not a safety function", "Lock out", "gloves", "nobody in the zone", "reduced speed"):
                self.assertIn(word, " ".join(answer.stdout.split()), arguments)

    def test_wrong_usage_is_status_2_says_what_and_prints_nothing(self):
        for arguments in (("frobnicate",), ("check",), ("check", "a", "b"), ("check", "--fast"), ("map", "--format"),
                          ("map", "--format", "xml"), ("map", "md"), ("help", "frobnicate"), ("help", "a", "b"), ("version", "x"),
                          ("status", "--port", "0"), ("status", "--port", "65536"), ("status", "--port", "502x"),
                          ("status", "--unit", "256"), ("status", "--unit", ""), ("status", "--host"), ("status", "here")):
            answer = run(*arguments)
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)
            self.assertTrue(answer.stderr.startswith("kniferail"), arguments)

    def test_every_command_shows_its_own_help_when_it_is_given_help(self):
        for command in COMMANDS:
            expected = run("help", command)
            for arguments in ((command, "--help"), (command, "-h"), ("--help", command)):
                answer = run(*arguments)
                self.assertEqual((answer.returncode, answer.stdout, answer.stderr), (0, expected.stdout, ""), arguments)
        self.assertEqual(run("plan", "--json", "--help", "--nonsense").stdout, run("help", "plan").stdout)

    def test_an_unknown_option_is_named_with_status_2_by_every_program(self):
        programs = [(KNIFERAIL, command) for command in COMMANDS]
        for program in programs + [(p,) for p in (DAEMON, SIMULATOR) if p]:
            for wrong in ("--frobnicate", "--frobnicate=3"):
                answer = subprocess.run(program + (wrong,), capture_output=True, text=True, timeout=30, check=False)
                self.assertEqual((answer.returncode, answer.stdout), (2, ""), program)
                self.assertIn(f"option '{wrong}'", answer.stderr, program)
                self.assertTrue(answer.stderr.startswith(os.path.basename(program[0]) if len(program) > 1 else program[0]), program)
            answer = subprocess.run(program + ("--help",), capture_output=True, text=True, timeout=30, check=False)
            self.assertEqual((answer.returncode, answer.stderr), (0, ""), program)

    def test_a_value_may_stand_behind_an_equals_sign_and_a_switch_has_none(self):
        self.assertEqual(run("plan", f"--config={EXAMPLES[0]}", "--widths=440", "--json").stdout,
                         run("plan", "--json", "--widths", "440", "--config", EXAMPLES[0]).stdout)
        self.assertIn("--json takes no value", run("plan", "--json=yes").stderr)
        self.assertIn("--config needs a value", run("plan", "--config").stderr)
        self.assertIn("no mistakes", run("check", EXAMPLES[0], "--").stdout)

    def test_a_number_below_0_is_no_option(self):
        for arguments in (("--port", "70000", "offset", "1", "1", "-1.2"), ("--port=70000", "offset", "1", "1", "-1.2")):
            answer = run("set", *arguments)
            self.assertEqual(answer.returncode, 2)
            self.assertIn("--port: '70000'", answer.stderr)
        answer = run("set", "offset", "1", "1", "-1.2 furlongs")
        self.assertIn("'-1.2 furlongs'", answer.stderr)
        answer = run("plan", "--config", EXAMPLES[0], "--widths", "440", "--shift", "-1.2", "--json")
        self.assertEqual(answer.stderr, "")

    def test_version_names_program_and_map(self):
        self.assertRegex(run("version").stdout, r"^kniferail \d+\.\d+\.\d+, register map version \d+, build [0-9a-f]{40}\n$")

    @unittest.skipUnless(os.path.exists("/dev/full"), "no /dev/full")
    def test_output_that_can_not_be_written_is_no_success(self):
        for arguments in (("map",), ("map", "--format", "csv"), ("map", "--format", "json"), ("help", "config"), ("check", EXAMPLES[0])):
            with open("/dev/full", "w", encoding="ascii") as full:
                answer = subprocess.run((KNIFERAIL,) + arguments, stdout=full, stderr=subprocess.PIPE, text=True, timeout=30,
                                        check=False)
            self.assertEqual(answer.returncode, 1, arguments)
            self.assertIn("could not be written", answer.stderr)


class Lengths(unittest.TestCase):
    """A length on the command line is what it is in a station file, and a decimal comma or a hyphen is never guessed at."""
    PLAN = ("plan", "--config", EXAMPLES[0], "--json")

    def refused(self, *arguments, saying):
        answer = run(*arguments)
        self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)
        for words in saying:
            self.assertIn(words, answer.stderr)

    def test_widths_take_the_units_that_a_station_file_takes(self):
        expected = json.loads(run(*self.PLAN, "--widths", "440,420").stdout)["cut_lines_um"]
        for widths in ("0.44 m,0.42 m", "440000 um,42e1", "440mm,420000000 nm", "440 mm , 420 "):
            answer = run(*self.PLAN, "--widths", widths)
            self.assertEqual(answer.stderr, "", widths)
            self.assertEqual(json.loads(answer.stdout)["cut_lines_um"], expected, widths)

    def test_a_decimal_comma_or_a_hyphen_is_refused_and_told_how_to_write(self):
        for option in ("--web-width", "--trim", "--shift"):
            self.refused(*self.PLAN, "--widths", "440", option, "62,5 in", saying=(option, "'62,5 in'", "as 62.5 in"))
        self.refused(*self.PLAN, "--widths", "62,5 in", saying=("'62,5 in'", "62.5 in", "both need a unit"))
        self.refused(*self.PLAN, "--widths", "100,200,150 mm", saying=("'200,150 mm'", "200.150 mm", "both need a unit"))
        self.refused(*self.PLAN, "--widths", "440,3-5/8 in", saying=("'3-5/8 in'", "as 3 5/8 in"))
        self.refused("set", "offset", "1", "1", "62,5 in", saying=("offset", "'62,5 in'", "as 62.5 in"))
        self.refused("set", "insert", "1", "1", "3-5/8 in", saying=("position", "'3-5/8 in'", "as 3 5/8 in"))
        self.refused("set", "test-cut", "3-5/8 in", saying=("'3-5/8 in'", "as 3 5/8 in"))
        self.refused("history", "--book", "none", "--tolerance", "0,2 mm", saying=("--tolerance", "'0,2 mm'", "as 0.2 mm"))

    def test_a_length_that_no_register_can_hold_is_refused(self):
        self.refused("set", "offset", "1", "1", "3000 m", saying=("'3000 m'", "too many digits"))

    def test_a_station_file_gives_the_same_answer(self):
        with open(EXAMPLES[0], encoding="ascii") as file:
            text = file.read()
        for wrong, right in (("62,5 in", "as 62.5 in"), ("3-5/8 in", "as 3 5/8 in")):
            with tempfile.NamedTemporaryFile("w", suffix=".cfg", encoding="ascii") as file:
                file.write(text.replace("deadband_mm = 0.05;", f'deadband_mm = "{wrong}";'))
                file.flush()
                answer = run("check", file.name)
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertIn(f'deadband_mm: "{wrong}" has a ', answer.stderr)
            self.assertIn(right, answer.stderr)

    def test_positions_are_micrometres_or_have_a_unit(self):
        def plan(text):
            with tempfile.NamedTemporaryFile("w", suffix=".csv", encoding="ascii") as file:
                file.write("rail,holder,position_um,state\n" + text)
                file.flush()
                return run(*self.PLAN, "--widths", "440", "--positions", file.name)

        expected = plan("upper,0,150000,\n").stdout
        for position in ("150 mm", "0.15 m", "150000 um"):
            self.assertEqual(plan(f"upper,0,{position},\n").stdout, expected, position)
        self.assertEqual(plan('"upper","0","150 mm",""\r\n').stdout, expected)
        for wrong, words in (("3-5/8 in", "as 3 5/8 in"), ("x", "is not a number"), ("2 km", "unit"), ("2000 m", "less than")):
            answer = plan(f"upper,0,{wrong},\n")
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), wrong)
            self.assertIn(f":2: position '{wrong}'", answer.stderr)
            self.assertIn(words, answer.stderr)
        for row, words in (("upper,3,1000 m,", "position 1000000.000 mm is off the rail: 40.000 mm to 1560.000 mm"),
                           ("lower,1,39999,out", "position 39.999 mm is off the rail: 40.000 mm to 1560.000 mm"),
                           ("upper,0,1600001,", "position 1600.001 mm is off the carriage's travel: 0.000 mm to 1600.000 mm")):
            answer = plan(row + "\n")
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), row)
            self.assertTrue(answer.stderr.endswith(f":2: {words}\n"), answer.stderr)
        self.assertEqual(plan("upper,12,1560000,\nlower,1,-5000,absent\nupper,0,1600000,\n").returncode, 0)

    def test_an_impossible_order_that_follows_is_refused_with_its_reason(self):
        good = run(*self.PLAN, "--widths", "440,420", "--next-widths", "430,430")
        self.assertEqual((good.returncode, good.stderr), (0, ""))
        for widths, reason in (("440,9000", "slit 2 is 9000.000 mm wide"), ("440,3", "slit 2 puts its holders 3.000 mm apart"),
                               (",".join(["60"] * 20), "12 holders are in service; 21 are needed")):
            answer = run(*self.PLAN, "--widths", "440,420", "--next-widths", widths)
            self.assertEqual((answer.returncode, answer.stdout), (1, ""), widths)
            self.assertIn("kniferail plan: --next-widths: refused: ", answer.stderr)
            self.assertIn(reason, answer.stderr)


class Check(unittest.TestCase):
    def test_a_good_file_is_status_0_and_what_was_read_is_shown(self):
        for example in EXAMPLES:
            answer = run("check", example)
            self.assertEqual((answer.returncode, answer.stderr), (0, ""), example)
            self.assertIn(f"{example}: no mistakes", answer.stdout)
        self.assertIn('12 holders (12 "2 in"; 12 in service', run("check", EXAMPLES[0]).stdout)

    def test_check_says_how_far_a_carriage_goes_while_its_drive_is_silent(self):
        """v t + v^2 / (2 a): 1 m/s, 1 m/s2, 450 ms: 450 + 500 mm; 0.5 m/s: 225 + 125 mm; and for 1000 ms."""
        told = " ".join(run("check", "config/wired-shear.cfg").stdout.split())
        self.assertIn("450 ms old, motion stops: the carriage goes on for 950.000 mm empty and 350.000 mm dragging, its ramp included", told)
        self.assertIn("After 1000 ms without an answer the drive counts as lost (1500.000 mm and 625.000 mm)", told)
        self.assertIn("watchdog has to be longer than 450 ms and shorter than 1000 ms", told)
        self.assertIn("change at least every 333 ms", told)

    def test_what_nobody_notices_without_references_is_said_by_check_and_the_map(self):
        hidden = ("nobody notices a datum, a scale or a switch that was wrong before the first scan; one that changed while fewer "
                  "than two holders of the rail (three for a scale), or no more than half of those that the carriage had not "
                  "dragged, stood where the last scan had found them; and one that changes by less than alike_mm from scan to scan.")
        self.assertIn(hidden, " ".join(self.checked("small-shear.cfg").split()))
        self.assertIn(hidden, " ".join(run("map").stdout.replace("`", "").split()))
        self.assertNotIn("nobody notices", self.checked("framed-shear.cfg"))

    def test_whether_iron_moves_is_said_before_all_else(self):
        self.assertIn("cycle 10 ms; simulated machines run 1 times as fast as the clock\n", self.checked("small-shear.cfg"))
        said = self.checked("wired-shear.cfg")
        self.assertIn("cycle 10 ms, no simulated machine: every station moves the drives at its addresses\n", said)
        self.assertNotIn("simulated machines", said)

    def test_the_watchdog_that_the_file_names_is_compared_and_its_way_said(self):
        """v t + v^2 / (2 a): 1 m/s, 1 m/s2, 600 ms: 600 + 500 mm; 0.5 m/s: 300 + 125 mm."""
        said = " ".join(self.checked("wired-shear.cfg").split())
        self.assertEqual(said.count("the drive's own watchdog is set to 600 ms, which lies between these limits: without a "
                                    "link a carriage goes on for 1100.000 mm empty and 425.000 mm dragging"), 2)
        without = self.checked("wired-shear.cfg", (r"\n +watchdog_ms = 600; [^\n]*", ""))
        self.assertEqual(without.count("watchdog_ms does not give the time of the drive's own watchdog"), 2)
        self.assertNotIn("is set to", without)

    def test_what_expected_shows_is_not_said_to_be_unseen(self):
        said = self.checked("wired-shear.cfg")
        self.assertEqual(said.count("which parameter 8 of `expected` has to show: homing method (6098h)"), 2)
        self.assertEqual(said.count("which parameter 7 of `expected` has to show: torque limit (6072h)"), 2)
        self.assertEqual(said.count("to be confirmed: homing speed (6099h)"), 2)  # no parameter of that name
        without = self.checked("wired-shear.cfg", (r" expected = \(.*?\);\n", ""))
        self.assertEqual(without.count("to be confirmed: homing method (6098h)"), 2)
        self.assertNotIn("`expected` has to show", without)

    def test_mistakes_are_status_1_each_on_a_line_with_file_and_line_number(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "mill.cfg")
            with open(EXAMPLES[0], encoding="ascii") as file:
                text = file.read()
            text = text.replace("period_ms = 10;", "period_ms = 4294967306;").replace("deadband_mm = 0.05;", "deadbend_mm = 0.05;")
            with open(path, "w", encoding="ascii") as file:
                file.write(text)
            answer = run("check", path)
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))
        lines = answer.stderr.splitlines()
        self.assertEqual(len(lines), 3)
        self.assertRegex(lines[0], rf"^{re.escape(path)}:\d+: period_ms: 4294967306; allowed: 1 to 100 ms$")
        self.assertIn("deadbend_mm: unknown setting; did you mean deadband_mm?", lines[1])
        self.assertEqual(lines[2], "2 mistakes")

    def checked(self, example, *changes):
        """What `check` says of the example with each change, a pattern and what takes its place."""
        with open(os.path.join("config", example), encoding="ascii") as file:
            text = file.read()
        for pattern, new in changes:
            text, n = re.subn(pattern, new, text, count=1, flags=re.S)
            self.assertEqual(n, 1, pattern)
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "mill.cfg")
            with open(path, "w", encoding="ascii") as file:
                file.write(text)
            answer = run("check", path)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        return answer.stdout

    def test_a_second_rail_of_a_role_doubles_every_knife_which_is_said(self):
        lower = r'(\{\n +role = "lower";.*?\n      \})\n'
        self.assertNotIn("note:", self.checked("small-shear.cfg"))
        said = self.checked("small-shear.cfg", (lower, r"\1, \1\n"))
        self.assertIn("note: there are 2 lower rails: each of them makes every cut of an order, so that every cut has 2 lower knives\n", said)
        self.assertIn("note: a test cut proposes edge offsets for rail 2 alone, not for the other lower rails\n", said)
        self.assertNotIn("upper rails", said)

    def test_how_the_knives_cut_is_said_and_that_an_upper_rail_alone_may_cut_in_two_ways(self):
        self.assertIn("cut: shear;", self.checked("small-shear.cfg"))
        self.assertIn("side clearance 0.500 mm, blades' run-out 0.050 mm, side stroke 1.500 mm\n",
                      self.checked("small-shear.cfg", ("side_clearance_mm = 0.5;", "side_clearance_mm = 0.5; side_stroke_mm = 1.5;")))
        self.assertIn("cut: score;", self.checked("score.cfg"))
        self.assertIn('note: without a lower rail no pair of knives is judged; set cut to "score" or "razor" if that is how the knives cut\n',
                      self.checked("score.cfg", ('cut = "score";', "")))

    def test_a_datum_that_is_taken_for_granted_is_said_for_each_rail(self):
        believed = "note: rail {}: referenced_bit is -1: the drive always counts as having its datum"
        said = self.checked("wired-shear.cfg")
        self.assertIn(believed.format(1), said)
        self.assertIn(believed.format(2), said)
        self.assertIn(believed.format(1), self.checked("wired-shear.cfg", ("referenced_bit = -1;", "")))  # the default
        self.assertNotIn("referenced_bit is", self.checked("wired-shear.cfg", ("referenced_bit = -1;", "referenced_bit = 8;")))
        self.assertNotIn("note:", self.checked("small-shear.cfg"))  # it has no drives

    def test_what_tells_an_exchanged_drive_and_a_second_gateway_is_said_for_each_rail(self):
        said = self.checked("wired-shear.cfg")
        self.assertEqual(said.count('parameter 3 "quick stop option": register 224 has to show 2\n'), 2)
        self.assertEqual(said.count('parameter 8 "homing method": register 231 has to show 17 in the bits FFh\n'), 2)
        for rail in (1, 2):
            self.assertIn(f"note: rail {rail}: a second gateway on this drive can't be noticed:", said)
        without = self.checked("wired-shear.cfg", (r" expected = \(.*?\);\n", ""))
        self.assertIn("note: rail 2: `expected` lists no parameters of the drive", without)
        self.assertNotIn("lists no parameters", said)
        read_back = self.checked("wired-shear.cfg", ('function_23 = "yes";', 'function_23 = "yes"; read_back = "yes";'))
        self.assertIn("note: rail 1: a second gateway on this drive is noticed by what it writes:", read_back)
        owner = ("registers: { watchdog = 210;", "registers: { watchdog = 210; owner = 240;")
        self.assertNotIn("note:", self.checked("wired-shear.cfg", ("referenced_bit = -1;", "referenced_bit = 8;"), owner))

    def test_every_setting_of_the_examples_is_in_the_help(self):
        text = run("help", "config").stdout
        known = set(re.findall(r"^  (\w+)$", text, re.M))
        for example in EXAMPLES:
            with open(example, encoding="ascii") as file:
                content = re.sub(r"#.*", "", file.read())
            used = set(re.findall(r"(\w+)\s*[=:]\s*[^\s]", content)) - {"min", "mm"}
            self.assertLessEqual(used, known, example)


def markdown_rows(text, head):
    """The rows of all tables that begin with that head."""
    rows, inside = [], False
    for line in text.splitlines():
        if line.startswith("| " + head):
            inside = True
        elif not line.startswith("|"):
            inside = False
        elif inside and not line.startswith("| ---"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


class Calibrate(unittest.TestCase):
    """Readings of an axis with an offset of 0.35 mm, 80 ppm too long, with 0.02 mm of play; without noise."""

    HEAD = "target_mm,reading_mm,direction,run"

    def rows(self, runs=5, targets=range(0, 1601, 100), wave=0.0):
        return [f"{t},{t + 0.35 + 80e-6 * t + wave * (t % 200 == 0) + half:.4f},{direction},{run}" for t in targets
                for run in range(1, runs + 1) for direction, half in (("rising", 0.01), ("falling", -0.01))]

    def calibrate(self, rows, *options, head=HEAD):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "readings.csv")
            with open(path, "w", encoding="ascii") as file:
                file.write("\n".join([head, *rows]) + "\n")
            return run("calibrate", path, *options)

    def done(self, rows, *options, head=HEAD):
        answer = self.calibrate(rows, *options, head=head)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        return answer.stdout

    def test_offset_and_scale_are_found_and_printed_as_the_station_file_takes_them(self):
        said = self.done(self.rows())
        self.assertIn('verdict: take "offset and scale"', said)
        self.assertIn("A  accuracy ", said)
        frame = re.search(r"frame: \{.*?\};\n", said, re.S).group()
        self.assertIn("offset_mm = 0.350; scale_ppm = 80.000; };", frame)
        self.assertNotIn("table", frame)

    def test_what_is_printed_is_a_frame_that_check_takes_and_that_leaves_nothing_to_correct(self):
        rows = self.rows(wave=0.04)
        said = self.done(rows)
        self.assertIn('verdict: take "offset, scale and table"', said)
        frame = re.search(r"frame: \{.*\};\n", said, re.S).group()
        self.assertEqual(frame.count("at_mm"), 17)
        with open("config/wired-shear.cfg", encoding="ascii") as file:
            text = file.read().replace('role = "upper";', 'role = "upper"; ' + frame)
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "mill.cfg")
            with open(path, "w", encoding="ascii") as file:
                file.write(text)
            checked = run("check", path)
            self.assertEqual((checked.returncode, checked.stderr), (0, ""))
            # Sent to places in that frame, the carriage is seen where it was sent: with the play's half each way.
            again = [f"{float(row.split(',')[1]):.4f},{row.split(',', 1)[1]}" for row in rows if ",rising,1" in row]
            places = [row.replace(",rising,", ",falling,") for row in again] + again
            answer = json.loads(self.done(places, "--config", path, "--rail", "1", "--json"))
        table = {m["model"]: m for m in answer["models"]}["table"]
        self.assertLess(table["rms_mm"], 0.015)
        self.assertAlmostEqual(answer["frame"]["offset_mm"], 0.35, delta=0.045)

    def test_inches_and_temperature(self):
        rows = [f"{t},{t * 25.4 + 0.5:.5f},rising,{run}" for t in (0, 20, 40, 60) for run in (1, 2, 3)]
        head = "target_in,reading_mm,direction,run"
        self.assertIn("offset_mm = 0.500;", self.done(rows, "--model", "offset", head=head))
        cold = json.loads(self.done(rows, "--temperature", "8", "--coefficient", "11.5", "--model", "offset_and_scale", "--json",
                                    head=head))
        self.assertAlmostEqual(cold["frame"]["scale_ppm"], -138, places=2)  # 12 K of 11.5 ppm

    def test_a_bad_row_is_told_by_line_column_value_and_limit_and_nothing_is_taken(self):
        good = self.rows(runs=1)
        for row, says in (("5,5,up,1", ":36: direction: 'up'; allowed: rising or falling"),
                          ("5,x,rising,1", ":36: reading_mm: 'x'"), ("5,5,rising,21", ":36: run: '21'; allowed: 1 to 20"),
                          ("25000,5,rising,1", ":36: target_mm: '25000'; allowed: -20000 to 20000 mm"),
                          ("0,5,rising,1", ":36: run: 1; this target already has a reading of that run and direction"),
                          ("0,5,rising", ":36: the line has 3 fields, and the first line names 4")):
            answer = self.calibrate([*good, row])
            self.assertEqual((answer.returncode, answer.stdout), (1, ""), row)
            self.assertIn(says, answer.stderr)
            self.assertEqual(answer.stderr.count("\n"), 1, row)
        answer = self.calibrate(good, head="target_mm,reading,direction,run")
        self.assertIn(":1: 'reading' is not a column", answer.stderr)
        self.assertIn("at most 64 targets", self.calibrate(self.rows(1, range(65))).stderr)

    def test_what_the_readings_do_not_suffice_for_is_said(self):
        self.assertIn("not calculated: there are 4 runs each way at some target, and at least 5 are needed", self.done(self.rows(runs=4)))
        self.assertIn("not calculated: there are 6 targets in this length, and at least 8 are needed",
                      self.done(self.rows(targets=range(0, 1501, 300))))
        answer = self.calibrate(["0,0.3,rising,1"], "--model", "table")
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))
        self.assertIn("too few readings for the model table", answer.stderr)
        long = [f"{t},{1.02 * t},rising,1" for t in range(0, 1000, 100)]
        self.assertIn("the scale would be 20000 ppm; at most 10000 ppm", self.calibrate(long).stderr)

    def typed(self, lines, *options):
        return run("calibrate", *options, input="\n".join(lines) + "\n")

    def test_readings_that_are_typed_in_say_what_a_file_of_them_says(self):
        targets = range(0, 1601, 200)
        by_place = {tuple(row.split(",")[i] for i in (3, 2, 0)): row.split(",")[1] for row in self.rows(targets=targets)}
        lines = [by_place[str(run), way, str(t)] for run in range(1, 6) for way, sequence in (("rising", targets), ("falling", reversed(targets)))
                 for t in sequence]
        lines[7:7] = ["999", "back"]  # mistyped, and taken back
        with tempfile.TemporaryDirectory() as folder:
            kept = folder + "/kept.csv"
            answer = self.typed(lines, "--targets", ",".join(map(str, targets)), "--keep", kept)
            self.assertEqual((answer.returncode, answer.stderr), (0, ""))
            from_file, from_kept = self.done(self.rows(targets=targets)), run("calibrate", kept)
            self.assertEqual(answer.stdout.splitlines()[1:], from_file.splitlines()[1:])
            self.assertEqual(from_kept.stdout.splitlines()[1:], from_file.splitlines()[1:])
            again = self.typed(lines, "--targets", ",".join(map(str, targets)), "--keep", kept)
            self.assertEqual((again.returncode, again.stdout), (1, ""))
            self.assertIn("File exists", again.stderr)

    def test_typed_readings_may_be_inches_and_may_be_left_out(self):
        answer = self.typed(["0.01", "", "40.01", "40.01", "20.01", "0.01"], "--targets", "0 in,20 in,40 in", "--runs", "1", "--json")
        self.assertEqual((answer.returncode, answer.stderr), (0, ""))
        told = json.loads(answer.stdout)
        self.assertEqual(told["readings"], 5)
        self.assertAlmostEqual(told["frame"]["offset_mm"], 0.254, delta=0.0005)

    def test_a_typed_line_that_is_no_reading_is_named_and_nothing_is_taken(self):
        for lines, says in ((["0", "x"], "typed line 2: 'x'"), (["30 m"], "typed line 1: '30 m' is too far"), ([], "there are no readings")):
            answer = self.typed(lines, "--targets", "0,100")
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertIn(says, answer.stderr)
        for options, says in ((("--targets", "100,0"), "above the one before"), (("--targets", "0", "--runs", "21"), "--runs"), (("--runs", "3", "readings.csv"), "need --targets")):
            answer = self.typed(["0"], *options)
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), options)
            self.assertIn(says, answer.stderr)

    def test_the_chart_is_drawn_where_the_formulas_have_readings_enough(self):
        with tempfile.TemporaryDirectory() as folder:
            chart = folder + "/chart.svg"
            self.done(self.rows(), "--svg", chart)
            root = xml.etree.ElementTree.parse(chart).getroot()
            self.assertEqual(root.tag, "{http://www.w3.org/2000/svg}svg")
            marks = [p for p in root.iter("{http://www.w3.org/2000/svg}path") if " C " in p.get("d", "")]
            self.assertGreaterEqual(len(marks), 3 * 17)  # of each target rising, falling and their difference
            answer = self.calibrate(self.rows(2), "--svg", chart)
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertIn("there is no chart: there are 2 runs each way at some target, and at least 5 are needed", answer.stderr)

    def test_wrong_options_are_named_with_their_limits(self):
        for options, says in ((("--uncertainty", "-1"), "allowed: 0 to 100 mm"), (("--uncertainty-ppm", "x"), "allowed: 0 to 10000"),
                              (("--temperature", "20"), "go together"), (("--model", "best"), "allowed: as_is, offset"),
                              (("--rail", "1"), "need --config"), (("--config", "x"), "needs --rail")):
            answer = self.calibrate(self.rows(1), *options)
            self.assertEqual((answer.returncode, answer.stdout), (2, ""), options)
            self.assertIn(says, answer.stderr)


class Map(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.json = json.loads(run("map", "--format", "json").stdout)
        answer = subprocess.run((KNIFERAIL, "map", "--format", "csv"), capture_output=True, timeout=30, check=True)
        cls.csv = list(csv.DictReader(io.StringIO(answer.stdout.decode("ascii"), newline="")))
        cls.md = run("map", "--format=md").stdout

    def test_the_three_forms_name_the_same_registers_at_the_same_addresses(self):
        rails = self.json["rails"]
        expected = {}
        for r in self.json["registers"]:
            for rail in range(rails["count"] if r["per_rail"] else 1):
                name = f"RAIL{rail + 1}_{r['name']}" if r["per_rail"] else r["name"]
                expected[name] = (r["area"], r["address"] + rail * rails["stride"], r["n"] * r["words"])
        got = {row["tag"]: (row["area"], int(row["address"]), int(row["registers"])) for row in self.csv
               if row["area"] in ("holding", "input") and not row["bit"]}
        self.assertEqual(got, expected)
        rows = markdown_rows(self.md, "register")
        self.assertEqual({row[0]: int(row[1]) for row in rows}, {r["name"]: r["address"] for r in self.json["registers"]})

    def test_every_register_lies_in_one_block_and_no_two_share_an_address(self):
        seen = {}
        for row in self.csv:
            if row["bit"]:
                continue  # it is a part of a word that has a row of its own
            first, words = int(row["address"]), int(row["registers"]) or int(row["elements"])
            for address in range(first, first + words):
                self.assertNotIn((row["area"], address), seen, row["tag"])
                seen[row["area"], address] = row["tag"]
        for area, address in seen:
            blocks = [b for b in self.json["blocks"] if b["area"] == area and b["first"] <= address < b["first"] + b["words"]]
            if area in ("holding", "input"):
                self.assertEqual(len(blocks), 1, (area, address))

    def test_numbers_count_from_1_and_the_window_is_where_the_map_says(self):
        for row in self.csv:
            self.assertEqual(int(row["number"]), int(row["address"]) + 1)
            if row["area"] == "input":
                self.assertEqual(int(row["window_address"]), self.json["window"] + int(row["address"]))

    def test_32_bit_values_stand_at_even_addresses(self):
        for r in self.json["registers"]:
            self.assertTrue(r["words"] == 1 or r["address"] % 2 == 0, r["name"])

    def test_all_that_runs_the_machine_is_one_read_of_50_registers(self):
        run_block = next(b for b in self.json["blocks"] if b["name"] == "RUN")
        self.assertLessEqual(run_block["words"], 50)

    def test_every_code_and_named_number_is_in_the_document(self):
        for code in self.json["results"] + self.json["alarms"]:
            self.assertRegex(self.md, rf"(?m)^\| {code['code']} \| {code['name']} \|")
        for name, numbers in self.json["numbers"].items():
            self.assertIn(f"### {name}\n", self.md)
            for key, number in numbers.items():
                self.assertRegex(self.md, rf"(?m)^\| {number['number']} \| {key} \|")
        self.assertNotRegex(self.md, r"%[ivl]")

    def test_every_form_lists_each_number_of_a_register_that_has_named_ones(self):
        lists = {r["name"]: r["numbers"] for r in self.json["registers"] if r["numbers"]}
        for name, numbers in (("HOLDER_KNOWN", 4), ("HOLDER_STATE", 4), ("RAIL_ROLE", 2), ("RECORD_RESULT", 4), ("ALIGNMENT", 2),
                              ("EDGE_FLAGS", 2), ("CONTROL_HELD", 3), ("ACCESS_REQUEST", 3), ("OWN_ROLE", 3), ("RAIL_INPUTS", 16),
                              ("RAIL_OUTPUTS", 4)):
            self.assertEqual(len(self.json["numbers"][lists[name]]), numbers, name)
        for row in self.csv:
            r = next((r for r in self.json["registers"] if re.sub(r"^RAIL\d_", "", row["tag"], count=1) == r["name"]), None)
            if r is None or not r["numbers"] or row["area"] not in ("holding", "input") or row["bit"]:
                continue
            bit = "bit " if r["unit"] == "bits" else ""
            for key, number in self.json["numbers"][r["numbers"]].items():
                self.assertRegex(row["meaning"], rf"[:,] {bit}{number['number']} {key}(,|$)", row["tag"])
                self.assertRegex(self.md, rf"(?m)^\| {number['number']} \| {key} \|")

    def test_every_form_has_its_rows_in_the_sequence_of_addresses(self):
        areas = {"coil": 0, "discrete": 1, "holding": 2, "input": 3}
        for rows in (self.json["registers"], [row for row in self.csv if row["area"] in ("holding", "input")]):
            places = [(areas[row["area"]], int(row["address"])) for row in rows]
            self.assertEqual(places, sorted(places))
        blocks = [(areas[b["area"]], b["first"]) for b in self.json["blocks"]]
        self.assertEqual(blocks, sorted(blocks))
        names = [row[0] for row in markdown_rows(self.md, "register")]
        self.assertEqual(names, [r["name"] for r in self.json["registers"]])

    def test_tags_say_block_list_range_and_initial_value_and_bits_are_words(self):
        rows = {row["tag"]: row for row in self.csv}
        for r in self.json["registers"]:
            row = rows["RAIL1_" + r["name"] if r["per_rail"] else r["name"]]
            self.assertEqual((row["block"], row["list"]), (r["block"], r["numbers"] or ""))
            self.assertEqual([int(row[key]) for key in ("least", "most", "initial")], [r[key] for key in ("least", "most", "initial")])
            self.assertLessEqual(r["least"], r["most"], r["name"])
            block = next(b for b in self.json["blocks"] if b["name"] == r["block"])
            self.assertTrue(block["first"] <= r["address"] < block["first"] + block["words"], r["name"])
            kind = re.sub(r"ARRAY\[1\.\.\d+\] OF ", "", row["type"])
            self.assertEqual(kind == "WORD", r["unit"] == "bits" or r["type"] == "TEXT", r["name"])
        self.assertEqual([rows["SLIT_COUNT"][key] for key in ("least", "most")], ["1", "128"])
        self.assertEqual(rows["RAIL3_RAIL_ROLE"]["initial"], "65535")

    def test_named_bits_are_tags_in_their_words(self):
        bits = {row["tag"]: row for row in self.csv if row["bit"]}
        for r in self.json["registers"]:
            if r["numbers"] not in self.json["masks"] or r["n"] > 1:
                continue
            for name, bit in self.json["numbers"][r["numbers"]].items():
                row = bits[("RAIL1_" if r["per_rail"] else "") + r["name"] + "_" + name]
                self.assertEqual((row["area"], row["address"], row["type"], row["bit"]),
                                 (r["area"], str(r["address"]), "BOOL", str(bit["number"])))
        self.assertEqual(bits["LINE_STATUS_MAY_RUN"]["meaning"], self.json["numbers"]["LINE_STATUS"]["MAY_RUN"]["meaning"])

    def test_each_value_says_which_list_it_is_of(self):
        """6041h and 603Fh: statusword and error code of CiA 402 (IEC 61800-7-201)."""
        known = set(self.json["numbers"]) | {"alarms", "results", "6041h", "603Fh"}
        for row in self.json["results"] + self.json["alarms"]:
            self.assertTrue(row["value_of"] is None or row["value_of"] in known, row["name"])
            if row["value"] == "mask":
                self.assertIn(row["value_of"], known, f"{row['name']}: a mask of what?")
        values = {row["name"]: row["value_of"] for row in self.json["results"] + self.json["alarms"]}
        for name, of in (("PERMISSIVE_MISSING", "PERMISSIVES"), ("NOT_IN_THIS_STATE", "UNIT_STATE"), ("ALARM_STANDS", "alarms"),
                         ("PLAN_REFUSED", "results"), ("UNKNOWN_JOB", "COMMAND_JOB"), ("DRIVE_FAULT", "603Fh")):
            self.assertEqual(values[name], of)

    def test_every_refusal_and_every_alarm_says_what_to_do(self):
        for row in self.json["results"] + self.json["alarms"]:
            if row["code"] != 0:
                self.assertRegex(row["remedy"], r"^[A-Z].*\.$", row["name"])
                self.assertIn(f"| {row['remedy']} |", self.md)

    def test_what_to_do_leads_from_the_state_that_the_alarm_leaves_to_a_start(self):
        """A Start is taken in Idle alone: Reset leads there, from Aborted after Clear, from Held after Stop."""
        for row in self.json["alarms"]:
            if "(job" not in row["remedy"] or row["reaction"] not in ("hold", "abort"):
                continue
            for command in {"abort": ("Clear", "Reset"), "hold": ("Stop", "Reset")}[row["reaction"]]:
                self.assertIn(command, row["remedy"], row["name"])

    def test_the_shifts_that_may_be_confirmed_are_the_same_in_the_map_and_in_the_help(self):
        named = re.search(r"\(alarms ([A-Z_, \n]+)\)", run("help", "set").stdout).group(1)
        self.assertEqual(sorted(re.findall(r"\w+", named)),
                         sorted(row["name"] for row in self.json["alarms"] if "kniferail set shift" in row["remedy"]))

    def test_every_form_has_results_and_alarms_in_the_sequence_of_their_numbers(self):
        texts = list(csv.DictReader(io.StringIO(run("map", "--format", "texts").stdout)))
        for table, heading in (("results", "## Result codes"), ("alarms", "## Alarms")):
            codes = [row["code"] for row in self.json[table]]
            self.assertEqual(codes, sorted(codes), table)
            self.assertEqual([int(row["number"]) for row in texts if row["list"] == table], codes)
            section = self.md.split(heading)[1].split("\n## ")[0]
            self.assertEqual([int(code) for code in re.findall(r"(?m)^\| (\d+) \|", section)], codes)

    def test_the_pages_name_every_job_and_the_right_numbers_of_alarms(self):
        pages = {path.name: path.read_text(encoding="utf-8") for path in (pathlib.Path(__file__).resolve().parents[2] / "config/pages").glob("*.md")}
        table = pages["maintenance.md"].split("## Jobs by number")[1].split("\n## ")[0]
        self.assertEqual([int(number) for number in re.findall(r"(?m)^\| (\d+) \|", table)],
                         [job["number"] for job in self.json["numbers"]["COMMAND_JOB"].values()])
        codes, named = {row["name"]: row["code"] for row in self.json["alarms"] + self.json["results"]}, 0
        for page, text in pages.items():
            for number, name in re.findall(r"\b(\d+) ([A-Z]+_[A-Z_]+)\b", text) + [pair[::-1] for pair in re.findall(r"\b([A-Z]+_[A-Z_]+) \((\d+)\)", text)]:
                if name in codes:
                    self.assertEqual(int(number), codes[name], f"{page}: {name}")
                    named += 1
        self.assertGreater(named, 30)

    def test_the_text_lists_have_every_number_bit_result_and_alarm(self):
        answer = subprocess.run((KNIFERAIL, "map", "--format", "texts"), capture_output=True, timeout=30, check=True)
        texts = list(csv.DictReader(io.StringIO(answer.stdout.decode("ascii"), newline="")))
        got = {(row["list"], row["name"]): row for row in texts}
        self.assertEqual(len(got), len(texts))
        for name, numbers in self.json["numbers"].items():
            for key, number in numbers.items():
                row = got.pop((name, key))
                self.assertEqual((row["kind"], int(row["number"])), ("bit" if name in self.json["masks"] else "number", number["number"]))
        for table in ("results", "alarms"):
            for entry in self.json[table]:
                row = got.pop((table, entry["name"]))
                self.assertEqual((int(row["number"]), row["remedy"], row["value_of"] or None),
                                 (entry["code"], entry["remedy"], entry["value_of"]))
                self.assertNotIn("%", row["text"].replace(" %", ""))
        self.assertEqual(got, {})

    def test_the_bits_of_a_carriage_say_that_they_are_not_the_drives_raw_bits(self):
        for name in ("RAIL_INPUTS", "RAIL_OUTPUTS"):
            r = next(r for r in self.json["registers"] if r["name"] == name)
            self.assertIn("not the drive's raw bits", r["meaning"])

    def test_unit_states_have_the_numbers_of_the_packml_state_model(self):
        """OPC 30050, PackML (ISA-TR88.00.02): Execute 6, Stopped 2, Idle 4, Complete 17, Held 11, Suspended 5, Aborted 9."""
        states = {k: v["number"] for k, v in self.json["numbers"]["UNIT_STATE"].items()}
        for name, number in (("CLEARING", 1), ("STOPPED", 2), ("STARTING", 3), ("IDLE", 4), ("SUSPENDED", 5), ("EXECUTE", 6),
                             ("STOPPING", 7), ("ABORTING", 8), ("ABORTED", 9), ("HOLDING", 10), ("HELD", 11),
                             ("UNHOLDING", 12), ("SUSPENDING", 13), ("UNSUSPENDING", 14), ("RESETTING", 15),
                             ("COMPLETING", 16), ("COMPLETE", 17)):
            self.assertEqual(states[name], number)


class Status(unittest.TestCase):
    def test_a_gateway_that_is_not_there_is_status_1_and_named(self):
        with socket.socket() as s:  # bound, not listening: nobody else gets the port, nobody answers
            s.bind(("127.0.0.1", 0))
            answer = run("status", "--port", str(s.getsockname()[1]))
        self.assertEqual((answer.returncode, answer.stdout), (1, ""))
        self.assertIn("connecting to 127.0.0.1", answer.stderr)

    @unittest.skipUnless(DAEMON, "no daemon given")
    def test_a_running_station_is_shown_in_words_and_to_scale(self):
        for example, unit, rails in (("config/small-shear.cfg", "mm", 2), ("config/razor.cfg", "in", 1)):
            with open(os.devnull, "w", encoding="ascii") as nowhere:
                daemon = subprocess.Popen((DAEMON, "--config", example, "--port", "0", "--print-port"), stdout=subprocess.PIPE,
                                          stderr=nowhere, text=True)
            try:
                port = re.search(r"\d+", daemon.stdout.readline()).group()
                answer = run("status", "--port", port, "--unit", "1", "--holders")
                nobody = run("status", "--port", port, "--unit", "9")
            finally:
                daemon.terminate()
                daemon.stdout.close()
                self.assertEqual(daemon.wait(30), 0)
            self.assertEqual((answer.returncode, answer.stderr), (0, ""))
            self.assertIn("STOPPED: the unit rests; Reset leads to Idle", answer.stdout)
            self.assertIn("              missing: LINE_STOPPED, KNIVES_RAISED", answer.stdout)
            self.assertIn("no order is in force; none is staged", answer.stdout)
            self.assertEqual(len(re.findall(r"^rail \d", answer.stdout, re.M)), rails)
            self.assertEqual(len(re.findall(r"^(?:upper|lower) idle +[?2-9]", answer.stdout, re.M)), rails)  # only remembered
            offset = r"-10\.000 mm" if unit == "mm" else r"-?\d\.\d{4} in"
            size = 2 if unit == "mm" else 1
            self.assertRegex(answer.stdout, rf'(?m)^holder sizes +number, name, .*\n +1 "1 in" (25.400 mm|1.0000 in)')
            self.assertRegex(answer.stdout, rf"(?m)^ +1 +idle +{size} in service +remembered +\d+\.\d+ {unit} +{offset} +0$")
            self.assertLessEqual(max(len(line) for line in answer.stdout.splitlines()), 102)
            self.assertEqual(nobody.returncode, 1)
            self.assertIn("no station with unit identifier 9", nobody.stderr)

    @unittest.skipUnless(DAEMON, "no daemon given")
    def test_without_a_link_nothing_is_said_of_a_holder_that_there_is_not(self):
        with open(os.devnull, "w", encoding="ascii") as nowhere:
            daemon = subprocess.Popen((DAEMON, "--config", "config/wired-shear.cfg", "--port", "0", "--print-port"),
                                      stdout=subprocess.PIPE, stderr=nowhere, text=True)
        try:
            port = re.search(r"\d+", daemon.stdout.readline()).group()
            answer = run("status", "--port", port, "--full")
        finally:
            daemon.terminate()
            daemon.stdout.close()
            self.assertEqual(daemon.wait(30), 0)
        self.assertEqual(answer.returncode, 0)
        self.assertNotIn("65535", answer.stdout)
        self.assertEqual(len(re.findall("its pin is not proven out.*; NO LINK", answer.stdout)), 2)


if __name__ == "__main__":
    unittest.main(verbosity=1)
