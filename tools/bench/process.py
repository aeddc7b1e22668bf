#!/usr/bin/env python3
"""Times whole runs of `restward check`: start of the process, exercise and take read, judged and printed as JSON.

    python3 tools/bench/process.py --program target/release/restward

The longest exercises of tests/data/takes. Medians.
"""

import argparse
import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

TAKES = Path(__file__).resolve().parents[2] / "tests/data/takes"
RUNS = 40


def median_ms(work, runs):
    times = []
    for _ in range(runs):
        begun = time.perf_counter()
        work()
        times.append((time.perf_counter() - begun) * 1000)
    return statistics.median(times), max(times)


def run(*command):
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", required=True, help="the built restward (a release build)")
    program = str(Path(parser.parse_args().program).resolve())
    exercises = sorted(TAKES.glob("*.musicxml"))
    longest = sorted(exercises, key=lambda path: path.read_text(encoding="utf-8").count("<measure"))[-3:]
    print(f"{'check, whole process':40} {'median':>9} {'slowest':>9}   ({RUNS} runs)")
    for path in longest:
        measures = path.read_text(encoding="utf-8").count("<measure")
        middle, slowest = median_ms(lambda: run(program, "check", path, path.with_suffix(".mid"), "--report", "json"), RUNS)
        print(f"{f'{path.stem}, {measures} measures':40} {middle:6.1f} ms {slowest:6.1f} ms")
    nothing, _ = median_ms(lambda: run(shutil.which("true")), RUNS)
    print(f"{'(a process that does nothing)':40} {nothing:6.1f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
