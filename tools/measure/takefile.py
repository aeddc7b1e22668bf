"""Notes from and to Standard MIDI Files, by mido.

In the performances 960 ticks are a second: 480 a quarter, 500,000 microseconds a quarter. Notes end at
their note-off; one struck again before that ends where it is struck again.
"""

import mido

TICKS_PER_SECOND = 960


def read(path):
    """The notes of a file: (onset in s, release in s, MIDI number, velocity), by onset."""
    notes, sounding, now = [], {}, 0.0
    for message in mido.MidiFile(path):  # its times are seconds, by the tempo in the file
        now += message.time
        if message.type not in ("note_on", "note_off"):
            continue
        if message.note in sounding:
            onset, velocity = sounding.pop(message.note)
            notes.append((onset, now, message.note, velocity))
        if message.type == "note_on" and message.velocity > 0:
            sounding[message.note] = (now, message.velocity)
    return sorted(notes)


def write(path, notes):
    """Writes notes (onset in s, release in s, MIDI number, velocity) as a file of format 0."""
    events, last = [], {}
    for onset, release, midi, velocity in sorted(notes, reverse=True):
        begin = ticks(onset)
        # Two notes of one pitch cannot overlap on one channel.
        end = min(max(ticks(release), begin + 1), last.get(midi, begin + 10**9))
        last[midi] = begin
        events += [(begin, 1, midi, velocity), (end, 0, midi, 0)]
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000, time=0)])
    now = 0
    for at, on, midi, velocity in sorted(events):
        track.append(mido.Message("note_on" if on else "note_off", note=midi, velocity=velocity, time=at - now))
        now = at
    file = mido.MidiFile(type=0, ticks_per_beat=480)
    file.tracks.append(track)
    file.save(path)


def ticks(seconds):
    """The tick at which something at so many seconds is written."""
    return round(seconds * TICKS_PER_SECOND)
