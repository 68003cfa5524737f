#!/usr/bin/python3
"""The face allocates nothing while it serves: a short life and a long one of the test host make the same number of allocations.

Usage: face_allocation.py FACE_HOST FACE_COUNT_MALLOC"""
import os
import socket
import sys
import time

from face_server import Host, Raw, adu

FACE_HOST, COUNT_MALLOC = sys.argv[1:3]
READ = b"\x04\x00\x00\x00\x7d"
WRITE = b"\x10\x00\x78\x00\x02\x04\x00\x01\x00\x02"
IDENTIFY = b"\x2b\x0e\x03\x00"
UNKNOWN = b"\x63"


def live(rounds):
    """Every way of serving in each round; gives the number of allocations in all."""
    with Host(FACE_HOST, first_write=1, partial_ms=100) as host:
        for _ in range(rounds):
            with Raw(host.port) as client:
                for pdu in (READ, WRITE, IDENTIFY, UNKNOWN):
                    client.ask(pdu)
                pipeline = b"".join(adu(n, READ) for n in range(500))
                client.send(pipeline)
                client.receive(500 * 259)
        for _ in range(rounds // 20):  # readers that stop reading: answers wait in the connection's own memory
            deaf = socket.create_connection(("127.0.0.1", host.port))
            deaf.setblocking(False)
            end = time.monotonic() + 1
            while time.monotonic() < end:
                try:
                    deaf.send(pipeline)
                except BlockingIOError:
                    time.sleep(0.01)
                except ConnectionError:
                    break
            deaf.close()
    print(f"{rounds} rounds: {host.counts['requests']} requests, {host.counts['accepted']} connections, "
          f"{host.counts['expired']} expired, {host.counts['allocations']} allocations")
    return host.counts


def main():
    if os.environ.get("KR_SLOW") == "1":
        print("skipped: a sanitizer has its own allocator")
        return 77
    os.environ["LD_PRELOAD"] = COUNT_MALLOC
    short, long = live(20), live(100)
    if short["allocations"] == 0:
        print("FAILED: nothing was counted")
        return 1
    if short["expired"] == 0 or long["requests"] < 50000:
        print("FAILED: it did not live as it should")
        return 1
    if long["allocations"] != short["allocations"]:
        print("FAILED: a longer life allocates more")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
