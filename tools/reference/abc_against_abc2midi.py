#!/usr/bin/env python3
"""Compares what restward reads in ABC with what abc2midi plays, on the tunes that music21's corpus ships: in performed order.

For every voice of a tune: sounding pitch, onset and value of the top tone, repeats, endings, sections (P:) and jumps played out. abc2midi
gets the tune without what it plays and restward does not (decorations, chord symbols, the rhythm R:, which makes it swing hornpipes),
and with |: where a repeat has no beginning and a double bar or the end of a repeat tells it (ABC 2.1, 4.8; abc2midi often goes
further back). Its chords are spread, tone by tone: what follows within 11 ticks of 480 a quarter is one chord.
Tunes that differ are in abc_against_abc2midi.toml with the reason. Fails if fewer than 98 % are identical or a difference is not
explained.

    python abc_against_abc2midi.py --program PATH [--every N] [--only TEXT] [--show]

Needs abc2midi (Debian: abcmidi; tested with 4.84) and mido. Takes about 20 seconds for every 10th tune on two cores.
"""
import collections
import multiprocessing
import pathlib
import re
import subprocess
import sys
from fractions import Fraction

import mido

import abc_corpus
from abc_corpus import Note

LEAST = 0.98
NEAR = Fraction(1, 96)  # of a quarter: abc2midi rounds to its ticks and begins one tick late
SPREAD = Fraction(11, 480)
SAME = "identical"


def without_looks(line):
    """A line of music without what abc2midi plays and restward does not."""
    line = re.sub(r'"[^"]*"', "", line)
    line = re.sub(r"!(?!(?:D\.[CS]|fine|coda|segno))[^\s!]*!", "", line)
    pieces = re.split(r"(\[[A-Za-z]:[^\]]*\])", line)
    return "".join(
        piece if index % 2 else re.sub(r"[.~HLMPTuvkKRUVQIi`]|y\d*", "", piece) for index, piece in enumerate(pieces)
    )


def with_beginnings(text):
    """With |: after the latest double bar or end of a repeat before each repeat that has no beginning."""
    marks, mark, is_open = [], None, False
    # Fields match, too, so that nothing is found in them.
    for found in re.finditer(r"(?m)^[A-Za-z]:.*$|\[\|\](?![|:])|(?:\|\]|\[\||[|:])+", text):
        bar = found.group()
        if bar[0].isalpha() or bar == "[|]":
            continue
        ends, starts = bar.startswith(":") and len(bar) > 1, bar.endswith(":") and len(bar) > 1
        begins_ending = re.match(r"\s*\[?\d", text[found.end():])
        if ends and mark is not None and not is_open:
            marks.append(mark)
        if ends or starts:
            mark, is_open = None, starts
        if not is_open and not begins_ending and (ends or re.search(r"\|\||[\[\]]", bar)):
            mark = found.end()
    for mark in reversed(marks):
        text = f"{text[:mark]} |: {text[mark:]}"
    return text


def played(tune, folder):
    """[[Note]] of each voice that abc2midi plays."""
    text = with_beginnings(abc_corpus.music_lines(tune.text, without_looks))
    text = "".join(line + "\n" for line in text.split("\n") if not line.startswith("R:"))
    source = pathlib.Path(folder) / f"{multiprocessing.current_process().pid}.abc"
    source.write_text("%abc-2.1\n" + re.sub(r"^X:.*", "X:1", text))
    target = source.with_suffix(".mid")
    target.unlink(missing_ok=True)
    command = ["abc2midi", str(source), "-NGRA", "-NGUI", "-NFER", "-OCC", "-silent", "-o", str(target)]
    subprocess.run(command, capture_output=True, timeout=60)
    file = mido.MidiFile(target)
    voices = []
    for track in file.tracks:
        sounding, tones, now = collections.defaultdict(list), [], 0
        for event in track:
            now += event.time
            if event.type == "note_on" and event.velocity > 0:
                sounding[event.note].append(now)
            elif event.type in ("note_on", "note_off") and sounding[event.note]:
                begun = sounding[event.note].pop(0)
                tick = file.ticks_per_beat
                tones.append(Note(event.note, Fraction(begun, tick), Fraction(now - begun, tick)))
        if tones:
            voices.append(top_line(sorted(tones, key=lambda tone: tone.onset)))
    return voices


def top_line(tones):
    """Of tones that begin together the highest, where the first began."""
    line, before = [], None
    for tone in tones:
        if before is not None and tone.onset - before <= SPREAD:
            if tone.midi > line[-1].midi:
                line[-1] = Note(tone.midi, line[-1].onset, tone.onset + tone.value - line[-1].onset)
        else:
            line.append(tone)
        before = tone.onset
    return line


def ours(read):
    """[Note] in performed order."""
    fractions = lambda note: (Fraction(note["onset_quarters"]), Fraction(note["duration_quarters"]))
    return [Note(note["sounding_midi"], *fractions(note)) for note in read["notes"]]


def is_same(mine, other):
    """The same pitch, and the same times but for ticks."""
    return mine and other and mine.midi == other.midi and all(abs(a - b) <= NEAR for a, b in zip(mine[1:], other[1:]))


def compare(job):
    """(tune, kind of agreement or None, difference in words or None)."""
    program, tune, folder = job
    try:
        read = abc_corpus.listing(program, tune, folder)
        voices = played(tune, folder)
        if len(voices) != len(read["parts"]):
            return tune.name, None, f"abc2midi plays {len(voices)} voices, restward {len(read['parts'])}"
        for voice, name in zip(voices, read["parts"]):
            if name["id"] != read["part"]["id"]:
                read = abc_corpus.listing(program, tune, folder, name["id"])
            mine = ours(read)
            pairs = zip(mine + [None] * len(voice), voice + [None] * len(mine))
            first = next((pair for pair in pairs if pair != (None, None) and not is_same(*pair)), None)
            if first:
                shown = ["nothing" if note is None else f"{note.midi} at {note.onset} for {note.value}" for note in first]
                return tune.name, None, f"restward {shown[0]}, abc2midi {shown[1]} ({len(mine)} and {len(voice)} notes)"
    except Exception as error:  # a refusal or a file that abc2midi did not write is a disagreement to explain
        return tune.name, None, f"{type(error).__name__}: {error}"
    return tune.name, SAME, None


def main():
    sys.exit(abc_corpus.run(__doc__, __file__, compare, every=10, same=(SAME,), least=LEAST))


if __name__ == "__main__":
    main()
