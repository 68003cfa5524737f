"""Remedies of alarms and results, and the findings of the commissioning, which send somebody to a part of the machine: each of them
says that drives and air are locked out first. It is read off the sources, because no test walks to every finding.

Lockout before hands come near: ISO 14118 and OSHA 29 CFR 1910.147 (both from memory).
"""
import pathlib
import re
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
TEXTS = ("include/kniferail/alarm.h", "include/kniferail/base.h", "src/base/remedy.c", "src/cli/calibrate_text.c", "src/commission/*.c")

LITERAL = r'"((?:[^"\\\n]|\\.)*)"'
# A literal may be broken into several, with the conversions of <inttypes.h> between them, and in a macro over several lines.
JOINED = re.compile(rf"{LITERAL}(?:[\s\\]*(?:PRI\w+\s*)?{LITERAL})*")
PARTS = r"brakes?|pins?|brackets?|couplings?|loose|dirt|blades?|clamps?|flags?|switch(?:es)?|sensors?|cables?|valves?|encoders?|rack|pair"
SENDS = re.compile(rf"\b(?:look(?: also| first)?(?: at| for| whether)|check|mount|true the|clean)\b[^.;]*\b(?:{PARTS})\b"
                   r"|\bflags?\b[^.;]*\bmeasured anew", re.I)
LOCKED = re.compile(r"\block(?:ed)? out\b", re.I)
# What is looked at in a cabinet: the network, and a thermometer that the PLC reads.
ELSEWHERE = ("Check the cables, the network switches and other traffic between the gateway and the drive",
             "Check that the frame's sensor is connected, and that the PLC writes FRAME_TEMPERATURE")


def texts(source):
    source = re.sub(r"/\*.*?\*/", "", source, flags=re.S)
    return ["".join(re.findall(LITERAL, match[0])) for match in JOINED.finditer(source)]


def unsafe(text):
    return bool(SENDS.search(text)) and not LOCKED.search(text) and not text.startswith(ELSEWHERE)


class Lockout(unittest.TestCase):
    def test_whoever_is_sent_to_a_part_of_the_machine_is_told_to_lock_it_out(self):
        files = [path for pattern in TEXTS for path in sorted(ROOT.glob(pattern))]
        self.assertGreater(len(files), len(TEXTS))
        all_texts = [(path.relative_to(ROOT), text) for path in files for text in texts(path.read_text(encoding="utf-8"))]
        self.assertEqual([f"{path}: {text}" for path, text in all_texts if unsafe(text)], [])
        self.assertGreater(sum(bool(SENDS.search(text)) for _, text in all_texts), 30, "the texts are found")

    def test_the_rule_knows_such_texts(self):
        for text in ("look at the brake, at the play of the pin, and at carriage.settle_ms", "Check the switch's bracket.",
                     "the places of the flags, measured anew", "%.3f; or true the blade and its seat"):
            self.assertTrue(unsafe(text), text)
            self.assertFalse(unsafe("Lock out drives and air. " + text))
        self.assertFalse(unsafe("set a homing method that looks for a switch"))
        self.assertEqual(texts('f("a %" PRId32 " b"\n  " c", /* "d" */ "e");\n#define X "g" \\\n "h"'), ["a % b c", "e", "gh"])


if __name__ == "__main__":
    unittest.main()
