"""Large and senseless inputs, made here, given to the program: nesting, counts, long lines, archives that unpack to much,
MIDI files of nothing but events.

Whatever the input (here up to 10 MB), the program must end by itself with one of its own exit statuses, say no word of a panic and
take no more than 300 MB of memory (the most that the operating system saw, `ru_maxrss`). Processor seconds are shown;
more than `--seconds` of them is a hang. By hand: `--seconds 1` with a release build on a quiet machine.
"""

import argparse
import io
import os
import pathlib
import random
import resource
import struct
import subprocess
import sys
import tempfile
import zipfile

MEGABYTE = 1 << 20
MOST_MEMORY = 300
SIZE = 8_000_000


def score(inside, parts='<score-part id="P1"><part-name>P</part-name></score-part>'):
    """A partwise score of one part."""
    return f'<score-partwise version="4.0"><part-list>{parts}</part-list><part id="P1">{inside}</part></score-partwise>'.encode()


NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
START = "<attributes><divisions>1</divisions></attributes>"


def filled(piece, size=SIZE):
    """The piece again and again."""
    return piece * (size // len(piece))


def musicxml():
    """Names and scores."""
    measure = '<measure number="1">' + START + NOTE * 4 + "</measure>"
    yield "nested.musicxml", score(filled("<a>"))
    yield "nested-closed.musicxml", score("<measure>" + filled("<a>", SIZE // 3) + filled("</a>", 4 * SIZE // 9) + "</measure>")
    yield "measures.musicxml", score(filled(measure))
    yield "empty-measures.musicxml", score(filled("<measure/>"))
    yield "one-measure.musicxml", score(f"<measure>{START}{filled(NOTE)}</measure>")
    yield "chord.musicxml", score(f"<measure>{START}{NOTE}{filled(NOTE.replace('<note>', '<note><chord/>'))}</measure>")
    yield "graces.musicxml", score(f"<measure>{START}{filled(NOTE.replace('<note>', '<note><grace/>'))}{NOTE}</measure>")
    yield "backward.musicxml", score(f"<measure>{START}{NOTE}" + filled("<backup><duration>1</duration></backup>" + NOTE) + "</measure>")
    tied = NOTE.replace("</note>", '<tie type="stop"/><tie type="start"/></note>')
    yield "tied.musicxml", score(filled(f"<measure>{START}{tied}</measure>"))
    repeat = '<barline location="right"><repeat direction="backward" times="99"/></barline>'
    yield "repeats.musicxml", score(filled(f"<measure>{START}{NOTE}{repeat}</measure>"))
    jump = '<direction><sound dalsegno="a" segno="a" tocoda="b" coda="b" fine="yes"/></direction>'
    yield "jumps.musicxml", score(filled(f"<measure>{START}{NOTE}{jump}</measure>"))
    yield "attributes.musicxml", score("<measure " + " ".join(f'a{number}="b"' for number in range(SIZE // 11)) + "/>")
    yield "text.musicxml", score(f"<measure>{filled('x')}</measure>")
    ids = "".join(f'<score-part id="Q{number}"><part-name>Part {number}</part-name></score-part>' for number in range(SIZE // 70))
    yield "parts.musicxml", score(measure, '<score-part id="P1"><part-name>P</part-name></score-part>' + ids)
    yield "tempos.musicxml", score(f"<measure>{START}{NOTE}" + filled('<sound tempo="90"/><forward><duration>1</duration></forward>') + "</measure>")
    yield "words.musicxml", score("<measure>" + START + filled("<direction><direction-type><words>D.C.</words></direction-type></direction>") + NOTE + "</measure>")


def archives():
    """Archives that unpack to far more than they are."""
    def archive(files, method=zipfile.ZIP_DEFLATED):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", method) as packed:
            for name, content in files:
                packed.writestr(name, content)
        return out.getvalue()

    yield "notes.mxl", archive([("a.xml", score(filled('<measure number="1">' + START + NOTE * 4 + "</measure>", 62_000_000)))])
    yield "elements.mxl", archive([("a.xml", score("<measure>" + filled("<a/>", 62_000_000) + "</measure>"))])
    yield "text.mxl", archive([("a.xml", score("<measure>" + filled("<a>&lt;</a>", 62_000_000) + "</measure>"))])
    yield "utf16.mxl", archive([("a.xml", score("<measure>" + filled("x", 31_000_000) + "</measure>").decode().encode("utf-16"))])
    yield "zeros.mxl", archive([("a.xml", bytes(500_000_000))])
    yield "files.mxl", archive([(f"{number}.xml", b"") for number in range(60_000)], zipfile.ZIP_STORED)


def abc():
    """Tunes."""
    head = "X:1\nM:4/4\nL:1/8\nK:C\n"
    for name, piece in {
        "notes": "C", "measures": "C8|", "lines": "CDEF GABc|\n", "chords": "[", "chord": "[CEG]", "graces": "{a}C", "grace": "{",
        "tuplets": "(3", "tuplet": "(9:9:9CDE", "ties": "C-", "slurs": "(", "broken": "C>>>", "repeats": ":|", "nested": "|:C", "endings": "|1C:|2C||",
        "fields": "[K:F#m]C", "voices-inline": "[V:2]C[V:1]C", "overlays": "C&C", "quotes": '"', "texts": '"Am"C', "marks": "!", "decorated": "!D.C.!C|",
        "rests": "Z999|", "numbers": "C99999999", "slashes": "C////////////////////////////////", "comments": "%\n", "keys": "K:F\nC\n", "parts": "P:A\nC|\n",
        "continued": "C\\\n", "words": "w:la-la*la\n", "meters": "M:9/8\nC\n", "lengths": "L:1/999\nC\n", "tempos": "Q:1/4=90\nC\n", "symbols": "U:n=!fermata!\n",
    }.items():
        yield f"{name}.abc", (head + filled(piece)).encode()
    yield "voices.abc", (head + "".join(f"V:{number}\nC|\n" for number in range(SIZE // 14))).encode()
    yield "tunes.abc", "".join(f"X:{number}\nT:t\nK:C\nC|\n\n" for number in range(SIZE // 22)).encode()
    yield "sections.abc", ("X:1\nP:" + "(" * 2_000_000 + "A" + ")9" * 2_000_000 + "\nK:C\nP:A\nC|\n").encode()
    yield "sections-times.abc", ("X:1\nP:" + "(" * 40 + "A" + ")9" * 40 + "\nK:C\nP:A\nC|\n").encode()
    yield "key.abc", ("X:1\nK:C " + filled("^f ") + "\nC|\n").encode()


def track(content):
    """One track of a MIDI file."""
    return b"MTrk" + struct.pack(">I", len(content)) + content


def midi():
    """MIDI files: exercises and takes."""
    def file(*tracks, division=480):
        return b"MThd" + struct.pack(">IHHH", 6, 1, min(len(tracks), 65535), division) + b"".join(map(track, tracks))

    dice = random.Random(1)
    end = b"\0\xff\x2f\0"
    note = b"\x10\x90\x3c\x50\x10\x3c\0"
    yield "running.mid", file(b"\0\xc0\0" + filled(b"\1\0", SIZE) + end)
    yield "notes.mid", file(b"\0\x90\x3c\x50" + filled(b"\x10\x3c\0\x10\x3c\x50", SIZE) + end)
    yield "never-ended.mid", file(b"\0\x90\x3c\x50" + filled(b"\1\x3c\x50", SIZE) + end)
    yield "at-once.mid", file(b"\0\x90\x3c\x50" + filled(b"\0\x3c\x50\0\x3d\x50\0\x3e\x50", SIZE) + end)
    yield "bounces.mid", file(b"\0\x90\x3c\x50" + filled(b"\1\x3c\0\1\x3d\x50\1\x3d\0\1\x3c\x50", SIZE) + end)
    yield "channels.mid", file(b"".join(bytes([1, 0x90 | n & 15, 40 + n % 60, 80 * (n >> 4 & 1)]) for n in range(SIZE // 4)) + end)
    yield "random.mid", file(b"".join(bytes([dice.randrange(128), 0x80 | dice.randrange(0x60), dice.randrange(128), dice.randrange(128)]) for _ in range(SIZE // 4 - 10)) + end)
    yield "random-notes.mid", file(b"".join(bytes([dice.randrange(128), 0x90, 48 + dice.randrange(32), dice.randrange(2) * 80]) for _ in range(SIZE // 4 - 10)) + end)
    yield "long-delta.mid", file(filled(b"\xff\xff\xff\x7f\xff\1\0", 7 * 900) + note + end)
    yield "long-delta-notes.mid", file(filled(b"\x8f\xff\xff\x7f\x90\x3c\x50\x10\x3c\0", 10 * 900) + end)
    yield "slow.mid", file(b"\0\xff\x51\3\xff\xff\xff" + filled(b"\xff\xff\xff\x7f\x90\x3c\x50\x10\x3c\0", 10 * 900) + end, division=1)
    yield "tracks.mid", file(*[note + end] * 65535)
    yield "empty-tracks.mid", file(note + end, *[b""] * 900_000)
    yield "tempos.mid", file(filled(b"\1\xff\x51\3\7\xa1\x20", SIZE) + note + end)
    yield "meters.mid", file(filled(b"\x60\xff\x58\4\1\6\x18\x08", SIZE) + note + end)
    yield "keys.mid", file(filled(b"\1\xff\x59\2\1\0", SIZE) + note + end)
    yield "texts.mid", file(filled(b"\1\xff\3\1x", SIZE) + note + end)
    yield "markers.mid", file(filled(b"\1\xff\6\x0eexercise-start", SIZE) + note + end)
    yield "exclusive.mid", file(note + b"\0\xf0" + b"\x83\xff\xff\x7f" + bytes(8_388_607)[:8_000_000] + end)
    yield "exclusives.mid", file(note + filled(b"\0\xf0\1\xf7", SIZE) + end)
    yield "escapes.mid", file(note + filled(b"\1\xf7\1\xfe", SIZE) + note + end)
    yield "fine.mid", file(b"".join(bytes([n % 7 + 1, 0x90, 60 + n % 12, 80, n % 5 + 1, 0x80, 60 + n % 12, 0]) for n in range(SIZE // 8)) + end, division=32767)


def streams():
    """Timed streams in JSON."""
    yield "nested.json", b"[" * SIZE
    yield "empty.json", b"[" + filled(b"[0,[]],") + b"[0,[]]]"
    yield "bytes.json", b"[[0,[" + filled(b"144,60,9,") + b"0]]]"
    yield "notes.json", b"[" + filled(b"[0,[144,60,9]],") + b"[1,[128,60,9]]]"
    yield "bounces.json", ("[" + "".join(f"[{n / 500},[144,{60 + n % 2},{n % 4 // 2 * 9}]]," for n in range(SIZE // 26)) + "[1,[128,60,9]]]").encode()
    yield "number.json", b"[[" + filled(b"1") + b",[]]]"
    yield "ports.json", ("[" + ",".join(f'[{n},[144,60,9],{{"port":{n}}}]' for n in range(SIZE // 34)) + "]").encode()
    yield "name.json", b'[[0,[144,60,9],{"port":0,"name":"' + filled(b"x") + b'"}]]'
    yield "exclusive.json", b"[[0,[240," + filled(b"1,") + b"247]],[1,[144,60,9]]]"


def rosters():
    """Rosters."""
    yield "names.csv", ("name\n" + "".join(f"Player {n}\n" for n in range(280_000))).encode()
    yield "same.csv", b"name\n" + filled(b"Ada\n", 4_000_000)
    yield "commas.csv", b"name" + filled(b",", 4_000_000)
    yield "quote.csv", b'name\n"' + filled(b"x\n", 4_000_000)
    yield "long.csv", b"name\n" + filled(b"x", 4_000_000)
    yield "lines.csv", b"name\n" + filled(b"\n", 4_000_000)
    yield "wrong.csv", b"name,instrument\n" + filled(b"Ada,kazoo\n", 4_000_000)
    yield "utf16.csv", ("name\n" + filled("Ada\n", 1_900_000)).encode("utf-16")


def commands(program, folder, path, small):
    """What is done with a file of this kind."""
    book = folder / "book.db"
    if path.suffix == ".csv":
        return [[program, "book", "roster", "--book", book, path]]
    if path.suffix == ".json":
        return [[program, "clean", path, "--json"], [program, "check", small, path]]
    read = [[program, "notes", path, "--json"], [program, "sheet", path]]
    if path.suffix == ".mid":
        read += [[program, "clean", path, "--json"], [program, "check", small, path]]
    return read


def run(command, seconds):
    """Exit status (negative: a signal), processor seconds, megabytes, the end of what was said."""
    def limit():
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))

    with tempfile.TemporaryFile() as said:
        child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=said, preexec_fn=limit)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        words = said.read().decode(errors="replace").strip()
    return child.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss // 1024, words


def main():
    """All inputs, or those of a name."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", required=True)
    arguments.add_argument("--only", default="", help="inputs whose name holds this")
    arguments.add_argument("--seconds", type=float, default=60, help="more processor seconds are a hang (60)")
    arguments.add_argument("--all", action="store_true", help="show also what went well")
    chosen = arguments.parse_args()
    top = pathlib.Path(__file__).resolve().parents[2]
    small = top / "config/exercises/lantern-walk.musicxml"
    bad, count, longest, largest = 0, 0, 0.0, 0
    with tempfile.TemporaryDirectory() as folder:
        for kind in (musicxml, archives, abc, midi, streams, rosters):
            for name, content in kind():
                if chosen.only not in name:
                    continue
                path = pathlib.Path(folder) / name
                path.write_bytes(content)
                for command in commands(os.path.abspath(chosen.program), pathlib.Path(folder), path, small):
                    status, seconds, memory, said = run(command, chosen.seconds)
                    good = status in (0, 1, 3) and "panicked" not in said and memory <= MOST_MEMORY and seconds <= chosen.seconds
                    bad, count = bad + (not good), count + 1
                    longest, largest = max(longest, seconds), max(largest, memory)
                    if chosen.all or not good:
                        sentence = said.splitlines()[-1][:70] if said else ""
                        verdict = " " if good else "!"
                        print(f"{verdict} {name:24} {command[1]:7} exit {status:3} {seconds:6.2f} s {memory:5} MB  {sentence}", flush=True)
                path.unlink()
    print(f"{count - bad} of {count} large inputs answered within limits; at most {longest:.1f} s, {largest} MB")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
