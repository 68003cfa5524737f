"""A Modbus/TCP wire that misbehaves, between a gateway and its drives: a proxy, in a thread of its own.

Both ways it takes whole frames from one end and hands them on to the other. By a schedule that its seed draws it gets into
trouble now and then, and spoils the next few frames of one way on one connection: late, in pieces, cut, lost, twice, old,
with another header, with noise around them. Trouble number n of a seed is always the same, gentle or not; which frame it
meets is a matter of the clock.

It never changes a value inside an otherwise valid frame. TCP's check sum stands against that, and Modbus/TCP has none.
"""
import collections
import dataclasses
import heapq
import itertools
import random
import selectors
import socket
import struct
import threading
import time
import traceback

ANSWERS, REQUESTS = "answers", "requests"
CUT, RESET = "the connection ends", "the connection is reset"
HEADER, FUNCTION = 7, 7  # bytes of the header; where the function code is
STOP_S, LOST_S = 0.45, 1.0  # answers so late stop motion, or lose the link, as the station file has it

# Each kind makes of one frame what goes on instead: (after so many seconds, bytes or the connection's end).


def changed(frame, at, new):
    return [(0, frame[:at] + new + frame[at + len(new):])]


def other_word(rng, frame, at):
    return changed(frame, at, struct.pack(">H", struct.unpack_from(">H", frame, at)[0] ^ rng.randrange(1, 0x10000)))


def other_byte(rng, frame, at):
    return changed(frame, at, bytes([frame[at] ^ rng.randrange(1, 0x100)]))


def bytewise(_rng, frame, _old):
    return [(0.0003 * i, frame[i : i + 1]) for i in range(len(frame))]


def pieces(rng, frame, _old):
    at = sorted(rng.randrange(1, len(frame)) for _ in range(2))
    return [(0, frame[: at[0]]), (0.001, frame[at[0] : at[1]]), (0.002, frame[at[1] :])]


def jittered(rng, frame, _old):
    return [(rng.uniform(0, 0.012), frame)]


def delayed(rng, frame, _old):
    return [(rng.uniform(0.01, 0.8 * STOP_S), frame)]


def late(rng, frame, _old):
    return [(rng.uniform(1.1 * STOP_S, 0.9 * LOST_S), frame)]


def too_late(rng, frame, _old):
    return [(rng.uniform(1.1 * LOST_S, 2 * LOST_S), frame)]


def lost(_rng, _frame, _old):
    return []


def cut_short(rng, frame, _old):
    return [(0, frame[: rng.randrange(1, len(frame))])]


def cut_off(rng, frame, _old):
    return [(0, frame[: rng.randrange(len(frame))]), (0, rng.choice((CUT, RESET)))]


def twice(_rng, frame, _old):
    return [(0, frame), (0, frame)]


def old_instead(rng, _frame, old):
    return [(0, rng.choice(old))] if old else []


def old_before(rng, frame, old):
    return [(0, rng.choice(old)), (0, frame)] if old else [(0, frame)]


def other_transaction(rng, frame, _old):
    return other_word(rng, frame, 0)


def other_protocol(rng, frame, _old):
    return other_word(rng, frame, 2)


def other_length(rng, frame, _old):
    length = struct.unpack_from(">H", frame, 4)[0]
    return changed(frame, 4, struct.pack(">H", rng.choice((0, 1, length - 1, length + 1, length + 200, 0xFFFF))))


def other_unit(rng, frame, _old):
    return other_byte(rng, frame, 6)


def other_function(rng, frame, _old):
    return other_byte(rng, frame, FUNCTION)


def other_byte_count(rng, frame, _old):
    return other_byte(rng, frame, FUNCTION + 1)


def refused(rng, frame, _old):
    return [(0, frame[:4] + b"\0\3" + frame[6:7] + bytes([frame[FUNCTION] | 0x80, rng.randrange(1, 12)]))]


def noise_before(rng, frame, _old):
    return [(0, rng.randbytes(rng.randint(1, 40)) + frame)]


def noise_after(rng, frame, _old):
    return [(0, frame + rng.randbytes(rng.randint(1, 40)))]


