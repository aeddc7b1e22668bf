"""Sixteen players at once, each with 500 controller messages a second, over a real MIDI transport into a book.

A process sends notes of an exercise and a flood of breath data (controller 2) on sixteen JACK ports, take after take, to
`restward listen --book`. At the end three things must hold:

* every byte sent stands in the records of the book, in order: none lost (of each take one player's record is read with mido, all with a few lines here);
* the program never held more than 150 MB (Linux: proc(5), VmHWM);
* it ended by itself, with status 0, and told of no trouble.

Shown besides: processor time, and the longest time from the moment at which a message was sent to the moment at which it
could be read in the book. That contains the way through JACK (periods of 10.7 ms), a look at the book every 10 ms, and whatever
else the machine does; what the program promises is 40 ms from arrival on.

    tools/live/run --soak                 two minutes
    tools/live/run --soak --minutes 10
"""

import argparse
import io
import json
import multiprocessing
import os
import pathlib
import queue
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

import mido

from live import GRACE_S, lines_of, start_server

LANES = 16
A_SECOND = 500
TAKE_S = 60
BEATS_A_MINUTE = 100
MOST_MB = 150
# A message of three bytes as the book keeps it until the end of the take: time, length, bytes.
KEPT_BYTES = 8 + 4 + 3
PITCHES = (60, 62, 64, 65, 67, 65, 64, 62)
TICK_S = 0.004


def exercise():
    """Quarters up and down the scale, as long as a take; the last is a whole note."""
    count = int(TAKE_S * BEATS_A_MINUTE / 60 / 4) * 4 - 4
    measures = []
    for first in range(0, count, 4):
        notes = "".join(
            f"<note><pitch><step>{'CDEFG'[(60, 62, 64, 65, 67).index(PITCHES[place % 8])]}</step><octave>4</octave></pitch>"
            "<duration>1</duration></note>"
            for place in range(first, first + 4)
        )
        measures.append(notes)
    measures.append("<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>")
    body = "".join(
        f'<measure number="{number}">' + ("<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type>"
        f'</time></attributes><sound tempo="{BEATS_A_MINUTE}"/>' if number == 1 else "") + notes + "</measure>"
        for number, notes in enumerate(measures, 1)
    )
    return (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Flute</part-name></score-part></part-list>'
        f'<part id="P1">{body}</part></score-partwise>'
    )


def stream():
    """Seconds and bytes of what one player sends in a take: the same for all but for the channel."""
    beat = 60 / BEATS_A_MINUTE
    count = int(TAKE_S * BEATS_A_MINUTE / 60 / 4) * 4 - 3
    events = []
    for place in range(count):
        pitch = PITCHES[place % 8] if place < count - 1 else 60
        length = beat if place < count - 1 else 4 * beat
        events.append((place * beat, (0x90, pitch, 90)))
        events.append((place * beat + length - 0.04, (0x80, pitch, 64)))
    end = events[-1][0]
    events += [(number / A_SECOND, (0xB0, 2, number % 120 + 4)) for number in range(int(end * A_SECOND))]
    return sorted(events, key=lambda event: event[0])


def flood(stamps, counts, starts, done):
    """Sends on all ports; `stamps` and `counts` say when which message went."""
    import rtmidi

    outs = []
    for lane in range(LANES):
        outs.append(rtmidi.MidiOut(rtapi=rtmidi.API_UNIX_JACK, name=f"soak-{lane + 1:02}"))
        outs[-1].open_virtual_port("out")
    done.put("open")
    events = stream()
    most = len(events)
    while (zero := starts.get()) is not None:
        next_one, latest = 0, 0.0
        while next_one < most:
            now = time.time()
            due = next_one
            while due < most and events[due][0] <= now - zero:
                due += 1
            if due > next_one:
                latest = max(latest, now - zero - events[next_one][0])
            for lane, out in enumerate(outs):
                for number in range(next_one, due):
                    status, first, second = events[number][1]
                    stamps[lane * most + number] = time.time()
                    counts[lane] = number + 1
                    out.send_message((status | lane, first, second))
            next_one = due
            time.sleep(TICK_S)
        done.put(latest)
    for out in outs:
        out.close_port()
        out.delete()


class Watch(threading.Thread):
    """Looks at the book and at the program while the session runs."""

    def __init__(self, book, process, stamps, counts, most):
        super().__init__(daemon=True)
        self.book, self.process, self.stamps, self.counts, self.most = book, process, stamps, counts, most
        self.longest, self.memory_mb, self.processor_s, self.over = 0.0, 0.0, 0.0, threading.Event()

    def run(self):
        sql, seen, looks = None, {}, 0
        while not self.over.wait(0.01):
            looks += 1
            if looks % 25 == 1:
                self.look_at_program()
            try:
                sql = sql or sqlite3.connect(f"file:{self.book}?mode=ro", uri=True, isolation_level=None)
                running = sql.execute("SELECT id, player FROM take WHERE record IS NULL").fetchall()
                for take, player in running:
                    last, kept = seen.get(take, (-1, 0))
                    question = "SELECT max(number), sum(length(content)) FROM arrival WHERE take = ? AND number > ?"
                    number, size = sql.execute(question, (take, last)).fetchone()
                    if number is not None:
                        last, kept = number, kept + size // KEPT_BYTES
                        seen[take] = (last, kept)
                    # Players are numbered in the order of their lanes.
                    lane, now = player - 1, time.time()
                    if kept < self.counts[lane]:
                        self.longest = max(self.longest, now - self.stamps[lane * self.most + kept])
            except sqlite3.OperationalError:
                sql = None  # not there yet

    def look_at_program(self):
        try:
            status = pathlib.Path(f"/proc/{self.process}/status").read_text()
            fields = pathlib.Path(f"/proc/{self.process}/stat").read_text().rsplit(")", 1)[1].split()
        except OSError:
            return
        peak = [line for line in status.splitlines() if line.startswith("VmHWM")]
        if peak:
            self.memory_mb = int(peak[0].split()[1]) * 1024 / 1e6
            self.processor_s = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def messages(record):
    """The channel messages of a Standard MIDI File with one track, quicker than mido; checked against it in `lost`."""
    found, at, running = [], 22, 0  # after the header and the head of the track
    while at < len(record):
        while record[at] & 0x80:
            at += 1
        at += 1
        if record[at] == 0xFF:
            length, at = record[at + 2], at + 3
            assert length < 0x80, "a longer meta event than a take has"
            at += length
        else:
            if record[at] & 0x80:
                running, at = record[at], at + 1
            found.append([running, record[at], record[at + 1]])
            at += 2
    return found


