#!/usr/bin/python3
"""kniferail plan, as a program would use it: keys, sums and exit statuses. usage: plan_cli.py KNIFERAIL CONFIG"""
import json
import re
import subprocess
import sys
import tempfile


def positions(path, pitch_um, holders=12, state=""):
    with open(path, "w", encoding="ascii") as f:
        f.write("rail,holder,position_um,state\n")
        for rail in ("upper", "lower"):
            f.write(f"{rail},0,150000,\n")
            for i in range(holders):
                f.write(f"{rail},{i + 1},{100000 + i * pitch_um},{state}\n")


def main():
    program, config = sys.argv[1:3]

    def run(*args):
        done = subprocess.run([program, "plan", "--config", config, *args], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, check=False, timeout=30)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    with tempfile.NamedTemporaryFile(suffix=".csv") as file:
        positions(file.name, 120000)
        at = ("--positions", file.name)

        status, out, err = run(*at, "--widths", "150,200,3 5/8 in,180", "--web-width", "700", "--json")
        assert status == 0 and err == "", (status, err)
        plan = json.loads(out)
        assert set(plan) >= {"cut_lines_um", "rails", "time_ms", "bound_ms", "rejection"}, plan.keys()
        assert plan["rejection"] is None
        cuts = plan["cut_lines_um"]
        assert [b - a for a, b in zip(cuts, cuts[1:])] == [150000, 200000, 92075, 180000], cuts
        assert [rail["rail"] for rail in plan["rails"]] == ["upper", "lower"]
        for rail in plan["rails"]:
            assert set(rail) >= {"carriage_um", "holders", "moves", "time_ms", "sequence_bound_ms", "bound_ms"}
            assert [h["cut"] for h in rail["holders"] if h["cut"] is not None] == [1, 2, 3, 4, 5]
            assert rail["carriage_um"] == 150000
            moved = [h["holder"] for h in rail["holders"] if h["moved"]]
            assert sorted(m["holder"] for m in rail["moves"]) == moved
            assert rail["moves"][0]["start_ms"] == 0 and rail["moves"][-1]["end_ms"] == rail["time_ms"]
            assert all(a["end_ms"] == b["start_ms"] for a, b in zip(rail["moves"], rail["moves"][1:]))
            assert rail["bound_ms"] <= rail["time_ms"] and rail["sequence_bound_ms"] <= rail["time_ms"]
            done = set()
            for move in rail["moves"]:
                assert done >= set(move["after"]), move
                done.add(move["holder"])
        assert plan["time_ms"] == max(rail["time_ms"] for rail in plan["rails"])
        assert plan["time_ms"] < plan["verified_ms"] < plan["scanned_verified_ms"], plan

        status, out, _ = run(*at, "--widths", "150,20,100", "--json")
        assert status == 1, status
        refusal = json.loads(out)["rejection"]
        assert refusal["name"] == "SLIT_TOO_NARROW" and refusal["item"] == 2, refusal
        assert refusal["value"] == 20000 and refusal["limit"] > 20000 and refusal["rail"] == "upper", refusal

        status, out, _ = run(*at, "--widths", "150,200,300")
        assert status == 0 and "before" in out and "after" in out and "  cut 1  " in out and "nobody" not in out, out
        assert re.match(r"web +660 mm wide, operator-side trim 5 mm, drive-side trim 5 mm\nslits +150 mm, 200 mm, 300 mm\n", out), out
        assert run(*at, "--widths", "150,,300")[0] == 2
        assert run(*at, "--widths", "150", "--what")[0] == 2
        status, out, _ = run("--widths", "150,200,300", "--json")  # from where the config says that they stand
        assert status == 0 and [rail["carriage_um"] for rail in json.loads(out)["rails"]] == [20000, 20000], out
        assert run("--positions", file.name + ".none", "--widths", "150")[0] == 2
        for bad in ("", "rail,holder\n", "rail,holder,position_um,state\nupper,1,x,in\n",
                    "rail,holder,position_um,state\nupper,99,1,in\n", "rail,holder,position_um,state\nmiddle,1,1,in\n",
                    "rail,holder,position_um,state\nupper,1,1,broken\n", "rail,holder,position_um,state\nupper,0,20000,in\n",
                    "rail,holder,position_um,state\nupper,1,1,in\nupper,1,1,in\n"):
            with open(file.name, "w", encoding="ascii") as f:
                f.write(bad)
            status, _, err = run(*at, "--widths", "150")
            assert status == 2 and file.name in err, (bad, err)
    print("plans, refusals and usage as promised")


main()
