"""An interpreter of that part of IEC 61131-3 Structured Text in which config/plc is written: the grammar and the types of the
standard's second edition (2003; its annexes B and C, given from memory), and nothing that a vendor adds. What the grammar does
not have, what is not declared and what would need a conversion that is not written is refused before anything runs, with file
and line. Arithmetic that leaves its type's range ends the program: the standard calls that an error.

    program = Program.of({"types.st": text, ...}, "KR_EXAMPLE")
    program.scan(now_ms)           one pass
    program["RUN"]                 a variable of the program, upper case; arrays are Array, structures dict
"""
import re


class StError(Exception):
    """What is wrong, with file and line."""


KEYWORDS = set("""ACTION ARRAY AT BY CASE CONFIGURATION CONSTANT DO ELSE ELSIF EN END_ACTION END_CASE END_CONFIGURATION END_FOR
END_FUNCTION END_FUNCTION_BLOCK END_IF END_PROGRAM END_REPEAT END_RESOURCE END_STEP END_STRUCT END_TRANSITION END_TYPE END_VAR
END_WHILE ENO EXIT FALSE FOR FROM FUNCTION FUNCTION_BLOCK F_EDGE IF INITIAL_STEP MOD NON_RETAIN NOT OF ON OR PROGRAM READ_ONLY
READ_WRITE REPEAT RESOURCE RETAIN RETURN R_EDGE STEP STRING STRUCT TASK THEN TO TRANSITION TRUE TYPE UNTIL VAR VAR_ACCESS
VAR_CONFIG VAR_EXTERNAL VAR_GLOBAL VAR_INPUT VAR_IN_OUT VAR_OUTPUT VAR_TEMP WHILE WITH WSTRING XOR AND DATE DATE_AND_TIME DT TOD
TIME_OF_DAY REAL LREAL SINT LINT USINT ULINT LWORD CLASS METHOD INTERFACE NAMESPACE CONTINUE REF_TO NULL THIS SUPER""".split())
RANGE = {"BOOL": (0, 1), "BYTE": (0, 255), "WORD": (0, 65535), "DWORD": (0, 2**32 - 1), "INT": (-32768, 32767),
         "DINT": (-2**31, 2**31 - 1), "UINT": (0, 65535), "UDINT": (0, 2**32 - 1), "TIME": (-2**31, 2**31 - 1)}
INTEGERS, BITS = {"INT", "DINT", "UINT", "UDINT"}, {"BOOL", "BYTE", "WORD", "DWORD"}
ELEMENTARY = set(RANGE) | {"STRING"}
CONVERSIONS = {f"{a}_TO_{b}": (a, b) for a in INTEGERS | BITS - {"BOOL"} | {"TIME"} for b in INTEGERS | BITS - {"BOOL"} | {"TIME"}
               if a != b}
STANDARD = {"R_TRIG", "F_TRIG", "TON", "TOF", "TP", "SR", "RS", "CTU", "SHL", "SHR", "SEL", "MIN", "MAX", "LIMIT", "ABS", "MUX", "LEN",
            "LEFT", "RIGHT", "MID", "CONCAT", "INSERT", "DELETE", "REPLACE", "FIND", "ROL", "ROR", "SQRT"} | set(CONVERSIONS)
SECTIONS = {"VAR", "VAR_INPUT", "VAR_OUTPUT", "VAR_IN_OUT", "VAR_TEMP"}
TOKEN = re.compile(r"""(?P<space>\s+|\(\*.*?\*\))|(?P<time>(?:T|TIME)\#-?(?:\d+(?:\.\d+)?(?:ms|d|h|m|s)_?)+)
    |(?P<typed>[A-Za-z]\w*\#(?:16\#[0-9A-F_]+|-?\d[\d_]*))|(?P<based>(?:2|8|16)\#[0-9A-F_]+)|(?P<number>\d[\d_]*)(?!\.\d|\w)
    |(?P<name>[A-Za-z_]\w*)|(?P<string>'(?:\$.|[^'$])*')|(?P<sign>:=|=>|<>|<=|>=|\.\.|[-+*/=<>()\[\],;:.&])""",
                   re.VERBOSE | re.DOTALL | re.IGNORECASE)
