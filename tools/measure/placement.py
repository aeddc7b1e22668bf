#!/usr/bin/env python3
"""Measures where `restward check` places the notes of real performances, against their published alignment.

    tools/measure/placement.py --program target/debug/restward [FOLDER] [--only TEXT] [--misses]

FOLDER holds SET/PIECE.musicxml, SET/PIECE_PERFORMER.mid with .json (the truth), and SET/noisy (default:
tests/data/performances). Precision, recall and F1 of placement offline (the report of the whole take)
and online (the first and the corrected announcements of the live engine); a pair with a wrongly pitched
note counts neither way. Only the Python standard library is used.
"""

import argparse
import collections
import concurrent.futures
import json
import pathlib
import subprocess
import sys

SAME = 0.0015


def run(program, exercise, take, report):
    command = [program, "check", str(exercise), str(take), "--sends", "concert", "--report", report]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    if done.returncode != 0:
        raise SystemExit(f"{take}: exit {done.returncode}: {done.stderr.strip()}")
    return done.stdout


def pairs_of(truth):
    """onset -> note index for what was played right; onsets that count neither way."""
    due, neutral = {}, set()
    for note in truth["notes"]:
        if note["onset_s"] is None:
            continue
        if note.get("performed_midi") not in (None, note["midi"]):
            neutral.add(note["onset_s"])
        else:
            due[note["onset_s"]] = note["i"]
    return due, neutral


def nearest(table, onset):
    return next((key for key in table if abs(key - onset) < SAME), None)


def compare(program, path, misses):
    truth = json.loads(path.read_text())
    take = path.with_suffix(".mid")
    piece = path.parent.parent if path.parent.name == "noisy" else path.parent
    exercise = piece / pathlib.Path(truth["score"]).name
    report = json.loads(run(program, exercise, take, "json"))
    lines = [json.loads(line) for line in run(program, exercise, take, "jsonl").splitlines()]
    due, neutral = pairs_of(truth)
    right = false = 0
    seen = set()
    for note in report["notes"]:
        if note["onset_s"] is None or nearest(neutral, note["onset_s"]) is not None:
            continue
        key = nearest(due, note["onset_s"])
        if key is not None and due[key] == note["index"]:
            right += 1
            seen.add(key)
        else:
            false += 1
            misses.append(f"{path.stem}: placed {note['onset_s']:.3f} at {note['index']}, truth {due.get(key)}")
    missed = len(due) - right
    misses += [f"{path.stem}: not placed {key:.3f} note {due[key]}" for key in due if key not in seen]
    # Online: truth of every pass, superseded notes included.
    passes = dict(due)
    for extra in truth["extras"]:
        if extra["kind"] == "superseded" and extra.get("score_index") is not None:
            passes[extra["onset_s"]] = extra["score_index"]
    announced = collections.defaultdict(list)
    order = []
    for line in lines:
        if line["event"] == "placed":
            key = nearest(passes, line["onset_s"])
            if key is not None:
                announced[key].append((len(order), line["index"]))
            if line["onset_s"] not in order[-12:]:
                order.append(line["onset_s"])
    online = collections.Counter()
    last_index = {}
    for key, index in passes.items():
        if nearest(neutral, key) is not None:
            continue
        said = announced.get(key, [])
        online["of"] += 1
        if said:
            first = said[0][1]
            online["at once"] += first == index
            online["near"] += first is not None and abs(first - index) <= 1
            start = said[0][0]
            for wait in (1, 2):
                later = [value for when, value in said if when <= start + wait]
                online[f"after {wait}"] += later[-1] == index
            if first != index:
                misses.append(f"{path.stem}: ONLINE {key:.3f} said {[v for _, v in said]} truth {index}")
    return (path.parent.name == "noisy", truth.get("variant") or "", right, false, missed, online, misses)


def main():
    here = pathlib.Path(__file__).resolve().parents[2]
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("folder", nargs="?", type=pathlib.Path, default=here / "tests/data/performances")
    arguments.add_argument("--program", default=str(here / "target/debug/restward"))
    arguments.add_argument("--only", help="only takes whose path contains this")
    arguments.add_argument("--misses", action="store_true")
    given = arguments.parse_args()
    paths = [path for path in sorted(given.folder.rglob("*.json")) if path.with_suffix(".mid").exists()]
    paths = [path for path in paths if not given.only or given.only in str(path)]
    rows = collections.defaultdict(lambda: [0, 0, 0, collections.Counter(), 0])
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        for path, result in zip(paths, pool.map(lambda path: compare(given.program, path, []), paths)):
            noisy, _, right, false, missed, online, misses = result
            variant = "as played"
            if noisy:
                variant = "faults + restart" if path.stem.endswith("_restart") else "faults"
            for name in (variant, f"{variant} {path.stem.split('_p')[0][:12]}"):
                row = rows[name]
                row[0], row[1], row[2], row[4] = row[0] + right, row[1] + false, row[2] + missed, row[4] + 1
                row[3].update(online)
            if given.misses:
                print("\n".join(misses))
    print(f"{'':34} {'takes':>5} {'notes':>6} {'prec':>7} {'recall':>7} {'F1':>7} | {'at once':>7} {'1 later':>7} {'2 later':>7} {'near':>7}")
    for name in sorted(rows):
        right, false, missed, online, takes = rows[name]
        precision, recall = right / max(1, right + false), right / max(1, right + missed)
        f1 = 2 * precision * recall / max(1e-9, precision + recall)
        shares = [online[key] / max(1, online["of"]) for key in ("at once", "after 1", "after 2", "near")]
        print(f"{name:34} {takes:5} {right + missed:6} {precision:7.4f} {recall:7.4f} {f1:7.4f} | "
              + " ".join(f"{share:7.4f}" for share in shares))


if __name__ == "__main__":
    sys.exit(main())