BOTH = (ANSWERS, REQUESTS)
# kind: (ways, most frames in a row, a gateway has to live with it as if nothing were)
KINDS = {
    bytewise: (BOTH, 60, True), pieces: (BOTH, 60, True), jittered: (BOTH, 60, True),
    delayed: (BOTH, 5, False), late: (BOTH, 1, False), too_late: (BOTH, 1, False), lost: (BOTH, 2, False), cut_short: (BOTH, 1, False),
    cut_off: (BOTH, 1, False), twice: (BOTH, 2, False), old_instead: (BOTH, 2, False), old_before: (BOTH, 2, False),
    other_transaction: (BOTH, 1, False), other_protocol: (BOTH, 1, False), other_length: (BOTH, 1, False),
    other_unit: (BOTH, 1, False), other_function: (BOTH, 1, False), other_byte_count: ((ANSWERS,), 1, False),
    refused: ((ANSWERS,), 1, False), noise_before: (BOTH, 1, False), noise_after: (BOTH, 1, False),
}
# These befall the connection, not a frame: how long it takes at most.
OUTAGES = {"no connection": 1.5, "a black hole": 1.0}
STALE = 40  # old frames that are remembered


@dataclasses.dataclass
class Trouble:
    """What goes wrong next: drawn from the seed and its number alone."""
    number: int
    pause_s: float
    link: int
    name: str
    way: str = ""
    frames: int = 0
    seconds: float = 0.0

    @classmethod
    def draw(cls, seed, number, n_links, gentle):
        rng = random.Random(f"{seed}/{number}/{gentle}")
        pause, link = rng.uniform(0.2, 2.5), rng.randrange(n_links)
        kind = rng.choice([k for k in KINDS if KINDS[k][2]] if gentle else [*KINDS, *OUTAGES])
        if kind in OUTAGES:
            return cls(number, pause, link, kind, seconds=rng.uniform(0.05, OUTAGES[kind]))
        ways, most, _ = KINDS[kind]
        return cls(number, pause, link, kind.__name__, rng.choice(ways), rng.randint(1, most))


class End:
    """One end of a connection: what came from it, and when the last of what goes to it is due."""

    def __init__(self, way, sock):
        self.way, self.sock, self.received, self.due = way, sock, b"", 0.0
        self.other, self.link, self.waiting, self.ending = None, None, 0, False


class Link:
    def __init__(self, far_port):
        self.far_port, self.trouble, self.outage, self.outage_until = far_port, None, None, 0.0
        self.ends = set()
        self.old = {way: collections.deque(maxlen=STALE) for way in BOTH}
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.listener.setblocking(False)
        self.port = self.listener.getsockname()[1]


