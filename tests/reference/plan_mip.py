#!/usr/bin/python3
"""The planner against a mixed-integer model, solved by CBC (Debian coinor-cbc) or GLPK (glpk-utils).

usage: plan_mip.py CASES [LINES [SEED [HOLDERS]]]     CASES is the program plan_mip_cases

One model a rail: which holder makes which cut, where the others end, and in what order the carriage goes, all at
once. Written from the rules in kniferail/plan.h; it shares nothing with the planner. Where an idle holder may best end:
the time is concave in its place on either side of where it stands, so an end of what is allowed is best; these are
tried.
"""
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile


def travel_us(um, speed):
    v, a = speed
    t = um / v + v / a if um * a >= v * v else 2 * math.sqrt(um / a)
    return math.floor(t * 1e6 + 0.5)


class Rail:
    def __init__(self, case):
        self.c = case
        self.p = [h[0] for h in case["holders"]]
        self.n = len(self.p)
        c = case["sizes"]
        self.gap = [
            -(-(c[a[2] - 1] + c[b[2] - 1]) // 2) for a, b in zip(case["holders"], case["holders"][1:])
        ]
        self.options = [self.find_options(i) for i in range(self.n)]

    def turn(self, i, x):
        if self.c["approach"] > 0 and x < self.p[i]:
            return x - self.c["over"]
        if self.c["approach"] < 0 and x > self.p[i]:
            return x + self.c["over"]
        return x

    def low(self, i, x):
        return min(self.p[i], x, self.turn(i, x))

    def high(self, i, x):
        return max(self.p[i], x, self.turn(i, x))

    def within(self, *places):
        return all(self.c["min"] <= x <= self.c["max"] for x in places)

    def own_us(self, i, x):
        t = self.turn(i, x)
        us = travel_us(abs(t - self.p[i]), self.c["drag"])
        return self.c["handling"] + us + (travel_us(abs(t - x), self.c["drag"]) + self.c["way"] if t != x else 0)

    def rest_ranges(self):
        c = self.c
        if not c["outside"]:
            return [(c["min"], c["max"])]
        return [(c["min"], min(c["left"], c["max"])), (max(c["right"], c["min"]), c["max"])]

    def anchors(self, k):
        c = self.c
        yield from (self.p[k], self.p[k] - c["deadband"], self.p[k] + c["deadband"])
        yield from (x - c["holders"][k][1] for x in c["cuts"])
        yield from (c["min"], c["max"], c["left"], c["right"])

    def places(self, i):
        found = set()
        overs = [0] if self.c["over"] == 0 else [s * self.c["over"] for s in range(1 - self.n, self.n)]
        for k in range(self.n):
            away = sum(self.gap[min(i, k):max(i, k)])
            for x in self.anchors(k):
                for over in overs:
                    found.update((x + away + over, x - away + over))
        return sorted(x for x in found if x != self.p[i] and self.within(x, self.turn(i, x))
                      and any(a <= x <= b for a, b in self.rest_ranges()))

    def find_options(self, i):
        """(place if moved else None, cut or None, least and greatest place that it may be counted at)"""
        c, p = self.c, self.p[i]
        state = c["holders"][i][3]
        near = (p - c["deadband"], p + c["deadband"])
        if state == 2:
            return [(None, None, *near)]
        found = [(None, None, max(near[0], a), min(near[1], b)) for a, b in self.rest_ranges()]
        found = [o for o in found if o[2] <= o[3]]
        found += [(x, None, x, x) for x in self.places(i)]
        for j, cut in enumerate(c["cuts"] if state == 0 else []):
            t = cut - c["holders"][i][1]
            if self.within(t) and near[0] <= t <= near[1]:
                found.append((None, j, t, t))
            if t != p and self.within(t, self.turn(i, t)):
                found.append((t, j, t, t))
        return found

    def orders(self, i, o, q):
        """May holders i and i + 1 move with o and q so that i goes first, i + 1 goes first?"""
        gap, p, r, x, y = self.gap[i], self.p[i], self.p[i + 1], o[0], q[0]
        if x is None and y is None:
            return True, True
        if y is None:
            ok = r - self.high(i, x) >= min(gap, r - p)
            return ok, ok
        if x is None:
            ok = self.low(i + 1, y) - p >= min(gap, r - p)
            return ok, ok
        left = r - self.high(i, x) >= min(gap, r - p) and self.low(i + 1, y) - x >= min(gap, r - x)
        right = self.low(i + 1, y) - p >= min(gap, r - p) and y - self.high(i, x) >= min(gap, y - p)
        return left, right


def model(r):
    """The model as text in the LP format."""
    rows, binaries, costs = [], [], []
    n, c = r.n, r.c
    big = 2 * (n + 1)

    def binary(name, cost=0):
        binaries.append(name)
        if cost:
            costs.append(f"{cost / 1000:.3f} {name}")
        return name

    movers = {}
    for i, options in enumerate(r.options):
        for k, o in enumerate(options):
            binary(f"z_{i}_{k}", r.own_us(i, o[0]) if o[0] is not None else 0)
        movers[i] = [k for k, o in enumerate(options) if o[0] is not None]
        if not options:
            return None
        rows.append(" + ".join(f"z_{i}_{k}" for k in range(len(options))) + " = 1")
        for sign, at in ((">=", 2), ("<=", 3)):
            places = "".join(f" - {o[at] / 1000:.3f} z_{i}_{k}" if o[at] >= 0 else
                             f" + {-o[at] / 1000:.3f} z_{i}_{k}" for k, o in enumerate(options))
            rows.append(f"c_{i}{places} {sign} 0")
    for j in range(len(c["cuts"])):
        makers = [f"z_{i}_{k}" for i in range(n) for k, o in enumerate(r.options[i]) if o[1] == j]
        if not makers:
            return None
        rows.append(" + ".join(makers) + " = 1")
    for i in range(n - 1):
        rows.append(f"c_{i + 1} - c_{i} >= {r.gap[i] / 1000:.3f}")
        for k, o in enumerate(r.options[i]):
            neither, not_left, not_right = [], [], []
            for m, q in enumerate(r.options[i + 1]):
                left, right = r.orders(i, o, q)
                if not left and not right:
                    neither.append(m)
                elif o[0] is not None and q[0] is not None and not left:
                    not_left.append(m)
                elif o[0] is not None and q[0] is not None and not right:
                    not_right.append(m)
            name = f"z_{i}_{k}"
            if neither:
                rows.append(name + "".join(f" + z_{i + 1}_{m}" for m in neither) + " <= 1")
            for first, then, group in ((i + 1, i, not_left), (i, i + 1, not_right)):
                if group:
                    those = "".join(f" - {big} z_{i + 1}_{m}" for m in group)
                    rows.append(f"u_{then} - u_{first} - {big} {name}{those} >= {1 - 2 * big}")
    starts = [binary(f"s_{k}", travel_us(abs(c["carriage"] - r.p[k]), c["empty"])) for k in range(n)]
    rows.append(" + ".join(starts) + " <= 1")
    into = {k: [f"s_{k}"] for k in range(n)}
    between = {}
    for i in range(n):
        for o in movers[i]:
            out = [binary(f"e_{i}_{o}")]
            for k in range(n):
                if k == i:
                    continue
                way = travel_us(abs(r.options[i][o][0] - r.p[k]), c["empty"])
                name = binary(f"y_{i}_{o}_{k}", way)
                out.append(name)
                into[k].append(name)
                between.setdefault((i, k), []).append(name)
            rows.append(" + ".join(out) + f" - z_{i}_{o} = 0")
    for k in range(n):
        rows.append(" + ".join(into[k]) + "".join(f" - z_{k}_{o}" for o in movers[k]) + " = 0")
    for (i, k), names in between.items():
        rows.append(f"u_{k} - u_{i} - {big} " + f" - {big} ".join(names) + f" >= {1 - big}")
    bounds = [f" 0 <= u_{i} <= {n}" for i in range(n)] + [f" c_{i} free" for i in range(n)]
    text = ["Minimize", " obj: " + (" + ".join(costs) or "0 s_0"), "Subject To"]
    text += [f" r{k}: {row}" for k, row in enumerate(rows)]
    return "\n".join(text + ["Bounds", *bounds, "Binaries", *(" " + b for b in binaries), "End", ""])


def solve(text, folder, solver):
    """The least time in ms, or None if there is none."""
    lp, out = os.path.join(folder, "m.lp"), os.path.join(folder, "m.sol")
    with open(lp, "w", encoding="ascii") as f:
        f.write(text)
    if solver == "cbc":
        subprocess.run(["cbc", lp, "ratioGap", "0", "allowableGap", "0", "primalTolerance", "1e-9", "integerTolerance",
                        "1e-9", "solve", "solution", out], check=True, stdout=subprocess.DEVNULL, timeout=600)
        with open(out, encoding="ascii") as f:
            first = f.readline()
        if "Infeasible" in first or "infeasible" in first:
            return None
        if not first.startswith("Optimal"):
            raise RuntimeError(first)
        return float(first.split()[-1])
    subprocess.run(["glpsol", "--lp", lp, "-o", out], check=True, stdout=subprocess.DEVNULL, timeout=600)
    with open(out, encoding="ascii") as f:
        lines = f.read().splitlines()
    status = next(line for line in lines if line.startswith("Status:"))
    if "OPTIMAL" not in status:
        return None
    return float(next(line for line in lines if line.startswith("Objective:")).split("=")[1].split()[0])


def agree(a, b):
    return (a is None) == (b is None) and (a is None or abs(a - b) <= 0.002)


def solve_until_agreed(text, folder, mine):
    """Both work with a tolerance, and a case may stand on the edge of it: the second is asked where the first differs."""
    answer = None
    for solver in ("cbc", "glpsol"):
        if shutil.which(solver):
            answer = solve(text, folder, solver)
            if agree(answer, mine):
                break
    return answer, solver


def main():
    if not shutil.which("cbc") and not shutil.which("glpsol"):
        print("neither cbc (coinor-cbc) nor glpsol (glpk-utils) is installed")
        return 1
    lines, seed, holders = (sys.argv[2:5] + ["40", "1", "4"][len(sys.argv) - 2:])[:3]
    cases = subprocess.run([sys.argv[1], lines, seed, holders], check=True, stdout=subprocess.PIPE).stdout
    compared = impossible = second = wrong = orders = 0
    with tempfile.TemporaryDirectory() as folder:
        for line in cases.splitlines():
            case = json.loads(line)
            if "orders_refused" in case:
                orders = case["orders_refused"]
                continue
            if not case["holders"]:
                continue
            text = model(Rail(case))
            mine = None if case["us"] < 0 else case["us"] / 1000
            ms, solver = (None, "") if text is None else solve_until_agreed(text, folder, mine)
            compared += 1
            second += solver == "glpsol"
            impossible += ms is None
            if not agree(ms, mine):
                wrong += 1
                print(f"seed {case['seed']}: the planner says {mine} ms, the model {ms} ms")
    print(f"{compared} rails compared from seed {seed}, {impossible} of them impossible, {second} asked of "
          f"the second solver too; {wrong} differ; {orders} orders refused for their own numbers, each judged by the rules "
          "stated anew")
    return 1 if wrong or not compared or not orders else 0


if __name__ == "__main__":
    sys.exit(main())
