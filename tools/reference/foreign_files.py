#!/usr/bin/env python3
"""Reads exercise files that other people's programs wrote: nothing may crash, hang, or be silent without a word.

Of every file: `restward notes` ends with 0 or 1 within some seconds, and says a sentence if it is 1. Of every staff of
every part of a MusicXML file that has notes (pitched, neither grace nor cue notes, counted here in the XML itself): they
are read, or a sentence says why not. Of what both restward and another program read: music21 and partitura agree in
pitch, place and value of the judged line. music21 as in notes_against_music21.py; partitura, where every measure is
played once, in written pitch, onset and value. A staff that music21 10.5 or partitura 1.9 read otherwise has its reason in
foreign_files.toml; below 99.9 % of the notes without a reason the check fails.

    python foreign_files.py --program PATH [--all] [--alone] [--only TEXT] [--show] [--list FILE]

Without --all: the test files that music21, musicxml and partitura ship (a minute). With it also the packages of
foreign_packages.txt, which are fetched, and all of music21's corpus, ABC too (an hour on two cores).
"""
import argparse
import collections
import json
import multiprocessing
import subprocess
import sys
import time
import tomllib
import warnings
import xml.etree.ElementTree as ElementTree
from fractions import Fraction

import music21
import numpy
import partitura

import foreign_corpus
from notes_against_music21 import HERE, ROUNDING, Note, agreeing_notes, line_of, lines_of_file, ours, score_text, shown, theirs

LEAST = 0.999
PATIENCE = 20  # seconds for one run; that a file is read at once is measured in tools/bench
LARGEST = 2_000_000  # bytes of XML: a symphony movement takes music21 minutes

Result = collections.namedtuple("Result", "name outcome seconds troubles music21 partitura differences")
Share = collections.namedtuple("Share", "agreeing notes")


def run(program, path, *more):
    """(exit status, stdout, stderr, seconds); the status is None if it does not end."""
    begun = time.monotonic()
    try:
        result = subprocess.run([program, "notes", path, "--json", *more], capture_output=True, timeout=PATIENCE)
    except subprocess.TimeoutExpired:
        return None, b"", b"", PATIENCE
    return result.returncode, result.stdout, result.stderr, time.monotonic() - begun


def heard(text):
    """How many notes sound on each (part, staff) of MusicXML, partwise or timewise, in the order of the file."""
    counts = {}
    for part in ElementTree.fromstring(text).iter("part"):
        for note in part.iter("note"):
            silent = any(note.find(name) is not None for name in ("grace", "cue", "rest", "unpitched"))
            length = note.findtext("duration") or "0"
            if note.find("pitch") is not None and not silent and float(length) > 0:
                key = part.get("id"), int(note.findtext("staff") or 1)
                counts[key] = counts.get(key, 0) + 1
    return counts


def is_sentence(status, stderr):
    """A message that ends a command: it names the program first, and is a sentence."""
    text = stderr.decode(errors="replace")
    return status == 1 and text.startswith("restward: ") and len(text) > 40 and "panicked" not in text


def unprinted(text):
    """{(part, measure from 1, staff, voice)} of the voices in which nothing but unprinted rests stands: they are none.
    partitura does not keep what is printed."""
    seen, unseen = set(), set()
    for part in ElementTree.fromstring(text).findall("part"):
        for place, measure in enumerate(part.findall("measure"), 1):
            for note in measure.findall("note"):
                is_unseen = note.find("rest") is not None and note.get("print-object") == "no"
                key = part.get("id"), place, int(note.findtext("staff") or 1), note.findtext("voice") or "1"
                (unseen if is_unseen else seen).add(key)
    return unseen - seen


def by_partitura(part, staff, unseen):
    """[(written MIDI number, onset, value)] of the judged line of a staff, floats in quarters: of each measure the lowest
    voice that has a note or printed rest, of each chord the top, ties merged."""
    measures = numpy.array([measure.start.t for measure in part.iter_all(partitura.score.Measure)])
    chosen = {}
    for element in part.iter_all(partitura.score.GenericNote, include_subclasses=True):
        is_heard = not isinstance(element, (partitura.score.GraceNote, partitura.score.UnpitchedNote))
        if is_heard and (element.staff or 1) == staff and element.duration > 0:
            measure = int(numpy.searchsorted(measures, element.start.t, side="right"))
            if (part.id, measure, staff, str(element.voice or 1)) in unseen:
                continue
            chosen.setdefault(measure, []).append(element)
    quarters = part.quarter_map
    zero = float(quarters(part.first_point.t))
    chords = []
    for _, in_measure in sorted(chosen.items()):
        voice = min(element.voice or 1 for element in in_measure)
        tones = {}
        for note in in_measure:
            if (note.voice or 1) == voice and isinstance(note, partitura.score.Note):
                begin, end = (float(quarters(at)) - zero for at in (note.start.t, note.start.t + note.duration))
                tone = Note(note.midi_pitch, None, None, end - begin, begin)
                tones.setdefault(note.start.t, []).append((tone, note.tie_next is not None))
        chords += [chord for _, chord in sorted(tones.items())]
    return [(note.midi, note.onset, note.value) for note in line_of(chords)]


