"""What `cmake --install` puts under a prefix of its own: everything is there, everything names its own places, the manual
pages are good, completion knows the commands; and `uninstall` takes it away again but for the station file.

Called with the build's folder. Nothing outside a temporary folder is written but the build's install_manifest.txt.
"""
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
BUILD = pathlib.Path(sys.argv.pop(1)).resolve()
PAGES = {"kniferail": 1, "kniferail-panel": 1, "kniferail-sim": 1, "kniferail-station": 5, "kniferail-faults": 5, "kniferaild": 8}


def run(*command, **more):
    return subprocess.run([str(part) for part in command], capture_output=True, text=True, timeout=120, check=True, **more).stdout


class Installation(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="kr_install_")
        cls.prefix = pathlib.Path(cls.folder.name) / "plant"
        environment = {name: value for name, value in os.environ.items() if name != "DESTDIR"}
        run("cmake", "--install", BUILD, "--prefix", cls.prefix, env=environment)

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def page(self, name):
        return run("gunzip", "-c", self.prefix / f"share/man/man{PAGES[name]}/{name}.{PAGES[name]}.gz")

    def test_the_programs_run_and_read_the_station_file_that_came_with_them(self):
        for program in ("kniferail", "kniferaild", "kniferail-panel", "kniferail-sim"):
            self.assertIn("1.0", run(self.prefix / "bin" / program, "--version"))
        said = run(self.prefix / "bin/kniferail", "check", self.prefix / "etc/kniferail/station.cfg")
        self.assertIn("small-shear", said)
        self.assertIn("/var/lib/kniferail/book.db", (self.prefix / "etc/kniferail/station.cfg").read_text(encoding="utf-8"))

    def test_the_units_name_their_own_places_and_systemd_finds_nothing_wrong_with_them(self):
        for name, start in (("kniferaild", f"kniferaild --config {self.prefix}/etc/kniferail/station.cfg --journal"),
                            ("kniferail-panel", "kniferail-panel --station 127.0.0.1:1502")):
            path = self.prefix / f"lib/systemd/system/{name}.service"
            unit = path.read_text(encoding="utf-8")
            self.assertIn(f"\nExecStart={self.prefix}/bin/{start}\n", unit)
            self.assertNotIn("/usr/local", unit)
            if shutil.which("systemd-analyze") is not None:
                done = subprocess.run(["systemd-analyze", "--man=no", "verify", path], capture_output=True, text=True, timeout=60, check=False)
                self.assertEqual((done.returncode, done.stderr), (0, ""), name)

    def test_every_page_is_good_and_names_its_own_places(self):
        for name in PAGES:
            page = self.page(name)
            done = subprocess.run(["groff", "-man", "-ww", "-Tascii", "-rLL=1000n"], input=page, capture_output=True, text=True, timeout=60, check=True)
            self.assertEqual(done.stderr, "", name)
            elsewhere = re.findall(r"/usr/local|(?<![\w/])config/|(?<![\w/])sim/", page)
            self.assertEqual(elsewhere, [], name)
            self.assertEqual(page.count("/etc/kniferail"), page.count(f"{self.prefix}/etc/kniferail"), name)
            self.assertIn("not a safety function", " ".join(page.split()), name)
        self.assertIn(f"{self.prefix}/etc/kniferail/station.cfg", self.page("kniferaild"))

    def test_the_page_of_the_station_file_has_every_setting(self):
        page = self.page("kniferail-station").replace("\\-", "-")
        settings = re.findall(r"(?m)^  (\S+)$", run(self.prefix / "bin/kniferail", "help", "config"))
        self.assertGreater(len(settings), 100)
        for setting in settings:
            self.assertRegex(page, rf"(?m)^\.B {re.escape(setting)}$")

    def test_the_page_of_fault_scripts_has_every_fault(self):
        page = self.page("kniferail-faults").replace("\\-", "-")
        faults = re.findall(r'(?m)^F\(\w+, "([\w-]+)"', (ROOT / "sim/faults.def").read_text(encoding="utf-8"))
        self.assertGreater(len(faults), 20)
        for fault in faults:
            self.assertIn(f".B {fault}\n", page)

    def test_completion_knows_commands_and_options(self):
        script = self.prefix / "share/bash-completion/completions/kniferail"
        program = self.prefix / "bin/kniferail"

        def completed(*words):
            line = " ".join(f'"{word}"' for word in (program, *words))
            return run("bash", "-c", f'. "{script}"; COMP_WORDS=({line}); COMP_CWORD={len(words)}; _kniferail; echo "${{COMPREPLY[@]}}"').split()

        self.assertEqual(completed("hist"), ["history"])
        self.assertEqual(completed("book", "pr"), ["prune"])
        self.assertEqual(completed("book", "prune", "--go"), ["--go-ahead"])
        self.assertEqual(completed("trace", "re"), ["replay"])
        self.assertIn("--watch", completed("status", "--"))

    def test_a_second_installation_keeps_the_station_file_and_uninstalling_leaves_it_alone(self):
        prefix = pathlib.Path(self.folder.name) / "second"
        run("cmake", "--install", BUILD, "--prefix", prefix)
        station = prefix / "etc/kniferail/station.cfg"
        station.write_text("# a plant's own\n", encoding="utf-8")
        run("cmake", "--install", BUILD, "--prefix", prefix)
        self.assertEqual(station.read_text(encoding="utf-8"), "# a plant's own\n")
        run("cmake", "-D", f"manifest={BUILD}/install_manifest.txt", "-P", ROOT / "src/package/uninstall.cmake")
        self.assertEqual([path for path in prefix.rglob("*") if path.is_file()], [station])
        self.assertEqual(sorted(prefix.glob("share/doc/*")), [])


if __name__ == "__main__":
    unittest.main(verbosity=2)
