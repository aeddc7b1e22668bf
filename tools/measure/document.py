"""The document that `accuracy` prints and writes: the tables, and what they mean."""

import datetime
import textwrap

import matchers
import table

PARTS = ("flags", "short", "long", "lag", "others")

ONLINE_WORDS = """\
`exact`: share of the notes of the part whose right place is announced at once. `within 1`: that or a neighbour. `prec.`,
`F1`: of the places announced at once. `+1`, `+2`: what stands after one and after two more played notes. `again`: after
a restart, played notes until one is placed right at once and the next one, too: median / nine in ten.
"""

METHOD = """\
## How it is measured

* **Truth.** The published alignments of the performances; the takes' own answers for flags. Offline, the last pass
  counts; online each played note has its place in its own pass. A pair with a wrongly pitched note counts neither way.
* **Faults.** *As published*: as the data came, 3 % of the notes wrong by one or two semitones, 3 % skipped, 3 % extra;
  with a restart the second pass repeats the mistakes and the timing of the first. *Ours*, in the other rows, are put on
  the takes as played by `tools/measure/faults.py`, seeded by name, {seeds}: the same mistakes, other ones
  in each pass; a restart 8 to 20 notes back to the start of a measure; a measure left out, half of the players waiting and half going
  straight on; 12 to 32 notes 15 % faster, all at once. *Harsh*: restarts from any note, one for each 60 notes and at least two, 1
  to 24 notes back after 0.15 to 2.5 s, each pass in another pianist's timing with mistakes of its own.
* **Long lines** of 300, 600 and 1,200 notes are made of the short ones (`tools/measure/longer.py`): the exercise round after round, each
  round by another performer scaled to the first one's tempo. *Other keys*: each round lies in another key, as in a warm-up. *Same
  key*: nothing but time tells one round from the next.
* **Live** figures are those of the live engine run on the take's own clock (`restward check --report jsonl`).
* **Pieces used for tuning**: {tuned} Rows are given by piece, so that a figure of a piece that was tuned on is not taken for
  one of a piece that was not.
"""


def heading(told):
    return (f"# How far restward can be trusted\n\n"
            f"Measured on {datetime.date.today().isoformat()} with `{told['command']}`: restward {told['version']}, takes in"
            f" `{told['takes']}`, performances in `{told['played']}`.\n"
            f"Everything is deterministic but times and memory. What the columns mean stands at the end.\n")


def build(found, told):
    """The whole document. `found` holds the parts that were measured, `told` facts about the run."""
    parts = [heading(told)]
    if found.get("goals"):
        parts += ["## Goals\n", table.goals_table(found["goals"]),
                  "*check*: what `accuracy --check`, and so continuous integration, insists on.\n"]
    if "flags" in found:
        parts += ["## Flags on simulated takes\n", table.flags_table(found["flags"])]
    for title, name in (("Placement on real performances, short lines", "short"), ("Placement on long lines", "long")):
        if name in found:
            parts += [f"## {title}\n", "### Offline: the whole take is known\n", table.offline_table(found[name]),
                      "### Online: announced note by note\n", table.online_table(found[name]), ONLINE_WORDS]
    if "short" in found or "cost" in found:
        parts += lag(found)
    if "others" in found:
        parts += others(*found["others"], told)
    parts.append(METHOD.format(**told))
    return "\n".join(parts)


def lag(found):
    parts = ["## Lag and cost\n"]
    if "short" in found:
        parts += ["From the beginning of a note to the announcement of its place, in ms; and after how many more played notes"
                  " the right place is announced, in % of the notes of the part. Before"
                  " 30 ms have passed, a note may be one of those between two fingerings that nobody meant.\n",
                  table.lag_table(found["short"])]
    if "cost" in found:
        parts += ["Processor time and memory of a whole `restward check`, with start, reading and printing; *each more*: for"
                  f" each note more than in the row above. {found['build']}\n", table.cost_table(found["cost"])]
    return parts


def others(methods, notes, told):
    restward = {"restward": methods["restward"]}
    offline = restward | {name: methods[name] for name in matchers.OFFLINE if name in methods}
    online = restward | {name: methods[name] for name in matchers.ONLINE if name in methods}
    return ["## Side by side with other matchers\n",
            "Each column is one set of inputs, the same for every row. parangonar 3.4 is an open library for the alignment of"
            " performances, at its default settings; the edit distance is the textbook's, on pitch and local timing"
            " (`tools/measure/matchers.py`, `tools/measure/edit_distance.py`).\n",
            "### Offline: F1\n", table.side_by_side(offline, table.offline_cell, " *"),
            "### Online at once: exact / F1\n", table.side_by_side(online, table.online_cell, " *"), notes]


def said_by_hand(kept, same_inputs):
    """What the reader must know of the rows that were not measured in this run."""
    if not kept:
        return "Rows for the slower matchers are missing: `tools/measure/accuracy --by-hand` makes them.\n"
    versions = ", ".join(f"{name} {version}" for name, version in kept["versions"].items())
    inputs = "on these very inputs" if same_inputs else "on more inputs than the rest of this table: compare with care"
    return (f"\\* not measured in this run but by hand on {kept['date']}, with `{kept['command']}` ({versions}),"
            f" {inputs}. `AutomaticNoteMatcher` needs over two minutes for 1,200 notes and was left out of the long lines.\n")
