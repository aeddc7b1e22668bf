"""A queue of six players on two controllers, over a real MIDI transport, with the keys that the director presses.

Two processes send to two JACK ports; `restward listen --queue` runs on a terminal of its own and calls up the players of a
section of a book. Each player has a note of the exercise that only this player misses, so what the book finds says who really
played. One is absent, one is skipped and comes later, one plays again. At the end

* every take in the book is that of the player who was called up on that controller: the one note missed is that player's;
* the absent player has no take and stands in the book as absent, the one who was called up again has two;
* the program ended by q with status 0.

    tools/live/run --turns
"""

import argparse
import json
import multiprocessing
import os
import pathlib
import pty
import queue
import re
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

from live import GRACE_S, lines_of, start_server

PLAYERS = ["Ada", "Bo", "Cleo", "Dan", "Eli", "Fay"]
ABSENT, SKIPPED, AGAIN = "Cleo", "Dan", "Dan"
PITCHES = (60, 62, 64, 65, 67, 65, 64)
NOTE_S = 0.3
# A fourth and a semitone off: no note of the exercise is near.
WRONG = 6
# How the session calls up a player.
TURN = re.compile(r"(?P<player>\w+), flute: take \d+ on controller (?P<lane>\d)")


def exercise():
    """Two measures, a half note at the end."""
    note = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>{}</duration></note>"
    steps = ["CDEFG"[(60, 62, 64, 65, 67).index(pitch)] for pitch in PITCHES]
    notes = [note.format(step, 2 if place == len(steps) - 1 else 1) for place, step in enumerate(steps)]
    start = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes><sound tempo='120'/>"
    measures = f"<measure number='1'>{start}{''.join(notes[:4])}</measure><measure number='2'>{''.join(notes[4:])}</measure>"
    return (
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Flute</part-name></score-part></part-list>"
        f"<part id='P1'>{measures}</part></score-partwise>"
    )


def play(port, asked, done):
    """A controller: plays whenever it is handed to a player, whose own note is missed."""
    import rtmidi

    out = rtmidi.MidiOut(rtapi=rtmidi.API_UNIX_JACK, name=port)
    out.open_virtual_port("out")
    done.put("open")
    while (missed := asked.get()) is not None:
        for place, pitch in enumerate(PITCHES):
            pitch += WRONG if place == missed else 0
            length = NOTE_S * (2 if place == len(PITCHES) - 1 else 1)
            out.send_message((0x90, pitch, 90))
            time.sleep(length - 0.01)
            out.send_message((0x80, pitch, 64))
            time.sleep(0.01)
    out.close_port()
    out.delete()


def listen(program, folder, ports):
    """The session on a terminal; the process, the terminal, its lines."""
    (folder / "exercise.musicxml").write_text(exercise())
    (folder / "players.csv").write_text("name,instrument,section\n" + "".join(f"{name},flute,reeds\n" for name in PLAYERS))
    book = ["--book", folder / "band.db"]
    subprocess.run([program, "book", "roster", *book, folder / "players.csv", "--yes"], check=True, stdout=subprocess.DEVNULL)
    ours, theirs = pty.openpty()
    session = subprocess.Popen(
        [program, "listen", folder / "exercise.musicxml", *book, "--queue", f"{','.join(ports)}=@reeds"]
        + ["--no-click", "--pause", "0"],
        stdin=theirs, stdout=theirs, stderr=theirs, env=os.environ | {"NO_COLOR": "1"},
    )
    os.close(theirs)
    return session, ours, lines_of(os.fdopen(ours, encoding="utf-8", errors="replace", closefd=False))


def sectional(terminal, lines, controllers, log):
    """Presses the keys and hands the controllers on until everybody is through; who was heard on which controller."""
    to_press = {ABSENT: "x", SKIPPED: "s"}
    called_up, heard = {}, []
    while True:
        line = lines.get(timeout=GRACE_S)
        if line is None:
            return heard
        log.append(line)
        if turn := TURN.match(line):
            called_up[int(turn["lane"])] = turn["player"]
        elif line.startswith("Play when you are ready"):
            absent_or_later = next((lane for lane, player in called_up.items() if player in to_press), None)
            if absent_or_later:
                os.write(terminal, f"{absent_or_later}{to_press.pop(called_up.pop(absent_or_later))}".encode())
                continue
            for lane, player in called_up.items():
                heard.append((player, lane))
                controllers[lane - 1].put(PLAYERS.index(player))
            called_up = {}
        elif line.startswith("All turns are over"):
            again = [lane for player, lane in heard if player == AGAIN]
            os.write(terminal, f"{again[0]}r".encode() if len(again) == 1 else b"q")


def wrong(folder, heard):
    """What is not as it should be, in sentences."""
    with sqlite3.connect(folder / "band.db") as sql:
        takes = sql.execute("SELECT take.id, name FROM take JOIN player ON player.id = player ORDER BY take.id").fetchall()
        flags = {take: [] for take, _ in takes}
        for take, note, kind in sql.execute("SELECT take, note, kind FROM flag WHERE counts ORDER BY take, number"):
            flags[take].append((note, kind))
        absent = [name for (name,) in sql.execute("SELECT name FROM absence JOIN player ON player.id = player")]
    for take, name in takes:
        if flags[take] != [(PLAYERS.index(name), "wrong-note")]:
            yield f"take {take} stands under {name}, but what is wrong in it is {flags[take]}"
    expected = sorted([name for name in PLAYERS if name != ABSENT] + [AGAIN])
    if sorted(name for _, name in takes) != expected:
        yield f"takes of {sorted(name for _, name in takes)}, not of {expected}"
    if sorted(name for name, _ in heard) != expected:
        yield f"called up were {heard}"
    if {lane for _, lane in heard} != {1, 2}:
        yield f"one controller was never used: {heard}"
    if absent != [ABSENT]:
        yield f"absent are {absent}"


def main():
    """The sectional; the exit status is 0 if everybody's take stands under the right name."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", required=True, help="restward, built with the feature jack")
    program = arguments.parse_args().program
    server = start_server()
    began = time.time()
    ports, log = ["turns-one", "turns-two"], []
    controllers, done = [multiprocessing.Queue() for _ in ports], multiprocessing.Queue()
    try:
        with tempfile.TemporaryDirectory() as kept:
            folder = pathlib.Path(kept)
            players = [multiprocessing.Process(target=play, args=(port, asked, done), daemon=True) for port, asked in zip(ports, controllers)]
            for player in players:
                player.start()
            for _ in players:
                done.get(timeout=GRACE_S)
            session, terminal, lines = listen(program, folder, ports)
            try:
                heard = sectional(terminal, lines, controllers, log)
                status = session.wait(timeout=GRACE_S)
                found = list(wrong(folder, heard)) + ([f"it ended with {status}"] if status != 0 else [])
            except queue.Empty:
                session.send_signal(signal.SIGTERM)
                found = ["the session stood still"]
            for asked, player in zip(controllers, players):
                asked.put(None)
                player.join(timeout=5)
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(timeout=5)
    print("".join(log) + "\n".join(found) if found else f"{len(heard)} takes of a queue on two controllers, each under the right name, {time.time() - began:.0f} s")
    return 1 if found else 0


if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    sys.exit(main())
