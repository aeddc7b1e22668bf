"""Real performances of notated lines, and the truth about them: which note of the part each played note is.

In: a folder SET/PIECE.musicxml, SET/PIECE_PERFORMER.mid with .json, and SET/noisy, as its README says.
Out: `Performance`s, which everything else here works on, whether read or made.
"""

import bisect
import collections
import dataclasses
import json
import pathlib
import xml.etree.ElementTree

import takefile

# The truth rounds to 0.1 ms, the file to 1/960 s; no two notes of one pitch are that close.
SAME_S = 0.0015


@dataclasses.dataclass(frozen=True)
class Note:
    """A note of the part, in quarters."""

    onset: float
    value: float
    midi: int


@dataclasses.dataclass(frozen=True)
class Played:
    """A played note. `index` is the note of the part that it stands for in its pass, rightly pitched or
    not; none if it stands for none. `superseded`: a later pass begins that note again."""

    onset: float
    release: float
    midi: int
    velocity: int
    index: int | None
    superseded: bool = False


@dataclasses.dataclass(frozen=True)
class Performance:
    """One take of one part. `restarts` are positions in `played`: the first note of each pass but the first."""

    name: str
    piece: str
    variant: str
    exercise: pathlib.Path
    notes: tuple[Note, ...]
    openers: tuple[int, ...]
    played: tuple[Played, ...]
    restarts: tuple[int, ...] = ()
    take: pathlib.Path | None = None

    def stands_for(self, played):
        """The note of the part that a played note is, if it is rightly pitched."""
        right = played.index is not None and played.midi == self.notes[played.index].midi
        return played.index if right else None

    def is_neutral(self, played):
        """A pair with a wrongly pitched note counts neither way."""
        return played.index is not None and played.midi != self.notes[played.index].midi

    def find(self, onset, midi):
        """Which played note has that onset and pitch."""
        at = bisect.bisect_left(self._onsets, onset - SAME_S)
        while at < len(self.played) and self.played[at].onset <= onset + SAME_S:
            if self.played[at].midi == midi:
                return at
            at += 1
        return None

    def __post_init__(self):
        object.__setattr__(self, "_onsets", [played.onset for played in self.played])

    def written(self, folder):
        """The same, with its take in a file."""
        if self.take is not None:
            return self
        path = folder / f"{self.name}.mid"
        takefile.write(path, [(p.onset, p.release, p.midi, p.velocity) for p in self.played])
        # As in the file: whoever reads it sees these times.
        exact = tuple(dataclasses.replace(p, onset=takefile.ticks(p.onset) / takefile.TICKS_PER_SECOND)
                      for p in self.played)
        return dataclasses.replace(self, played=exact, take=path)


def openers(exercise):
    """The first note of each measure, of an exercise whose notes are s0, s1, ... in order."""
    first = []
    for measure in xml.etree.ElementTree.parse(exercise).iter("measure"):
        named = [note.get("id") for note in measure.iter("note") if note.get("id")]
        if named:
            first.append(int(named[0][1:]))
    return tuple(first)


def superseded(passes):
    """For passes [(first, last note of the part)], in the order played: for each whether its note `index`
    is begun again later, as a function of (number of the pass, index)."""
    return lambda number, index: any(first <= index <= last for first, last in passes[number + 1:])


VARIANTS = {
    "as_played": "as played",
    "noise3": "faults, as published",
    "noise3_restart": "faults + restart, as published",
}


def read(truth_path):
    """One performance, from its truth."""
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    variant = VARIANTS[truth.get("variant") or "as_played"]
    exercise = (truth_path.parent / truth["score"]).resolve()
    notes = tuple(Note(n["onset_beats"], n["duration_beats"], n["midi"]) for n in truth["notes"])
    known = {}  # (onset, pitch) -> (index, superseded)
    for note in truth["notes"]:
        if note["onset_s"] is not None:
            known[note["onset_s"], note.get("performed_midi", note["midi"])] = (note["i"], False)
    for extra in truth["extras"]:
        known[extra["onset_s"], extra["midi"]] = (extra.get("score_index"), extra["kind"] == "superseded")
    played = []
    take = truth_path.with_suffix(".mid")
    for onset, release, midi, velocity in takefile.read(take):
        key = next((key for key in known if key[1] == midi and abs(key[0] - onset) < SAME_S), None)
        if key is None:
            raise SystemExit(f"{take}: the note at {onset:.4f} s is not in {truth_path.name}")
        index, is_superseded = known.pop(key)
        played.append(Played(onset, release, midi, velocity, index, is_superseded))
    if known:
        raise SystemExit(f"{take}: without {len(known)} notes of {truth_path.name}, first {next(iter(known))}")
    return Performance(truth_path.stem, truth["piece"], variant, exercise, notes, openers(exercise),
                       tuple(played), passes_begin(played), take)


def passes_begin(played):
    """Where a note of the part is followed by the same or an earlier one."""
    begin, before = [], -1
    for at, note in enumerate(played):
        if note.index is not None:
            if note.index <= before:
                begin.append(at)
            before = note.index
    return tuple(begin)


def read_folder(folder):
    """All performances of a folder, sorted by name: (as played, with the published faults)."""
    paths = [path for path in sorted(folder.rglob("*.json")) if path.with_suffix(".mid").exists()]
    if not paths:
        raise SystemExit(f"no SET/PIECE_PERFORMER.json with .mid in {folder}")
    every = [read(path) for path in paths]
    return ([one for one in every if one.variant == "as played"], [one for one in every if one.variant != "as played"])


def by_piece(performances):
    """piece -> performances, in order."""
    pieces = collections.defaultdict(list)
    for one in performances:
        pieces[one.piece].append(one)
    return dict(pieces)
