#!/usr/bin/env python3
"""MusicXML read by restward, music21 and partitura, and ABC by restward and music21, on the same files in the same run, in MB a
second.

The files are scores and single tunes of the corpus that music21 ships, unpacked. restward's reader runs as a release build by
`cargo bench --bench reading` (median of its samples); the others read each file once after a warm-up.

    python tools/bench/reading.py        (needs music21 and partitura; about two minutes besides the build)
"""
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time
import warnings
import zipfile

import music21
import partitura

TOP = pathlib.Path(__file__).resolve().parents[2]
CORPUS = pathlib.Path(music21.__file__).parent / "corpus"
SCORES = ["bach/bwv1.6.mxl", "bach/bwv66.6.mxl", "monteverdi/madrigal.3.1.mxl", "mozart/k155/movement2.mxl",
          "haydn/opus1no1/movement1.mxl", "schumann_clara/polonaise_op1n1.mxl"]

EVERY_TUNE = 10  # of more than a thousand files of one tune


def unpack(folder):
    """The scores as plain files."""
    for name in SCORES:
        with zipfile.ZipFile(CORPUS / name) as archive:
            inside = next(n for n in archive.namelist() if n.endswith(".xml") and not n.startswith("META-INF"))
            (folder / (name.replace("/", "-").removesuffix(".mxl") + ".musicxml")).write_bytes(archive.read(inside))
    return sorted(folder.iterdir())


def copy_tunes(folder):
    """Files of one ABC tune."""
    for path in sorted((CORPUS / "ryansMammoth").glob("*.abc"))[::EVERY_TUNE]:
        shutil.copy(path, folder)
    return sorted(folder.iterdir())


def timed(read, files):
    """MB a second of a reader."""
    warnings.simplefilter("ignore")
    read(files[0])
    begun = time.perf_counter()
    for file in files:
        read(file)
    return sum(file.stat().st_size for file in files) / (time.perf_counter() - begun) / 1e6


def restward(folder, bench):
    """MB a second of a bench of restward, from the table that the bench prints: fastest, slowest, median, mean."""
    command = ["cargo", "bench", "--quiet", "--bench", "reading", "--", bench]
    environment = {**os.environ, "RESTWARD_BENCH_SCORES": str(folder)}
    result = subprocess.run(command, cwd=TOP, env=environment, capture_output=True, text=True)
    rates = re.findall(r"([\d.]+) ([KMG]?)B/s", result.stdout)
    if result.returncode or len(rates) < 4:
        sys.exit(f"the bench failed:\n{result.stdout}{result.stderr}")
    number, unit = rates[2]
    return float(number) * {"": 1e-6, "K": 1e-3, "M": 1, "G": 1e3}[unit]


def compare(what, folder, files, bench, others):
    """Times all readers and prints the table."""
    size = sum(file.stat().st_size for file in files) / 1e6
    print(f"{len(files)} {what}, {size:.2f} MB")
    rates = {"restward": restward(folder, bench)}
    rates.update((program, timed(read, files)) for program, read in others.items())
    for program, rate in rates.items():
        times = "" if program == "restward" else f"   restward is {rates['restward'] / rate:.0f} times as fast"
        print(f"{program:10} {rate:9.2f} MB/s{times}")


def music21_reads(kind):
    """music21's reader of one format."""
    return lambda file: music21.converter.parse(file, forceSource=True, format=kind)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        others = {"music21": music21_reads("musicxml"), "partitura": partitura.load_musicxml}
        compare("scores in MusicXML", folder, unpack(folder), "musicxml", others)
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        compare("tunes in ABC", folder, copy_tunes(folder), "abc", {"music21": music21_reads("abc")})


if __name__ == "__main__":
    main()
