#!/usr/bin/env python3
"""Compares restward's sheets with music21: every instrument of the catalogue, all fifteen signatures.

For each signature a concert line is written (the scale, then each of its notes with the accidental of another key) and
`restward sheet --all` is asked twice:

* as JSON: the written key, its sharps or flats in order, the changed notes and the notes that they are mistaken for
  are what music21 makes of that concert key, transposed for the instrument;
* as marked MusicXML, which music21 reads: each part sounds the concert line, moved by the octaves that the sheet
  tells, prints the key of the sheet, and spells each note as music21 transposes it. Courtesy accidentals stand on the
  changed notes and nowhere else.

One line for each signature; exit status 1 if any check disagrees, and each of those is shown.
"""

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

from music21 import converter, interval, key, pitch

from agreement import Agreement
from theory_against_music21 import BY_NAME, FAMILY, IN_MUSIC21, alter, changed, music21_key, name, written

STEPS = "CDEFGAB"


def line(fifths):
    """A concert line: the scale from C4 or its neighbour, then its notes a semitone lower and higher."""
    concert = music21_key(fifths, "major")
    notes = []
    for shift in (0, -1, 1):
        for step in STEPS:
            notes.append((step, alter(concert, step) + shift, 4))
    body = ""
    for place, (step, altered, octave) in enumerate(notes):
        if place % 4 == 0:
            attributes = "" if place else (
                f"<attributes><divisions>1</divisions><key><fifths>{fifths}</fifths><mode>major</mode></key>"
                "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>")
            body += f"<measure number='{place // 4 + 1}'>{attributes}"
        body += (f"<note><pitch><step>{step}</step><alter>{altered}</alter><octave>{octave}</octave></pitch>"
                 "<duration>1</duration><type>quarter</type></note>")
        if place % 4 == 3:
            body += "</measure>"
    body += "<note><rest/><duration>3</duration><type>half</type><dot/></note></measure>"
    text = ("<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Line</part-name></score-part>"
            f"</part-list><part id='P1'>{body}</part></score-partwise>")
    sounding = [pitch.Pitch(step + "#" * max(a, 0) + "-" * max(-a, 0) + str(octave)) for step, a, octave in notes]
    return text, sounding


def ascii_name(some_pitch, octave=False):
    text = some_pitch.name.replace("-", "b")
    return text + str(some_pitch.octave) if octave else text


def other_form(own, family, letter):
    """What the nearest differing key of the family does to a letter."""
    others = [k for k in family if k.sharps != own.sharps and alter(k, letter) != alter(own, letter)]

    def apart(other):
        steps = (own.sharps - other.sharps) % 12
        return min(steps, 12 - steps)

    return alter(min(others, key=apart), letter)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", required=True, help="the built restward")
    program = str(Path(parser.parse_args().program).resolve())
    agreement = Agreement("sheet")
    check = agreement.check

    family = [key.Key(tonic) for tonic in FAMILY]
    with tempfile.TemporaryDirectory() as folder:
        for fifths in range(-7, 8):
            concert = music21_key(fifths, "major")
            text, sounding = line(fifths)
            path = Path(folder) / "line.musicxml"
            path.write_text(text, encoding="utf-8")

            def ask(form):
                command = [program, "sheet", str(path), "--all", "--format", form]
                return subprocess.run(command, check=True, capture_output=True, text=True, encoding="utf-8").stdout

            sheets = json.loads(ask("json"))["sheets"]
            score = converter.parseData(ask("musicxml"), format="musicxml")
            check(f"{name(concert)}: a part for each sheet", len(score.parts), len(sheets))
            for sheet, part in zip(sheets, score.parts):
                ident = sheet["instrument"]
                what = f"{name(concert)} for {ident}"
                if ident in IN_MUSIC21:
                    to_sounding = IN_MUSIC21[ident]().transposition or interval.Interval("P1")
                else:
                    to_sounding = interval.Interval(BY_NAME[ident])
                own = written(concert, to_sounding)
                section = sheet["keys"][0]
                check(f"{what}: written key", section["written_key"], name(own))
                check(f"{what}: concert key", section["concert_key"], name(concert))
                check(f"{what}: sharps and flats", section["accidentals"], [ascii_name(p) for p in own.alteredPitches])
                keys = [written(k, to_sounding) for k in family]
                theirs = changed(own, keys)
                ours = [(n["written"], n["sign"], n["rank"], n["differing"]) for n in section["changed"]]
                check(f"{what}: changed notes", ours, theirs)
                for note in section["changed"]:
                    other = pitch.Pitch(note["written"], accidental=other_form(own, keys, note["written"]))
                    ours = {entry["mistaken_for"].rstrip("0123456789") for entry in note["fingered"]}
                    check(f"{what}: what {note['written']} is mistaken for", ours, {ascii_name(other)} if ours else ours)

                printed = part.recurse().getElementsByClass(key.KeySignature)[0]
                check(f"{what}: printed signature", printed.sharps, own.sharps)
                octaves = sheet["moved_octaves"]
                notes = list(part.recurse().notes)
                # music21 sounds a transposing part through its <transpose>.
                heard = [n.pitch.midi for n in part.toSoundingPitch().recurse().notes]
                check(f"{what}: sounds as the line", heard, [p.midi + 12 * octaves for p in sounding])
                if abs((own.sharps or 0) - concert.sharps - steps(to_sounding)) == 0:
                    down = to_sounding.reverse()
                    spelled = [p.transpose(down).name for p in sounding]
                    check(f"{what}: spelled as transposed", [n.pitch.name for n in notes], spelled)
                primary = {n["written"] for n in section["changed"] if n["rank"] != "other"}
                wanted = sum(1 for n in notes if n.pitch.step in primary and altered(n) == alter(own, n.pitch.step))
                marked = sum(1 for n in notes if n.pitch.accidental and n.pitch.accidental.displayStyle == "parentheses")
                check(f"{what}: courtesy accidentals", marked <= wanted and (marked > 0) == (wanted > 0), True)
            agreement.tell(f"{name(concert)} in {len(sheets)} instruments")
    return agreement.finish()


def steps(to_sounding):
    """Fifths that a written key lies above the concert key."""
    return -music21_key(0, "major").transpose(to_sounding).sharps if to_sounding.chromatic.semitones % 12 else 0


def altered(note):
    return int(note.pitch.accidental.alter) if note.pitch.accidental else 0


if __name__ == "__main__":
    sys.exit(main())
