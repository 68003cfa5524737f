#!/usr/bin/python3
"""The face beside its peers, in one run: a bare libuv server that looks at nothing (the ceiling), libmodbus's own server loop,
pymodbus's server, and the face with its answers formed by libmodbus through a socket pair. The servers take turns in every
round, so that a busy moment of the machine hits them all; the medians of the rounds are told.

Usage: face_bench.py BUILD/tests [--rounds N] [--seconds N] [--clients N,N...]

CPU a request is the server's own, from /proc/PID/schedstat; it is the steadiest figure on a machine that is shared. One client
measures how fast the machine wakes a process, not the server."""
import argparse
import json
import os
import signal
import statistics
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
FIRST = {"read": "first=0", "write": "first=120"}
GOALS = (("requests a second, of the ceiling", "per_s", "ceiling", 0.80, None), ("requests a second, of plain libmodbus", "per_s",
         "plain", 1.5, None), ("CPU a request, of the ceiling", "cpu_us", "ceiling", None, 1.3),
         ("p99.9, of the ceiling", "p999", "ceiling", None, 1.5))


def commands(tools, kind):
    limits = ["connections=1024", "per_address=1024", "period_ms=100"]  # the made-up station costs time, too
    return {
        "ceiling": [f"{tools}/face_ceiling", kind],
        "face": [f"{tools}/face_host", *limits],
        "plain": [f"{tools}/face_plain"],
        "pymodbus": ["/usr/bin/python3", "-B", f"{HERE}/face_pymodbus.py"],
        "pair": [f"{tools}/face_host_pair", *limits],
    }


class Server:
    def __init__(self, command):
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        first = self.process.stdout.readline().split()
        if first[:1] != ["port"]:
            self.stop()
            raise SystemExit(f"face_bench: {' '.join(command)} does not start")
        self.port = int(first[1])

    def cpu_ns(self):
        with open(f"/proc/{self.process.pid}/schedstat", encoding="ascii") as file:
            return int(file.read().split()[0])

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(5)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def measure(tools, name, kind, clients, depth, seconds):
    server = Server(commands(tools, kind)[name])
    load = [f"{tools}/face_load", f"port={server.port}", f"clients={clients}", f"depth={depth}", f"seconds={seconds}",
            f"write={int(kind == 'write')}", FIRST[kind], "warm_ms=0"]
    if kind == "write" and name in ("face", "pair"):
        load.append("take=1")
    try:
        begin = server.cpu_ns()
        done = subprocess.run(load, capture_output=True, text=True, timeout=seconds + 60, check=False)
        spent = server.cpu_ns() - begin
    finally:
        server.stop()
    if not done.stdout:
        return None
    result = json.loads(done.stdout)
    result["cpu_us"] = spent / 1000 / max(1, result["requests"])
    return result


def median_of(results, key):
    values = [each[key] for each in results if each is not None]
    return statistics.median(values) if values else float("nan")


def compare(tools, kind, clients, depth, options):
    names = ["ceiling", "face", "plain", "pymodbus"] + (["pair"] if depth == 1 else [])
    results = {name: [] for name in names}
    for _ in range(options.rounds):
        for name in names:
            results[name].append(measure(tools, name, kind, clients, depth, options.seconds))
    what = f"{'function 04, 125 registers' if kind == 'read' else 'function 16, 123 registers'}, {clients} clients"
    print(f"\n{what}{f', {depth} requests at once' if depth > 1 else ''}")
    print(f"  {'':10}{'requests/s':>12}{'CPU us':>9}{'p50 us':>9}{'p99 us':>9}{'p99.9 us':>10}{'errors':>8}   of the ceiling")
    for name in names:
        row = {key: median_of(results[name], key) for key in ("per_s", "cpu_us", "p50", "p99", "p999", "errors")}
        ratio = row["per_s"] / median_of(results["ceiling"], "per_s")
        print(f"  {name:10}{row['per_s']:12.0f}{row['cpu_us']:9.2f}{row['p50']:9.0f}{row['p99']:9.0f}{row['p999']:10.0f}"
              f"{row['errors']:8.0f}   {ratio:.2f}")
    if depth == 1 and clients in (16, 128):
        tell_goals(results)
    sys.stdout.flush()
    return results


def tell_goals(results):
    for what, key, other, least, most in GOALS:
        ratio = median_of(results["face"], key) / median_of(results[other], key)
        kept = ratio >= least if least is not None else ratio <= most
        bound = f"at least {least}" if least is not None else f"at most {most}"
        print(f"    {'kept  ' if kept else 'MISSED'}  {what}: {ratio:.2f}; goal {bound}")


def tell_bursts(tools, options):
    """Three requests in one segment against one: about the same time."""
    times = {depth: [] for depth in (1, 3)}
    for _ in range(options.rounds):
        for depth, collected in times.items():
            collected.append(measure(tools, "face", "read", 1, depth, options.seconds))
    one, three = median_of(times[1], "p50"), median_of(times[3], "p50")
    print(f"\na burst of three requests: {three:.0f} us; one request: {one:.0f} us; {three / one:.2f} times")


def tell_instructions(tools):
    """Instructions from a request's bytes to its answer's, by callgrind: the same on every machine."""
    command = ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", "--toggle-collect=face_answer",
               f"{tools}/face_pair", "count"]
    for kind in ("read", "write"):
        done = subprocess.run(command + [kind], capture_output=True, text=True, timeout=300, check=False)
        total = [int(line.split(":")[1]) for line in done.stderr.splitlines() if "Collected" in line]
        if total:
            print(f"instructions to judge and answer one request ({kind}): {total[0] / 1000:.0f}")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("tools")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=int, default=2)
    parser.add_argument("--clients", default="1,16,128,512")
    options = parser.parse_args()
    for clients in [int(each) for each in options.clients.split(",")]:
        for kind in ("read", "write"):
            compare(options.tools, kind, clients, 1, options)
        if clients > 1:
            compare(options.tools, "read", clients, 16, options)
    tell_bursts(options.tools, options)
    print()
    subprocess.run([f"{options.tools}/face_pair"], check=True)
    tell_instructions(options.tools)


if __name__ == "__main__":
    main()
