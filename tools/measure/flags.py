#!/usr/bin/env python3
"""Measures the flags of `restward check` against takes whose faults are known.

    tools/measure/flags.py --program target/debug/restward [FOLDER] [--check] [--misses] [--only NAME]

Prints precision, recall and F1 for each kind of flag, extras, restarts, placement, the false flags on
clean takes, and how many live flags were withdrawn. FOLDER holds NAME.musicxml, NAME.mid and
NAME.truth.json (default: tests/data/takes). With --check the goals of the project must be met, else the
exit status is 1. Only the Python standard library is used.
"""

import argparse
import collections
import concurrent.futures
import json
import pathlib
import subprocess
import sys

KINDS = [
    "wrong-accidental", "wrong-octave", "wrong-partial", "wrong-note", "missed-note",
    "early-release", "late-release", "cut-short", "early-entrance", "late-entrance",
]
ENTRANCES = {"early-entrance", "late-entrance"}
RELEASES = {"early-release", "late-release", "cut-short"}
# A note placed within so many seconds of the truth's onset is the same played note.
SAME = 0.004


def run(program, exercise, take, options, report):
    command = [program, "check", exercise, take, "--report", report]
    command += ["--sends", options["sends"], "--level", options["level"]]
    done = subprocess.run([str(word) for word in command], capture_output=True, text=True, timeout=60)
    if done.returncode != 0:
        raise SystemExit(f"{take.name}: exit {done.returncode}: {done.stderr.strip()}")
    return done.stdout


def measure(program, truth_path):
    truth = json.loads(truth_path.read_text())
    name = truth_path.name.removesuffix(".truth.json")
    exercise, take = truth_path.with_name(truth["exercise"]), truth_path.with_name(truth["take"])
    report = json.loads(run(program, exercise, take, truth["options"], "json"))
    lines = [json.loads(line) for line in run(program, exercise, take, truth["options"], "jsonl").splitlines()]
    return name, truth, compare(name, truth, report, lines)


def compare(name, truth, report, lines):
    counts = collections.defaultdict(lambda: [0, 0, 0])  # true found, false, missed
    misses = []
    judged = truth["judged"]
    skip = set() if judged["entrances"] else set(ENTRANCES)
    skip |= set() if judged["releases"] else set(RELEASES)
    if truth["clean"]:
        skip = set()
    found = {(n["index"], kind) for n in report["notes"] for kind in n["flags"] if kind not in skip}
    due = {(n["index"], kind) for n in truth["notes"] for kind in n["flags"]}
    ignored = {(n["index"], kind) for n in truth["notes"] for kind in n["ignore"]}
    for group in truth["groups"]:
        members = [(index, group["kind"]) for index in group.get("notes", group.get("indices", []))]
        hits = [member for member in members if member in found]
        counts[group["kind"]][0] += min(len(hits), group["count"])
        counts[group["kind"]][1] += max(0, len(hits) - group["count"])
        counts[group["kind"]][2] += max(0, group["count"] - len(hits))
        due -= set(members)
        ignored |= set(members)
    for item in sorted((found | due) - (ignored - due)):
        index, kind = item
        which = 0 if item in found and item in due else 1 if item in found else 2
        counts[kind][which] += 1
        if which:
            note = truth["notes"][index]
            ours = report["notes"][index]
            misses.append(
                f"{name} {'FALSE' if which == 1 else 'MISSED'} {kind} note {index} m{note['measure']} {note['written']}"
                f" truth {note['flags']} ours {ours['flags']} played {note['played']}"
                f" ours {ours['onset_s']}-{ours['release_s']}")
    # Extras.
    real = [dict(e) for e in truth["extra"]]
    free = list(truth["ignore_extra"])
    for extra in report["extra"]:
        def same(entry):
            times = [entry["onset_s"]] + ([entry["alt_onset_s"]] if entry.get("alt_onset_s") else [])
            return any(abs(t - extra["onset_s"]) < SAME for t in times)
        hit = next((e for e in real if same(e)), None)
        if hit:
            real.remove(hit)
            counts["(extra)"][0] += 1
        elif not any(same(e) for e in free):
            counts["(extra)"][1] += 1
            misses.append(f"{name} FALSE extra {extra}")
    counts["(extra)"][2] += len(real)
    misses += [f"{name} MISSED extra {e}" for e in real]
    # Restarts.
    ours = [(r["from_index"], r["to_index"]) for r in report["restarts"]]
    want = [(r["from_index"], r["to_index"]) for r in truth["restarts"]]
    for restart in ours:
        counts["(restart)"][0 if restart in want else 1] += 1
    counts["(restart)"][2] += sum(restart not in ours for restart in want)
    if sorted(ours) != sorted(want):
        misses.append(f"{name} RESTARTS ours {ours} truth {want}")
    # Placement: every note of the truth at its onset, or missed.
    placed = sum(
        (note["played"] is None and mine["onset_s"] is None)
        or (note["played"] is not None and mine["onset_s"] is not None
            and abs(note["played"]["onset_s"] - mine["onset_s"]) < SAME)
        for note, mine in zip(truth["notes"], report["notes"]))
    flags = sum(line["event"] == "flag" for line in lines)
    withdrawn = sum(line["event"] == "withdrawn" for line in lines)
    end = max((line["at_s"] for line in lines if "at_s" in line), default=0)
    late = sum(line["event"] == "flag" and line["at_s"] >= end for line in lines)
    net = collections.Counter()
    for line in lines:
        if line["event"] == "flag":
            net[(line["index"], line["flag"])] += 1
        if line["event"] == "withdrawn":
            net[(line["index"], line["flag"])] -= 1
    final = {(n["index"], kind) for n in report["notes"] for kind in n["flags"]}
    differ = {key for key, value in net.items() if value > 0} != final
    if differ:
        misses.append(f"{name} LIVE AND FILE DIFFER")
    for line in lines:
        if line["event"] == "withdrawn":
            misses.append(f"{name} WITHDRAWN {line['index']} {line['flag']} at {line['at_s']:.2f}: {line['because']}")
    return dict(counts=dict(counts), misses=misses, placed=placed, notes=len(truth["notes"]), clean=truth["clean"],
                false_on_clean=len(found) if truth["clean"] else 0, flags=flags, withdrawn=withdrawn, late=late,
                differ=int(differ))