LEVELS = (("OR",), ("XOR",), ("AND", "&"), ("=", "<>"), ("<", ">", "<=", ">="), ("+", "-"), ("*", "/", "MOD"))


def number_of(text):
    base, _, digits = text.rpartition("#")
    return int(digits.replace("_", ""), int(base) if base else 10)


def milliseconds(text):
    units = {"d": 86400000, "h": 3600000, "m": 60000, "s": 1000, "ms": 1}
    return int(sum(float(n) * units[u.lower()] for n, u in re.findall(r"(\d+(?:\.\d+)?)(ms|[dhms])", text, re.I)))


def lex(file, text):
    tokens, at, line = [], 0, 1
    while at < len(text):
        found = TOKEN.match(text, at)
        if not found:
            raise StError(f"{file}:{line}: {text[at]!r} begins nothing that the grammar has")
        kind, word = found.lastgroup, found.group()
        if kind == "name" and ("__" in word or word.endswith("_")):
            raise StError(f"{file}:{line}: {word}: underscores stand alone, and never at the end")
        if kind != "space":
            upper = word.upper() if kind != "string" else word
            tokens.append(("key" if kind == "name" and upper in KEYWORDS | ELEMENTARY else kind, upper, f"{file}:{line}"))
        line += word.count("\n")
        at = found.end()
    return tokens + [("end", "the end of the text", f"{file}:{line}")]


class Array:
    def __init__(self, low, items):
        self.low, self.items = low, items

    def __getitem__(self, index):
        if not 0 <= index - self.low < len(self.items):
            raise StError(f"index {index} is outside {self.low}..{self.low + len(self.items) - 1}")
        return self.items[index - self.low]

    def __setitem__(self, index, value):
        self[index]
        self.items[index - self.low] = value


def fill(target, source):
    """An aggregate keeps its identity and takes the other's values."""
    pairs = enumerate(source.items) if isinstance(target, Array) else source.items()
    inside = target.items if isinstance(target, Array) else target
    for key, value in list(pairs):
        if isinstance(value, (Array, dict)):
            fill(inside[key], value)
        else:
            inside[key] = value


# A type is the name of an elementary one, or one of these; two are the same if they are the same object.
class ArrayType:
    def __init__(self, low, high, of):
        self.low, self.high, self.of = low, high, of

    def make(self):
        return Array(self.low, [make(self.of) for _ in range(self.low, self.high + 1)])


class StructType:
    def __init__(self):
        self.fields, self.initial = {}, {}

    def make(self):
        return {name: make(kind, self.initial.get(name)) for name, kind in self.fields.items()}


class Pou:
    """A function, function block or program: what it declares, and what it does with a frame of variables."""

    def __init__(self, kind, name):
        self.kind, self.name, self.result = kind, name, None
        self.variables, self.section, self.initial, self.constants = {}, {}, {}, set()
        self.body = None

    def make(self):
        frame = {name: make(kind, self.initial.get(name)) for name, kind in self.variables.items()
                 if self.section[name] != "VAR_IN_OUT"}
        if self.kind == "FUNCTION":
            frame[self.name] = make(self.result)
        return frame

    def inputs(self):
        return [name for name, section in self.section.items() if section == "VAR_INPUT"]


def make(kind, initial=None):
    if isinstance(kind, str):
        return ("" if kind == "STRING" else 0) if initial is None else initial
    return kind.make()


class StandardBlock(Pou):
    def __init__(self, name, inputs, outputs, inner, body):
        super().__init__("FUNCTION_BLOCK", name)
        for section, rows in (("VAR_INPUT", inputs), ("VAR_OUTPUT", outputs), ("VAR", inner)):
            for row, kind in rows.items():
                self.variables[row], self.section[row] = kind, section
        self.body = body


def ton(f, clock):
    """Table 38: Q once IN was 1 for PT."""
    if not f["IN"]:
        f["SINCE"], f["RUNS"] = 0, 0
    elif not f["RUNS"]:
        f["SINCE"], f["RUNS"] = clock.now, 1
    f["ET"] = min(clock.now - f["SINCE"], f["PT"]) if f["RUNS"] else 0
    f["Q"] = int(f["RUNS"] and clock.now - f["SINCE"] >= f["PT"])


