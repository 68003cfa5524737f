"""The panel in front of a gateway, for tests: the program, what it answers, and its streams of events."""
import http.client
import json
import os
import subprocess
import threading
import time


class Panel:
    """kniferail-panel for the length of a `with` block. stations: (port, unit) of each.

    measured: its memory is measured. Under AddressSanitizer it then gives back what it frees, where 256 MB are kept elsewhere.
    """

    def __init__(self, program, stations, options=(), measured=False):
        self.program, self.stations, self.options = program, stations, list(options)
        self.environment = dict(os.environ)
        self.before_start = None  # called in the new process, before the program
        if measured:
            self.environment["ASAN_OPTIONS"] = os.environ.get("ASAN_OPTIONS", "") + ":quarantine_size_mb=0:thread_local_quarantine_size_kb=0"

    def __enter__(self):
        arguments = [f"--station=127.0.0.1:{port}/{unit}" for port, unit in self.stations]
        self.process = subprocess.Popen([self.program, "--listen", "127.0.0.1:0", "--print-port", "--period-ms", "100", *arguments,
                                         *self.options], stdout=subprocess.PIPE, text=True, env=self.environment,
                                        preexec_fn=self.before_start)
        line = self.process.stdout.readline()
        self.process.stdout.close()
        if not line:
            raise AssertionError(f"the panel does not start: status {self.process.wait()}")
        self.port = int(line)
        return self

    def __exit__(self, *_):
        self.process.terminate()
        status = self.process.wait(20)
        if status != 0:
            raise AssertionError(f"the panel ended with status {status}")

    def ask(self, path, method="GET", headers=None, body=None):
        """Status, headers and body of an answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        try:
            connection.request(method, path, body=body, headers=headers or {})
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()

    def station(self, number=1):
        status, _, body = self.ask(f"/api/v1/stations/{number}")
        return status, json.loads(body)


class Events(threading.Thread):
    """A browser's side of a stream of events: (name, data) of each, in `seen`."""

    def __init__(self, panel, path):
        super().__init__()
        self.connection = http.client.HTTPConnection("127.0.0.1", panel.port, timeout=30)
        self.connection.request("GET", path)
        self.answer = self.connection.getresponse()
        self.seen, self.bytes = [], 0

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.connection.sock and self.connection.sock.shutdown(2)
        self.join()
        self.connection.close()

    def run(self):
        name = ""
        try:
            for line in self.answer:
                self.bytes += len(line)
                key, _, value = line.decode().rstrip("\n").partition(": ")
                if key == "event":
                    name = value
                elif key == "data":
                    self.seen.append((name, json.loads(value)))
        except (OSError, http.client.HTTPException, ValueError, AttributeError):
            pass  # the stream was closed

    def wait(self, condition, seconds, what):
        until = time.monotonic() + seconds
        while not any(condition(*event) for event in list(self.seen)):
            if time.monotonic() > until:
                raise AssertionError(f"not after {seconds} s: {what}; the last event: {str(self.seen[-1:])[:300]}")
            time.sleep(0.02)
