#!/usr/bin/env python3
"""Measures how often a finding that is reported as certain is true, and what is left as too close to call.

    tools/measure/calibration.py --program target/debug/restward [--seeds N] [--check]

Players are simulated on the exercises of tests/data/takes with faults of every size, small ones included: releases and
entrances are off by anything from nothing to two and a half tolerances either way. What they did is
known to the microsecond, and so is the beat they had in mind: with a click the grid; without one a tempo
that swings by up to 8 per cent (`steady`), or up to 20 per cent with a slow start and a ritardando
(`free`). Stamps are then made as coarse as a live port makes them (1.25 ms either way, ticks of 480 a
quarter at 120). A finding is true if what the player did, before stamps were made coarse, lies beyond the
tolerance measured against that beat and against the note's own entrance plus its value. With --check at
least 99 per cent of the certain findings with each kind of beat must be true, else the exit status is 1. Needs mido, which is in the
Python environment that tools/test makes.
"""

import argparse
import collections
import concurrent.futures
import json
import math
import pathlib
import random
import subprocess
import sys
import tempfile

import mido

from program import Program

HERE = pathlib.Path(__file__).resolve().parents[2]
TICKS = 480
TOLERANCE = {"first-year": 0.25, "second-year": 0.20, "third-year": 0.15}
SHORTEST = 0.05
WANTED = 0.99
# Nothing shorter is played: it could be the click of a key between two notes.
LEAST = 0.08
KINDS = ["early-release", "late-release", "cut-short", "early-entrance", "late-entrance"]


class Beat:
    """Seconds of every point of the score, in quarters; smooth, by small steps."""

    STEP = 1 / 16

    def __init__(self, chance, kind, last, quarters):
        self.base = 60 / chance.uniform(60, 112)
        self.times = [1.0]
        swing = {"click": 0.0, "steady": chance.uniform(0.02, 0.08), "free": chance.uniform(0.08, 0.20)}[kind]
        period, phase = chance.uniform(16, 48), chance.uniform(0, 2 * math.pi)
        for step in range(int((quarters + 8) / self.STEP)):
            at = step * self.STEP
            slower = 1 + swing * math.sin(2 * math.pi * at / period + phase)
            if kind == "free":
                slower *= 1 + 0.5 * max(0.0, 1 - at / 6) + 0.5 * min(1.0, max(0.0, 1 - (last - at) / 6))
            self.times.append(self.times[-1] + self.STEP * self.base * slower)

    def at(self, point):
        place = point / self.STEP
        low = min(int(place), len(self.times) - 2)
        return self.times[low] + (place - low) * (self.times[low + 1] - self.times[low])


