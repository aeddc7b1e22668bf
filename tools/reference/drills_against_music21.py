#!/usr/bin/env python3
"""Checks drills as music21 reads them, with nothing of restward's own theory.

`restward drill` is run for instruments, sections, keys, kinds, levels, meters and lengths in turn. In each file, with
music21's keys, meters, intervals and transpositions:
  every measure is exactly full, and there are as many as asked;
  no note lies outside the instrument's beginner range (config/instruments.toml);
  the last note is the tonic of the key in force and fills the last measure;
  the parts of a section sound in octaves, note by note;
  in every two measures stands a note whose letter some key of the family alters otherwise (changed), or the other of
  the two keys does (two-keys);
  in a hold drill that is long enough every value from 1 to 8 beats is let go before a rest, and on each count.

    python drills_against_music21.py --program PATH [--drills N]

One line in the end; each drill that breaks a rule is shown and makes the exit status 1.
"""

import argparse
import itertools
import pathlib
import subprocess
import sys
import tempfile
import tomllib
from fractions import Fraction

from music21 import converter, key, pitch, stream

TOP = pathlib.Path(__file__).resolve().parents[2]
FAMILY = ["F", "B-", "E-", "A-"]
METERS = {"4/4": (4, 1), "3/4": (3, 1), "2/4": (2, 1), "2/2": (2, 2), "6/8": (2, Fraction(3, 2))}
LEVELS = ["first-year", "second-year", "third-year"]
SECTIONS = [
    "flute,oboe,bells", "clarinet,bass-clarinet,tenor-sax", "alto-sax,bari-sax", "trumpet,horn,trombone,tuba",
    "flute,clarinet,alto-sax,trumpet,horn,trombone,euphonium-tc,tuba,xylophone",
]


def instruments():
    """Ids with the lowest and highest written note of a beginner."""
    listed = tomllib.loads((TOP / "config" / "instruments.toml").read_text())["instrument"]
    return {one["id"]: [pitch.Pitch(name.replace("b", "-")).midi for name in one["beginner"]] for one in listed}


def requests(count, ids):
    """What is asked for, in turns that meet all combinations of neighbours."""
    who = itertools.cycle([[one] for one in ids] + [section.split(",") for section in SECTIONS])
    meters, levels, keys = itertools.cycle(METERS), itertools.cycle(LEVELS), itertools.cycle(FAMILY)
    kinds = itertools.cycle(["changed", "hold", "changed", "two-keys"])
    for seed in range(count):
        players, meter, level, home, kind = (next(turn) for turn in (who, meters, levels, keys, kinds))
        if seed % 7 == 0:
            next(keys)
        to = FAMILY[(FAMILY.index(home) + 1 + seed % 3) % 4] if kind == "two-keys" else None
        yield players, meter, level, home, kind, to, 4 + seed * 5 % 29, seed


def run(program, request, file):
    players, meter, level, home, kind, to, measures, seed = request
    ascii_name = lambda name: name.replace("-", "b")
    who = ["--instrument", players[0]] if len(players) == 1 else ["--section", ",".join(players)]
    second = ["--to", ascii_name(to)] if to else []
    command = [program, "drill", "--kind", kind, "--key", ascii_name(home), *second, *who, "--level", level]
    command += ["--meter", meter, "--measures", str(measures), "--seed", str(seed), "-o", file]
    return command, subprocess.run(command, capture_output=True, text=True)


def faults(score, request, ranges):
    """Sentences about rules that are broken."""
    players, meter, _, home, kind, _, measures, _ = request
    parts = list(score.parts)
    if len(parts) != len(players):
        yield f"{len(parts)} parts"
    for part, player in zip(parts, players):
        bars = list(part.getElementsByClass(stream.Measure))
        if len(bars) != measures:
            yield f"{player}: {len(bars)} measures"
        for bar in bars:
            if sum(Fraction(one.quarterLength) for one in bar.notesAndRests) != bar.barDuration.quarterLength:
                yield f"{player}: measure {bar.number} is not full"
        notes = list(part.stripTies().flatten().notes)
        low, high = ranges[player]
        for note in notes:
            if not low <= note.pitch.midi <= high:
                yield f"{player}: {note.pitch} is out of range"
        keys = [bar.keySignature for bar in bars if bar.keySignature is not None]
        last = notes[-1]
        if last.pitch.name != key.KeySignature(keys[-1].sharps).asKey("major").tonic.name:
            yield f"{player}: ends on {last.pitch}"
        if last.quarterLength != bars[-1].barDuration.quarterLength:
            yield f"{player}: the last note does not fill its measure"
        yield from point(player, bars, notes, keys, kind, home, meter, measures)
    sounding = [list(part.toSoundingPitch(inPlace=False).stripTies().flatten().notes) for part in parts]
    for other in sounding[1:]:
        if len(other) != len(sounding[0]):
            yield "parts of different length"
        elif any((a.pitch.midi - b.pitch.midi) % 12 for a, b in zip(sounding[0], other)):
            yield "parts that do not sound in octaves"


def point(player, bars, notes, keys, kind, home, meter, measures):
    """What the drill is for."""
    count, beat = METERS[meter]
    if kind == "hold":
        values, counts = set(), set()
        for before, after in itertools.pairwise(notes):
            end = Fraction(before.offset) + Fraction(before.quarterLength)
            if end < after.offset:
                values.add(Fraction(before.quarterLength) / beat)
                counts.add(end / beat % count)
        if measures * count >= 56 and (values != set(range(1, 9)) or len(counts) != count):
            yield f"{player}: values {sorted(values)}, counts {sorted(counts)}"
        return
    signature = {}
    for bar in bars:
        signature[bar.number] = bar.keySignature or signature.get(bar.number - 1)
    alter = lambda some_key, letter: getattr(some_key.accidentalByStep(letter), "alter", 0)
    # The written family lies as far from the written key as the concert family from the concert key.
    moved = keys[0].sharps - key.Key(home).sharps
    met = set()
    for note in notes:
        own = signature[note.measureNumber]
        if kind == "changed":
            others = [key.KeySignature(key.Key(name).sharps + moved) for name in FAMILY]
        else:
            others = [one for one in keys if one.sharps != own.sharps]
        letter = note.pitch.step
        if note.pitch.alter == alter(own, letter) and any(alter(one, letter) != alter(own, letter) for one in others):
            met.add((note.measureNumber - 1) // 2)
    for pair in range(measures // 2):
        if pair not in met:
            yield f"{player}: no changed note in measures {2 * pair + 1} and {2 * pair + 2}"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", required=True)
    parser.add_argument("--drills", type=int, default=150)
    arguments = parser.parse_args()
    ranges = instruments()
    broken = parts = 0
    with tempfile.TemporaryDirectory() as folder:
        for request in requests(arguments.drills, list(ranges)):
            file = str(pathlib.Path(folder) / "drill.musicxml")
            command, made = run(arguments.program, request, file)
            found = [made.stderr.strip()] if made.returncode else None
            if found is None:
                score = converter.parse(file, forceSource=True)
                found = list(faults(score, request, ranges))
                parts += len(score.parts)
            if found:
                broken += 1
                print(" ".join(command[1:-2]), *found, sep="\n    ")
    print(f"{arguments.drills} drills, {parts} parts: {arguments.drills - broken} keep every rule")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
