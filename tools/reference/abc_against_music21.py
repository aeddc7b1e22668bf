#!/usr/bin/env python3
"""Compares what restward reads in ABC with what music21 reads, on the tunes that music21's corpus ships (12,977 in 1,146 files).

For every voice of a tune, in the order of the page (each measure once): sounding pitch, onset and value as exact fractions of the
top tone, ties merged, no grace notes. The order of playing is compared by abc_against_abc2midi.py.

music21 10.5 is told that the files are ABC 2.1, or it lets no accidental carry. Where the lists still differ it is asked again with
signs taken out of the text that change neither pitch nor time, but between which and other signs it loses its way:
decorations, slurs, grace notes, texts, ties beside broken rhythm, lines of the header that are no fields; inline fields become
lines, x becomes z, and a space comes between a note and a repeat sign (A:| would be a field). Tunes that then differ
are in abc_against_music21.toml with the reason. Fails if fewer than 98 % are identical or a difference is not explained.

    python abc_against_music21.py --program PATH [--every N] [--only TEXT] [--show]

Takes about 15 seconds for every 40th tune, 10 minutes for all of them (--every 1), on two cores.
"""
import re
import sys
import warnings
from fractions import Fraction

import music21

import abc_corpus
from abc_corpus import Note

LEAST = 0.98
DIRECT, PLAIN = "identical", "identical with signs taken out for music21"


def ours(read):
    """[Note] of a listing in page order."""
    first, durations = {}, {}
    for index, measure in enumerate(read["measures"]):
        first.setdefault(measure["page_index"], index)
        durations[measure["page_index"]] = Fraction(measure["duration_quarters"])
    starts, at = {}, Fraction(0)
    for page in sorted(durations):
        starts[page], at = at, at + durations[page]
    notes = []
    for note in read["notes"]:
        measure = read["measures"][note["measure_index"]]
        if first[measure["page_index"]] == note["measure_index"]:
            offset = Fraction(note["onset_quarters"]) - Fraction(measure["onset_quarters"])
            onset = starts[measure["page_index"]] + offset
            notes.append(Note(note["sounding_midi"], onset, Fraction(note["duration_quarters"])))
    return sorted(notes, key=lambda note: note.onset)


def theirs(part):
    """[Note] as music21 has them."""
    notes, is_tied = [], False
    for element in part.flatten().notes:
        if isinstance(element, music21.harmony.Harmony) or element.duration.isGrace:
            continue
        tones = element.notes if isinstance(element, music21.chord.ChordBase) else [element]
        tone = max(tones, key=lambda tone: tone.pitch.ps)
        note = Note(int(tone.pitch.ps), Fraction(element.offset), Fraction(element.duration.quarterLength))
        before = notes[-1] if notes else None
        if is_tied and before.midi == note.midi and before.onset + before.value == note.onset:
            notes[-1] = before._replace(value=before.value + note.value)
        else:
            notes.append(note)
        is_tied = tone.tie is not None and tone.tie.type in ("start", "continue")
    return notes


def plain(line):
    """A line of music without what changes neither pitch nor time."""
    line = re.sub(r'"[^"]*"|!\S*?!|\{[^}]*\}|\((?!\d)|\)', "", line)
    pieces = re.split(r"\[([A-Za-z]:[^\]]*)\]", line)
    for index, piece in enumerate(pieces):
        if index % 2 == 0:
            piece = re.sub(r"[.~HLMOPSTuvkKRUVQIi`]|y\d*", "", piece).replace("x", "z")
            piece = re.sub(r"-?([<>]+)-?", r"\1", piece)
            pieces[index] = re.sub(r"(?<=[A-Za-z]):", " :", piece)
    return "\n".join(pieces)


def parts_in(text):
    """music21's parts of one tune."""
    score = music21.converter.parse("%abc-2.1\n" + text, format="abc", forceSource=True)
    return list((score.scores[0] if isinstance(score, music21.stream.Opus) else score).parts)


def difference(program, tune, folder, text):
    """What differs, in words; None if nothing does."""
    read = abc_corpus.listing(program, tune, folder)
    parts = parts_in(text)
    if len(parts) != len(read["parts"]):
        return f"music21 has {len(parts)} parts, restward {len(read['parts'])}"
    for part, name in zip(parts, read["parts"]):
        if name["id"] != read["part"]["id"]:
            read = abc_corpus.listing(program, tune, folder, name["id"])
        mine, other = ours(read), theirs(part)
        pairs = zip(mine + [None] * len(other), other + [None] * len(mine))
        first = next((pair for pair in pairs if pair[0] != pair[1]), None)
        if first:
            shown = ["nothing" if note is None else f"{note.midi} at {note.onset} for {note.value}" for note in first]
            return f"restward {shown[0]}, music21 {shown[1]}"
    return None


def compare(job):
    """(tune, kind of agreement or None, difference in words or None)."""
    program, tune, folder = job
    warnings.simplefilter("ignore")
    for kind, text in ((DIRECT, tune.text), (PLAIN, abc_corpus.music_lines(tune.text, plain))):
        try:
            found = difference(program, tune, folder, text)
        except Exception as error:  # whatever music21 raises is a disagreement to explain
            found = f"{type(error).__name__}: {error}"
        if found is None:
            return tune.name, kind, None
    return tune.name, None, found


def main():
    sys.exit(abc_corpus.run(__doc__, __file__, compare, every=40, same=(DIRECT, PLAIN), least=LEAST))


if __name__ == "__main__":
    main()
