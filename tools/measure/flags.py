"""How well restward's flags agree with the known faults of simulated takes.

In: a folder of NAME.musicxml, NAME.mid and NAME.truth.json, as its README says. Every flag of every note is
right, false or missed; so are extra notes and restarts. What the truth calls a matter of taste counts
neither way. A flag said live is *withdrawn* if the whole take contradicts it,
*given up* if its passage was begun again, so that the last attempt counts.
"""

import collections
import dataclasses
import json

KINDS = [
    "wrong-accidental", "wrong-octave", "wrong-partial", "wrong-note", "missed-note",
    "early-release", "late-release", "cut-short", "early-entrance", "late-entrance",
]
ENTRANCES = {"early-entrance", "late-entrance"}
RELEASES = {"early-release", "late-release", "cut-short"}
PITCHES = {"wrong-accidental", "wrong-octave", "wrong-partial", "wrong-note"}
# A note placed within so many seconds of the truth's onset is the same played note.
SAME_S = 0.004


@dataclasses.dataclass
class Tally:
    """Sums over takes. `kinds`: kind -> [right, false, missed]."""

    kinds: dict = dataclasses.field(default_factory=lambda: collections.defaultdict(lambda: [0, 0, 0]))
    sums: collections.Counter = dataclasses.field(default_factory=collections.Counter)
    # Milliseconds from the beginning of a note to the flag on its pitch, and from its end to that on its release.
    pitch_ms: list = dataclasses.field(default_factory=list)
    release_ms: list = dataclasses.field(default_factory=list)

    def add(self, other):
        for kind, numbers in other.kinds.items():
            self.kinds[kind] = [a + b for a, b in zip(self.kinds[kind], numbers)]
        self.sums.update(other.sums)
        self.pitch_ms += other.pitch_ms
        self.release_ms += other.release_ms
        return self

    def all_flags(self):
        """[right, false, missed] over the kinds of flags, without extras and restarts."""
        return [sum(self.kinds[kind][which] for kind in KINDS) for which in range(3)]

    def rate(self, part, whole, per=1.0):
        return per * self.sums[part] / max(1, self.sums[whole])


def measure(program, truth_path):
    """Everything about one take: (tally, misses)."""
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    name = truth_path.name.removesuffix(".truth.json")
    exercise, take = truth_path.with_name(truth["exercise"]), truth_path.with_name(truth["take"])
    options = {key: truth["options"][key] for key in ("sends", "level")}
    report = program.report(exercise, take, **options)
    lines = program.lines(exercise, take, **options)
    tally, misses = Tally(), []
    compare_flags(truth, report, tally, misses)
    compare_extras(truth, report, tally, misses)
    compare_restarts(truth, report, tally, misses)
    compare_places(truth, report, tally)
    compare_live(truth, report, lines, tally, misses)
    return tally, [f"{name} {miss}" for miss in misses]


def compare_flags(truth, report, tally, misses):
    skip = set() if truth["judged"]["entrances"] else set(ENTRANCES)
    skip |= set() if truth["judged"]["releases"] else set(RELEASES)
    if truth["clean"]:
        skip = set()
    found = {(n["index"], kind) for n in report["notes"] for kind in n["flags"] if kind not in skip}
    due = {(n["index"], kind) for n in truth["notes"] for kind in n["flags"]}
    ignored = {(n["index"], kind) for n in truth["notes"] for kind in n["ignore"]}
    if truth["clean"]:
        tally.sums["clean notes"] += len(truth["notes"])
        tally.sums["false on clean"] += len(found)
    for group in truth["groups"]:
        members = [(index, group["kind"]) for index in group.get("notes", group.get("indices", []))]
        hits = sum(member in found for member in members)
        for which, number in enumerate((min(hits, group["count"]), hits - group["count"], group["count"] - hits)):
            tally.kinds[group["kind"]][which] += max(0, number)
        due -= set(members)
        ignored |= set(members)
    for item in sorted((found | due) - (ignored - due)):
        index, kind = item
        which = 0 if item in found and item in due else 1 if item in found else 2
        tally.kinds[kind][which] += 1
        if which:
            note, ours = truth["notes"][index], report["notes"][index]
            misses.append(
                f"{'FALSE' if which == 1 else 'MISSED'} {kind} note {index} m{note['measure']} {note['written']}"
                f" truth {note['flags']} ours {ours['flags']} played {note['played']}"
                f" ours {ours['onset_s']}-{ours['release_s']}")


def compare_extras(truth, report, tally, misses):
    real = list(truth["extra"])

    def same(entry, extra):
        times = [entry["onset_s"]] + ([entry["alt_onset_s"]] if entry.get("alt_onset_s") else [])
        return any(abs(time - extra["onset_s"]) < SAME_S for time in times)

    for extra in report["extra"]:
        hit = next((entry for entry in real if same(entry, extra)), None)
        if hit:
            real.remove(hit)
            tally.kinds["(extra)"][0] += 1
        elif not any(same(entry, extra) for entry in truth["ignore_extra"]):
            tally.kinds["(extra)"][1] += 1
            misses.append(f"FALSE extra {extra}")
    tally.kinds["(extra)"][2] += len(real)
    misses += [f"MISSED extra {entry}" for entry in real]


def compare_restarts(truth, report, tally, misses):
    ours = [(restart["from_index"], restart["to_index"]) for restart in report["restarts"]]
    want = [(restart["from_index"], restart["to_index"]) for restart in truth["restarts"]]
    for restart in ours:
        tally.kinds["(restart)"][0 if restart in want else 1] += 1
    tally.kinds["(restart)"][2] += sum(restart not in ours for restart in want)
    if sorted(ours) != sorted(want):
        misses.append(f"RESTARTS ours {ours} truth {want}")


def compare_places(truth, report, tally):
    """Every note of the truth is at its onset, or missed."""
    for note, mine in zip(truth["notes"], report["notes"]):
        played = note["played"]
        if played is None or mine["onset_s"] is None:
            right = played is None and mine["onset_s"] is None
        else:
            right = abs(played["onset_s"] - mine["onset_s"]) < SAME_S
        tally.sums["placed"] += right
        tally.sums["notes"] += 1


def compare_live(truth, report, lines, tally, misses):
    standing = collections.Counter()
    end = max((line["at_s"] for line in lines if "at_s" in line), default=0)
    for line in lines:
        if line["event"] == "flag":
            standing[line["index"], line["flag"]] += 1
            tally.sums["flags live"] += 1
            tally.sums["flags at the end"] += line["at_s"] >= end
            played = truth["notes"][line["index"]]["played"]
            if played and line["at_s"] < end and line["flag"] in truth["notes"][line["index"]]["flags"]:
                if line["flag"] in PITCHES:
                    tally.pitch_ms.append(1000 * (line["at_s"] - played["onset_s"]))
                elif line["flag"] in RELEASES and line["flag"] != "late-release":
                    tally.release_ms.append(1000 * (line["at_s"] - played["release_s"]))
        elif line["event"] == "withdrawn":
            standing[line["index"], line["flag"]] -= 1
            # The passage was begun again, and the last attempt counts: nothing was said that was not so.
            given_up = line["because"].startswith("begun again")
            tally.sums["given up" if given_up else "withdrawn"] += 1
            misses.append(f"WITHDRAWN {line['index']} {line['flag']} at {line['at_s']:.2f}: {line['because']}")
    final = {(n["index"], kind) for n in report["notes"] for kind in n["flags"]}
    if {key for key, value in standing.items() if value > 0} != final:
        tally.sums["differ"] += 1
        misses.append("LIVE AND FILE DIFFER")
    tally.sums["takes"] += 1
