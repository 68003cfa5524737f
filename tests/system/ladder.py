"""Ladder rungs as config/plc/README.md draws them, made into Structured Text: what they do is then what st.py makes of it.

A rung is a line: contacts from the left, [A] or [/A], comparisons, [TON T#1s] and the like; then outputs: (A) a coil, (S A), (R A),
[A := B]. A line that begins with + has further outputs of the rung above it. A line that begins with neither - nor + is a heading.
"""
import re

MARK = re.compile(r"\[((?:[^][]|\[\d+\])*)\]|\(([^)]*)\)")
BIT = re.compile(r"([\w\[\]]+) bit (\d+)$")


class LadderError(Exception):
    pass


def drawn(text):
    """The rungs of the text, each a list of its lines."""
    rungs = []
    for line in text.splitlines():
        line = line.strip()
        if line.startswith("--"):
            rungs.append([line])
        elif line.startswith("+"):
            rungs[-1].append(line)
    return rungs


def marks(line):
    """(whether it is a coil, its words) for each mark; between them are lines and nothing else."""
    if not re.fullmatch(r"[-+\s]*", MARK.sub("", line)):
        raise LadderError(f"{line}: more than contacts, coils and lines")
    return [(m[1] is None, m[1] or m[2]) for m in MARK.finditer(line)]


def is_output(mark):
    return mark[0] or ":=" in mark[1]


def contact(words):
    closed, name = (True, words[1:]) if words.startswith("/") else (False, words)
    bit = BIT.fullmatch(name)
    if bit:
        name = f"(({bit[1]} AND 16#{1 << int(bit[2]):04X}) <> 0)"
    elif " " in name:
        name = f"({name})"
    return f"NOT {name}" if closed else name


def output(coil, words, power):
    """The statement of an output that has power, or not."""
    if not coil:
        return f"IF {power} THEN {words}; END_IF;"
    if re.match(r"[SR] ", words):
        return f"IF {power} THEN {words[2:]} := {'TRUE' if words[0] == 'S' else 'FALSE'}; END_IF;"
    bit = BIT.fullmatch(words)
    if bit:
        mask = 1 << int(bit[2])
        return f"IF {power} THEN {bit[1]} := {bit[1]} OR 16#{mask:04X}; ELSE {bit[1]} := {bit[1]} AND 16#{65535 - mask:04X}; END_IF;"
    return f"{words} := {power};"


class Ladder:
    """st: the program's statements; names: all variables in it; timers: those that the rungs need."""

    def __init__(self, text):
        self.lines, self.timers = [], []
        for rung in drawn(text):
            self.rung(rung)
        plain = re.sub(r"\w+#[\w#]+|16#\w+", "", "\n".join(self.lines))
        words = set(re.findall(r"(?<!\.)\b[A-Za-z_]\w*\b", plain)) - {"IF", "THEN", "ELSE", "END_IF", "TRUE", "FALSE", "NOT", "AND", "OR", "MOD"}
        self.names = sorted(words - set(self.timers) - {"Power", "IN", "PT", "Q"})

    def rung(self, lines):
        found = [mark for line in lines for mark in marks(line)]
        first = next((i for i, mark in enumerate(found) if is_output(mark)), len(found))
        if first == len(found) or not all(map(is_output, found[first:])):
            raise LadderError(f"{lines[0]}: contacts first, then at least one output")
        self.lines.append("Power := TRUE;")
        for _, words in found[:first]:
            if words.startswith("TON "):
                timer = f"Timer{len(self.timers) + 1}"
                self.timers.append(timer)
                self.lines += [f"{timer}(IN := Power, PT := {words[4:]});", f"Power := {timer}.Q;"]
            elif words != "always":
                self.lines.append(f"Power := Power AND {contact(words)};")
        self.lines += [output(coil, words, "Power") for coil, words in found[first:]]

    def program(self, kinds):
        """kinds: the types of those that are no BOOL."""
        declared = [f"{name} : {kinds.get(name, 'BOOL')};" for name in self.names] + [f"{t} : TON;" for t in self.timers] + ["Power : BOOL;"]
        return "PROGRAM RUNGS\nVAR\n" + "\n".join(declared) + "\nEND_VAR\n" + "\n".join(self.lines) + "\nEND_PROGRAM\n"
