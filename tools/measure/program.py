"""Runs the built restward on one exercise and one take, and reads what it says."""

import json
import os
import subprocess
import time

# The slowest take here needs some 50 ms; this only ends a program that hangs.
SECONDS_AT_MOST = 120


class Program:
    """A built restward."""

    def __init__(self, path):
        self.path = str(path)

    def check(self, exercise, take, report, sends="concert", level="first-year"):
        """The output of `restward check` in the given form of report."""
        done = subprocess.run(self._command(exercise, take, report, sends, level),
                              capture_output=True, text=True, timeout=SECONDS_AT_MOST)
        if done.returncode != 0:
            raise SystemExit(f"{take}: exit {done.returncode}: {done.stderr.strip()}")
        return done.stdout

    def report(self, exercise, take, **options):
        """The report of the whole take."""
        return json.loads(self.check(exercise, take, "json", **options))

    def lines(self, exercise, take, **options):
        """What the live engine decided, in the order decided."""
        return [json.loads(line) for line in self.check(exercise, take, "jsonl", **options).splitlines()]

    def cost(self, exercise, take, report):
        """Seconds of processor time, and bytes of memory at most (none where there is no /proc), of one run."""
        command = self._command(exercise, take, report, "concert", "first-year")
        running = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        most, done = None, 0
        while not done:
            # The system's own record of the most it ever had; what wait4 tells begins with the memory of this program.
            most = resident(running.pid) or most
            time.sleep(0.0005)
            done, status, used = os.wait4(running.pid, os.WNOHANG)
        running.returncode = os.waitstatus_to_exitcode(status)
        if running.returncode != 0:
            raise SystemExit(f"{take}: exit {running.returncode}")
        return used.ru_utime + used.ru_stime, most

    def _command(self, exercise, take, report, sends, level):
        return [self.path, "check", str(exercise), str(take),
                "--report", report, "--sends", sends, "--level", level]


def resident(process):
    """Bytes that a running process has had in memory at most, where the system tells."""
    try:
        with open(f"/proc/{process}/status", encoding="ascii") as status:
            return next((1024 * int(line.split()[1]) for line in status if line.startswith("VmHWM:")), None)
    except OSError:
        return None
