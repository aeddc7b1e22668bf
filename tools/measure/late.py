#!/usr/bin/env python3
"""Makes takes late: copies a folder of takes, every note of the takes with a click so much later than the click.

    tools/measure/late.py --ms 40 TO [FROM]        then: tools/measure/flags.py TO

What a slow controller or a slow loudspeaker does. The notes stay where they are in the file, and the marker
`exercise-start` comes sooner by so much: that is the same to whoever judges, and the truth beside the take holds as
it is. FROM (default: tests/data/takes) and TO hold NAME.musicxml, NAME.mid, NAME.truth.json. Only the Python standard
library is used.
"""

import argparse
import json
import pathlib
import shutil
import struct

MARKER = b"exercise-start"
META, META_MARKER, META_TEMPO = 0xFF, 0x06, 0x51


def number(data, at):
    """A number of variable length (SMF 1.0, "Variable-length quantity") and the place behind it."""
    value = 0
    while True:
        byte, at = data[at], at + 1
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at


def as_bytes(value):
    septets = [value & 0x7F]
    while value := value >> 7:
        septets.insert(0, value & 0x7F | 0x80)
    return bytes(septets)


def events(track):
    """[tick, bytes with their status] of a track; running status is written out."""
    found, at, tick, status = [], 0, 0, 0
    while at < len(track):
        delta, at = number(track, at)
        tick += delta
        if track[at] >= 0x80:
            status, at = track[at], at + 1
        begin = at
        if status == META:
            length, at = number(track, at + 1)
            at += length
        elif status in (0xF0, 0xF7):
            length, at = number(track, at)
            at += length
        else:
            at += 1 if 0xC0 <= status < 0xE0 else 2
        found.append([tick, bytes([status]) + track[begin:at]])
    return found


def late(data, ms):
    """The file with its marker so many milliseconds sooner, by the one tempo that the file has."""
    division = struct.unpack(">H", data[12:14])[0]
    chunks, at = [], 8 + struct.unpack(">I", data[4:8])[0]
    head = data[:at]
    while at < len(data):
        length = struct.unpack(">I", data[at + 4 : at + 8])[0]
        chunks.append(events(data[at + 8 : at + 8 + length]))
        at += 8 + length
    meta = lambda event, kind: event[1][:2] == bytes([META, kind])
    tempos = {event[1][3:] for track in chunks for event in track if meta(event, META_TEMPO)}
    if len(tempos) != 1:
        raise SystemExit(f"{len(tempos)} tempos; this tool moves the marker of takes with one")
    tempo = int.from_bytes(tempos.pop(), "big")
    out = head
    for track in chunks:
        for event in track:
            if meta(event, META_MARKER) and event[1][3:] == MARKER:
                event[0] -= round(ms * 1000 * division / tempo)
                if event[0] < 0:
                    raise SystemExit("the marker would come before the file begins")
        track.sort(key=lambda event: event[0])
        body, now = b"", 0
        for tick, message in track:
            body += as_bytes(tick - now) + message
            now = tick
        out += b"MTrk" + struct.pack(">I", len(body)) + body
    return out


def main():
    here = pathlib.Path(__file__).resolve().parents[2]
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("to", type=pathlib.Path)
    arguments.add_argument("source", nargs="?", type=pathlib.Path, default=here / "tests/data/takes")
    arguments.add_argument("--ms", type=float, required=True, help="negative: sooner than the click")
    given = arguments.parse_args()
    given.to.mkdir(parents=True, exist_ok=True)
    for path in sorted(given.source.glob("*.truth.json")):
        truth = json.loads(path.read_text())
        shutil.copy(path, given.to)
        shutil.copy(path.with_name(truth["exercise"]), given.to)
        take = path.with_name(truth["take"]).read_bytes()
        given.to.joinpath(truth["take"]).write_bytes(late(take, given.ms) if truth["options"]["click"] else take)


if __name__ == "__main__":
    main()