def lost(book):
    """Messages that were sent and are not kept, or not in order; how many takes there are."""
    sent = [event for _, event in stream()]
    wrong, records = 0, 0
    sql = sqlite3.connect(book)
    for player, record in sql.execute("SELECT player, record FROM take ORDER BY id"):
        there = messages(record)
        if records % LANES == records // LANES % LANES:  # another lane of each take
            read = [message.bytes() for message in mido.MidiFile(file=io.BytesIO(record)) if not message.is_meta]
            assert read == there, "mido reads another take"
        records += 1
        wanted = [[status | (player - 1), first, second] for status, first, second in sent]
        # Each message kept must be the next of those sent, some of them left out perhaps: those are lost.
        rest = iter(wanted)
        found = sum(any(message == other for other in rest) for message in there)
        wrong += len(wanted) - found + len(there) - found
    return wrong, records


def soak(program, minutes, keep):
    """One session; whether all held."""
    takes = max(1, round(minutes * 60 / TAKE_S))
    most = len(stream())
    stamps, counts = multiprocessing.Array("d", LANES * most, lock=False), multiprocessing.Array("q", LANES, lock=False)
    starts, done = multiprocessing.Queue(), multiprocessing.Queue()
    sender = multiprocessing.Process(target=flood, args=(stamps, counts, starts, done), daemon=True)
    sender.start()
    done.get(timeout=GRACE_S)
    book, score = keep / "soak.db", keep / "soak.musicxml"
    score.write_text(exercise(), encoding="utf-8")
    players = [part for lane in range(LANES) for part in ("--player", f"P{lane + 1:02}=soak-{lane + 1:02}")]
    with open(keep / "soak.err", "w", encoding="utf-8") as errors:
        listen = subprocess.Popen(
            [program, "listen", score, "--book", book, "--no-click", "--sends", "written", "--report", "jsonl"]
            + ["--takes", str(takes), "--pause", "1"] + players,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=errors, text=True,
        )
    lines = lines_of(listen.stdout)
    watch = Watch(book, listen.pid, stamps, counts, most)
    watch.start()
    troubles, late, began = [], 0.0, time.time()
    while True:
        line = lines.get(timeout=TAKE_S + GRACE_S)
        if line is None:
            break
        event = json.loads(line)
        if event["event"] == "take":
            counts[:] = [0] * LANES
            starts.put(time.time() + 0.3)
        elif event["event"] in ("trouble", "unplugged"):
            troubles.append(event)
        while not done.empty():
            late = max(late, done.get())
    status = listen.wait(timeout=GRACE_S)
    took = time.time() - began
    watch.over.set()
    watch.join()
    starts.put(None)
    sender.join(timeout=5)
    while not done.empty():
        late = max(late, done.get())
    print(f"{LANES} players, {A_SECOND} controller messages a second each, {takes} takes of {TAKE_S} s, {took:.0f} s in all")
    print(f"memory at most {watch.memory_mb:.0f} MB (allowed {MOST_MB}); processor {100 * watch.processor_s / took:.0f} % of one")
    print(f"from sent to kept at most {1000 * watch.longest:.0f} ms; the sender itself was up to {1000 * late:.0f} ms late", flush=True)
    wrong, records = lost(book)
    print(f"messages sent {takes * LANES * most}, lost or out of order {wrong}; takes kept {records} of {takes * LANES}")
    if status != 0 or troubles:
        print(f"status {status}; {troubles}; {(keep / 'soak.err').read_text().strip()}")
    return status == 0 and not troubles and wrong == 0 and records == takes * LANES and 0 < watch.memory_mb <= MOST_MB


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", required=True, help="restward, built with the feature jack")
    arguments.add_argument("--minutes", type=float, default=2)
    chosen = arguments.parse_args()
    server = start_server(period=512)
    try:
        with tempfile.TemporaryDirectory() as keep:
            return 0 if soak(chosen.program, chosen.minutes, pathlib.Path(keep)) else 1
    except queue.Empty:
        print("nothing more was heard of the program, or of the sender")
        return 1
    finally:
        server.terminate()
        try:
            server.wait(timeout=5)
        except subprocess.TimeoutExpired:
            server.kill()


if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    sys.exit(main())