def standard_blocks():
    return {"TON": StandardBlock("TON", {"IN": "BOOL", "PT": "TIME"}, {"Q": "BOOL", "ET": "TIME"}, {"SINCE": "DINT", "RUNS": "BOOL"}, ton)}


class Clock:
    now = 0


def type_name(kind):
    return kind if isinstance(kind, str) else "a structure, array or block"


class Parser:
    """Parses, checks and makes functions of a frame: every expression is (type, function); the type of a number that has none
    is LITERAL, which fits every integer and bit string that can hold it."""

    def __init__(self, clock):
        self.clock, self.types, self.pous, self.tokens, self.at, self.pou = clock, {}, standard_blocks(), [], 0, None
        self.configured = []

    # ---- tokens

    def look(self, *words):
        kind, word, _ = self.tokens[self.at]
        return kind in ("key", "sign", "name") and word in words

    def fail(self, what):
        raise StError(f"{self.tokens[self.at][2]}: {what}")

    def take(self, *words):
        if words and not self.look(*words):
            self.fail(f"{self.tokens[self.at][1]} where {' or '.join(words)} has to be")
        self.at += 1
        return self.tokens[self.at - 1][1]

    def accept(self, *words):
        return self.take() if self.look(*words) else None

    def name(self, what):
        kind, word, _ = self.tokens[self.at]
        if kind != "name":
            self.fail(f"{word} is no name for {what}" + (": it is a word of the language" if kind == "key" else ""))
        return self.take()

    def new_name(self, what, taken):
        word = self.name(what)
        if word in STANDARD:
            self.fail(f"{word} is a function of the standard, no name for {what}")
        if word in taken:
            self.fail(f"{word} is declared twice")
        return word

    # ---- declarations

    def file(self, name, text):
        self.tokens, self.at = lex(name, text), 0
        readers = {"TYPE": self.type_block, "FUNCTION": self.pou_text, "FUNCTION_BLOCK": self.pou_text, "PROGRAM": self.pou_text,
                   "CONFIGURATION": self.configuration}
        while self.tokens[self.at][0] != "end":
            readers[self.look(*readers) and self.tokens[self.at][1] or self.take(*readers)]()

    def type_block(self):
        self.take("TYPE")
        while not self.accept("END_TYPE"):
            name = self.new_name("a type", {**self.types, **self.pous})
            self.take(":")
            self.types[name] = self.spec()
            self.take(";")

    def spec(self):
        if self.accept("ARRAY"):
            self.take("[")
            low = self.plain_number()
            self.take("..")
            high = self.plain_number()
            self.take("]")
            self.take("OF")
            return ArrayType(low, high, self.spec())
        if self.accept("STRUCT"):
            struct = StructType()
            while not self.accept("END_STRUCT"):
                self.declaration(struct.fields, struct.initial)
            if not struct.fields:
                self.fail("a structure without a field")
            return struct
        if self.accept("STRING"):
            if self.accept("["):
                self.plain_number()
                self.take("]")
            return "STRING"
        if self.look(*RANGE):
            return self.take()
        word = self.name("a type")
        kind = self.types.get(word) or self.pous.get(word)
        if kind is None or getattr(kind, "kind", "FUNCTION_BLOCK") != "FUNCTION_BLOCK":
            self.fail(f"{word} is no type that was declared before")
        return kind

    def plain_number(self):
        sign = -1 if self.accept("-") else 1
        if self.tokens[self.at][0] != "number":
            self.fail(f"{self.tokens[self.at][1]} where a number has to be")
        return sign * number_of(self.take())

    def declaration(self, into, initial):
        names = [self.new_name("a variable", into)]
        while self.accept(","):
            names.append(self.new_name("a variable", [*into, *names]))
        self.take(":")
        kind = self.spec()
        value = None
        if self.accept(":="):
            given, function = self.expression()
            value = function({})
            self.fits(kind, given, value, "an initial value")
        self.take(";")
        for name in names:
            into[name] = kind
            if value is not None:
                initial[name] = value
        return names

    def pou_text(self):
        kind = self.take()
        pou = self.pou = Pou(kind, self.new_name("a program unit", {**self.types, **self.pous}))
        if kind == "FUNCTION":
            self.take(":")
            pou.result = self.spec()
        while self.look(*SECTIONS):
            section = self.take()
            constant = self.accept("CONSTANT")
            self.accept("RETAIN")
            while not self.accept("END_VAR"):
                for name in self.declaration(pou.variables, pou.initial):
                    pou.section[name] = section
                    pou.constants |= {name} if constant else set()
                    if section == "VAR_IN_OUT" and isinstance(pou.variables[name], str):
                        self.fail("this interpreter has no VAR_IN_OUT of elementary types")
        statements = self.statements("END_" + kind)
        self.take("END_" + kind)
        pou.body = lambda frame, clock: statements(frame)
        self.pous[pou.name] = pou
        self.pou = None

    def configuration(self):
        """CONFIGURATION RESOURCE .. ON .. TASK name(INTERVAL := t, PRIORITY := n); PROGRAM name WITH task : type; ..."""
        self.take("CONFIGURATION")
        self.name("a configuration")
        self.take("RESOURCE")
        self.name("a resource")
        self.take("ON")
        self.name("a kind of resource")
        self.take("TASK")
        task = self.name("a task")
        for word, sign in (("(", ""), ("INTERVAL", ":="), (",", ""), ("PRIORITY", ":=")):
            self.take(word)
            if sign:
                self.take(sign)
                self.expression()
        self.take(")")
        self.take(";")
        self.take("PROGRAM")
        self.name("a program")
        self.take("WITH")
        self.take(task)
        self.take(":")
        program = self.name("a type of program")
        if getattr(self.pous.get(program), "kind", "") != "PROGRAM":
            self.fail(f"{program} is no program")
        self.take(";")
        self.take("END_RESOURCE")
        self.take("END_CONFIGURATION")
        self.configured.append(program)

    # ---- statements

    def statements(self, *ends):
        row = []
        while not self.look(*ends):
            if self.accept(";"):
                continue
            row.append(self.statement())
        return lambda frame: next((True for run in row if run(frame)), False)

    def statement(self):
        """A function that returns True if the program unit is to end."""
        if self.look("IF"):
            return self.if_statement()
        if self.look("CASE"):
            return self.case_statement()
        if self.look("FOR"):
            return self.for_statement()
        if self.accept("RETURN"):
            self.take(";")
            return lambda frame: True
        where = self.tokens[self.at][2]
        word = self.name("a statement's beginning")
        self.at -= 1
        if word in self.pous and word != self.pou.name:
            self.fail(f"{word} is a block's or function's type: a statement calls a block that is declared as a variable")
        kind, get, put = self.variable(True)
        if self.look("("):
            run = self.block_call(word, kind, get)
        else:
            self.take(":=")
            given, value = self.expression()
            self.fits(kind, given, self.constant_of(given, value), "an assignment")
            if put is None:
                self.fail(f"{word} can't be assigned to")
            run = self.assignment(kind, get, put, value)
        self.take(";")

        def guarded(frame):
            try:
                run(frame)
            except StError as wrong:
                raise wrong if re.match(r"\S+:\d+: ", str(wrong)) else StError(f"{where}: {wrong}") from None
        return guarded

    @staticmethod
    def assignment(kind, get, put, value):
        if isinstance(kind, str):
            return lambda frame: put(frame, value(frame))
        return lambda frame: fill(get(frame), value(frame))

    @staticmethod
    def constant_of(kind, function):
        return function({}) if kind == "LITERAL" else None

    def condition(self):
        kind, function = self.expression()
        if kind != "BOOL":
            self.fail(f"{type_name(kind)} where a BOOL has to be")
        return function

    def if_statement(self):
        branches, otherwise = [], lambda frame: False
        self.take("IF")
        while True:
            condition = self.condition()
            self.take("THEN")
            branches.append((condition, self.statements("ELSIF", "ELSE", "END_IF")))
            if not self.accept("ELSIF"):
                break
        if self.accept("ELSE"):
            otherwise = self.statements("END_IF")
        self.take("END_IF")
        self.take(";")
        return lambda frame: next((run for test, run in branches if test(frame)), otherwise)(frame)

    def case_statement(self):
        self.take("CASE")
        kind, value = self.expression()
        if kind not in INTEGERS:
            self.fail(f"CASE is of an integer, not of {type_name(kind)}")
        self.take("OF")
        rows, otherwise = [], lambda frame: False
        while not self.look("ELSE", "END_CASE"):
            labels = []
            while True:
                low = self.plain_number()
                labels.append((low, self.plain_number() if self.accept("..") else low))
                if not self.accept(","):
                    break
            self.take(":")
            row = []
            while not self.look("ELSE", "END_CASE") and self.tokens[self.at][0] != "number":
                if not self.accept(";"):
                    row.append(self.statement())
            rows.append((labels, lambda frame, row=tuple(row): next((True for run in row if run(frame)), False)))
        if self.accept("ELSE"):
            otherwise = self.statements("END_CASE")
        self.take("END_CASE")
        self.take(";")

        def run(frame):
            number = value(frame)
            return next((row for labels, row in rows if any(a <= number <= b for a, b in labels)), otherwise)(frame)
        return run

    def for_statement(self):
        self.take("FOR")
        kind, _, put = self.variable(True)
        if kind not in INTEGERS or put is None:
            self.fail("FOR counts in a variable of an integer type")
        self.take(":=")
        ends = []
        for word in ("TO", "DO"):
            given, end = self.expression()
            self.fits(kind, given, self.constant_of(given, end), "a bound of FOR")
            self.take(word)
            ends.append(end)
        body = self.statements("END_FOR")
        self.take("END_FOR")
        self.take(";")

        def run(frame):
            for number in range(ends[0](frame), ends[1](frame) + 1):
                put(frame, number)
                if body(frame):
                    return True
            return False
        return run

    def block_call(self, word, block, get):
        if getattr(block, "kind", "") != "FUNCTION_BLOCK":
            self.fail(f"{word} is no block that can be called")
        before, after, given = [], [], set()
        self.take("(")
        while not self.accept(")"):
            formal = self.name("a parameter")
            section = block.section.get(formal)
            if self.accept(":="):
                if section not in ("VAR_INPUT", "VAR_IN_OUT"):
                    self.fail(f"{block.name} has no input {formal}")
                kind, value = self.variable(False)[:2] if section == "VAR_IN_OUT" else self.expression()
                self.fits(block.variables[formal], kind, self.constant_of(kind, value), f"parameter {formal}")
                before.append((formal, value))
            else:
                self.take("=>")
                if section != "VAR_OUTPUT":
                    self.fail(f"{block.name} has no output {formal}")
                kind, target, put = self.variable(True)
                self.fits(kind, block.variables[formal], None, f"output {formal}")
                after.append((formal, self.assignment(kind, target, put, lambda frame: frame["=>"])))
            given.add(formal)
            if not self.look(")"):
                self.take(",")
        missing = {name for name, section in block.section.items() if section == "VAR_IN_OUT"} - given
        if missing:
            self.fail(f"{block.name} is called without {', '.join(sorted(missing))}")

        def run(frame):
            instance = get(frame)
            for formal, value in before:
                got = value(frame)
                if block.section[formal] == "VAR_INPUT" and not isinstance(got, (int, str)):
                    fill(instance[formal], got)
                else:
                    instance[formal] = got
            block.body(instance, self.clock)
            for formal, assign in after:
                frame["=>"] = instance[formal]
                assign(frame)
        return run

    # ---- expressions

    def fits(self, wanted, given, value, what):
        if given == "LITERAL" and wanted in INTEGERS | BITS:
            low, high = RANGE[wanted]
            if wanted == "BOOL" or value is not None and not low <= value <= high:
                self.fail(f"{what}: {value} is no {wanted}")
        elif given is not wanted and given != wanted:
            self.fail(f"{what} of {type_name(wanted)} is given {type_name(given)}; a conversion has to be written")

    def variable(self, to_write):
        """(type, get, put); put is None for what can't be assigned. A block's outputs can be read and its inputs written."""
        where = self.tokens[self.at][2]
        word = self.name("a variable")
        pou = self.pou
        if pou is not None and pou.kind == "FUNCTION" and word == pou.name:
            kind, writable = pou.result, True
        elif pou is not None and word in pou.variables:
            kind, writable = pou.variables[word], word not in pou.constants and pou.section[word] != "VAR_INPUT"
        else:
            raise StError(f"{where}: {word} is not declared")
        get, put = (lambda frame: frame[word]), (lambda frame, value: frame.__setitem__(word, value)) if writable else None
        while self.look("[", "."):
            if self.accept("["):
                kind, get, put = self.element(kind, get, put)
            else:
                kind, get, put = self.field(kind, get, put)
        return kind, get, put if to_write else None

    def element(self, kind, get, put):
        if not isinstance(kind, ArrayType):
            self.fail(f"{type_name(kind)} has no elements")
        given, index = self.expression()
        if given not in INTEGERS | {"LITERAL"}:
            self.fail(f"an index is an integer, not {type_name(given)}")
        self.take("]")
        return kind.of, lambda f: get(f)[index(f)], put and (lambda f, value: get(f).__setitem__(index(f), value))

    def field(self, kind, get, put):
        self.take(".")
        if self.tokens[self.at][0] == "number":
            self.fail(f"a bit of {type_name(kind)} by its number: the grammar has no such access")
        name = self.name("a field")
        if isinstance(kind, StructType) and name in kind.fields:
            of, section = kind.fields[name], None
        elif isinstance(kind, Pou) and kind.section.get(name) in ("VAR_INPUT", "VAR_OUTPUT"):
            of, section = kind.variables[name], kind.section[name]
        else:
            self.fail(f"{type_name(kind)} has no {name} that can be reached")
        writable = put is not None and section != "VAR_OUTPUT"
        return of, lambda f: get(f)[name], (lambda f, value: get(f).__setitem__(name, value)) if writable else None

    def expression(self, level=0):
        if level == len(LEVELS):
            return self.unary()
        kind, left = self.expression(level + 1)
        while self.look(*LEVELS[level]):
            word = self.take()
            other, right = self.expression(level + 1)
            kind, left = self.binary(word, kind, left, other, right)
        return kind, left

    def binary(self, word, kind, left, other, right):
        both = other if kind == "LITERAL" else kind
        for given, function in ((kind, left), (other, right)):
            self.fits(both, given, self.constant_of(given, function), word) if both != "LITERAL" else None
        if word in ("OR", "XOR", "AND", "&"):
            if both not in BITS:
                self.fail(f"{word} is for bits, not for {type_name(both)}")
            operator = {"OR": int.__or__, "XOR": int.__xor__}.get(word, int.__and__)
            return both, lambda f: operator(left(f), right(f))
        if word in ("=", "<>", "<", ">", "<=", ">="):
            if not isinstance(both, str):
                self.fail(f"{word} is for elementary types")
            operator = {"=": "__eq__", "<>": "__ne__", "<": "__lt__", ">": "__gt__", "<=": "__le__", ">=": "__ge__"}[word]
            return "BOOL", lambda f: int(getattr(left(f), operator)(right(f)))
        if both not in INTEGERS | {"LITERAL"} and not (both == "TIME" and word in "+-"):
            self.fail(f"{word} is for numbers, not for {type_name(both)}")
        operator = {"+": int.__add__, "-": int.__sub__, "*": int.__mul__, "/": int.__floordiv__, "MOD": int.__mod__}[word]
        low, high = RANGE.get(both, RANGE["DINT"])

        def run(f):
            a, b = left(f), right(f)
            if word in ("/", "MOD") and (b == 0 or a < 0 or b < 0):
                raise StError(f"{a} {word} {b}: not done by this interpreter")
            value = operator(a, b)
            if not low <= value <= high:
                raise StError(f"{a} {word} {b} leaves the range of {type_name(both)}")
            return value
        return both, run

    def unary(self):
        if self.accept("NOT"):
            kind, value = self.unary()
            if kind not in BITS:
                self.fail(f"NOT is for bits, not for {type_name(kind)}")
            return kind, lambda f: RANGE[kind][1] - value(f)
        if self.accept("-"):
            kind, value = self.unary()
            return self.binary("-", "LITERAL", lambda f: 0, kind, value)
        return self.primary()

    def primary(self):
        kind, word, _ = self.tokens[self.at]
        if self.accept("("):
            inside = self.expression()
            self.take(")")
            return inside
        if kind in ("number", "based"):
            value = number_of(self.take())
            return "LITERAL", lambda f: value
        if kind == "typed":
            of, _, digits = self.take().partition("#")
            value = number_of(digits)
            if of not in INTEGERS | BITS:
                self.fail(f"{of} is no type of a number")
            self.fits(of, "LITERAL" if of != "BOOL" else of, value, "a number")
            return of, lambda f: value
        if kind == "time":
            value = milliseconds(self.take())
            return "TIME", lambda f: value
        if kind == "string":
            text = re.sub(r"\$(.)", r"\1", self.take()[1:-1])
            return "STRING", lambda f: text
        if self.look("TRUE", "FALSE"):
            value = int(self.take() == "TRUE")
            return "BOOL", lambda f: value
        if kind == "name" and self.tokens[self.at + 1][1] == "(":
            return self.function_call()
        return self.variable(False)[:2]

    def function_call(self):
        word, arguments = self.take(), []
        self.take("(")
        while not self.accept(")"):
            arguments.append(self.expression())
            if not self.look(")"):
                self.take(",")
        kinds, values = [kind for kind, _ in arguments], [value for _, value in arguments]
        if word in CONVERSIONS:
            return self.conversion(word, kinds, values)
        if word in ("SHL", "SHR"):
            if len(kinds) != 2 or kinds[0] not in BITS - {"BOOL"} or kinds[1] not in INTEGERS | {"LITERAL"}:
                self.fail(f"{word} takes bits and a number of places")
            mask, left = RANGE[kinds[0]][1], word == "SHL"
            return kinds[0], lambda f: (values[0](f) << values[1](f) if left else values[0](f) >> values[1](f)) & mask
        pou = self.pous.get(word)
        if getattr(pou, "kind", "") != "FUNCTION":
            self.fail(f"{word} is no function" + (": a block is called by the variable that it is" if pou else ""))
        inputs = pou.inputs()
        if len(inputs) != len(kinds):
            self.fail(f"{word} takes {len(inputs)} values")
        for name, kind, value in zip(inputs, kinds, values):
            self.fits(pou.variables[name], kind, self.constant_of(kind, value), f"value {name} of {word}")

        def run(frame):
            inner = pou.make()
            for name, value in zip(inputs, values):
                inner[name] = value(frame)
            pou.body(inner, self.clock)
            return inner[word]
        return pou.result, run

    def conversion(self, word, kinds, values):
        given, to = CONVERSIONS[word]
        if len(kinds) != 1:
            self.fail(f"{word} takes one value")
        self.fits(given, kinds[0], self.constant_of(kinds[0], values[0]), word)
        low, high = RANGE[to]

        def run(frame):
            value = values[0](frame)
            if given in BITS or to in BITS:  # the bits stay what they are
                value &= 2 * high + 1 if low < 0 else high
                value -= 2 * (high + 1) if value > high else 0
            elif not low <= value <= high:
                raise StError(f"{word}: {value} is beyond its range")
            return value
        return to, run


class Program:
    def __init__(self, pou, clock):
        self.pou, self.clock, self.frame = pou, clock, pou.make()

    @classmethod
    def of(cls, files, name):
        clock = Clock()
        parser = Parser(clock)
        for file, text in files.items():
            parser.file(file, text)
        if getattr(parser.pous.get(name), "kind", "") != "PROGRAM":
            raise StError(f"there is no program {name}")
        return cls(parser.pous[name], clock)

    def scan(self, now_ms):
        self.clock.now = now_ms
        self.pou.body(self.frame, self.clock)

    def __getitem__(self, name):
        return self.frame[name]

    def __setitem__(self, name, value):
        self.frame[name] = value
