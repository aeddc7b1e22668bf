#!/usr/bin/env python3
"""Compares the grades of `restward grades` with grades calculated with Python's fractions from the same rubric and numbers.

The rubric is read with tomllib, takes and marks with sqlite3, shares and weighted means are Fractions: nothing is shared with
restward but the words of config/rubric.toml. Books are invented (invented_book.py), rubrics are variants of the
built-in one. Exit status 1 if anything disagrees.
"""

import argparse
import itertools
import json
import sqlite3
import subprocess
import sys
import tempfile
import tomllib
from fractions import Fraction
from math import floor
from pathlib import Path

import invented_book

RUBRIC = Path(__file__).resolve().parents[2] / "config/rubric.toml"
VARIANTS = [
    {},
    {"takes_count": '"last"'},
    {"takes_count": '"mean"', "rounding": '"half-up"'},
    {"takes_at_most": "2"},
    {"takes_at_most": "2", "which_takes": '"first"', "least_weight": "0"},
    {"without_evidence": '"no-total"'},
    {"lifts_to_step": "2", "rounding": '"half-up"'},
]
COLUMNS = {
    "right-pitches": ("right_pitches", "right_pitches_of"),
    "changed-notes": ("changed", "changed_of"),
    "full-values": ("releases", "releases_of"),
    "entrances": ("entrances", "entrances_of"),
}


def varied(changes):
    """The text of the rubric with other settings; those that stand in a comment are made settings."""
    lines = []
    for line in RUBRIC.read_text(encoding="utf-8").splitlines():
        name = line.removeprefix("# ").partition(" = ")[0]
        lines.append(f"{name} = {changes[name]}" if name in changes else line)
    return "\n".join(lines) + "\n"


def whole(share, rubric):
    """A share of 1 in whole percent."""
    return floor(share * 100 + (Fraction(1, 2) if rubric["rounding"] == "half-up" else 0))


def band(bands, percent):
    """The place of the last band that is reached."""
    return max(place for place, each in enumerate(bands) if each["from"] <= percent)


def pooled(takes):
    return sum(good for good, _ in takes), sum(of for _, of in takes)


def row_step(row, takes, rubric):
    """The step of a measured row, 1 the lowest; None without enough evidence."""
    good, of = COLUMNS[row["measures"]]
    counts = [(take[good], take[of]) for take in takes if take[of]]
    least = row.get("least_notes", 1)
    if len(counts) < row.get("least_takes", 1) or pooled(counts)[1] < least:
        return None
    alone = [[count] for count in counts if count[1] >= least]
    if rubric["takes_count"] == "best":
        # Every lot of takes with enough notes; of equal shares the one of the fewest takes, and of these the newest.
        places = range(len(counts))
        lots = [lot for size in range(1, len(counts) + 1) for lot in itertools.combinations(places, size)]
        shares = [(Fraction(*pooled([counts[place] for place in lot])), -len(lot), sum(lot), lot) for lot in lots
                  if pooled([counts[place] for place in lot])[1] >= least]
        chosen = [counts[place] for place in max(shares)[-1]]
    elif rubric["takes_count"] == "last":
        chosen = next(counts[first:] for first in reversed(range(len(counts))) if pooled(counts[first:])[1] >= least)
    else:
        chosen = counts
    step = band(rubric["step"], whole(Fraction(*pooled(chosen)), rubric)) + 1
    most = rubric.get("retake", {}).get("lifts_to_step")
    if most is None or (len(chosen) == 1 and alone and chosen[0] is alone[0][0]):
        return step
    first = band(rubric["step"], whole(Fraction(*alone[0][0]), rubric)) + 1 if alone else 0
    return min(step, max(most, first))


def total(steps, rubric):
    """Name and whole percent, or None."""
    rows = rubric["row"]
    counted = [(row["weight"], rubric["step"][step - 1]["worth"]) for row, step in zip(rows, steps, strict=True) if step]
    weights, of = sum(weight for weight, _ in counted), sum(row["weight"] for row in rows)
    if rubric["without_evidence"] == "no-total" and None in steps:
        return None
    if not weights or Fraction(weights, of) * 100 < rubric["least_weight"]:
        return None
    mean = sum(Fraction(weight * worth, weights * 100) for weight, worth in counted)
    percent = whole(mean, rubric)
    return rubric["grade"][band(rubric["grade"], percent)]["name"], percent


def expected(sql, player, exercise, rubric):
    """Steps of all rows and the total."""
    query = "SELECT * FROM take WHERE player = ? AND exercise = ? AND fits ORDER BY begun_us, id"
    takes = sql.execute(query, (player, exercise)).fetchall()
    most = rubric.get("takes_at_most", len(takes))
    takes = takes[:most] if rubric["which_takes"] == "first" else takes[max(0, len(takes) - most) :]
    marks = dict(sql.execute("SELECT row, step FROM mark WHERE player = ? AND exercise = ?", (player, exercise)).fetchall())
    steps = [row_step(row, takes, rubric) if "measures" in row else marks.get(row["id"]) for row in rubric["row"]]
    return steps, total(steps, rubric)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", required=True)
    program = Path(parser.parse_args().program).resolve()
    checked = with_total = disagree = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed, changes in enumerate(VARIANTS):
            text = varied(changes)
            file = Path(folder) / "ours.toml"
            file.write_text(text, encoding="utf-8")
            inner = Path(folder) / str(seed)
            inner.mkdir()
            book = invented_book.make(program, inner, seed)
            command = [program, "grades", "--book", book, "--rubric", file, "--format", "json"]
            found = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
            sql = sqlite3.connect(book)
            sql.row_factory = sqlite3.Row
            players = dict(sql.execute("SELECT name, id FROM player").fetchall())
            rubric = tomllib.loads(text)
            for grade in found["grades"]:
                steps, outcome = expected(sql, players[grade["player"]], grade["exercise_number"], rubric)
                ours = [row["step"] for row in grade["rows"]]
                our_total = grade["total"]["grade"] and (grade["total"]["grade"], grade["total"]["percent"])
                checked += 1
                with_total += outcome is not None
                if (ours, our_total) != (steps, outcome):
                    disagree += 1
                    print(f"DISAGREE  {changes} {grade['player']} {grade['exercise']}: {ours} {our_total}, {steps} {outcome}")
            sql.close()
    if with_total < 50:
        print(f"only {with_total} totals: this checks too little")
    print(f"{checked} grades, {with_total} with a total, {disagree} disagree (Python's fractions against restward grades)")
    return 1 if disagree or with_total < 50 else 0


if __name__ == "__main__":
    sys.exit(main())
