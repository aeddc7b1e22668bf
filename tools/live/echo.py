"""A player who answers each click so many milliseconds later, over a real MIDI transport.

`restward latency` sends its click to a MIDI port of a process that plays one note a known time after each click it
gets; what is measured and kept must be that time, as far as a machine under load keeps time. Then `restward listen` must say
that it takes it off. The known time comes from this process's clock, not from the code under test.
"""

import json
import multiprocessing
import os
import signal
import subprocess
import time
import tomllib

LATE_S = 0.060
# What JACK without real-time priority adds on a loaded machine.
NEAR_MS = 25
NAME = "echo"
GRACE_S = 40


def answer(done, over):
    """The player: in comes the click, out goes a note. A process with ports of its own."""
    import rtmidi

    ear = rtmidi.MidiIn(rtapi=rtmidi.API_UNIX_JACK, name=f"{NAME}-ear")
    out = rtmidi.MidiOut(rtapi=rtmidi.API_UNIX_JACK, name=f"{NAME}-out")
    waiting = []

    def click(event, _):
        if event[0][0] & 0xF0 == 0x90:
            waiting.append(time.time() + LATE_S)

    ear.set_callback(click)
    ear.open_virtual_port("in")
    out.open_virtual_port("out")
    done.put("open")
    while not over.is_set():
        if waiting and time.time() >= waiting[0]:
            waiting.pop(0)
            out.send_message([0x90, 60, 90])
            time.sleep(0.1)
            out.send_message([0x80, 60, 64])
        time.sleep(0.0005)
    # The server waits for every client in each period; one that died without a word would hold it up.
    for port in (ear, out):
        port.close_port()
        port.delete()


def echo(program, exercise, keep):
    """Measures, keeps, and is taken off: a row as of a take."""
    done, over = multiprocessing.Queue(), multiprocessing.Event()
    player = multiprocessing.Process(target=answer, args=(done, over), daemon=True)
    player.start()
    done.get(timeout=GRACE_S)
    environment = os.environ | {"XDG_STATE_HOME": str(keep / "state")}
    ports = ["--click", f"midi:{NAME}-ear"]
    try:
        measured = subprocess.run(
            [program, "latency", "--port", f"{NAME}-out", "--bpm", "120"] + ports,
            env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=GRACE_S,
        )
        if measured.returncode != 0:
            return {"name": NAME, "trouble": f"latency: {measured.stderr.strip()}"}
        [kept] = tomllib.loads((keep / "state/restward/delays.toml").read_text())["delay"]
        if abs(kept["ms"] - 1000 * LATE_S) > NEAR_MS:
            return {"name": NAME, "trouble": f"{kept['ms']} ms measured, {1000 * LATE_S:.0f} ms played"}
        listen = subprocess.Popen(
            [program, "listen", exercise, "--player", f"Mia={NAME}-out", "--report", "jsonl"] + ports,
            env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        json.loads(listen.stdout.readline())
        listen.send_signal(signal.SIGINT)
        _, said = listen.communicate(timeout=GRACE_S)
        if f"Mia: {kept['ms']} ms of delay are taken off" not in said:
            return {"name": NAME, "trouble": f"listen does not say that {kept['ms']} ms are taken off: {said}"}
    finally:
        over.set()
        player.join(timeout=5)
    return {
        "name": NAME, "click": True, "seconds": 0, "sent": kept["notes"], "kept": kept["notes"], "same_bytes": True,
        "live": 0, "file": 0, "only_live": [], "only_file": [], "distance_ms": abs(kept["ms"] - 1000 * LATE_S),
    }
