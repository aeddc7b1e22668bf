#!/usr/bin/env python3
"""Checks the files that restward writes: MusicXML against its schema 4.0 and as music21 and partitura read it; ABC as
music21 reads it.

For every exercise of the project (config/exercises, tests/data, and ../shared where it lies beside the clone), written by
`restward write`, and for the marked files that the test `writing` leaves: the XSD accepts it, and the notes that both
programs read in it are the notes that restward read in the exercise: sounding pitch (music21), written pitch (partitura),
onset and value as exact fractions, ties merged, repeats played out, as `restward notes` lists them. Each part of an
exercise written as ABC: written pitch (music21 knows no transpose=), onset and value.

    python written_against_schema.py --program PATH [--marked FOLDER] [--only TEXT]

The schema is the W3C's musicxml.xsd 4.0 as the package musicxml ships it; its two imports are those of the package
xmlschema. Needs music21, partitura, musicxml (see requirements.txt).
"""
import argparse
import importlib.util
import json
import pathlib
import subprocess
import sys
import tempfile
import tomllib
import warnings
from fractions import Fraction

import music21
import partitura
import xmlschema
from lxml import etree

from notes_against_music21 import HERE, theirs

TOP = HERE.parent.parent
# partitura warns on what it does not read; the comparison says whether that matters.
warnings.simplefilter("ignore")


def schema():
    """The MusicXML 4.0 schema, from files alone."""
    local = pathlib.Path(xmlschema.__file__).parent / "schemas"
    imports = {"xlink.xsd": local / "XLINK" / "xlink.xsd", "xml.xsd": local / "XML" / "xml.xsd"}

    class Local(etree.Resolver):
        def resolve(self, url, public_id, context):
            found = imports.get(url.rsplit("/", 1)[-1])
            return self.resolve_filename(str(found), context) if found else None

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    shipped = pathlib.Path(importlib.util.find_spec("musicxml").submodule_search_locations[0])
    return etree.XMLSchema(etree.parse(str(shipped / "generate_classes" / "musicxml_4_0.xsd"), parser))


def exercises():
    """The exercises of the project: all that restward reads."""
    folders = [TOP / "config" / "exercises", TOP / "tests" / "data"]
    folders += [folder for folder in [TOP.parent / "shared"] if folder.is_dir()]
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            is_take = path.suffix in (".mid", ".rmi") and {"takes", "performances"} & set(path.parts)
            if path.suffix in (".musicxml", ".xml", ".mxl", ".mid", ".rmi") and not is_take:
                yield path


def ours(program, path):
    """[(part, [(written, sounding, onset, value)])], as restward lists them; None where it reads none."""
    def listing(*part):
        command = [program, "notes", str(path), "--json", *part]
        result = subprocess.run(command, capture_output=True, text=True, timeout=60)
        return json.loads(result.stdout) if result.returncode == 0 else None

    first = listing()
    if first is None:
        return None
    parts = []
    for part in first["parts"]:
        read = listing("--part", part["id"])
        if read is not None:
            times = lambda note: (Fraction(note["onset_quarters"]), Fraction(note["duration_quarters"]))
            notes = [(note["written_midi"], note["sounding_midi"], *times(note)) for note in read["notes"]]
            parts.append((part["id"], notes))
    return parts


def by_music21(path):
    """[[(sounding, onset, value)]] of each part."""
    parts = music21.converter.parse(path, forceSource=True, format="musicxml").parts
    return [[(note.midi, note.onset, note.value) for note in theirs(part)] for part in parts]


def by_partitura(path):
    """[[(written, onset, value)]] of each part; of a chord the top note."""
    lines = []
    for part in partitura.load_musicxml(str(path), ignore_invisible_objects=False).parts:
        part = partitura.score.unfold_part_maximal(part, ignore_leaps=False)
        division = {quarter for _, quarter in part.quarter_durations()}
        assert len(division) == 1, division
        division = Fraction(int(division.pop()))
        notes = {}
        for note in part.notes_tied:
            if isinstance(note, partitura.score.GraceNote):
                continue
            onset, value = note.start.t / division, note.duration_tied / division
            if onset not in notes or notes[onset][0] < note.midi_pitch:
                notes[onset] = (note.midi_pitch, onset, value)
        lines.append([notes[onset] for onset in sorted(notes)])
    return lines


def abc_by_music21(text):
    """[[(written, onset, value)]] of a tune of one voice."""
    score = music21.converter.parse(text, format="abc")
    part = score.parts[0] if isinstance(score, music21.stream.Score) else score
    # A tune without a barline inside has no measures.
    if not part.getElementsByClass(music21.stream.Measure):
        part = part.makeMeasures()
    return [[(note.midi, note.onset, note.value) for note in theirs(part)]]


