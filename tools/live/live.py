"""Live = file, over a real MIDI transport.

For each take a process of its own opens a virtual output port (JACK, by RtMidi) and sends the take's bytes at their
times, within a millisecond, to `restward listen`. At the end three things must hold:

* every byte sent stands in the take that was saved, in order: none lost;
* the flags that stood when the live run ended are the flags that `restward check` finds in the saved take;
* the saved times follow the sent ones (`off ms`: the largest distance).

`told ms` is the longest time from the moment at which a flag was certain to the line that says so, over the pipe.

Then one take is cut: the port goes away in the middle (a pulled cable), comes back under another number, and Ctrl-C ends the session. It must end
with status 0, have told both, and have saved every byte and a summary. A player who answers each click after a known time is
measured (`echo`: see echo.py; `off ms` is how far from that time). Last the server ends in the middle of a take: what was played must be saved.

Takes are the files NAME.musicxml, NAME.mid, NAME.truth.json of tests/data/takes, or of ../shared/takes/visible.
Times of the takes come from mido, not from the code under test.
"""

import argparse
import concurrent.futures
import csv
import functools
import json
import multiprocessing
import os
import pathlib
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time

import mido

from echo import echo

TOP = pathlib.Path(__file__).resolve().parents[2]
SERVER = f"restward-live-{os.getpid()}"
MARKER = "exercise-start"
# The server, and a process that hangs, must not hold the tests up for ever.
GRACE_S = 40


def read_take(path):
    """Seconds and bytes of every channel message, the marker's seconds or None, microseconds a quarter."""
    events, marker, tempo, now = [], None, 500_000, 0.0
    for message in mido.MidiFile(path):  # mido hands the tracks merged, `time` in seconds
        now += message.time
        if message.type == "marker" and message.text == MARKER:
            marker = now
        elif message.type == "set_tempo":
            tempo = message.tempo
        elif not message.is_meta and message.type != "sysex":
            events.append((now, bytes(message.bytes())))
    return events, marker, tempo


def play(port, events, starts, done, is_quiet=False):
    """The player: a process with a port of its own. `starts` gets the wall time of the take's second zero."""
    import rtmidi

    if is_quiet:  # the library writes lines to stderr when its server dies
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)

    out = rtmidi.MidiOut(rtapi=rtmidi.API_UNIX_JACK, name=port)
    out.open_virtual_port("out")
    done.put("open")
    zero = starts.get()
    for at, message in events:
        left = zero + at - time.time()
        if left > 0.002:
            time.sleep(left - 0.002)
        while time.time() < zero + at:
            time.sleep(0.0002)
        out.send_message(message)
    time.sleep(0.2)
    done.put("played")
    starts.get()  # until the session is over: closing the port would be a pulled cable
    # The server waits for every client in each period; one that died without a word would hold it up.
    out.close_port()
    out.delete()


