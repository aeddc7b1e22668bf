"""How well played notes are placed, against the truth of a performance.

Offline: the pairs (played note, note of the part) that the whole take ends up with. A pair of the truth is
right, false or missed as in information retrieval; precision = right / (right + false), recall = right / (right + missed),
F1 their harmonic mean. The last pass counts: a note begun again later belongs nowhere. A pair with a wrongly pitched
note counts neither way.

Online: for each played note the place announced first, and what stands after one and after two more
played notes; its truth is its place in its own pass. *Exact* is the share of the notes of the part announced
with their right place at once (that is recall); *near* allows one note to either side. Precision counts
places announced for notes that have none: restward names a place for an extra note, too, and takes
it back when the next note comes.
"""

import collections
import dataclasses
import math

WAITS = (0, 1, 2)


def score(right, false, missed):
    """Precision, recall and F1."""
    precision = right / (right + false) if right + false else 1.0
    recall = right / (right + missed) if right + missed else 1.0
    return precision, recall, 2 * precision * recall / (precision + recall) if precision + recall else 0.0


@dataclasses.dataclass
class Tally:
    """Sums over performances."""

    takes: int = 0
    notes: int = 0
    failed: int = 0
    offline: collections.Counter = dataclasses.field(default_factory=collections.Counter)
    online: collections.Counter = dataclasses.field(default_factory=collections.Counter)
    # For each restart the played notes from it to the first that is placed right, itself included.
    recovery: list = dataclasses.field(default_factory=list)
    lag_ms: list = dataclasses.field(default_factory=list)

    def add(self, other):
        self.takes += other.takes
        self.notes += other.notes
        self.failed += other.failed
        self.offline.update(other.offline)
        self.online.update(other.online)
        self.recovery += other.recovery
        self.lag_ms += other.lag_ms
        return self

    def offline_score(self):
        return score(*(self.offline[key] for key in ("right", "false", "missed")))

    def online_score(self, wait):
        return score(*(self.online[key, wait] for key in ("right", "false", "missed")))

    def near(self):
        return self.online["near"] / max(1, self.online["due"])


def percentile(values, share):
    """The least value that at least this share of the values does not exceed; none of none."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(len(ordered) * share) - 1)] if ordered else None


def offline(performance, pairs, tally, misses):
    """Counts `pairs`: position in `played` -> note of the part, for the notes that were placed."""
    due = {at: performance.stands_for(note) for at, note in enumerate(performance.played)
           if not note.superseded and performance.stands_for(note) is not None}
    right = {at for at, index in due.items() if pairs.get(at) == index}
    for at, index in pairs.items():
        note = performance.played[at]
        if at not in right and not (performance.is_neutral(note) and not note.superseded):
            tally.offline["false"] += 1
            misses.append(f"{performance.name}: {note.onset:.3f} s placed at {index}, truth {due.get(at)}")
    for at in due.keys() - right:
        misses.append(f"{performance.name}: {performance.played[at].onset:.3f} s not at {due[at]}")
    tally.offline["right"] += len(right)
    tally.offline["missed"] += len(due) - len(right)
    tally.takes += 1
    tally.notes += len(performance.played)


def online(performance, announced, tally, misses):
    """Counts `announced`: for each position in `played` what was said after 0, 1 and 2 more notes."""
    for at, note in enumerate(performance.played):
        if performance.is_neutral(note):
            continue
        index = performance.stands_for(note)
        said = announced.get(at, (None,) * len(WAITS))
        tally.online["due"] += index is not None
        tally.online["near"] += index is not None and said[0] is not None and abs(said[0] - index) <= 1
        for wait in WAITS:
            if index is not None:
                tally.online["right" if said[wait] == index else "missed", wait] += 1
            tally.online["false", wait] += said[wait] is not None and said[wait] != index
        if index is not None and said[0] != index:
            misses.append(f"{performance.name}: online {note.onset:.3f} s said {list(said)}, truth {index}")
    for begin, end in zip(performance.restarts, [*performance.restarts[1:], len(performance.played)]):
        tally.recovery.append(recovery(performance, announced, begin, end))


def recovery(performance, announced, begin, end):
    """Played notes from a restart to the first placed right at once, if the next one is, too; the length of
    the pass and one more if there is none."""
    def is_right(at):
        index = performance.stands_for(performance.played[at])
        return index is not None and announced.get(at, (None,))[0] == index

    counted = [at for at in range(begin, end) if performance.stands_for(performance.played[at]) is not None]
    for here, after in zip(counted, [*counted[1:], counted[-1] if counted else None]):
        if is_right(here) and is_right(after):
            return here - begin + 1
    return end - begin + 1


def of_report(performance, report):
    """The pairs of restward's report."""
    pairs = {}
    for note in report["notes"]:
        if note["onset_s"] is not None:
            at = performance.find(note["onset_s"], note["played_midi"])
            if at is None:
                raise SystemExit(f"{performance.name}: the report has a note at {note['onset_s']} s that nobody played")
            pairs[at] = note["index"]
    return pairs


def of_lines(performance, lines):
    """What restward's live engine said of each played note, and the first lag of each in ms."""
    said, first, lag_ms, clock = {}, [], [], []
    for line in lines:
        if line["event"] != "placed":
            continue
        at = performance.find(line["onset_s"], line["midi"])
        if at is None:
            raise SystemExit(f"{performance.name}: live, a note at {line['onset_s']} s that nobody played")
        if at not in said:
            said[at] = []
            first.append(at)
            clock.append(line["at_s"])
            lag_ms.append(1000 * (line["at_s"] - line["onset_s"]))
        said[at].append((line["at_s"], line["index"]))
    announced = {}
    for order, at in enumerate(first):
        # After so many more notes have been announced; the end of the take adds what is decided then.
        until = [clock[order + wait] if order + wait < len(clock) else float("inf") for wait in WAITS]
        announced[at] = tuple([index for when, index in said[at] if when <= limit][-1] for limit in until)
    # At once is what is said first, whatever the same moment brings.
    announced = {at: (said[at][0][1], *rest[1:]) for at, rest in announced.items()}
    return announced, lag_ms


def measure(program, performance):
    """Everything about one performance: (tally, misses)."""
    tally, misses = Tally(), []
    offline(performance, of_report(performance, program.report(performance.exercise, performance.take)), tally, misses)
    announced, lag_ms = of_lines(performance, program.lines(performance.exercise, performance.take))
    online(performance, announced, tally, misses)
    tally.lag_ms = lag_ms
    return tally, misses
