"""How long the gateway takes from its start to its first answer, with a new book and with a book of a year; and its memory.

Called with the folder of the build. The time is that of a client: from the moment at which the process is made until the
answer to a read of the SESSION register is there. The book is made by year_book.c, in memory (/dev/shm), so that a disk
that is busy with other work is not measured; it is read from the page cache, as after a restart of the gateway alone.
"""
import pathlib
import re
import socket
import statistics
import struct
import subprocess
import sys
import tempfile
import time

STARTS = 40
BUILD = pathlib.Path(sys.argv[1]).resolve()
ROOT = pathlib.Path(__file__).resolve().parents[2]
READ_SESSION = struct.pack(">HHHBBHH", 1, 0, 6, 1, 4, 3, 1)
READ_100 = struct.pack(">HHHBBHH", 1, 0, 6, 1, 4, 0, 100)


def station_file(folder):
    text = (ROOT / "config" / "wide-shear.cfg").read_text(encoding="utf-8")
    path, book = folder / "station.cfg", folder / "book.db"
    path.write_text(f'{text}\nbook = "{book}";\n', encoding="utf-8")
    return path, book, re.search(r'(?m)^ *name = "([^"]+)";', text).group(1)


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def connect(port, until):
    while True:
        try:
            return socket.create_connection(("127.0.0.1", port), timeout=5)
        except ConnectionRefusedError:
            if time.monotonic() > until:
                raise
            time.sleep(0.0005)


def start(config):
    """The process, and the seconds until its first answer."""
    port, began = free_port(), time.monotonic()
    daemon = subprocess.Popen([BUILD / "kniferaild", "--config", config, "--port", str(port)], stderr=subprocess.DEVNULL)
    with connect(port, began + 30) as client:
        client.sendall(READ_SESSION)
        if len(client.recv(64)) < 11:
            raise SystemExit("no answer")
        return daemon, port, time.monotonic() - began


def end(daemon):
    daemon.terminate()
    if daemon.wait(60) != 0:
        raise SystemExit(f"the gateway ended with {daemon.returncode}")


def starts(config):
    took = []
    for _ in range(STARTS):
        daemon, _, seconds = start(config)
        took.append(1000 * seconds)
        end(daemon)
    return took


def tell(what, took):
    percentile = statistics.quantiles(took, n=20)[18]
    print(f"{what:<34} {statistics.median(took):7.1f} {percentile:7.1f} {max(took):7.1f}")


def memory_mb(daemon):
    status = pathlib.Path(f"/proc/{daemon.pid}/status").read_text(encoding="ascii")
    return [int(re.search(rf"(?m)^{name}:\s+(\d+) kB", status).group(1)) / 1000 for name in ("VmRSS", "VmHWM")]


def load(port, clients=16, rounds=4000):
    """Each client asks for 100 registers, as often as it is answered."""
    sockets = [connect(port, time.monotonic() + 5) for _ in range(clients)]
    for _ in range(rounds):
        for client in sockets:
            client.sendall(READ_100)
        for client in sockets:
            client.recv(256)
    for client in sockets:
        client.close()


def main():
    with tempfile.TemporaryDirectory(prefix="kr_start_", dir="/dev/shm") as name:
        config, book, station = station_file(pathlib.Path(name))
        print(f"start to first answer, ms, of {STARTS}     median     p95   worst")
        tell("a new book", starts(config))
        subprocess.run([BUILD / "tests" / "year_book", book, station], check=True)
        tell(f"a book of a year, {book.stat().st_size / 1e6:.0f} MB", starts(config))
        daemon, port, _ = start(config)
        time.sleep(5)  # the look at the history's pages has ended
        rest, most = memory_mb(daemon)
        load(port)
        loaded, most_loaded = memory_mb(daemon)
        end(daemon)
        print(f"memory, MB: at rest {rest:.1f}, at most {most:.1f}; with 16 clients that read 100 registers each as fast as "
              f"they are answered {loaded:.1f}, at most {most_loaded:.1f}")


if __name__ == "__main__":
    main()
