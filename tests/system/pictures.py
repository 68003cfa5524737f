"""Pictures that the program draws, read by other programs: each holder and cut line of an SVG against the plan's numbers,
a PDF by poppler, and the picture in README.

    pictures.py KNIFERAIL KNIFERAILD
"""
import contextlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree

KNIFERAIL, KNIFERAILD = (sys.argv.pop(1) for _ in range(2))
ROOT = pathlib.Path(__file__).resolve().parents[2]
BLUE = (0.0, 44.7, 69.8)  # holders that cut and are measured: src/drawing/pen.c
README_PLAN = ("plan", "--config", "config/small-shear.cfg", "--widths", "125,125,90,90,90,160,160,110", "--web-width", "1000")


def run(*arguments):
    return subprocess.run((KNIFERAIL, *map(str, arguments)), capture_output=True, text=True, timeout=60, check=False, cwd=ROOT)


def colour(text):
    """The three percentages of what cairo writes: rgb(0%, 44.705882%, 69.803922%)."""
    return tuple(round(float(part), 1) for part in re.findall(r"([\d.]+)%", text or ""))


class Svg:
    """The paths of an SVG, each with its corners where they come to lie on the page, and its fill or stroke."""

    def __init__(self, path):
        self.root = xml.etree.ElementTree.parse(path).getroot()
        self.filled, self.stroked = [], []
        for element in self.root.iter("{http://www.w3.org/2000/svg}path"):
            numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", element.get("d", ""))]
            matrix = [float(n) for n in re.findall(r"-?\d+\.?\d*", element.get("transform", "matrix(1,0,0,1,0,0)"))]
            corners = [(matrix[0] * x + matrix[2] * y + matrix[4], matrix[1] * x + matrix[3] * y + matrix[5])
                       for x, y in zip(numbers[::2], numbers[1::2])]
            style = dict(part.split(":", 1) for part in element.get("style", "").split(";") if ":" in part)
            fill, stroke = (element.get(name, style.get(name, "none")).strip() for name in ("fill", "stroke"))
            if fill != "none" and colour(fill):
                self.filled.append((colour(fill), corners))
            if stroke != "none" and colour(stroke):
                self.stroked.append((colour(stroke), corners))

    def boxes(self, ink):
        """Middle, width and top of each filled rectangle of that ink."""
        found = []
        for fill, corners in self.filled:
            xs, ys = [x for x, _ in corners], [y for _, y in corners]
            if fill == ink and 4 <= len(corners) <= 5 and len({round(x, 2) for x in xs}) == 2:
                found.append(((min(xs) + max(xs)) / 2, max(xs) - min(xs), min(ys)))
        return found


