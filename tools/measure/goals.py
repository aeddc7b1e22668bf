"""The goals in goals.toml against what was measured."""

import pathlib
import tomllib

import flags
import placement
from suite import ALL


def figures(flag_tally, short, long):
    """Every figure a goal may name. Parts that were not measured are none."""
    found = {}
    if flag_tally:
        found |= of_flags(flag_tally)
    for title, rows in (("short", short), ("long", long)):
        for (variant, piece), tally in (rows or {}).items():
            if piece == ALL:
                found |= {f"{title}, {variant}: {name}": value for name, value in of_placement(tally).items()}
    return found


def of_flags(tally):
    kinds = [tally.kinds[kind] for kind in flags.KINDS]
    worst = [placement.score(*numbers)[2] for numbers in kinds if numbers[0] + numbers[2] >= 10]
    return {
        "flags: notes placed right": tally.rate("placed", "notes"),
        "flags: F1 over all": placement.score(*tally.all_flags())[2],
        "flags: F1 of the worst kind": min(worst, default=None),
        "flags: false on 1,000 clean notes": tally.rate("false on clean", "clean notes", 1000),
        "flags: share of live flags withdrawn": tally.rate("withdrawn", "flags live"),
        "flags: takes with other flags live than in the report": float(tally.sums["differ"]),
    }


def of_placement(tally):
    return {
        "offline F1": tally.offline_score()[2],
        "online exact": tally.online_score(0)[1],
        "online within one": tally.near(),
        "right again, median": placement.percentile(tally.recovery, 0.5),
        "right again, nine in ten": placement.percentile(tally.recovery, 0.9),
    }


def read():
    """What goals.toml says."""
    return tomllib.loads(pathlib.Path(__file__).with_name("goals.toml").read_text(encoding="utf-8"))["goal"]


def part_of(figure):
    """flags, short or long."""
    return figure.split(":")[0].split(",")[0]


def judged(found, wanted_goals):
    """For each goal whose figure was measured: (figure, sign, goal, value, met, floor, holds)."""
    rows = []
    measured = {part_of(figure) for figure in found}
    for goal in wanted_goals:
        if goal["figure"] not in found and part_of(goal["figure"]) in measured:
            raise SystemExit(f"goals.toml: there is no figure '{goal['figure']}'")
        value = found.get(goal["figure"])
        if value is None:
            continue
        least = "least" in goal
        wanted = goal["least"] if least else goal["most"]
        reaches = (lambda limit: value >= limit) if least else (lambda limit: value <= limit)
        rows.append((goal["figure"], "at least" if least else "at most", wanted, value, reaches(wanted),
                     goal["floor"], reaches(goal["floor"])))
    return rows