def play(chance, truth, kind):
    """The simulated take: for every note (index, onset, release, midi), and what is true of it."""
    notes, level = truth["notes"], truth["options"]["level"]
    per_beat = truth["beat_quarters"]
    beat = Beat(chance, kind, notes[-1]["onset_quarters"], max(n["onset_quarters"] + n["duration_quarters"] for n in notes))
    port = "written_midi" if truth["options"]["sends"] == "written" else "sounding_midi"
    played, last = [], 0.0
    for note in notes:
        here = beat.at(note["onset_quarters"])
        a_beat = (beat.at(note["onset_quarters"] + 0.5) - here) * 2 * per_beat
        tolerance = max(SHORTEST, TOLERANCE[level] * a_beat)
        off = chance.gauss(0, 0.012)
        if kind == "click" and chance.random() < 0.15:
            off = chance.uniform(-2.5, 2.5) * tolerance
            # Notes keep their order, and room to sound.
            room = 0.4 * (beat.at(note["onset_quarters"] + note["duration_quarters"]) - here)
            off = max(-0.4 * (here - last), min(room, off))
        last = here
        played.append([here + off, None, note[port], a_beat, tolerance])
    for note, this, after in zip(notes, played, played[1:] + [None]):
        start, end = beat.at(note["onset_quarters"]), beat.at(note["onset_quarters"] + note["duration_quarters"])
        onset, _, _, _, tolerance = this
        if note["followed_by"] == "note" and after:
            gap = after[0] - onset
            share = chance.uniform(0.2, 0.95) if chance.random() < 0.3 else chance.uniform(0.85, 0.98)
            this[1] = onset + max(LEAST, gap * share)
        else:
            off = chance.gauss(-0.02, 0.02)
            if chance.random() < 0.6:
                off = chance.uniform(-2.5, 2.5) * tolerance
            this[1] = max(end + off, onset + LEAST)
            if after:
                this[1] = min(this[1], after[0] - 0.02)
    facts = {}
    for note, this, after in zip(notes, played, played[1:] + [None]):
        onset, release, _, a_beat, tolerance = this
        start, end = beat.at(note["onset_quarters"]), beat.at(note["onset_quarters"] + note["duration_quarters"])
        own = onset + (end - start)
        excess = {}
        if note["followed_by"] != "note":
            excess["early-release"] = min(end, own) - release - tolerance
            if note["followed_by"] == "rest":
                excess["late-release"] = release - max(end, own) - tolerance
        else:
            room = min(own, after[0]) - onset if after else own - onset
            excess["cut-short"] = 0.5 * room - (release - onset)
        if kind == "click":
            excess["early-entrance"] = start - onset - tolerance
            excess["late-entrance"] = onset - start - tolerance
        facts[note["index"]] = {name: value / tolerance for name, value in excess.items()}
    return beat, played, facts


def midi_file(chance, beat, played, kind):
    """The take: 480 ticks a quarter; with a click its tempo and the marker, else 120, a tick of 1.04 ms."""
    quarter = beat.base if kind == "click" else 0.5
    events = [(0, False, mido.MetaMessage("set_tempo", tempo=round(quarter * 1e6)))]
    if kind == "click":
        events.append((round(beat.at(0) / quarter * TICKS), False, mido.MetaMessage("marker", text="exercise-start")))
    for onset, release, midi, *_ in played:
        for at, what in ((onset, "note_on"), (release, "note_off")):
            stamped = at + chance.uniform(-0.00125, 0.00125)
            message = mido.Message(what, note=midi, velocity=80)
            events.append((max(0, round(stamped / quarter * TICKS)), what == "note_on", message))
    events.sort(key=lambda event: event[:2])
    file, now = mido.MidiFile(type=0, ticks_per_beat=TICKS), 0
    track = file.add_track()
    for tick, _, message in events:
        track.append(message.copy(time=tick - now))
        now = tick
    return file


def is_free(program, exercise):
    """Of each note whether a mark leaves its release to the player."""
    notes = json.loads(subprocess.run([program.path, "notes", exercise, "--json"], capture_output=True, timeout=60).stdout)
    return [note["staccato"] or note["fermata"] or note["breath"] for note in notes["notes"]]