def difference(expected, found):
    """The first difference of two lists of parts, or None."""
    if len(expected) != len(found):
        return f"{len(expected)} parts, it reads {len(found)}"
    for number, (mine, other) in enumerate(zip(expected, found), 1):
        for index, (a, b) in enumerate(zip(mine, other)):
            if a != b:
                return f"part {number}, note {index}: {', '.join(map(str, a))}; it reads {', '.join(map(str, b))}"
        if len(mine) != len(other):
            return f"part {number}: {len(mine)} notes, it reads {len(other)}"
    return None


def check(path, parts, xsd, name, explained, counts):
    """Problems of one written file that nothing explains."""
    problems = []
    document = etree.parse(str(path))
    if not xsd.validate(document):
        problems += [f"schema: line {error.line}: {error.message}" for error in list(xsd.error_log)[:3]]
    readers = [
        ("music21", path, by_music21, [[note[1:] for note in part] for part in parts]),
        ("partitura", path, by_partitura, [[(note[0], *note[2:]) for note in part] for part in parts]),
    ]
    return problems + compared(readers, name, explained, counts)


def compared(readers, name, explained, counts):
    """What (reader, file or text, how it reads, what it should read) differ in, unless explained."""
    problems = []
    for reader, written, read, expected in readers:
        try:
            found = difference(expected, read(written))
        except Exception as error:  # whatever they raise is a difference to explain
            found = f"{type(error).__name__}: {error}"
        counts[reader, "notes"] = counts.get((reader, "notes"), 0) + (0 if found else sum(map(len, expected)))
        if found is None:
            continue
        reason = next((reason for case, reason in explained.get(reader, {}).items() if case in name), None)
        print(f"   {name}: {reader}: {reason or found}")
        if reason is None:
            problems.append(f"{reader}: {found}")
    return problems


def check_abc(program, path, parts, name, explained, counts):
    """The same for each part of an exercise as ABC."""
    problems = []
    for number, notes in parts:
        command = [program, "write", str(path), "--part", number, "--format", "abc"]
        result = subprocess.run(command, capture_output=True, text=True)
        if result.returncode:
            problems.append(f"as ABC: {result.stderr.strip()}")
            continue
        expected = [[(note[0], *note[2:]) for note in notes]]
        problems += compared([("abc", result.stdout, abc_by_music21, expected)], name, explained, counts)
    return problems


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--program", required=True, help="the built restward")
    arguments.add_argument("--marked", default=str(TOP / "target" / "tmp" / "marked"), help="marked files of the tests")
    arguments.add_argument("--only", default="", help="only files whose name contains this")
    arguments = arguments.parse_args()
    explained = tomllib.loads((HERE / "written_against_schema.toml").read_text())
    xsd = schema()
    counts, failed, files, marked = {}, [], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for path in exercises():
            name = str(path.relative_to(TOP if path.is_relative_to(TOP) else TOP.parent))
            if arguments.only not in name:
                continue
            parts = ours(arguments.program, path)
            if parts is None:
                continue
            written = pathlib.Path(folder) / f"{files}.musicxml"
            result = subprocess.run([arguments.program, "write", str(path), "-o", str(written)], capture_output=True, text=True)
            if result.returncode:
                failed.append(f"{name}: {result.stderr.strip()}")
                continue
            files += 1
            found = check(written, [notes for _, notes in parts], xsd, name, explained, counts)
            # music21 takes minutes for a rest of days.
            if "smf-long-delta" not in name:
                found += check_abc(arguments.program, path, parts, name, explained, counts)
            failed += [f"{name}: {problem}" for problem in found]
    for path in sorted(pathlib.Path(arguments.marked).glob("*.musicxml")):
        if arguments.only not in path.name:
            continue
        parts = [notes for _, notes in ours(arguments.program, path)]
        marked += 1
        failed += [f"marked {path.name}: {problem}" for problem in check(path, parts, xsd, path.name, explained, counts)]
    notes = ", ".join(f"{count} notes as {reader} reads them" for (reader, _), count in counts.items())
    print(f"{files} exercises written, {marked} marked files: {notes}")
    if failed:
        print(*failed, sep="\n")
        sys.exit(f"{len(failed)} problems")
    if not arguments.only and (files == 0 or marked == 0):
        sys.exit(f"nothing to check: run the tests first, they leave marked files in {arguments.marked}")


if __name__ == "__main__":
    main()
