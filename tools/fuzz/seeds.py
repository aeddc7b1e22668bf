"""Makes the seeds of the fuzz targets from tests/data: tools/fuzz/corpus/TARGET, some kilobytes each.

Run it when cases were added to tests/data; what
a fuzzer has found goes into tests/reading instead.
"""

import io
import json
import pathlib
import shutil
import zipfile

FUZZ = pathlib.Path(__file__).resolve().parent
DATA = FUZZ.parents[1] / "tests/data"
# Larger seeds make the fuzzer slow.
MOST = 2_500
TAKES = ("v003", "v017")


def keep(target, name, content):
    """One seed."""
    folder = FUZZ / "corpus" / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(content[:MOST])


def arrivals(stream):
    """A timed stream in the form of `entries/played.rs`: pause, head, bytes."""
    out, before = bytearray(), 0.0
    for entry in stream:
        at, what = entry[0], entry[1]
        port = entry[2].get("port", 0) if len(entry) > 2 and isinstance(entry[2], dict) else 0
        pause = min(255, round((max(0, at - before) * 1e6 / 16) ** 0.5))
        before = max(before, at)
        if isinstance(what, str):
            out += bytes([pause, 6 << 5 if what == "disconnect" else 7 << 5])
        else:
            piece = bytes(what)[:31]
            out += bytes([pause, (port & 1) << 5 | len(piece)]) + piece
    return bytes(out)


def tune_played(head, shapes):
    """A scale of quarters and halves, each note played as written for its length at 112 quarters a minute."""
    pitches = [60, 62, 63, 65, 67, 68, 70, 72]
    notes, stream, now = bytearray(), [], 0.6
    for place, shape in enumerate(shapes):
        notes += bytes([place, shape])
        long = {0: 0.268, 1: 0.536, 2: 1.071, 3: 0.134}[shape & 3]
        stream += [[now, [0x90, pitches[place], 90]], [now + 0.9 * long, [0x80, pitches[place], 64]]]
        now += long
    return bytes(head + [len(shapes), 11]) + bytes(notes) + arrivals(stream)


def main():
    """Writes all seeds anew."""
    shutil.rmtree(FUZZ / "corpus", ignore_errors=True)
    by_ending = {".musicxml": "musicxml", ".xml": "musicxml", ".mxl": "mxl", ".mid": "smf"}
    for path in sorted(DATA.glob("cases/*/in.*")):
        name = path.parent.name
        content = path.read_bytes()
        if path.suffix == ".json":
            keep("stream", name, content)
            try:
                stream = json.loads(content)
                keep("midi", name, arrivals(stream if isinstance(stream, list) else []))
            except (ValueError, TypeError):
                pass
        elif path.suffix in by_ending and path.stat().st_size <= 20 * MOST:
            target = by_ending[path.suffix]
            keep(target, name, content)
            if target == "smf":
                keep("take", name, content)
    for name in TAKES:
        keep("take", name, (DATA / f"takes/{name}.mid").read_bytes())
    for path in sorted(DATA.glob("abc/*.abc")):
        keep("abc", path.name, path.read_bytes())
    keep("abc", "signs", b"M:C|\nL:1/8\nQ:1/4=90\nP:A2B\nV:1 clef=bass transpose=-2\nK:D Phr ^f\n|:\"Am\"A>B{/gf}c (3d_ef g2|[1 [CE-G]2[EG]/z3:|[2 n.A4-A2||\nw:la la\n")
    # Not deflated: a changed byte of the score is then a changed byte of the archive.
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as score:
        for name, content in (
            ("META-INF/container.xml", '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'),
            ("a.xml", (DATA / "cases/part-without-id/in.musicxml").read_text()),
        ):
            score.writestr(zipfile.ZipInfo(name), content)
    keep("mxl", "stored", archive.getvalue())
    keep("roster", "plain", b"name,instrument,section\nAda,flute,winds\nBen,trumpet,brass\n")
    keep("roster", "semicolons", "\ufeffsep=;\nFirst name;Last name;Instrument;ID\n\"Zo\u00eb, A\";B;Alto Sax;17\n".encode())
    keep("roster", "utf16", "name\tinstrument\nM\u00eda\ttuba\n".encode("utf-16"))
    for place, head in enumerate([[0x00, 0x00], [0x45, 0x02], [0x5A, 0x0B], [0xE8, 0x11], [0x31, 0x00]]):
        keep("engine", f"scale-{place}", tune_played(head, [1, 1, 2, 1, 0, 0, 2, 2][: 8 - place % 3]))
    total = sum(path.stat().st_size for path in FUZZ.glob("corpus/*/*"))
    print(f"{sum(1 for _ in FUZZ.glob('corpus/*/*'))} seeds, {total} bytes")


if __name__ == "__main__":
    main()