def score(right, false, missed):
    precision = right / (right + false) if right + false else 1.0
    recall = right / (right + missed) if right + missed else 1.0
    return precision, recall, 2 * precision * recall / (precision + recall) if precision + recall else 0.0


def main():
    here = pathlib.Path(__file__).resolve().parents[2]
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("folder", nargs="?", type=pathlib.Path, default=here / "tests/data/takes")
    arguments.add_argument("--program", default=str(here / "target/debug/restward"))
    arguments.add_argument("--check", action="store_true", help="fail unless the goals are met")
    arguments.add_argument("--misses", action="store_true", help="say each miss")
    arguments.add_argument("--only", help="only takes whose name contains this")
    given = arguments.parse_args()
    truths = sorted(given.folder.glob("*.truth.json"))
    truths = [path for path in truths if not given.only or given.only in path.name]
    if not truths:
        raise SystemExit(f"no NAME.truth.json in {given.folder}")
    total = collections.defaultdict(lambda: [0, 0, 0])
    sums = collections.Counter()
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        for name, truth, result in pool.map(lambda path: measure(given.program, path), truths):
            for kind, numbers in result["counts"].items():
                total[kind] = [a + b for a, b in zip(total[kind], numbers)]
            for key in ("placed", "notes", "false_on_clean", "flags", "withdrawn", "late", "differ"):
                sums[key] += result[key]
            sums["clean_notes"] += result["notes"] if result["clean"] else 0
            if given.misses:
                print("\n".join(result["misses"]), end="\n" if result["misses"] else "")
    print(f"{'flag':18} {'right':>6} {'false':>6} {'missed':>6} {'prec':>6} {'recall':>6} {'F1':>6}")
    failed = []
    every = [0, 0, 0]
    for kind in KINDS + ["(extra)", "(restart)"]:
        right, false, missed = total[kind]
        precision, recall, f1 = score(right, false, missed)
        print(f"{kind:18} {right:6} {false:6} {missed:6} {precision:6.3f} {recall:6.3f} {f1:6.3f}")
        if kind in KINDS:
            every = [a + b for a, b in zip(every, total[kind])]
            if right + missed >= 10 and f1 < 0.97:
                failed.append(f"{kind}: F1 {f1:.3f} < 0.97")
    precision, recall, f1 = score(*every)
    print(f"{'all flags':18} {every[0]:6} {every[1]:6} {every[2]:6} {precision:6.3f} {recall:6.3f} {f1:6.3f}")
    if f1 < 0.98:
        failed.append(f"all flags: F1 {f1:.3f} < 0.98")
    rate = 1000 * sums["false_on_clean"] / max(1, sums["clean_notes"])
    print(f"false flags on clean takes: {sums['false_on_clean']} of {sums['clean_notes']} notes = {rate:.2f} per 1,000")
    if rate > 2:
        failed.append(f"clean takes: {rate:.2f} false flags per 1,000 notes > 2")
    print(f"notes placed right: {sums['placed']} of {sums['notes']} = {100 * sums['placed'] / sums['notes']:.2f} %")
    print(f"live flags: {sums['flags']}, withdrawn {sums['withdrawn']}, told only at the end {sums['late']}")
    if sums["differ"]:
        failed.append(f"{sums['differ']} takes have other flags live than in the report")
    if given.check and failed:
        raise SystemExit("goals not met:\n  " + "\n  ".join(failed))


if __name__ == "__main__":
    sys.exit(main())