def one(program, truth_path, marks, kind, seed, folder, verbose):
    truth = json.loads(truth_path.read_text())
    chance = random.Random(f"{truth_path.stem} {kind} {seed}")
    beat, played, facts = play(chance, truth, kind)
    take = folder / f"{truth_path.stem}-{kind}-{seed}.mid"
    midi_file(chance, beat, played, kind).save(take)
    options = truth["options"]
    exercise = truth_path.with_name(truth["exercise"])
    report = program.report(exercise, take, sends=options["sends"], level=options["level"])
    take.unlink()
    rows = []
    for note in report["notes"]:
        fact = facts[note["index"]]
        free = set(KINDS[:3]) if marks[note["index"]] else set()
        for name in KINDS:
            if name in free:
                continue
            said = "certain" if name in note["flags"] else "close" if name in note.get("close", []) else "nothing"
            if name in fact:
                rows.append((name, said, fact[name]))
            elif said == "certain":
                rows.append((name, said, -9.0))
            if verbose and said == "nothing" and fact.get(name, -9) >= 0.6:
                i = note["index"]
                print(f"UNSAID {truth_path.stem} {kind} {seed} n{i} {name} excess {fact.get(name, -9):.2f} tol; flags {note['flags']}",
                      f"true onset {played[i][0]:.3f} release {played[i][1]:.3f}; seen {note['onset_s']} {note['release_s']}")
            if verbose and said == "certain" and fact.get(name, -9) <= 0:
                i = note["index"]
                print(f"FALSE {truth_path.stem} {kind} {seed} n{i} {name} excess {fact.get(name, -9):.2f} tol; flags {note['flags']}",
                      f"true onset {played[i][0]:.3f} release {played[i][1]:.3f}; seen {note['onset_s']} {note['release_s']}")
    return kind, rows


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", default=str(HERE / "target/debug/restward"))
    arguments.add_argument("--seeds", type=int, default=8, help="simulated players for each exercise and kind")
    arguments.add_argument("--check", action="store_true", help="fail below the goal")
    arguments.add_argument("--misses", action="store_true", help="list the certain findings that are not true")
    given = arguments.parse_args()
    program, exercises = Program(given.program), []
    for path in sorted((HERE / "tests/data/takes").glob("*.truth.json")):
        truth = json.loads(path.read_text())
        if truth["judged"]["releases"]:
            exercises.append((path, is_free(program, path.with_name(truth["exercise"]))))
    tasks = [(path, marks, kind, seed) for path, marks in exercises for kind in ("click", "steady", "free") for seed in range(given.seeds)]
    table = collections.defaultdict(collections.Counter)
    with tempfile.TemporaryDirectory() as folder, concurrent.futures.ThreadPoolExecutor(2) as pool:
        run = lambda task: one(program, *task, pathlib.Path(folder), given.misses)
        for kind, rows in pool.map(run, tasks):
            for name, said, excess in rows:
                row = table[kind, name]
                row[said, excess > 0] += 1
                # Plain faults: as far beyond the tolerance as those of tests/data/takes are at least.
                if excess >= 0.6:
                    row["plain", said == "certain"] += 1
                # The hard ones: less than a quarter of a tolerance from it, on either side.
                if abs(excess) < 0.25:
                    row[said, excess > 0, "near"] += 1
    print(f"{len(exercises)} exercises, {len(tasks)} simulated takes")
    head = f"{'beat':8}{'finding':16}{'certain':>8}{'true':>8}{'near':>7}{'true':>8}{'close':>7}{'true':>8}{'unsaid':>8}{'plain':>7}{'certain':>8}"
    print(f"{head}   (near: less than a quarter of a tolerance away; unsaid: true, not even close;\n plain: at least 0.6 tolerances beyond)")
    all_of_kind = collections.defaultdict(collections.Counter)
    for (kind, name), row in sorted(table.items()):
        all_of_kind[kind].update({True: row["certain", True], False: row["certain", False]})
        def share(said, *also):
            true, false = row[(said, True, *also)], row[(said, False, *also)]
            return true + false, f"{true / (true + false):8.4f}" if true + false else f"{'-':>8}"
        plain = row["plain", True] + row["plain", False]
        certain, near, close = share("certain"), share("certain", "near"), share("close")
        print(f"{kind:8}{name:16}{certain[0]:8}{certain[1]}{near[0]:7}{near[1]}{close[0]:7}{close[1]}"
              f"{row['nothing', True]:8}{plain:7}{row['plain', True] / max(1, plain):8.4f}")
    failed = False
    for kind, count in sorted(all_of_kind.items()):
        share = count[True] / max(1, count.total())
        failed |= share < WANTED
        print(f"{kind}: {count[True]} of {count.total()} certain findings are true = {share:.2%}")
    if failed:
        print(f"less than the goal of {WANTED:.0%}")
    return 1 if failed and given.check else 0


if __name__ == "__main__":
    sys.exit(main())
