"""Faults put on top of real performances, with the truth kept beside them.

Everything is drawn from a generator seeded with the names of performance and variant and a number: the
same call makes the same take on every machine. A skipped note leaves its time empty; a restart begins
after a pause; each pass has mistakes of its own, other than in the published variants, where the
second pass repeats those of the first.
"""

import dataclasses
import random

from performances import Performance, superseded

# Of the notes of the part, each: wrong by one or two semitones, skipped, followed by an extra note.
SHARE = 0.03
# An extra note needs so many seconds between two notes.
LEAST_GAP_S = 0.16
# What a rush is: so much faster than before.
RUSH = 1.15


def mistakes(played, rng, share=SHARE):
    """Wrong, skipped and extra notes; the performer's own stay."""
    result = []
    for at, note in enumerate(played):
        kind = rng.random()
        if note.index is not None and kind < share:
            continue
        if note.index is not None and kind < 2 * share:
            note = dataclasses.replace(note, midi=note.midi + rng.choice((-2, -1, 1, 2)))
        result.append(note)
        following = played[at + 1] if at + 1 < len(played) else None
        if note.index is None or following is None or rng.random() >= share:
            continue
        gap = following.onset - note.onset
        if gap >= LEAST_GAP_S:
            onset = note.onset + gap * rng.uniform(0.35, 0.65)
            release = min(onset + rng.uniform(0.08, 0.15), following.onset - 0.02)
            beside = [midi for midi in range(note.midi - 5, note.midi + 6) if midi not in (note.midi, following.midi)]
            result.append(dataclasses.replace(note, onset=onset, release=release, midi=rng.choice(beside), index=None))
    return result


def segment(source, first, last):
    """The notes that a performance has from one note of the part to another, extra ones between included."""
    inside = [at for at, note in enumerate(source.played) if note.index is not None and first <= note.index <= last]
    return list(source.played[inside[0]:inside[-1] + 1]) if inside else []


def scaled(played, factor):
    """The same `factor` times as slow, from the same first onset."""
    zero = played[0].onset if played else 0.0
    return [dataclasses.replace(note, onset=zero + (note.onset - zero) * factor,
                                release=zero + (note.release - zero) * factor) for note in played]


def shifted(played, seconds):
    """The same, so many seconds later."""
    return [dataclasses.replace(note, onset=note.onset + seconds, release=note.release + seconds) for note in played]


def passes(segments, pauses):
    """Passes one after the other, each after its pause from the release of the last note before."""
    spans = [(min(places), max(places)) for places in
             ([note.index for note in part if note.index is not None] for part in segments)]
    given_up = superseded(spans)
    played, restarts = [], []
    for number, part in enumerate(segments):
        if played:
            restarts.append(len(played))
            part = shifted(part, played[-1].release + pauses[number - 1] - part[0].onset)
            # Nobody goes on holding a note while beginning again.
            played = [dataclasses.replace(note, release=min(note.release, part[0].onset - 0.02)) for note in played]
        played += [dataclasses.replace(note, superseded=note.index is not None and given_up(number, note.index))
                   for note in part]
    return played, tuple(restarts)


def plain(source, siblings, rng):
    """3 % wrong, 3 % skipped, 3 % extra notes."""
    return mistakes(source.played, rng), ()


def restart(source, siblings, rng):
    """The same; once the player stops, and begins again from the start of a measure 8 to 20 notes before."""
    count = len(source.notes)
    possible = [(stop, first) for first in source.openers for stop in range(first + 8, first + 21) if stop < count - 1]
    stop, first = rng.choice(possible)
    parts = [segment(source, 0, stop), segment(source, first, count - 1)]
    return passes([mistakes(part, rng) for part in parts], [rng.uniform(0.45, 1.5)])


def measure_left_out(source, siblings, rng):
    """The same; one measure is not played: half of the players wait, half go straight on."""
    onsets = {note.index: note.onset for note in source.played if note.index is not None}
    possible = [(first, after) for first, after in zip(source.openers[1:], source.openers[2:])
                if first in onsets and after in onsets]
    first, after = rng.choice(possible)
    before = [note for note in source.played if note.onset < onsets[first]]
    rest = [note for note in source.played if note.onset >= onsets[after]]
    if rng.random() < 0.5:
        rest = shifted(rest, onsets[first] - onsets[after])
        before = [dataclasses.replace(note, release=min(note.release, rest[0].onset + 0.05)) for note in before]
    return mistakes(before + rest, rng), ()


def rush(source, siblings, rng):
    """The same; a stretch of 12 to 32 notes is played 15 % faster, all at once."""
    length = min(rng.randint(12, 32), len(source.played) - 2)
    start = rng.randrange(1, len(source.played) - length)
    fast = scaled(source.played[start:start + length], 1 / RUSH)
    # The interval into what follows is played fast, too.
    follows = fast[0].onset + (source.played[start + length].onset - fast[0].onset) / RUSH
    rest = source.played[start + length:]
    return mistakes([*source.played[:start], *fast, *shifted(rest, follows - rest[0].onset)], rng), ()


def harsh(source, siblings, rng):
    """Restarts from any note, one for each 60 notes and at least two; 1 to 24 notes back, after 0.15 to 2.5 s.

    Each pass has its own mistakes and its own timing: it is another player's, at the first one's tempo give
    or take 4 %.
    """
    count = len(source.notes)
    seconds_a_quarter = rate(source)
    parts, pauses, begin = [], [], 0
    stops = sorted(rng.sample(range(4, count - 2), max(2, count // 60)))
    for stop in [*stops, count - 1]:
        player = rng.choice(siblings) if parts else source
        part = mistakes(segment(player, begin, stop), rng)
        if any(note.index is not None for note in part):
            tempo = seconds_a_quarter / rate(player) * rng.lognormvariate(0.0, 0.04 if parts else 0.0)
            parts.append(scaled(part, tempo))
            pauses.append(0.15 * (2.5 / 0.15) ** rng.random())
        begin = max(0, stop - rng.randint(1, 24))
    return passes(parts, pauses)


def rate(source):
    """Seconds a quarter, over the whole performance."""
    known = [note for note in source.played if note.index is not None]
    quarters = source.notes[known[-1].index].onset - source.notes[known[0].index].onset
    return (known[-1].onset - known[0].onset) / quarters


VARIANTS = {
    "faults": plain,
    "faults + restart": restart,
    "faults + measure left out": measure_left_out,
    "faults + 15 % rush": rush,
    "harsh: restarts anywhere": harsh,
}


def made(source, siblings, variant, seed):
    """A performance with faults. `siblings` are others of the same exercise, for passes in other timing."""
    rng = random.Random(f"{source.name}, {variant}, {seed}")
    played, restarts = VARIANTS[variant](source, siblings, rng)
    played, restarts = in_order(played, restarts)
    slug = variant.split(":")[0].replace(" + ", "_").replace(" % ", "_").replace(" ", "_")
    name = f"{source.name}_{slug}_{seed}"
    return Performance(name, source.piece, variant, source.exercise, source.notes, source.openers, played, restarts)


def in_order(played, restarts):
    """By onset, none before 0.5 s, and the restarts where they then are."""
    marks = {id(played[at]) for at in restarts}
    ordered = sorted(played, key=lambda note: note.onset)
    found = tuple(at for at, note in enumerate(ordered) if id(note) in marks)
    late = max(0.0, 0.5 - ordered[0].onset)
    return tuple(shifted(ordered, late)), found