def against_partitura(program, path, text):
    """(Share, differences): the lines in which every measure is played once, and which have no cue notes."""
    if b"<cue" in text or b"cue</type>" in text:
        return Share(0, 0), []
    parts = {part.id: part for part in partitura.load_musicxml(str(path), ignore_invisible_objects=False).parts}
    unseen = unprinted(text)
    agreeing = total = 0
    differences = []
    for part, staff in heard(text):
        status, out, _, _ = run(program, path, "--part", part, "--staff", str(staff))
        read = json.loads(out) if status == 0 else None
        if read is None or part not in parts or any(m["page_index"] != place for place, m in enumerate(read["measures"])):
            continue
        waiting = collections.Counter()
        near = lambda time: round(float(time) / float(ROUNDING))
        other = by_partitura(parts[part], staff, unseen)
        waiting.update((midi, near(onset), near(value)) for midi, onset, value in other)
        lonely = []
        for note in read["notes"]:
            time_of = Fraction(note["onset_quarters"]), Fraction(note["duration_quarters"])
            # On the border of two steps either is right.
            keys = [(note["written_midi"], near(time_of[0] + a), near(time_of[1] + b)) for a in (0, -ROUNDING / 2, ROUNDING / 2) for b in (0, -ROUNDING / 2, ROUNDING / 2)]
            key = next((key for key in keys if waiting[key] > 0), None)
            if key is None:
                lonely.append((note["written_midi"], note["measure"], *map(str, time_of)))
            else:
                waiting[key] -= 1
        total += max(len(other), len(read["notes"]))
        agreeing += len(read["notes"]) - len(lonely)
        if lonely or len(other) > len(read["notes"]):
            left = [(midi, onset * float(ROUNDING), value * float(ROUNDING)) for (midi, onset, value), n in waiting.items() if n > 0]
            differences.append(f"partitura {part}/{staff}: only restward {lonely[:3]}; only partitura {sorted(left, key=lambda x: x[1])[:3]}")
    return Share(agreeing, total), differences


def against_music21(program, path):
    """(Share, differences)."""
    parts = list(music21.converter.parse(path, forceSource=True).parts)
    lines = lines_of_file(path)
    if len(parts) != len(lines):
        return Share(0, 0), [f"music21 has {len(parts)} parts, the file {len(lines)}"]
    agreeing = total = 0
    differences = []
    for (part, staff), other in zip(lines, parts):
        mine, other = ours(program, path, part, staff), theirs(other)
        good, in_time, lonely, left = agreeing_notes(mine, other)
        agreeing, total = agreeing + good, total + max(len(mine), len(other))
        if lonely or left:
            differences.append(f"music21 {part}/{staff}: only restward: {shown(lonely)}; only music21: {shown(left)}")
        elif not in_time:
            differences.append(f"music21 {part}/{staff}: a measure is not as long")
    return Share(agreeing, total), differences


