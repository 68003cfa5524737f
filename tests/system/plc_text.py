"""What a PLC programmer's tool reads: the types that `kniferail map --format st` prints are held against the map in JSON, by an
interpreter that takes the grammar of IEC 61131-3 and nothing else; and that interpreter refuses what the grammar does not have.

    plc_text.py KNIFERAIL
"""
import json
import subprocess
import sys
import unittest

import st

KNIFERAIL = sys.argv.pop(1)
WORDS = {"WORD": 1, "UINT": 1, "INT": 1, "DINT": 2, "UDINT": 2}


def printed(form):
    return subprocess.run([KNIFERAIL, "map", "--format", form], check=True, capture_output=True, text=True, timeout=30).stdout


def words_of(kind):
    if isinstance(kind, st.ArrayType):
        return (kind.high - kind.low + 1) * words_of(kind.of)
    return WORDS[kind]


class Types(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.map = json.loads(printed("json"))
        cls.parser = st.Parser(st.Clock())
        cls.parser.file("types.st", printed("st"))

    def test_each_block_is_a_structure_with_its_gaps_and_an_array_of_words(self):
        for block in self.map["blocks"]:
            rows = [r for r in self.map["registers"] if r["block"] == block["name"]]
            if not rows:
                continue
            name = "KR_" + (block["name"][:-2] if rows[0]["per_rail"] else block["name"])
            self.assertEqual(words_of(self.parser.types[name + "_WORDS"]), block["words"])
            fields, at = self.parser.types[name + "_BLOCK"].fields, {}
            where = block["first"]
            for field, kind in fields.items():
                at[field] = where
                where += words_of(kind)
            self.assertEqual(where, block["first"] + block["words"], name)
            for r in rows:
                self.assertEqual(at[r["name"]], r["address"], r["name"])
                kind = fields[r["name"]]
                kind = kind.of if isinstance(kind, st.ArrayType) else kind
                wanted = {"U16": "UINT", "I16": "INT", "U32": "UDINT", "I32": "DINT", "TEXT": "WORD"}[r["type"]]
                self.assertEqual(kind, "WORD" if r["unit"] == "bits" else wanted, r["name"])

    def test_every_number_and_bit_is_a_constant(self):
        tables = {name: {f"KR_{key}": row["number"] for key, row in rows.items()} for name, rows in self.map["numbers"].items()}
        tables["RESULT"] = {f"KR_{row['name']}": row["code"] for row in self.map["results"]}
        tables["ALARM"] = {f"KR_{row['name']}": row["code"] for row in self.map["alarms"]}
        for name, rows in tables.items():
            bits = name in self.map["masks"]
            constants = self.parser.types[f"KR_{name}_{'BITS' if bits else 'NUMBERS'}"].initial
            self.assertEqual(constants, {key: 1 << number if bits else number for key, number in rows.items()})

    def test_every_result_and_alarm_has_its_sentence_and_its_remedy(self):
        for name, table in (("KR_RESULT_TEXT", "results"), ("KR_ALARM_TEXT", "alarms")):
            block = self.parser.pous[name]
            for row in self.map[table]:
                frame = block.make()
                frame["CODE"] = row["code"]
                block.body(frame, None)
                text = row["text"].replace("%i", "[item]").replace("%v", "[value]").replace("%l", "[limit]")
                self.assertEqual((frame["TEXT"], frame["REMEDY"]), (text, row["remedy"]))
                self.assertLessEqual(max(len(frame["TEXT"]), len(frame["REMEDY"])), 250, row["name"])


class Grammar(unittest.TestCase):
    """The interpreter's own: what is no Structured Text of the standard is refused where it stands."""

    FRAME = "PROGRAM P\nVAR\n  a : UINT; w : WORD; b : BOOL; d : DINT; t : TON; s : ARRAY [1..2] OF UINT;{}\nEND_VAR\n{}\nEND_PROGRAM\n"

    def run_text(self, body, more=""):
        program = st.Program.of({"x.st": self.FRAME.format(more, body)}, "P")
        program.scan(0)
        return program

    def refused(self, what, body, more=""):
        with self.assertRaisesRegex(st.StError, what):
            self.run_text(body, more)

    def test_what_the_standard_has_runs(self):
        program = self.run_text("""FOR a := 1 TO 2 DO s[a] := a * 3; END_FOR;
CASE a OF 1, 4..9: d := -1; 2: d := UINT_TO_DINT(s[2]) + 1; ELSE d := 0; END_CASE;
IF a = 2 AND NOT b THEN w := SHL(WORD#16#00FF, 4) OR 16#8000; ELSIF b THEN w := 0; END_IF;
t(IN := TRUE, PT := T#1m2s);""")
        self.assertEqual((program["S"].items, program["D"], program["W"]), ([3, 6], 7, 0x8FF0))
        self.assertEqual(program["T"]["PT"], 62000)

    def test_step_is_no_name(self):
        self.refused("STEP is no name", "step := 1;")
        self.refused("STEP is no name", "a := 1;", " step : UINT;")

    def test_every_statement_ends_with_a_semicolon(self):
        self.refused("where ; has to be", "IF b THEN a := 1; END_IF\na := 2;")
        self.refused("where ; has to be", "CASE a OF 1: b := TRUE; END_CASE\na := 2;")
        self.refused("where ; has to be", "a := 1\nb := TRUE;")

    def test_a_bit_is_not_reached_by_its_number(self):
        self.refused("begins nothing|bit of UINT", "a.%X0 := TRUE;")
        self.refused("bit of UINT", "b := a.0;")

    def test_only_instances_of_blocks_and_functions_are_called(self):
        self.refused("type: a statement calls", "TON(IN := b, PT := T#1s);")
        self.refused("not declared", "Command(1, 0);")
        self.refused("no block that can be called", "a(b);")
        self.refused("NEXT is no function", "a := Next(a);")

    def test_everything_is_declared(self):
        self.refused("C is not declared", "c := 1;")
        self.refused("C is not declared", "a := c + 1;")
        self.refused("no type that was declared", "a := 1;", " c : KR_NOTHING;")
        self.refused("declared twice", "a := 1;", " A : UINT;")

    def test_types_meet_only_by_conversion(self):
        self.refused("conversion has to be written", "a := w;")
        self.refused("conversion has to be written", "d := d + a;")
        self.refused("where a BOOL has to be", "IF a THEN b := TRUE; END_IF;")
        self.refused("is for bits", "a := a AND 1;")
        self.refused("is no UINT", "a := 65536;")
        self.refused("no output", "t(IN => b);")

    def test_what_vendors_add_is_refused(self):
        for text in ("// a comment", "a += 1;", "{attribute 'x'} a := 1;", "a := 1 ? 2 : 3;", "w := 2#1_", "__x := 1;"):
            self.refused("x.st:", text)

    def test_constants_and_inputs_are_not_written(self):
        self.refused("can't be assigned", "k := 2;", "\nEND_VAR\nVAR CONSTANT\n  k : UINT := 1;")
        self.refused("can't be assigned", "t.Q := TRUE;")

    def test_numbers_that_leave_their_type_end_the_program(self):
        self.refused("leaves the range of UINT", "a := 65535; a := a + 1;")
        self.refused("leaves the range of UINT", "a := 0; a := a - 1;")
        self.refused("index 3 is outside", "a := 3; s[a] := 1;")


if __name__ == "__main__":
    unittest.main()
