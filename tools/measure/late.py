#!/usr/bin/env python3
"""Makes takes late: copies a folder of takes, every note of the takes with a click so much later than the click.

    tools/measure/late.py --ms 80 TO [FROM]
    tools/measure/accuracy --parts flags --takes TO

What a slow controller or a slow loudspeaker does. The notes stay where they are in the file, and the marker
`exercise-start` comes sooner by so much: that is the same to whoever judges, and the truth beside the take holds as
it is. FROM (default: tests/data/takes) and TO hold NAME.musicxml, NAME.mid, NAME.truth.json. Needs mido, which is in
the Python environment that tools/test makes.
"""

import argparse
import itertools
import json
import pathlib
import shutil

import mido

HERE = pathlib.Path(__file__).resolve().parents[2]


def late(file, ms):
    """Moves the marker of a take so many milliseconds, by the one tempo that it has."""
    tempos = {message.tempo for track in file.tracks for message in track if message.type == "set_tempo"}
    if len(tempos) != 1:
        raise SystemExit(f"{file.filename}: {len(tempos)} tempos; only takes with one can be made late")
    ticks = round(mido.second2tick(ms / 1000, file.ticks_per_beat, tempos.pop()))
    for track in file.tracks:
        at = list(itertools.accumulate(message.time for message in track))
        moved = [now - ticks * (message.type == "marker" and message.text == "exercise-start")
                 for now, message in zip(at, track)]
        if min(moved, default=0) < 0:
            raise SystemExit(f"{file.filename}: the marker would come before the file begins")
        order = sorted(zip(moved, range(len(track))))
        track[:] = [track[place].copy(time=now - last)
                    for (now, place), (last, _) in zip(order, [(0, 0), *order])]


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("to", type=pathlib.Path)
    arguments.add_argument("source", nargs="?", type=pathlib.Path, default=HERE / "tests/data/takes")
    arguments.add_argument("--ms", type=float, required=True, help="negative: sooner than the click")
    given = arguments.parse_args()
    given.to.mkdir(parents=True, exist_ok=True)
    for path in sorted(given.source.glob("*.truth.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        for name in (path.name, truth["exercise"], truth["take"]):
            shutil.copy(path.with_name(name), given.to)
        if truth["options"]["click"]:
            file = mido.MidiFile(path.with_name(truth["take"]), clip=True)
            late(file, given.ms)
            file.save(given.to / truth["take"])


if __name__ == "__main__":
    main()