class Pictures(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(cls.folder.cleanup)

    def path(self, name):
        return pathlib.Path(self.folder.name) / name

    def check_against_the_plan(self, *plan):
        drawn = run(*plan, "--svg", self.path("p.svg"))
        self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))
        told = json.loads(run(*plan, "--json").stdout)
        svg = Svg(self.path("p.svg"))
        cuts = told["cut_lines_um"]
        # Each cut line is a stroke from the web's top to its bottom, in every rail's row of them: all of one height.
        boxes = sorted(box for box in svg.boxes(BLUE) if box[1] > 1)
        rows = {}
        for x, width, top in boxes:
            rows.setdefault(round(top, 1), []).append((x, width))
        rows = [row for _, row in sorted(rows.items()) if len(row) == len(cuts)]  # the sample of the legend is a row of one
        self.assertEqual(len(rows), len(told["rails"]))
        for rail, row in zip(told["rails"], rows):
            targets = sorted(h["target_um"] for h in rail["holders"] if h["cut"])
            scale = (row[-1][0] - row[0][0]) / (targets[-1] - targets[0])
            for target, (x, _) in zip(targets, sorted(row)):
                self.assertAlmostEqual(x, row[0][0] + (target - targets[0]) * scale, delta=0.02)
            verticals = {round(corners[0][0], 2) for ink, corners in svg.stroked if len(corners) == 2
                         and abs(corners[0][0] - corners[1][0]) < 0.001 and 30 < abs(corners[0][1] - corners[1][1]) < 40}
            for cut in cuts:
                x = row[0][0] + (cut - targets[0]) * scale
                self.assertTrue(any(abs(x - v) < 0.02 for v in verticals), (cut, x, sorted(verticals)))
        return svg

    def test_every_holder_that_cuts_and_every_cut_line_stands_where_the_plan_says(self):
        self.check_against_the_plan(*README_PLAN)
        self.check_against_the_plan("plan", "--config", "config/razor.cfg", "--widths", ",".join(["1.25"] * 20), "--web-width", "26")
        self.check_against_the_plan("plan", "--config", "config/wide-shear.cfg", "--widths", ",".join(["30"] * 60))

    def station_of(self, holders, unit):
        """A station file with two rails of so many holders, and the widths of an order that half of them cut."""
        text = (ROOT / "config/wide-shear.cfg").read_text()
        text = re.sub(r"count = 100;", f"count = {holders};", text)
        text = re.sub(r"most_mm = 3150;", "most_mm = 4200;", text)
        text = re.sub(r"travel_most_mm = 3200;", "travel_most_mm = 4300;", text)
        if unit == "in":
            text = re.sub(r'length_unit = "mm";', 'length_unit = "in";', text)
        path = self.path(f"{holders}-{unit}.cfg")
        path.write_text(text)
        slits = max(1, holders // 2)
        mm = 2400 // slits if slits > 2 else 400
        return path, ",".join([f"{mm} mm"] * slits)

    def test_three_and_128_holders_are_drawn_to_scale_in_mm_and_in(self):
        for holders in (3, 128):
            for unit in ("mm", "in"):
                config, widths = self.station_of(holders, unit)
                svg = self.check_against_the_plan("plan", "--config", config, "--widths", widths)
                _, _, width, height = map(float, svg.root.get("viewBox").split())
                for _, corners in svg.stroked:
                    for x, y in corners:
                        self.assertTrue(-1 <= x <= width + 1 and -1 <= y <= height + 1, (holders, unit, x, y))
                drawn = run("sheet", "--config", config, "--widths", widths, "--pdf", self.path(f"{holders}-{unit}.pdf"))
                self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))

    def test_nothing_is_drawn_beyond_the_page(self):
        for plan in (README_PLAN, ("plan", "--config", "config/wide-shear.cfg", "--widths", ",".join(["26"] * 90))):
            drawn = run(*plan, "--svg", self.path("e.svg"))
            self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))
            svg = Svg(self.path("e.svg"))
            _, _, width, height = map(float, svg.root.get("viewBox").split())
            for _, corners in svg.stroked:
                for x, y in corners:
                    self.assertTrue(-1 <= x <= width + 1 and -1 <= y <= height + 1, (x, y, width, height))

    def test_a_pdf_is_opened_by_poppler_and_its_words_are_there(self):
        self.assertIsNotNone(shutil.which("pdfinfo"), "the package poppler-utils is needed")
        drawn = run(*README_PLAN, "--pdf", self.path("p.pdf"), "--png", self.path("p.png"))
        self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))
        info = subprocess.run(("pdfinfo", self.path("p.pdf")), capture_output=True, text=True, timeout=30, check=True).stdout
        self.assertRegex(info, r"Pages: +1\n")
        words = subprocess.run(("pdftotext", "-layout", self.path("p.pdf"), "-"), capture_output=True, text=True, timeout=30,
                               check=True).stdout
        for word in ("small-shear", "1000 mm wide", "operator-side trim 25 mm", "2 x 125", "scan that verifies", "cut 9"):
            self.assertIn(word, words)
        self.assertEqual(self.path("p.png").read_bytes()[:8], b"\x89PNG\r\n\x1a\n")  # ISO/IEC 15948

    @contextlib.contextmanager
    def station(self, config):
        """The port of a gateway that runs."""
        with subprocess.Popen((KNIFERAILD, "--config", config, "--port", "0", "--print-port"), stdout=subprocess.PIPE,
                              stderr=subprocess.DEVNULL, text=True, cwd=ROOT) as daemon:
            try:
                yield re.search(r"\d+", daemon.stdout.readline()).group()
            finally:
                daemon.terminate()
                self.assertEqual(daemon.wait(30), 0)

    def test_every_holder_whose_place_is_unknown_is_named_within_the_page(self):
        """Two rails of 100 holders, every second one absent: 100 names, which take several lines."""
        text = (ROOT / "config/wide-shear.cfg").read_text()
        for first in (100, 110):
            alike = re.search(rf"\{{ count = 100; (.*) first_mm = {first}; pitch_mm = 30; \}}", text)
            two = f'{{ count = 1; {alike[1]} state = "absent"; }}, {{ count = 1; {alike[1]} }}'
            text = text.replace(alike[0], ", ".join([two] * 50))
        self.path("unknown.cfg").write_text(text)
        with self.station(self.path("unknown.cfg")) as port:
            for command, page in (("status", 842), ("sheet", 595)):
                drawn = run(command, "--port", port, "--pdf", self.path("u.pdf"))
                self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))
                boxes = subprocess.run(("pdftotext", "-bbox", self.path("u.pdf"), "-"), capture_output=True, text=True, timeout=30,
                                       check=True).stdout
                words = re.findall(r'xMax="([\d.]+)"[^>]*>([^<]*)<', boxes)
                self.assertLess(max(float(right) for right, _ in words), page)
                told = " ".join(word for _, word in words)
                for rail in ("upper", "lower"):
                    for holder in range(2, 101, 2):
                        self.assertRegex(told, rf"{rail} holder {holder}\b")

    def test_a_running_station_is_drawn(self):
        with self.station("config/small-shear.cfg") as port:
            drawn = run("status", "--port", port, "--svg", self.path("s.svg"))
            sheet = run("sheet", "--port", port, "--pdf", self.path("live.pdf"))
        self.assertEqual((drawn.returncode, drawn.stdout, drawn.stderr), (0, "", ""))
        self.assertEqual((sheet.returncode, sheet.stderr), (0, ""))
        words = subprocess.run(("pdftotext", "-layout", self.path("live.pdf"), "-"), capture_output=True, text=True, timeout=30,
                               check=True).stdout
        self.assertRegex(words, r"unit STOPPED, no order in force")
        self.assertEqual(len(re.findall("remembered", words)), 24 + 1)  # and once in the legend
        boxes = [box for box in Svg(self.path("s.svg")).boxes((100.0, 100.0, 100.0)) if 5 < box[1] < 60]
        self.assertGreaterEqual(len(boxes), 24)

    def test_a_sheet_has_each_cut_and_knife_on_one_page_of_its_paper(self):
        wide = ("--config", "config/wide-shear.cfg", "--widths", ",".join(["26"] * 90))
        for plan, paper, size in ((README_PLAN[1:], "a4", (595.3, 841.9)), (wide, "letter", (612, 792)), (wide, "a4", (595.3, 841.9))):
            drawn = run("sheet", *plan, "--paper", paper, "--by", "A. Fitter", "--pdf", self.path("s.pdf"), "--svg", self.path("s.svg"))
            self.assertEqual((drawn.returncode, drawn.stdout, drawn.stderr), (0, "", ""))
            info = subprocess.run(("pdfinfo", self.path("s.pdf")), capture_output=True, text=True, timeout=30, check=True).stdout
            self.assertRegex(info, r"Pages: +1\n")
            width, height = map(float, re.search(r"Page size: +([\d.]+) x ([\d.]+)", info).groups())
            self.assertAlmostEqual(width, size[0], delta=0.1)
            self.assertAlmostEqual(height, size[1], delta=0.1)
            words = subprocess.run(("pdftotext", "-layout", self.path("s.pdf"), "-"), capture_output=True, text=True, timeout=30,
                                   check=True).stdout
            told = json.loads(run("plan", *plan, "--json").stdout)
            for cut in told["cut_lines_um"]:
                self.assertIn(f"{cut / 1000:.3f}", words)
            for rail in told["rails"]:
                for holder in rail["holders"]:
                    self.assertIn(f"{holder['target_um'] / 1000:.3f}", words)
            left = told["cut_lines_um"]
            for a, b in zip(left, left[1:]):
                self.assertRegex(words, rf"{(a + b) // 2 / 1000:.2f}")  # lane centres
            for word in ("by A. Fitter", "not a safety", "Lock out", "nobody in the zone", "Checked by"):
                self.assertIn(word, words)

    def test_a_sheet_of_a_plan_takes_every_option_of_an_order(self):
        """An untrimmed operator edge: the first slit has a row before the first cut's."""
        order = ("--config", "config/small-shear.cfg", "--widths", "440,420", "--untrimmed", "operator", "--compensation", "100",
                 "--next-widths", "300,300")
        drawn = run("sheet", *order, "--pdf", self.path("u.pdf"))
        self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))
        words = subprocess.run(("pdftotext", "-layout", self.path("u.pdf"), "-"), capture_output=True, text=True, timeout=30,
                               check=True).stdout
        cuts = json.loads(run("plan", *order, "--json").stdout)["cut_lines_um"]
        self.assertEqual(len(cuts), 2)
        for cut in cuts:
            self.assertIn(f"{cut / 1000:.3f}", words)
        self.assertIn("no operator-side trim", words)
        for option in (("--untrimmed", "drive"), ("--compensation", "1"), ("--next-widths", "5")):
            self.assertEqual(run("sheet", "--pdf", self.path("u.pdf"), *option).returncode, 2, option)

    def test_a_sheet_of_a_station_that_can_not_be_read_and_of_a_refused_order_is_status_1(self):
        refused = run("sheet", "--config", "config/small-shear.cfg", "--widths", "5", "--pdf", self.path("n.pdf"))
        self.assertEqual((refused.returncode, refused.stdout), (1, ""))
        self.assertIn("refused: ", refused.stderr)
        self.assertFalse(self.path("n.pdf").exists())
        for arguments in ((), ("--pdf", "x", "--paper", "a5"), ("--pdf", "x", "--config", "y"), ("--pdf", "x", "--trim", "1")):
            self.assertEqual(run("sheet", *arguments).returncode, 2)

    def test_a_file_that_can_not_be_written_is_named_and_status_1(self):
        drawn = run(*README_PLAN, "--svg", self.path("no/such/folder.svg"))
        self.assertEqual(drawn.returncode, 1)
        self.assertIn("folder.svg: No such file or directory", drawn.stderr)
        if os.path.exists("/dev/full"):
            full = run(*README_PLAN, "--pdf", "/dev/full")
            self.assertEqual(full.returncode, 1)
            self.assertIn("/dev/full", full.stderr)

    def test_the_picture_in_readme_is_what_the_program_draws(self):
        """Letters are left out: their outlines are the font's, and another release of it has others."""
        drawn = run(*README_PLAN, "--svg", self.path("r.svg"))
        self.assertEqual((drawn.returncode, drawn.stderr), (0, ""))
        kept, fresh = Svg(ROOT / "src/drawing/example.svg"), Svg(self.path("r.svg"))
        self.assertIn("src/drawing/example.svg", (ROOT / "README.md").read_text())
        self.assertIn(" ".join(README_PLAN), (ROOT / "README.md").read_text())
        for (ink, corners), (other_ink, others) in zip(kept.stroked, fresh.stroked, strict=True):
            self.assertEqual(ink, other_ink)
            for (x, y), (other_x, other_y) in zip(corners, others, strict=True):
                self.assertAlmostEqual(x, other_x, delta=0.02)
                self.assertAlmostEqual(y, other_y, delta=0.02)
        self.assertEqual(len(kept.boxes(BLUE)), len(fresh.boxes(BLUE)))


if __name__ == "__main__":
    unittest.main(verbosity=2)
