"""What the demo prints: headings, facts, progress, and the rails as the program draws them. Plain characters, 96
columns."""

import textwrap

WIDTH = 96
LABEL = 14


class Picture:
    def __init__(self, out):
        self.out, self.live = out, out.isatty()
        self.step, self.last_phase = 0, None

    def line(self, text=""):
        print(text.rstrip(), file=self.out, flush=True)

    def heading(self, text):
        self.step += 1
        self.line()
        title = f"{self.step}. {text} "
        self.line(title + "-" * (WIDTH - len(title)))

    def fact(self, label, text):
        """A label and its text, folded to the width."""
        lines = textwrap.wrap(text, WIDTH - LABEL - 2)
        for i, part in enumerate(lines):
            self.line(f"{label if i == 0 else '':>{LABEL}}  {part}")

    def order(self, number, web_mm, widths):
        shown, i = [], 0
        while i < len(widths):
            n = 1
            while i + n < len(widths) and widths[i + n] == widths[i]:
                n += 1
            shown.append(f"{n} x {widths[i]:g}" if n > 1 else f"{widths[i]:g}")
            i += n
        self.fact("order", f"{number}: {len(widths)} slits, {' + '.join(shown)} = {sum(widths):g} mm, centred on a web "
                  f"of {web_mm:g} mm")

    # progress: one line that grows where there is a terminal, else one line for each phase

    def progress(self, percent, phase, left_ms):
        left = f"{left_ms / 1000:5.1f} s left" if left_ms > 0 else ""
        if self.live:
            done = percent * 40 // 100
            bar = "#" * done + "." * (40 - done)
            print(f"\r{'changeover':>{LABEL}}  [{bar}] {percent:3d} %  {phase:<9} {left:<14}", end="", file=self.out,
                  flush=True)
        elif phase != self.last_phase and phase != "none":
            self.line(f"{'changeover':>{LABEL}}  {percent:3d} %  {phase:<9} {left}")
        self.last_phase = phase

    def progress_end(self, text):
        if self.live:
            print("\r" + " " * WIDTH + "\r", end="", file=self.out)
        self.fact("changeover", text)
        self.last_phase = None

    # the rails, to scale, as `kniferail status --drawing` paints them

    def rails(self, title, number, look):
        self.line()
        self.fact(title, f"order {number}: the rails, the web and its {len(look['cuts']['lines'])} cut lines, to scale")
        for line in look["drawing"].splitlines():
            self.line(line)

    # moves, times, placement

    def moves(self, record):
        """The moves in the order they were made, the rails side by side: their carriages work at the same time."""
        rails = [rail["rail"] for rail in record["rails"]]
        columns = [[m for m in record["moves"] if m["rail"] == rail] for rail in rails]
        self.heading("The moves, in order")
        began = min((m["start_ms"] for m in record["moves"]), default=0)
        head = f"{'at s':>7}  holder   from mm       to mm"
        self.line("".join(f"{'rail ' + str(rail):>9}{head}" for rail in rails))
        for i in range(max(map(len, columns))):
            self.line("".join(self.move(moves[i], began) if i < len(moves) else " " * 46 for moves in columns))

    @staticmethod
    def move(move, began_ms):
        return (f"{'':9}{(move['start_ms'] - began_ms) / 1000:7.1f}  {move['holder']:6d}  "
                f"{move['from_um'] / 1000:8.3f} -> {move['to_um'] / 1000:8.3f}")

    def times(self, record):
        planned, actual = record["planned_ms"] / 1000, record["actual_ms"] / 1000
        self.fact("moves", f"{planned:.1f} s planned, {actual:.1f} s needed ({actual - planned:+.1f} s)")
        corrections, retries = (sum(rail[what] for rail in record["rails"]) for what in ("corrections", "retries"))
        self.fact("all in all", f"{record['told_ms'] / 1000:.1f} s planned, {record['total_ms'] / 1000:.1f} s of the "
                  "machine's time needed from Start to verified, scans included; "
                  f"{corrections} corrections, {retries} docking retries")

    def placement(self, record, look, ordered, tolerance_mm):
        rails, cuts = look["rails"], look["cuts"]
        self.line()
        roles = [rail["role"] for rail in rails]
        self.line("     cut   line mm   " + "".join(f"{role + ' knife off':>18}" for role in roles)
                  + f"{'slit ordered':>18}{'measured mm':>14}")
        for i, line in enumerate(cuts["lines"]):
            off = [next(h["deviation"] for h in rail["holders"] if h["cut"] == i + 1) for rail in rails]
            slit = f"{ordered[i]:18.3f}{cuts['slits'][i]:14.3f}" if i < len(ordered) else ""
            self.line(f"  {i + 1:6d}  {line:9.3f}  " + "".join(f"{value:+18.3f}" for value in off) + slit)
        self.line()
        worst = max(record["rails"], key=lambda rail: abs(rail["worst_um"]))
        self.fact("largest", f"deviation of a knife {worst['worst_um'] / 1000:+.3f} mm (rail {worst['rail']}, holder "
                  f"{worst['worst_holder']}; tolerance {tolerance_mm:g} mm), of a pair of knives "
                  f"{record['worst_pair_um'] / 1000:+.3f} mm, of a slit {record['worst_slit_um'] / 1000:+.3f} mm")