class Weather(threading.Thread):
    """`calm` and `gentle` are set by the test at any time; `failure` is to be looked at."""

    def __init__(self, far_ports, seed, tell=None):
        super().__init__(name="wire")
        self.links = [Link(port) for port in far_ports]
        self.seed, self.tell = seed, tell
        self.calm, self.gentle, self.ending, self.failure = True, False, False, None
        self.troubles, self.frames = collections.Counter(), collections.Counter()
        self.numbers, self.next = itertools.count(1), None
        self.late_s = 0.0  # the longest that a busy computer kept this thread from its work; the test sets it back
        self.selector, self.queue, self.order = selectors.DefaultSelector(), [], itertools.count()
        for link in self.links:
            self.selector.register(link.listener, selectors.EVENT_READ, (self.accept, link))

    @property
    def ports(self):
        return [link.port for link in self.links]

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.ending = True
        self.join()

    def run(self):
        try:
            while not self.ending:
                self.turn()
        except Exception:  # the test has to hear of it, whatever it is
            self.failure = traceback.format_exc()
        for link in self.links:
            for end in list(link.ends):
                self.drop(end)
            link.listener.close()
        self.selector.close()

    def turn(self):
        now = time.monotonic()
        wait = min(0.05, max(0.0, self.queue[0][0] - now)) if self.queue else 0.05
        for key, _ in self.selector.select(wait):
            what, argument = key.data
            what(argument)
        self.late_s = max(self.late_s, time.monotonic() - now - wait)
        now = time.monotonic()
        while self.queue and self.queue[0][0] <= now:
            _, _, end, piece = heapq.heappop(self.queue)
            end.waiting -= 1
            self.put(end, piece)
        self.get_into_trouble(now)

    # ---- trouble

    def get_into_trouble(self, now):
        if self.calm:
            self.next = None
            for link in self.links:
                link.trouble = link.outage = None
            return
        if self.next is None:
            trouble = Trouble.draw(self.seed, next(self.numbers), len(self.links), self.gentle)
            self.next = (now + trouble.pause_s, trouble)
        at, trouble = self.next
        if now < at:
            return
        self.next = None
        self.troubles[trouble.name] += 1
        if self.tell:
            self.tell(trouble)
        link = self.links[trouble.link]
        if trouble.name in OUTAGES:
            link.outage, link.outage_until = trouble.name, now + trouble.seconds
            for end in list(link.ends) if trouble.name == "no connection" else []:
                self.drop(end)
        else:
            link.trouble = trouble

    def out(self, link):
        if link.outage and time.monotonic() >= link.outage_until:
            link.outage = None
        return link.outage

    def spoil(self, end, frame):
        """What becomes of a frame that came from this end."""
        link, trouble = end.link, end.link.trouble
        if self.out(link):
            self.frames[link.outage] += 1
            return []
        old = list(link.old[end.way])
        link.old[end.way].append(frame)
        if trouble is None or trouble.way != end.way:
            return [(0, frame)]
        self.frames[trouble.name] += 1
        rng = random.Random(f"{self.seed}/{trouble.number}/{trouble.frames}")
        trouble.frames -= 1
        if trouble.frames <= 0:
            link.trouble = None
        kind = next(k for k in KINDS if k.__name__ == trouble.name)
        return kind(rng, frame, old)

    # ---- connections

    def accept(self, link):
        near_sock, _ = link.listener.accept()
        if self.out(link) == "no connection":
            near_sock.close()
            return
        try:
            far_sock = socket.create_connection(("127.0.0.1", link.far_port), timeout=1)
        except OSError:
            near_sock.close()
            return
        near, far = End(REQUESTS, near_sock), End(ANSWERS, far_sock)
        near.other, far.other = far, near
        for end in (near, far):
            end.link = link
            end.sock.setblocking(False)
            end.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            link.ends.add(end)
            self.selector.register(end.sock, selectors.EVENT_READ, (self.take, end))

    def drop(self, end, reset=False):
        if end not in end.link.ends:
            return
        end.link.ends.remove(end)
        self.selector.unregister(end.sock)
        if reset:
            end.sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        end.sock.close()

    def drop_other(self, end):
        """One end is gone. What is on its way to the other still gets there, as in a real network, and then it goes too."""
        other = end.other
        other.ending = True
        if other.waiting == 0:
            self.drop(other)

    def take(self, end):
        if end not in end.link.ends:
            return
        try:
            got = end.sock.recv(4096)
        except OSError:
            got = b""
        if not got:
            self.drop(end)
            self.drop_other(end)
            return
        end.received += got
        while end in end.link.ends and len(end.received) >= HEADER:
            length = 6 + struct.unpack_from(">H", end.received, 4)[0]
            if len(end.received) < length:
                return
            frame, end.received = end.received[:length], end.received[length:]
            for after, piece in self.spoil(end, frame):
                self.send(end.other, after, piece)

    def send(self, end, after, piece):
        """A connection keeps its order: nothing overtakes what was sent before it."""
        now = time.monotonic()
        end.due = max(now + after, end.due)
        if end.due <= now and end.waiting == 0:
            self.put(end, piece)
            return
        end.waiting += 1
        heapq.heappush(self.queue, (end.due, next(self.order), end, piece))

    def put(self, end, piece):
        if end not in end.link.ends:
            return
        try:
            if isinstance(piece, bytes):
                end.sock.sendall(piece)
            else:
                self.drop(end, reset=piece == RESET)
                self.drop_other(end)
        except OSError:
            self.drop(end)
            self.drop_other(end)
        if end.ending and end.waiting == 0:
            self.drop(end)
