"""Starts and stops the test host of the face; helps the system tests of the face to talk to it."""
import json
import socket
import struct
import subprocess


class Host:
    """The test host, for the length of a `with` block. `counts` is there after the end of it."""

    def __init__(self, program, **settings):
        self.command = [program] + [f"{name}={value}" for name, value in settings.items()]
        self.counts, self.takes_control = None, bool(settings.get("first_write"))

    def __enter__(self):
        self.process = subprocess.Popen(self.command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        first = self.process.stdout.readline().split()
        if len(first) != 2 or first[0] != "port":
            raise RuntimeError(f"{self.command[0]} does not start")
        self.port = int(first[1])
        if self.takes_control:
            with Raw(self.port) as client:
                client.write(16, 1)  # ACCESS_REQUEST
        return self

    def __exit__(self, *exception):
        self.process.terminate()
        try:
            out, _ = self.process.communicate(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.communicate()
            raise
        if self.process.returncode != 0:
            raise RuntimeError(f"{self.command[0]} ended with {self.process.returncode}")
        self.counts = json.loads(out)


class Raw:
    """A raw client that sends what it is told, right or wrong."""

    def __init__(self, port, source="127.0.0.1", timeout=5.0):
        self.socket = socket.create_connection(("127.0.0.1", port), timeout, (source, 0))
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.transaction = 0

    def __enter__(self):
        return self

    def __exit__(self, *exception):
        self.close()

    def close(self):
        self.socket.close()

    def send(self, data):
        self.socket.sendall(data)

    def receive(self, n):
        """n bytes, or fewer if the server closes."""
        data = b""
        while len(data) < n:
            try:
                more = self.socket.recv(n - len(data))
            except ConnectionError:
                break
            if not more:
                break
            data += more
        return data

    def frame(self):
        """The next frame, or b"" if the server has closed."""
        head = self.receive(6)
        if len(head) < 6:
            return b""
        return head + self.receive(struct.unpack(">H", head[4:6])[0])

    def ask(self, pdu, unit=1):
        """Sends a PDU; gives the answer's PDU and checks its header."""
        self.transaction = (self.transaction + 1) & 0xFFFF
        self.send(adu(self.transaction, pdu, unit))
        answer = self.frame()
        if not answer:
            return None
        transaction, protocol, length, answer_unit = struct.unpack(">HHHB", answer[:7])
        assert (transaction, protocol, answer_unit) == (self.transaction, 0, unit), answer.hex()
        assert length == len(answer) - 6, answer.hex()
        return answer[7:]

    def read(self, function, first, n, unit=1):
        """Registers, as a list; an exception as its number."""
        answer = self.ask(struct.pack(">BHH", function, first, n), unit)
        if answer[0] & 0x80:
            return answer[1]
        return list(struct.unpack(f">{n}H", answer[2:]))

    def write(self, address, value, unit=1):
        """0, or the exception's number."""
        answer = self.ask(struct.pack(">BHH", 6, address, value), unit)
        return answer[1] if answer[0] & 0x80 else 0


def adu(transaction, pdu, unit=1, protocol=0, length=None):
    length = len(pdu) + 1 if length is None else length
    return struct.pack(">HHHB", transaction, protocol, length, unit) + pdu
