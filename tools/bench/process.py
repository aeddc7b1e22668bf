#!/usr/bin/env python3
"""Times whole runs of restward, and reading MusicXML against partitura and music21 in the same run.

    python tools/bench/process.py --program target/release/restward

`check`: start to end of the process, exercise and take read, judged and printed as JSON, the longest exercises of
tests/data/takes. MusicXML: restward with its process start and the printing of all notes as JSON; the others
inside this process, without their import, and without printing. Medians.
"""

import argparse
import shutil
import statistics
import subprocess
import sys
import time
import warnings
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

    size = sum(path.stat().st_size for path in exercises)
    print(f"\nMusicXML, {len(exercises)} files, {size / 1e6:.2f} MB")
    speeds = {"restward notes, a process for each file": median_ms(
        lambda: [run(program, "notes", path, "--json") for path in exercises], 3)[0]}
    warnings.simplefilter("ignore")
    try:
        import partitura
        speeds["partitura, in one process"] = median_ms(
            lambda: [partitura.load_musicxml(str(path)) for path in exercises], 1)[0]
    except ImportError:
        print("partitura is not installed here")
    try:
        import music21
        speeds["music21, in one process"] = median_ms(
            lambda: [music21.converter.parse(path, forceSource=True) for path in exercises], 1)[0]
    except ImportError:
        print("music21 is not installed here")
    for name, milliseconds in speeds.items():
        print(f"{name:40} {size / 1e3 / milliseconds:8.3f} MB/s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
