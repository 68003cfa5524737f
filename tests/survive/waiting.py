"""How long a process' first thread waited for a processor, by the kernel's account: proc(5), schedstat of a task and the
stolen time in /proc/stat."""
import os
import pathlib


class Waiting:
    """For the processor, not for the disk: seconds since this was made, or marked."""

    def __init__(self, process):
        self.path = f"/proc/{process.pid}/task/{process.pid}/schedstat"
        self.mark()

    def mark(self):
        self.before = self.ready_s(), self.stolen_s()

    def ready_s(self):
        return int(pathlib.Path(self.path).read_text(encoding="ascii").split()[1]) / 1e9

    @staticmethod
    def stolen_s():
        """By whoever runs this computer as a virtual one."""
        ticks = pathlib.Path("/proc/stat").read_text(encoding="ascii").split()[8]
        return int(ticks) / os.sysconf("SC_CLK_TCK")

    def ready(self):
        """To run, and not run: others had this computer's processors."""
        return self.ready_s() - self.before[0]

    def stolen(self):
        return self.stolen_s() - self.before[1]

    def seconds(self):
        return self.ready() + self.stolen()
