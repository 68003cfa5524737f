"""What one gateway with many stations takes: memory, processor time at rest and with clients, and how long clients wait.

Called with the folder of the build. A station is the one of config/wide-shear.cfg, 2 x 100 holders on the embedded machine at
a period of 10 ms, without a book. Each of 16 clients reads 50 registers ten times a second; a round ends when all have been
answered.
"""
import os
import pathlib
import struct
import sys
import tempfile
import time

from start_bench import ROOT, connect, end, memory_mb, start

STATIONS = (1, 8, 16, 32)
CLIENTS, ROUNDS_A_SECOND, SECONDS = 16, 10, 10


def station_file(folder, count):
    """wide-shear `count` times, each under a name and a unit identifier of its own."""
    text = (ROOT / "config" / "wide-shear.cfg").read_text(encoding="utf-8")
    head, station = text.split("stations = (")
    station = station[:station.rindex(")")]
    path = folder / f"{count}.cfg"
    path.write_text(head + "stations = (" + ",".join(
        station.replace('name = "wide-shear"', f'name = "s{unit}"').replace("unit_id = 1;", f"unit_id = {unit};")
        for unit in range(1, count + 1)) + ");\n", encoding="utf-8")
    return path


def processor_seconds(daemon):
    """Of all its threads, user's and kernel's: fields 14 and 15 of proc(5)'s stat."""
    stat = pathlib.Path(f"/proc/{daemon.pid}/stat").read_text(encoding="ascii")
    user, kernel = stat.rpartition(")")[2].split()[11:13]
    return (int(user) + int(kernel)) / os.sysconf("SC_CLK_TCK")


def share(daemon, work):
    """Per cent of a core while `work` goes on, and what `work` returns."""
    before, began = processor_seconds(daemon), time.monotonic()
    result = work()
    return 100 * (processor_seconds(daemon) - before) / (time.monotonic() - began), result


def answer(client):
    left = 9 + 100
    while left:
        left -= len(client.recv(left)) or sys.exit("the gateway closed a connection")


def rounds(port):
    """The slowest round, in ms."""
    clients, slowest = [connect(port, time.monotonic() + 5) for _ in range(CLIENTS)], 0
    begin = time.monotonic()
    for number in range(ROUNDS_A_SECOND * SECONDS):
        time.sleep(max(0, begin + number / ROUNDS_A_SECOND - time.monotonic()))
        asked = time.monotonic()
        for client in clients:
            client.sendall(struct.pack(">HHHBBHH", 1, 0, 6, 1, 4, 0, 50))
        for client in clients:
            answer(client)
        slowest = max(slowest, time.monotonic() - asked)
    for client in clients:
        client.close()
    return 1000 * slowest


def main():
    print(f"{'stations':>8} {'first answer':>13} {'memory':>8} {'at rest':>9} {'with the clients':>17} {'slowest round':>14}")
    with tempfile.TemporaryDirectory(prefix="kr_stations_", dir="/dev/shm") as folder:
        for count in STATIONS:
            daemon, port, seconds = start(station_file(pathlib.Path(folder), count))
            time.sleep(2)
            rest, _ = share(daemon, lambda: time.sleep(SECONDS))
            loaded, slowest = share(daemon, lambda: rounds(port))
            memory, _ = memory_mb(daemon)
            end(daemon)
            print(f"{count:8} {1000 * seconds:10.0f} ms {memory:5.0f} MB {rest:7.1f} % {loaded:15.1f} % {slowest:11.1f} ms")


if __name__ == "__main__":
    main()