def play_with_cable(port, events, starts, done):
    """The player whose cable is pulled after half of the events and put back two seconds later, into another socket."""
    import rtmidi

    starts.get()
    for number, half in ((24, events[: len(events) // 2]), (28, events[len(events) // 2 :])):
        out = rtmidi.MidiOut(rtapi=rtmidi.API_UNIX_JACK, name=port)
        # As ALSA does, it comes back under another number.
        out.open_virtual_port(f"out {number}:0")
        done.put("open")
        time.sleep(2)  # long enough to be seen and connected
        for _, message in half:
            out.send_message(message)
            time.sleep(0.005)
        time.sleep(0.5)
        out.close_port()
        out.delete()
        time.sleep(2)
    done.put("played")


def lines_of(stream):
    """Lines of a process, read in a thread so that a dead line does not hang us."""
    lines = queue.Queue()

    def pump():
        try:
            for line in stream:
                lines.put(line)
        except OSError:
            pass  # so ends a terminal of which nobody has the other end any more
        lines.put(None)

    threading.Thread(target=pump, daemon=True).start()
    return lines


def one(program, folder, name, keep):
    """Plays one take live and compares; a dictionary with what was found."""
    options = json.loads((folder / f"{name}.truth.json").read_text())
    beat = options.get("beat_quarters", 1)
    options = options["options"]
    exercise = folder / f"{name}.musicxml"
    events, marker, tempo = read_take(folder / f"{name}.mid")
    port = f"player-{name}"
    starts, done = multiprocessing.Queue(), multiprocessing.Queue()
    player = multiprocessing.Process(target=play, args=(port, events, starts, done), daemon=True)
    player.start()
    done.get(timeout=GRACE_S)
    judged_as = ["--sends", options["sends"], "--level", options["level"]]
    if options["click"]:
        click = ["--bpm", f"{60e6 / tempo / float(beat):.6f}", "--click", "off", "--pause", "0"]
    else:
        click = ["--no-click"]
    save = keep / name
    with open(keep / f"{name}.err", "w", encoding="utf-8") as errors:
        listen = subprocess.Popen(
            [program, "listen", exercise, "--player", f"{name}={port}", "--report", "jsonl", "--takes", "1"]
            + ["--save", save] + judged_as + click,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=errors, text=True,
        )
    lines = lines_of(listen.stdout)
    length = events[-1][0]
    deadline = time.time() + length + GRACE_S
    standing, log, zero, delays = set(), [], None, []
    while True:
        line = lines.get(timeout=max(1, deadline - time.time()))
        if line is None:
            break
        event = json.loads(line)
        log.append((time.time(), event))
        if event["event"] == "take":
            if event["click"]:
                zero = event["unix_s"]
                # Second zero of the file is so far before the marker as the file says.
                starts.put(event["unix_s"] + event["score_zero_s"] - marker)
            else:
                starts.put(time.time() + 0.2)
        elif event["event"] == "flag":
            if zero is not None:
                delays.append(time.time() - zero - event["at_s"])
            standing.add((event["index"], event["flag"]))
        elif event["event"] == "withdrawn":
            standing.discard((event["index"], event["flag"]))
    starts.put("over")
    status = listen.wait(timeout=GRACE_S)
    player.join(timeout=5)
    (save / "live.jsonl").write_text("".join(json.dumps(event) + "\n" for _, event in log))
    saved = sorted(save.glob("*.mid"))
    if status != 0 or len(saved) != 1:
        return {"name": name, "trouble": f"listen ended with {status}, saved {len(saved)} takes: "
                + (keep / f"{name}.err").read_text().strip()}
    kept, _, _ = read_take(saved[0])
    check = subprocess.run(
        [program, "check", exercise, saved[0], "--report", "json"] + judged_as, capture_output=True, text=True
    )
    if check.returncode != 0:
        return {"name": name, "trouble": f"check: {check.stderr.strip()}"}
    report = json.loads(check.stdout)
    filed = {(note["index"], flag) for note in report["notes"] for flag in note["flags"]}
    sent, there = [message for _, message in events], [message for _, message in kept]
    distance = 0.0
    if sent == there:
        # From the first note on: what lies before a take begins is sent at once.
        first = next(place for place, message in enumerate(sent) if message[0] & 0xF0 == 0x90 and message[2])
        shift = kept[first][0] - events[first][0]
        distance = max(abs(b - a - shift) for (a, _), (b, _) in list(zip(events, kept))[first:])
    return {
        "name": name, "click": options["click"], "seconds": length, "sent": len(sent), "kept": len(there),
        "same_bytes": sent == there, "live": len(standing), "file": len(filed),
        "only_live": sorted(standing - filed), "only_file": sorted(filed - standing), "distance_ms": 1000 * distance,
        "delay_ms": 1000 * max(delays) if delays else None,
    }


def cut(program, folder, name, keep):
    """A pulled cable and Ctrl-C; a row like that of `one`."""
    events, _, _ = read_take(folder / f"{name}.mid")
    events = [event for event in events if event[1][0] & 0xE0 == 0x80][:80]  # notes only
    port = f"cut-{name}"
    starts, done = multiprocessing.Queue(), multiprocessing.Queue()
    player = multiprocessing.Process(target=play_with_cable, args=(port, events, starts, done), daemon=True)
    player.start()
    starts.put("go")
    done.get(timeout=GRACE_S)
    save = keep / f"{name}-cut"
    with open(keep / "cut.err", "w", encoding="utf-8") as errors:
        listen = subprocess.Popen(
            [program, "listen", folder / f"{name}.musicxml", "--player", f"{name}={port}", "--report", "jsonl"]
            + ["--no-click", "--save", save, "--summary", keep / "cut.csv"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=errors, text=True,
        )
    lines = lines_of(listen.stdout)
    while done.get(timeout=GRACE_S) != "played":
        pass
    listen.send_signal(signal.SIGINT)
    status = listen.wait(timeout=GRACE_S)
    told = [json.loads(line)["event"] for line in iter(lambda: lines.get(timeout=5), None)]
    saved = sorted(save.glob("*.mid"))
    kept = [message for path in saved for _, message in read_take(path)[0]]
    sent = [message for _, message in events]
    missing = [event for event in ("unplugged", "replugged", "over", "summary") if event not in told]
    if status != 0 or missing:
        return {"name": f"{name}-cut", "trouble": f"status {status}, not told: {missing}"}
    summary = keep / "cut.csv"
    with open(summary, encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    if [row["player"] for row in rows] != [name] * len(saved) or summary.stat().st_mode & 0o777 != 0o600:
        return {"name": f"{name}-cut", "trouble": f"the summary is not a private row for each take: {rows}"}
    return {
        "name": f"{name}-cut", "click": False, "seconds": 0, "sent": len(sent), "kept": len(kept),
        "same_bytes": sent == kept, "live": 0, "file": 0, "only_live": [], "only_file": [], "distance_ms": 0,
    }


def server_dies(program, folder, name, keep, server):
    """The MIDI system goes away in the middle of a take; Ctrl-C must still save what was played. Ends the server."""
    events = [(0.01 * place, message) for place, (_, message) in enumerate(read_take(folder / f"{name}.mid")[0][:80])]
    port = f"dies-{name}"
    starts, done = multiprocessing.Queue(), multiprocessing.Queue()
    player = multiprocessing.Process(target=play, args=(port, events, starts, done, True), daemon=True)
    player.start()
    done.get(timeout=GRACE_S)
    save = keep / f"{name}-dies"
    with open(keep / "dies.err", "w", encoding="utf-8") as errors:
        listen = subprocess.Popen(
            [program, "listen", folder / f"{name}.musicxml", "--player", f"{name}={port}", "--report", "jsonl"]
            + ["--no-click", "--save", save],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=errors, text=True,
        )
    lines = lines_of(listen.stdout)
    while json.loads(lines.get(timeout=GRACE_S))["event"] != "take":
        pass
    starts.put(time.time() + 0.2)
    done.get(timeout=GRACE_S)
    time.sleep(0.5)
    server.terminate()  # not killed: a killed server keeps its place in JACK's list of eight for ever
    server.wait(timeout=5)
    time.sleep(1)
    listen.send_signal(signal.SIGINT)
    status = listen.wait(timeout=GRACE_S)
    player.kill()
    kept = [message for path in sorted(save.glob("*.mid")) for _, message in read_take(path)[0]]
    sent = [message for _, message in events]
    if status != 0:
        return {"name": f"{name}-dies", "trouble": f"listen ended with {status}"}
    return {
        "name": f"{name}-dies", "click": False, "seconds": 0, "sent": len(sent), "kept": len(kept),
        "same_bytes": sent == kept, "live": 0, "file": 0, "only_live": [], "only_file": [], "distance_ms": 0,
    }


def is_good(row):
    """Whether all three things hold."""
    return "trouble" not in row and row["same_bytes"] and not row["only_live"] and not row["only_file"]


def show(rows):
    """A table of what was found."""
    print(f"{'take':8} {'click':5} {'s':>5} {'sent':>5} {'kept':>5} {'live':>4} {'file':>4} {'off ms':>6} {'told ms':>7}  result")
    for row in rows:
        if "trouble" in row:
            print(f"{row['name']:8} {row['trouble']}")
            continue
        result = "same" if is_good(row) else "DIFFERENT"
        delay = "-" if row.get("delay_ms") is None else f"{row['delay_ms']:.1f}"
        print(
            f"{row['name']:8} {'yes' if row['click'] else 'no':5} {row['seconds']:5.1f} {row['sent']:5} {row['kept']:5} "
            f"{row['live']:4} {row['file']:4} {row['distance_ms']:6.1f} {delay:>7}  {result}"
        )
        for where in ("only_live", "only_file"):
            if row[where]:
                print(f"{'':8} {where}: {row[where]}")
        if not row["same_bytes"]:
            print(f"{'':8} the bytes kept are not the bytes sent")


def takes(folder):
    """Names of the takes, the shortest first."""
    return sorted((path.stem for path in folder.glob("*.mid")), key=lambda name: read_take(folder / f"{name}.mid")[0][-1][0])


def start_server(period=64):
    """JACK with its dummy driver: no sound card, no real-time priority needed. `period`: frames of 1/48,000 s.

    It waits for all clients in each period (--sync): otherwise a loaded machine makes it skip clients, and what was
    sent to them in that period is gone before it reaches us.
    """
    os.environ["JACK_DEFAULT_SERVER"] = SERVER
    os.environ["JACK_NO_AUDIO_RESERVATION"] = "1"
    os.environ["JACK_NO_START_SERVER"] = "1"
    server = subprocess.Popen(
        ["jackd", "--no-realtime", "--sync", "--timeout", "5000", "--name", SERVER, "--port-max", "512", "-d", "dummy", "-r", "48000", "-p", str(period)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )
    look = "import rtmidi; out = rtmidi.MidiOut(rtapi=rtmidi.API_UNIX_JACK, name='look'); out.delete()"
    for _ in range(50):
        # In a process of its own: the library writes lines to stderr while there is no server yet.
        if subprocess.run([sys.executable, "-c", look], stderr=subprocess.DEVNULL, check=False).returncode == 0:
            return server
        if server.poll() is not None:
            break
        time.sleep(0.1)
    server.kill()
    sys.exit("jackd did not start: see why with jackd --no-realtime -d dummy; too many servers: rm /dev/shm/jack-shm-registry")


def main():
    """Runs the takes and says what came of them; the exit status is 0 if all were the same."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", required=True, help="restward, built with the feature jack")
    which = arguments.add_mutually_exclusive_group()
    which.add_argument("--takes", type=int, default=3, help="so many of the shortest takes (3)")
    which.add_argument("--all", action="store_true", help="all takes")
    which.add_argument("--only", help="these takes: NAME,NAME")
    arguments.add_argument("--at-once", type=int, default=3, help="takes played side by side (3)")
    arguments.add_argument("--folder", type=pathlib.Path, help="where the takes are")
    chosen = arguments.parse_args()
    folders = [chosen.folder] if chosen.folder else [TOP / "tests/data/takes", TOP / "../shared/takes/visible"]
    folder = next((folder for folder in folders if folder.is_dir()), None)
    if folder is None:
        sys.exit("no takes found: neither tests/data/takes nor ../shared/takes/visible exists")
    names = chosen.only.split(",") if chosen.only else takes(folder)
    if not chosen.all and not chosen.only:
        names = names[: chosen.takes]
    server = start_server()
    began = time.time()
    try:
        with tempfile.TemporaryDirectory() as keep, concurrent.futures.ThreadPoolExecutor(chosen.at_once + 1) as pool:
            def attempt(name, how=one):
                try:
                    return how(chosen.program, folder, name, pathlib.Path(keep))
                except (queue.Empty, subprocess.TimeoutExpired, OSError, KeyError, ValueError) as error:
                    return {"name": name, "trouble": f"{type(error).__name__}: {error}"}
            cable = pool.submit(attempt, names[0], cut)
            rows = list(pool.map(attempt, names)) + [cable.result()]
            rows.append(attempt(names[0], lambda program, folder, name, keep: echo(program, folder / f"{name}.musicxml", keep)))
            rows.append(attempt(names[0], functools.partial(server_dies, server=server)))
    finally:
        server.send_signal(signal.SIGTERM)
        try:
            server.wait(timeout=5)
        except subprocess.TimeoutExpired:
            server.kill()
    show(rows)
    good = sum(map(is_good, rows))
    sent = sum(row.get("sent", 0) for row in rows)
    print(f"{good} of {len(rows)} takes the same live and from the file; {sent} messages, {time.time() - began:.0f} s")
    return 0 if good == len(rows) else 1


if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    sys.exit(main())