def look(job):
    """What comes of one file: a Result."""
    program, name, path, alone = job
    warnings.simplefilter("ignore")
    status, _, stderr, seconds = run(program, path)
    if status not in (0, 1) or (status == 1 and not is_sentence(status, stderr)):
        return Result(name, "broken", seconds, [f"exit {status}: {stderr[-300:].decode(errors='replace')}"], Share(0, 0), Share(0, 0), [])
    if path.suffix == ".abc":
        return Result(name, "read" if status == 0 else "refused", seconds, [stderr.decode()] if status else [], Share(0, 0), Share(0, 0), [])
    try:
        text = score_text(path)
        counts = heard(text)
    except Exception:  # damaged on purpose, or no music: a sentence is all that is asked
        return Result(name, "refused" if status else "read", seconds, [stderr.decode()] if status else [], Share(0, 0), Share(0, 0), [])
    troubles = []
    for part, staff in counts:
        status_of, out, stderr_of, took = run(program, path, "--part", part or "1", "--staff", str(staff))
        seconds = max(seconds, took)
        if status_of == 0 and not json.loads(out)["notes"]:
            troubles.append(f"silent: part {part}, staff {staff}")
        if status_of != 0:
            kind = "refused" if is_sentence(status_of, stderr_of) else "broken"
            troubles.append(f"{kind}: part {part}, staff {staff}: {stderr_of.decode(errors='replace').strip()}")
    if status == 0 and not counts:
        troubles.append("notes where the XML has none")
    outcome = "read" if not troubles and counts else "without notes" if not counts else "troubled"
    shares, differences = [Share(0, 0), Share(0, 0)], []
    if status == 0 and len(text) <= LARGEST and not alone:
        for place, compare in enumerate((lambda: against_music21(program, path), lambda: against_partitura(program, path, text))):
            try:
                shares[place], found = compare()
                differences += found
            except Exception as error:  # the other program cannot read it: nothing to compare
                differences.append(f"cannot: {('music21', 'partitura')[place]}: {type(error).__name__}: {str(error)[:100]}")
    return Result(name, outcome, seconds, troubles, *shares, differences)


class Reasons:
    """Why a file is read otherwise by another program, or not at all: foreign_files.toml."""

    def __init__(self):
        self.reasons = {}
        for group in tomllib.loads((HERE / "foreign_files.toml").read_text()).values():
            self.reasons.update((name, group["reason"]) for name in group["files"])

    def get(self, name):
        """A name without an ending holds for all files whose names begin with it."""
        of_several = (reason for of, reason in self.reasons.items() if not of.endswith(foreign_corpus.MUSICXML) and name.startswith(of))
        return self.reasons.get(name) or next(of_several, None)


def told(result, reason, show):
    """Prints what is worth telling of a file; whether it fails the check."""
    found = result.troubles if result.outcome in ("broken", "troubled") else []
    found = found + [difference for difference in result.differences if not difference.startswith("cannot")]
    if found and (not reason or show):
        print(result.name + (f"  ({reason})" if reason else ""), *(f"    {line[:300]}" for line in found[:4]), sep="\n", flush=True)
    return result.outcome == "broken" or (bool(found) and not reason)


def finish(results, failed, reasons):
    """Prints the figures; what to exit with."""
    for outcome, count in collections.Counter(result.outcome for result in results).most_common():
        print(f"{count:6}  {outcome}")
    slowest = max(results, key=lambda result: result.seconds)
    print(f"{len(results)} files; the slowest run took {slowest.seconds:.2f} s ({slowest.name})")
    few = []
    for other in ("music21", "partitura"):
        judged = [result for result in results if not reasons.get(result.name)]
        for what, chosen in (("in all", results), ("without a reason", judged)):
            shares = [getattr(result, other) for result in chosen]
            agreeing, notes = sum(share.agreeing for share in shares), sum(share.notes for share in shares)
            if notes == 0:
                continue  # not compared
            print(f"{other:9} {what}: {agreeing} of {notes} notes agree ({100 * agreeing / max(notes, 1):.3f} %)")
        if agreeing < LEAST * notes:
            few.append(other)
    if failed:
        return f"{len(failed)} files without an explanation: {', '.join(failed)}"
    return f"agreement is below {100 * LEAST} %: {', '.join(few)}" if few else None


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--program", required=True, help="the built restward")
    arguments.add_argument("--all", action="store_true", help="the packages and the whole corpus, too")
    arguments.add_argument("--alone", action="store_true", help="only read: no comparison with other programs")
    arguments.add_argument("--only", default="", help="only files whose name contains this")
    arguments.add_argument("--show", action="store_true", help="show the differences of explained files, too")
    arguments.add_argument("--list", help="write what came of each file there, as lines of JSON")
    arguments = arguments.parse_args()
    files = foreign_corpus.installed()
    if arguments.all:
        files += foreign_corpus.fetched() + foreign_corpus.corpus()
    jobs = [(arguments.program, name, path, arguments.alone) for name, path in files if arguments.only in name]
    reasons = Reasons()
    results, failed = [], []
    lines = open(arguments.list, "w") if arguments.list else None
    with multiprocessing.Pool(2) as pool:
        for result in pool.imap_unordered(look, jobs):
            results.append(result)
            if lines:
                print(json.dumps(result._asdict()), file=lines, flush=True)
            if told(result, reasons.get(result.name), arguments.show):
                failed.append(result.name)
    sys.exit(finish(results, failed, reasons))


if __name__ == "__main__":
    main()
