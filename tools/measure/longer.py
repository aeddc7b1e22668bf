"""Long lines, made of short ones: an exercise played round after round.

A round is a whole performance of the piece by one player, scaled to the first player's tempo; the next
round begins when it is due by that tempo. Each round is another player's, in a seeded order, and lies in another key
(as bands play their warm-ups) or octave, or, harder, in the same key again: then only time tells the rounds apart.
"""

import copy
import dataclasses
import random
import xml.etree.ElementTree

import faults
from performances import Note, Performance

# Semitones up, round by round: no key comes twice in a line of up to 37 rounds, for a stretch that does could be told
# from the first by nothing.
KEYS = (0, 5, -2, 3, -4, 2, -5, 1, -3, 4, -1, *(sign * up for up in range(6, 19) for sign in (1, -1)))
SHARPS = (("C", 0), ("C", 1), ("D", 0), ("D", 1), ("E", 0), ("F", 0), ("F", 1), ("G", 0), ("G", 1), ("A", 0), ("A", 1),
          ("B", 0))
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
KINDS = {"other keys": KEYS, "same key": (0,)}


def lines(performances, length, kind, count, folder):
    """`count` performances of one exercise of at least `length` notes, made of those of one piece."""
    source = performances[0]
    rounds = -(-length // len(source.notes))
    semitones = [KINDS[kind][number % len(KINDS[kind])] for number in range(rounds)]
    slug = f"{source.piece}_x{rounds}_{kind.replace(' ', '_')}"
    exercise = folder / f"{slug}.musicxml"
    quarters = write_exercise(source.exercise, semitones, exercise)
    size = len(source.notes)
    notes = tuple(Note(note.onset + number * quarters, note.value, note.midi + up)
                  for number, up in enumerate(semitones) for note in source.notes)
    openers = tuple(first + number * size for number in range(rounds) for first in source.openers)
    for number in range(count):
        rng = random.Random(f"{slug}, {number}")
        order = rng.sample(performances, len(performances))
        players = [order[at % len(order)] for at in range(rounds)]
        played = joined(players, semitones, quarters)
        yield Performance(f"{slug}_{number}", source.piece, "as played", exercise, notes, openers, tuple(played))


def joined(players, semitones, quarters):
    """The rounds one after the other."""
    played, due = [], 0.5
    seconds_a_quarter = faults.rate(players[0])
    for number, (player, up) in enumerate(zip(players, semitones)):
        size = len(player.notes)
        part = faults.scaled(player.played, seconds_a_quarter / faults.rate(player))
        first = next(note for note in part if note.index is not None)
        late = player.notes[first.index].onset * seconds_a_quarter
        part = faults.shifted(part, due + late - first.onset)
        played += [dataclasses.replace(note, midi=note.midi + up,
                                       index=None if note.index is None else note.index + number * size)
                   for note in part]
        last = max((note for note in part if note.index is not None), key=lambda note: note.index)
        due = last.onset + (quarters - player.notes[last.index].onset) * seconds_a_quarter
    return sorted(played, key=lambda note: note.onset)


def write_exercise(path, semitones, result):
    """Writes an exercise of one round for each of `semitones`; the quarters in a round."""
    tree = xml.etree.ElementTree.parse(path)
    part = tree.getroot().find("part")
    once = list(part)
    part[:] = []
    quarters = sum(length_of(once))
    notes = sum(note.get("id") is not None for measure in once for note in measure.iter("note"))
    for number, up in enumerate(semitones):
        for at, measure in enumerate(copy.deepcopy(once)):
            measure.set("number", str(number * len(once) + at + 1))
            for note in measure.iter("note"):
                if note.get("id"):
                    note.set("id", f"s{int(note.get('id')[1:]) + number * notes}")
                transpose(note.find("pitch"), up)
            # Only the last round ends with a double line.
            if number + 1 < len(semitones):
                for line in measure.findall("barline"):
                    measure.remove(line)
            part.append(measure)
    tree.write(result, encoding="utf-8", xml_declaration=True)
    return quarters


def length_of(measures):
    """Quarters in each measure, of a part of one voice without chords."""
    divisions = 1
    for measure in measures:
        divisions = int(measure.findtext("attributes/divisions", str(divisions)))
        yield sum(int(note.findtext("duration", "0")) for note in measure.findall("note")) / divisions


def transpose(pitch, semitones):
    """Moves a MusicXML pitch, spelled with sharps."""
    if pitch is None or semitones == 0:
        return
    midi = 12 * (int(pitch.findtext("octave")) + 1) + LETTERS[pitch.findtext("step")] + int(pitch.findtext("alter", "0"))
    step, alter = SHARPS[(midi + semitones) % 12]
    pitch[:] = []
    xml.etree.ElementTree.SubElement(pitch, "step").text = step
    if alter:
        xml.etree.ElementTree.SubElement(pitch, "alter").text = str(alter)
    xml.etree.ElementTree.SubElement(pitch, "octave").text = str((midi + semitones) // 12 - 1)
