#!/usr/bin/env python3
"""Compares what `restward check` decides about the simulated takes with mir_eval's matching of notes.

mir_eval (tested with 0.8) knows nothing of parts, flags or clicks: it matches two lists of notes by onset, pitch and
offset. Three questions are put to it:

notes       The notes that restward found played, against those the truth says were played: onset within 50 ms,
            pitch, offset within a fifth of the note or 50 ms (mir_eval's defaults, those of MIREX). All must match.
entrances   In takes with a click: the notes as the click has them, against the notes as played, with the level's
            tolerance as onset tolerance. A note is matched exactly if restward calls its entrance on time.
releases    The same for offsets. Here one direction only: whatever restward calls an early or late release
            must not match. The other way round restward is milder on purpose: a note begun late and ended on
            time, or begun late and held for its full value, is no fault.

Each note keeps to itself in the second and third question because it is given a pitch of its own. mir_eval rounds
distances to 0.1 ms and takes `<=`; a note within 0.1 ms of the tolerance would be told apart and not counted.

One line for each take; exit status 1 if any disagrees.
"""

import argparse
import concurrent.futures
import json
import subprocess
import sys
from pathlib import Path

import mido
import numpy
from mir_eval import transcription

ROOT = Path(__file__).resolve().parents[2]
SHARE = {"first-year": 0.25, "second-year": 0.20, "third-year": 0.15}
SHORTEST = 0.050
ROUNDING = 0.0001
ENTRANCES = {"early-entrance", "late-entrance"}
RELEASES = {"early-release", "late-release"}


class Click:
    """Score time of a take to seconds, from the file's own tempo map and its marker."""

    def __init__(self, path):
        file = mido.MidiFile(path)
        self.division = file.ticks_per_beat
        self.tempi, self.start = [(0, 500_000)], None
        tick = 0
        for message in mido.merge_tracks(file.tracks):
            tick += message.time
            if message.type == "set_tempo":
                self.tempi.append((tick, message.tempo))
            elif message.type == "marker" and message.text == "exercise-start":
                self.start = tick

    def seconds(self, quarters):
        tick = self.start + quarters * self.division
        total = 0.0
        ends = [at for at, _ in self.tempi[1:]] + [float("inf")]
        for (at, tempo), end in zip(self.tempi, ends):
            if tick > at:
                total += (min(tick, end) - at) * tempo / self.division / 1e6
        return total


def intervals(pairs):
    """mir_eval wants no empty and no negative interval."""
    return numpy.array([(on, max(off, on + 0.001)) for on, off in pairs]).reshape(-1, 2)


def own_pitches(indices):
    """A pitch for each note that no other note has: a semitone apart is beyond the 50 cents of mir_eval."""
    return numpy.array([20.0 * 2 ** (index / 12) for index in indices])


def matched(reference, played, indices, tolerance, offsets):
    """Which of the notes match themselves. `reference` and `played`: index to (onset, offset)."""
    indices = list(indices)
    if not indices:
        return set()
    due, came = ([table[index] for index in indices] for table in (reference, played))
    if offsets:
        # Only the offset counts: both lists begin where they end.
        due, came = ([(off - 1.0, off) for _, off in pairs] for pairs in (due, came))
        pairs = transcription.match_notes(
            intervals(due), own_pitches(indices), intervals(came), own_pitches(indices),
            onset_tolerance=1e6, offset_ratio=0.0, offset_min_tolerance=tolerance)
    else:
        pairs = transcription.match_notes(
            intervals(due), own_pitches(indices), intervals(came), own_pitches(indices),
            onset_tolerance=tolerance, offset_ratio=None)
    return {indices[mine] for mine, _ in pairs}


def report(program, path, options):
    command = [program, "check", str(path.with_name(path.name.split(".")[0] + ".musicxml")),
               str(path.with_name(path.name.split(".")[0] + ".mid")), "--report", "json",
               "--sends", options["sends"], "--level", options["level"]]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    if done.returncode:
        sys.exit(f"{path.name}: {' '.join(command)} ended with {done.returncode}: {done.stderr}")
    return json.loads(done.stdout)


