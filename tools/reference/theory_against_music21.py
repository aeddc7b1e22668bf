#!/usr/bin/env python3
"""Compares restward's keys, transpositions and changed notes with music21.

For each of the 30 keys on paper `restward changed --all --json` is asked. What music21 knows is used
instead of restward's own theory: the accidental of each letter in a key, the key transposed for an
instrument, its transposing table of instruments. Only the ranking (how many keys of the family differ, how
near the nearest one is on the circle of fifths) is computed here, from music21's accidentals.

One line for each instrument and each key; exit status 1 if any check disagrees, and each of those is shown.
"""

import argparse
import json
import subprocess
import sys
import tomllib
from pathlib import Path

from music21 import instrument, interval, key, pitch

from agreement import Agreement

ROOT = Path(__file__).resolve().parents[2]

# The catalogue's ids in music21. Its glockenspiel and xylophone carry no octave and its euphonium does not
# exist: those transpositions are checked below against the names of their intervals.
IN_MUSIC21 = {
    "flute": instrument.Flute, "piccolo": instrument.Piccolo, "oboe": instrument.Oboe,
    "bassoon": instrument.Bassoon, "clarinet": instrument.Clarinet, "bass-clarinet": instrument.BassClarinet,
    "alto-sax": instrument.AltoSaxophone, "tenor-sax": instrument.TenorSaxophone,
    "bari-sax": instrument.BaritoneSaxophone, "trumpet": instrument.Trumpet, "horn": instrument.Horn,
    "trombone": instrument.Trombone, "tuba": instrument.Tuba, "marimba": instrument.Marimba,
    "keyboard": instrument.Piano,
}
# Common practice, no source: bells sound two octaves up, the xylophone one, the treble-clef euphonium a
# major ninth down.
BY_NAME = {"bells": "P15", "xylophone": "P8", "euphonium": "P1", "euphonium-tc": "M-9"}

LETTERS = "ABCDEFG"
FAMILY = ["F", "B-", "E-", "A-"]


def music21_key(fifths, mode):
    return key.KeySignature(fifths).asKey(mode)


def name(some_key):
    return f"{some_key.tonic.name.replace('-', 'b')} {some_key.mode}"


def alter(some_key, letter):
    accidental = some_key.accidentalByStep(letter)
    return int(accidental.alter) if accidental else 0


def written(concert, to_sounding):
    """The printed key; beyond six accidentals the enharmonic one, unless the part does not transpose."""
    if to_sounding.chromatic.semitones % 12 == 0:
        return concert
    moved = concert.transpose(to_sounding.reverse())
    if abs(moved.sharps) > 6:
        moved = music21_key(moved.sharps - 12 if moved.sharps > 0 else moved.sharps + 12, concert.mode)
    return moved


def spelled(note):
    """A note of restward's answer as music21 writes it."""
    return note["written"] + {"flat": "-", "natural": "", "sharp": "#", "double sharp": "##"}[note["sign"]]


def changed(own, family):
    """Letters with sign, rank and number of differing keys, most important first (DESIGN.md §2)."""
    others = [other for other in family if other.sharps != own.sharps]

    def apart(other):
        steps = (own.sharps - other.sharps) % 12
        return min(steps, 12 - steps)

    found = []
    for letter in LETTERS:
        differing = [other for other in others if alter(other, letter) != alter(own, letter)]
        if differing:
            found.append((-len(differing), min(map(apart, differing)), letter))
    found.sort()
    result = []
    for place, (count, _, letter) in enumerate(found):
        rank = "primary" if place == 0 else "secondary" if place == 1 and -2 * count >= len(others) else "other"
        sign = {-1: "flat", 0: "natural", 1: "sharp"}[alter(own, letter)]
        result.append((letter, sign, rank, -count))
    return result


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", required=True, help="the built restward")
    program = str(Path(parser.parse_args().program).resolve())
    agreement = Agreement("changed")
    check = agreement.check

    catalogue = tomllib.loads((ROOT / "config/instruments.toml").read_text(encoding="utf-8"))["instrument"]
    to_sounding = {}
    for entry in catalogue:
        ident = entry["id"]
        if ident in IN_MUSIC21:
            theirs = IN_MUSIC21[ident]().transposition or interval.Interval("P1")
        else:
            theirs = interval.Interval(BY_NAME[ident])
        to_sounding[ident] = theirs
        generic = theirs.generic.directed
        steps = generic - 1 if generic > 0 else generic + 1
        ours = entry["transposition"]
        check(f"transposition of {ident}", (ours["diatonic"], ours["chromatic"]),
              (steps, int(theirs.chromatic.semitones)))
        agreement.tell(f"transposition of {ident}")

    family = [key.Key(tonic) for tonic in FAMILY]
    for mode in ("major", "minor"):
        for fifths in range(-7, 8):
            concert = music21_key(fifths, mode)
            asked = name(concert)
            output = subprocess.run([program, "changed", "--key", asked, "--all", "--json"],
                                    check=True, capture_output=True, text=True).stdout
            answer = json.loads(output)
            check(f"{asked}: the key itself", answer["concert_key"], asked)
            check(f"{asked}: every instrument answers", [i["instrument"] for i in answer["instruments"]],
                  [entry["id"] for entry in catalogue])
            for part in answer["instruments"]:
                ident = part["instrument"]
                own = written(concert, to_sounding[ident])
                check(f"{asked}: written key of {ident}", part["written_key"], name(own))
                theirs = changed(own, [written(k, to_sounding[ident]) for k in family])
                ours = [(n["written"], n["sign"], n["rank"], n["differing"]) for n in part["changed"]]
                check(f"{asked}: changed notes of {ident}", ours, theirs)
                scale = [p.step for p in own.pitches[:7]]
                notes = part["changed"] + ([part["printed"]] if "printed" in part else [])
                check(f"{asked}: degrees of {ident}", [n["degree"] for n in notes],
                      [scale.index(n["written"]) + 1 for n in notes])
                sounding = [pitch.Pitch(spelled(n)).transpose(to_sounding[ident]).pitchClass for n in notes]
                ours = [pitch.Pitch(n["concert"][0] + n["concert"][1:].replace("b", "-")).pitchClass for n in notes]
                check(f"{asked}: concert pitch of {ident}", ours, sounding)
                if mode == "minor":
                    # Harmonic minor: a semitone under the tonic, on the letter under the tonic's.
                    leading = own.tonic.transpose("m-2")
                    check(f"{asked}: printed leading tone of {ident}", spelled(part["printed"]), leading.name)
            agreement.tell(f"{asked} in {len(answer['instruments'])} instruments")
    return agreement.finish()


if __name__ == "__main__":
    sys.exit(main())
