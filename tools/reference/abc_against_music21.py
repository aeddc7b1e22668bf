#!/usr/bin/env python3
"""draft"""
import argparse, collections, json, multiprocessing, pathlib, re, subprocess, sys, tempfile, tomllib, warnings
from fractions import Fraction
import music21
HERE = pathlib.Path(__file__).parent
CORPUS = pathlib.Path(music21.__file__).parent / "corpus"
Note = collections.namedtuple("Note", "midi onset value")

def tunes(path):
    """[(number, text)]"""
    text = path.read_bytes().decode("utf-8", "replace")
    pieces = re.split(r"(?m)^(?=X:)", text)
    found = []
    for piece in pieces[1:]:
        number = re.match(r"X:\s*([^\n%]*)", piece).group(1).strip()
        found.append((number, piece))
    return found

def ours(program, path, number, part=None):
    command = [program, "notes", str(path), "--json", "--tune", number] + (["--part", part] if part else [])
    result = subprocess.run(command, capture_output=True, text=True, timeout=60)
    if result.returncode:
        raise RuntimeError(result.stderr.strip().split(": ", 1)[-1])
    read = json.loads(result.stdout)
    first, page = {}, {}
    for index, measure in enumerate(read["measures"]):
        first.setdefault(measure["page_index"], index)
        page[measure["page_index"]] = Fraction(measure["duration_quarters"])
    starts, at = {}, Fraction(0)
    for index in sorted(page):
        starts[index], at = at, at + page[index]
    notes = []
    for note in read["notes"]:
        index = note["measure_index"]
        measure = read["measures"][index]
        if first[measure["page_index"]] != index: continue
        offset = Fraction(note["onset_quarters"]) - Fraction(measure["onset_quarters"])
        notes.append(Note(note["sounding_midi"], starts[measure["page_index"]] + offset, Fraction(note["duration_quarters"])))
    return read["parts"], sorted(notes, key=lambda n: n.onset)

def theirs(part):
    notes = []
    is_tied = False
    flat = part.flatten() if part is not None else []
    for element in flat.notes:
        if isinstance(element, music21.harmony.Harmony) or element.duration.isGrace: continue
        tones = element.notes if isinstance(element, music21.chord.ChordBase) else [element]
        if not tones: continue
        tone = max(tones, key=lambda tone: tone.pitch.ps)
        note = Note(int(tone.pitch.ps), Fraction(element.offset), Fraction(element.duration.quarterLength))
        before = notes[-1] if notes else None
        if is_tied and before.midi == note.midi and before.onset + before.value == note.onset:
            notes[-1] = before._replace(value=before.value + note.value)
        else:
            notes.append(note)
        is_tied = tone.tie is not None and tone.tie.type in ("start", "continue")
    return notes

def plain(text):
    """Without what says nothing about pitch and time, and between which and broken rhythm music21 loses its way."""
    lines = []
    for line in text.split("\n"):
        if re.match(r"[A-Za-z]:|%", line):
            lines.append(line); continue
        line = re.sub(r'"[^"]*"', "", line)
        line = re.sub(r"!\S*?!", "", line)
        line = re.sub(r"\{[^}]*\}", "", line)
        line = re.sub(r"\((?!\d)|\)", "", line)
        line = re.sub(r"\[([A-Za-z]:[^\]]*)\]", lambda m: "\n" + m.group(1) + "\0\n", line)
        pieces = []
        for piece in line.split("\n"):
            if piece.endswith("\0"): pieces.append(piece[:-1]); continue
            piece = re.sub(r"[.~HLMOPSTuvkKRUVQIi`]|y\d*", "", piece).replace("x", "z")
            piece = re.sub(r"-([<>]+)|([<>]+)-", r"\1\2", piece)
            pieces.append(piece)
        lines.append("\n".join(pieces))
    return "\n".join(lines)

def read21(text):
    score = music21.converter.parse("%abc-2.1\n" + text, format="abc", forceSource=True)
    if isinstance(score, music21.stream.Opus): score = score.scores[0]
    return list(score.parts)

def same(a, b):
    return a == b

def compare(job):
    program, path, number, text, path_to_read = job
    warnings.simplefilter("ignore")
    name = f"{path.relative_to(CORPUS)}#{number}"
    out = []
    try:
        parts, mine = ours(program, path_to_read, number)
    except Exception as error:
        return name, "refused", f"{error}"
    for kind, source in (("same", text), ("plain", plain(text))):
        try:
            lists = read21(source)
            if len(lists) != len(parts):
                out.append(f"{len(lists)} parts, not {len(parts)}"); continue
            wrong = None
            for index, part in enumerate(lists):
                notes = mine if index == 0 else ours(program, path_to_read, number, parts[index]["id"])[1]
                other = theirs(part)
                if notes != other:
                    at = next((i for i, (a, b) in enumerate(zip(notes, other)) if a != b), min(len(notes), len(other)))
                    wrong = f"part {index} note {at}: {[tuple(map(str,n)) for n in notes[at:at+3]]} not {[tuple(map(str,n)) for n in other[at:at+3]]} ({len(notes)} and {len(other)})"
                    break
            if wrong is None: return name, kind, ""
            out.append(wrong)
        except Exception as error:
            out.append(f"{type(error).__name__}: {error}")
    return name, "differs", " || ".join(out)

def main():
    a = argparse.ArgumentParser()
    a.add_argument("--program", required=True); a.add_argument("--only", default=""); a.add_argument("--stride", type=int, default=1)
    a = a.parse_args()
    jobs = []
    folder = tempfile.mkdtemp()
    for path in sorted(CORPUS.rglob("*.abc")):
        if a.only not in str(path): continue
        found = tunes(path)
        counts = collections.Counter(n for n, _ in found)
        for i, (number, text) in enumerate(found):
            read = path
            if counts[number] > 1 or not number:
                read = pathlib.Path(folder) / f"{len(jobs)}.abc"; read.write_text(text)
            jobs.append((a.program, path, number or "1", text, read))
    jobs = jobs[::a.stride]
    kinds = collections.Counter()
    with multiprocessing.Pool(2) as pool:
        for name, kind, why in pool.imap(compare, jobs, chunksize=4):
            kinds[kind] += 1
            if why: print(name, kind, why, flush=True)
    print(kinds)
main()