def compare_notes(truth, found):
    """Question 1: what was played."""
    written = truth["options"]["sends"] == "written"

    def sounding(note):
        return note["played"]["midi"] + (note["sounding_midi"] - note["written_midi"] if written else 0)

    theirs = [(n["played"]["onset_s"], n["played"]["release_s"], sounding(n)) for n in truth["notes"] if n["played"]]
    ours = [(n["onset_s"], n["release_s"], n["played_midi"]) for n in found["notes"] if n["onset_s"] is not None]
    hertz = lambda midi: 440.0 * 2 ** ((midi - 69) / 12)
    precision, recall, _, _ = transcription.precision_recall_f1_overlap(
        intervals([n[:2] for n in theirs]), numpy.array([hertz(n[2]) for n in theirs]),
        intervals([n[:2] for n in ours]), numpy.array([hertz(n[2]) for n in ours]))
    return round(precision * len(ours)), len(ours), round(recall * len(theirs)), len(theirs)


def compare_times(path, truth, found):
    """Questions 2 and 3. Gives counts and the notes that disagree."""
    click = Click(path.with_name(path.name.split(".")[0] + ".mid"))
    beat = truth["beat_quarters"]
    due, tolerances = {}, {}
    for note in truth["notes"]:
        begin = note["onset_quarters"]
        due[note["index"]] = (click.seconds(begin), click.seconds(begin + note["duration_quarters"]))
        # A beat of the click as long as it is where the note begins.
        length = click.seconds(begin + beat) - click.seconds(begin)
        tolerances[note["index"]] = max(SHORTEST, SHARE[truth["options"]["level"]] * length)
    played = {n["index"]: (n["onset_s"], n["release_s"]) for n in found["notes"] if n["onset_s"] is not None}
    flags = {n["index"]: set(n["flags"]) for n in found["notes"]}
    on_time = ended = 0
    wrong = []
    for tolerance in sorted(set(tolerances.values())):
        group = [index for index in played if tolerances[index] == tolerance]
        by_onset = matched(due, played, group, tolerance, offsets=False)
        by_offset = matched(due, played, group, tolerance, offsets=True)
        for index in group:
            off = played[index][0] - due[index][0]
            if abs(abs(off) - tolerance) > ROUNDING:
                on_time += 1
                if (index in by_onset) == bool(flags[index] & ENTRANCES):
                    wrong.append(f"entrance of note {index}: {off * 1000:+.1f} ms, tolerance {tolerance * 1000:.1f} ms, "
                                 f"flags {sorted(flags[index])}")
            if flags[index] & RELEASES:
                ended += 1
                if index in by_offset:
                    off = played[index][1] - due[index][1]
                    wrong.append(f"release of note {index}: {off * 1000:+.1f} ms, tolerance {tolerance * 1000:.1f} ms, "
                                 f"flags {sorted(flags[index])}")
    return on_time, ended, wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", required=True, help="the built restward")
    parser.add_argument("--folder", type=Path, default=ROOT / "tests/data/takes")
    given = parser.parse_args()
    program = str(Path(given.program).resolve())
    paths = sorted(given.folder.glob("*.truth.json"))
    if not paths:
        sys.exit(f"{given.folder}: no takes")
    truths = [json.loads(path.read_text(encoding="utf-8")) for path in paths]
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        reports = list(pool.map(lambda pair: report(program, pair[0], pair[1]["options"]), zip(paths, truths)))
    failures = notes = entrances = releases = 0
    for path, truth, found in zip(paths, truths, reports):
        right, ours, back, theirs = compare_notes(truth, found)
        wrong = [] if right == ours and back == theirs else [
            f"notes: {right} of {ours} found are in the truth, {back} of {theirs} of the truth are found"]
        line = f"{theirs} notes"
        notes += theirs
        if truth["options"]["click"]:
            on_time, ended, more = compare_times(path, truth, found)
            wrong += more
            entrances, releases = entrances + on_time, releases + ended
            line += f", {on_time} entrances, {ended} flagged releases"
        failures += bool(wrong)
        print(f"{'DISAGREE' if wrong else 'agree   '}  {path.name.split('.')[0]}: {line}")
        for sentence in wrong:
            print(f"            {sentence}")
    print(f"{notes} notes, {entrances} entrances, {releases} flagged releases; "
          f"{'all takes agree' if not failures else f'{failures} of {len(paths)} takes disagree'} with mir_eval")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
