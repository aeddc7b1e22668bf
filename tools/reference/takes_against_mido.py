#!/usr/bin/env python3
"""Compares the notes that `restward clean` finds in takes with the notes that mido reads in them.

mido (tested with 1.3) knows the file format and nothing of players: it gives every note-on and note-off with its time.
From these the plainest list of notes is made (first on, first off), the same pitch again within 40 ms counting
as one note. Then:

found       every such note of 60 ms or more is in the list of `restward clean`: pitch, beginning within 1 ms, end
            within 1 ms, or up to 40 ms sooner where the next note begins before (a slur), or where the next note
            begins if its note-off never came;
true        every note of `restward clean` begins where one of mido's does.

One line for each take; exit status 1 if any disagrees. Reads ../shared/takes/visible where it is, else tests/data/takes.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

import mido

ROOT = Path(__file__).resolve().parents[2]
EXACT, DIP, SLUR, MEANT = 0.001, 0.040, 0.040, 0.060


def raw_notes(path):
    """(pitch, beginning, end or None) in seconds: no cleaning at all."""
    now, open_notes, notes = 0.0, {}, []
    for message in mido.MidiFile(path):
        now += message.time
        if message.type not in ("note_on", "note_off"):
            continue
        key = message.channel, message.note
        if message.type == "note_on" and message.velocity:
            notes.append([message.note, now, None])
            open_notes.setdefault(key, []).append(notes[-1])
        elif open_notes.get(key):
            open_notes[key].pop(0)[2] = now
    return notes


def without_dips(notes):
    """The same pitch again within 40 ms, and nothing else that was meant between: one note."""
    merged = []
    for pitch, begin, end in notes:
        last = next((note for note in reversed(merged) if note[0] == pitch), None)
        if last and last[2] is not None and 0 <= begin - last[2] < DIP:
            last[2] = end
        else:
            merged.append([pitch, begin, end])
    return merged


def agrees(note, mine, following):
    """Whether a note of ours is mido's note; `following`: the beginning of the next note after it."""
    pitch, begin, end = note
    if mine["midi"] != pitch or abs(mine["on_s"] - begin) > EXACT:
        return False
    if end is None:
        return following is None or abs(mine["off_s"] - following) <= EXACT
    slurred = following is not None and 0 <= end - following <= SLUR
    return abs(mine["off_s"] - end) <= EXACT or slurred and -SLUR <= mine["off_s"] - end <= 0


def compare(program, path):
    """The number of notes compared and sentences about those that disagree."""
    done = subprocess.run([program, "clean", str(path), "--json"], capture_output=True, text=True, timeout=60)
    if done.returncode:
        return 0, [f"restward clean ended with {done.returncode}: {done.stderr.strip()}"]
    ours = json.loads(done.stdout)["notes"]
    raw = raw_notes(path)
    wrong = [f"{mine} begins nowhere in mido's list" for mine in ours
             if not any(pitch == mine["midi"] and abs(begin - mine["on_s"]) <= EXACT for pitch, begin, _ in raw)]
    compared = 0
    for note in without_dips(raw):
        if note[2] is not None and note[2] - note[1] < MEANT:
            continue
        compared += 1
        following = next((begin for _, begin, _ in raw if begin > note[1] + EXACT and
                          (note[2] is None or begin > note[2] - SLUR)), None)
        if not any(agrees(note, mine, following) for mine in ours):
            near = [mine for mine in ours if abs(mine["on_s"] - note[1]) < 0.1]
            wrong.append(f"pitch {note[0]} from {note[1]:.4f} to {note[2]}: near it only {near}")
    return compared, wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", required=True, help="the built restward")
    shared = ROOT.parent / "shared/takes/visible"
    parser.add_argument("--folder", type=Path, default=shared if shared.is_dir() else ROOT / "tests/data/takes")
    given = parser.parse_args()
    program = str(Path(given.program).resolve())
    paths = sorted(given.folder.glob("*.mid"))
    if not paths:
        sys.exit(f"{given.folder}: no takes")
    total = failures = 0
    for path in paths:
        compared, wrong = compare(program, path)
        total += compared
        failures += bool(wrong)
        print(f"{'DISAGREE' if wrong else 'agree   '}  {path.stem}: {compared} notes")
        for sentence in wrong:
            print(f"            {sentence}")
    print(f"{total} notes; {'all takes agree' if not failures else f'{failures} of {len(paths)} takes disagree'} with mido")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
