"""kniferail trace with the trace of a random story: words, tables, a drawing, replay; what is damaged or cut is refused.

    trace_cli.py KNIFERAIL STATION_CHAOS
"""
import csv
import io
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree

KNIFERAIL, CHAOS = (sys.argv.pop(1) for _ in range(2))
STORY = "300004"


def run(*arguments):
    return subprocess.run([KNIFERAIL, "trace", *map(str, arguments)], capture_output=True, text=True, timeout=60)


class TraceCommand(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.file = pathlib.Path(cls.folder.name) / "a.trace"
        subprocess.run([CHAOS, STORY, "1", "faults", f"--replay={cls.file}"], stdout=subprocess.DEVNULL, timeout=60, check=True)

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def said(self, *arguments):
        done = run(*arguments)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        return done.stdout

    def refused(self, *arguments, status=1, saying):
        done = run(*arguments)
        self.assertEqual(done.returncode, status, done.stderr)
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertEqual(done.stdout, "")
        self.assertIn(saying, done.stderr)

    def test_replay_says_that_nothing_differs(self):
        self.assertRegex(self.said("replay", self.file), r"^\d+ cycles replayed bit for bit, \d+ checkpoints")

    def test_show_tells_steps_with_holder_time_and_limit(self):
        story = self.said("show", self.file)
        self.assertRegex(story, r"(?m)^1970-\S+Z   rail \d docking, holder \d+, move \d+: waited \d\.\d{3} s of at most \d\.\d{3} s "
                                r"for the pin to be in; then freeing$")
        self.assertRegex(story, r"(?m)^1970-\S+Z !        command \d+, start changeover: accepted$")

    def test_a_time_and_a_rail_narrow_it(self):
        every = self.said("show", self.file).splitlines()[4:]
        at = every[len(every) // 2].split("Z")[0]
        around = self.said("show", self.file, "--at", at, "--around", "2", "--rail", "1").splitlines()[4:]
        self.assertTrue(0 < len(around) < len(every))
        self.assertTrue(set(around) < set(every))
        self.assertNotIn("rail 2", "".join(line[25:34] for line in around))
        self.assertEqual(around, self.said("show", self.file, "--at", at.split("T")[1], "--around", "2", "--rail", "1").splitlines()[4:])

    def test_axes_have_each_cycle_and_each_field(self):
        rows = list(csv.DictReader(io.StringIO(self.said("show", self.file, "--format", "axes"))))
        for name in ("time", "cycle", "rail", "in.position_um", "in.wire.lost_links", "out.controlword", "out.target_um"):
            self.assertIn(name, rows[0])
        one = [int(row["cycle"]) for row in rows if row["rail"] == "1"]
        self.assertEqual(one, list(range(one[0], one[0] + len(one))))

    def test_registers_are_those_that_change(self):
        rows = list(csv.DictReader(io.StringIO(self.said("show", self.file, "--format", "registers", "--at", "00:00:05"))))
        states = [int(row["value"]) for row in rows if row["register"] == "UNIT_STATE"]
        self.assertGreater(len(states), 2)
        self.assertTrue(all(a != b for a, b in zip(states, states[1:])))

    def test_a_drawing_is_well_formed(self):
        root = xml.etree.ElementTree.fromstring(self.said("show", self.file, "--format", "svg"))
        self.assertTrue(root.tag.endswith("svg"))
        self.assertGreater(len(re.findall("path", xml.etree.ElementTree.tostring(root, "unicode"))), 3)

    def test_damaged_cut_and_foreign_files_are_refused_in_one_line(self):
        whole, other = self.file.read_bytes(), self.file.with_name("other")
        for data, saying in ((whole[:-1], "cut off"), (whole[:200], "cut off"), (b"", "no trace"), (whole + b"x", "behind its end"),
                             (whole[:500] + bytes([whole[500] ^ 4]) + whole[501:], "damaged"), (b"SQLite format 3\0" * 9, "no trace"),
                             (whole[:16] + b"\2" + whole[17:], "version 2")):
            other.write_bytes(data)
            for what in ("show", "replay"):
                self.refused(what, other, saying=saying)
        self.refused("show", other.with_name("none"), saying="No such file")

    def test_list_names_every_trace_however_many_there_are(self):
        book = self.file.with_name("book.db")
        folder = self.file.with_name("book.db.traces")
        self.assertIn("no trace is kept", self.said("list", "--book", book))
        folder.mkdir()
        for i in range(5000):
            os.link(self.file, folder / f"1-a-{i:04}.trace")
        (folder / "1-a-5000.trace.part").write_bytes(b"half")
        listed = [line for line in self.said("list", "--book", book).splitlines() if line.endswith(".trace")]
        self.assertEqual(listed, [str(folder / f"1-a-{i:04}.trace") for i in range(5000)])

    def test_wrong_usage_is_named(self):
        for arguments, saying in (((), "list, save, show or replay"), (("tell", self.file), "'tell'"), (("show",), "one file"),
                                  (("show", self.file, "--format", "png"), "'png'"), (("show", self.file, "--rail", "9"), "--rail"),
                                  (("show", self.file, "--at", "noon"), "'noon'"), (("show", self.file, "--around", "3"), "--at"),
                                  (("replay", self.file, "--rail", "1"), "'--rail'"), (("list",), "--config"),
                                  (("save", "now"), "'now'")):
            self.refused(*arguments, status=2, saying=saying)
        self.refused("show", self.file, "--at", "2026-03-01T14:03", saying="outside of the trace")
        for wrong in ("24:00", "14:60", "14:03:60", "14:03x", "14:", "14:03:", "2026-13-01T14:03", "2026-03-32T14:03",
                      "2026-03-01", "2026-03-01 14:03", " 14:03", "14:03:12.3456", ""):
            self.refused("show", self.file, "--at", wrong, status=2, saying=f"'{wrong}'")


if __name__ == "__main__":
    unittest.main()
