"""Runs the built restward on one exercise and one take, and reads what it says."""

import json
import os
import subprocess

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
        """Seconds of processor time and bytes of memory at most, of one run. Unix only."""
        command = self._command(exercise, take, report, "concert", "first-year")
        with open(os.devnull, "wb") as nowhere:
            running = subprocess.Popen(command, stdout=nowhere)
            _, status, used = os.wait4(running.pid, 0)
            running.returncode = os.waitstatus_to_exitcode(status)
        if running.returncode != 0:
            raise SystemExit(f"{take}: exit {running.returncode}")
        return used.ru_utime + used.ru_stime, used.ru_maxrss * 1024

    def _command(self, exercise, take, report, sends, level):
        return [self.path, "check", str(exercise), str(take),
                "--report", report, "--sends", sends, "--level", level]
