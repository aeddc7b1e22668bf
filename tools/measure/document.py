"""The document that `accuracy` prints and writes: the tables, and what they mean."""

import datetime
import re
import textwrap

import matchers
import table

PARTS = ("flags", "short", "long", "lag", "others")
WIDTH = 110

ONLINE_WORDS = """\
`exact`: share of the notes of the part whose right place is announced at once. `within 1`: that or a neighbour.
`prec.`, `F1`: of the places announced at once. `+1`, `+2`: what stands after one and after two more played notes.
`again`: after a restart, played notes until one is placed right at once and the next one, too: median / nine in ten."""

METHOD = (
    """**Truth.** The published alignments of the performances; for flags the takes' own answers. Offline, the last pass
    counts; online, each played note has its place in its own pass. A pair with a wrongly pitched note counts neither way.
    Precision is right / (right + false), recall right / (right + missed), F1 their harmonic mean.""",
    """**Precision online.** restward announces the best place even for a note that is likelier an extra one, and takes it
    back when the next note comes; so precision at once is low and rises with the next note. What counts at once is `exact`.""",
    """**Faults.** *As published*: as the data came, 3 % of the notes wrong by one or two semitones, 3 % skipped, 3 % extra;
    after a restart the second pass repeats the mistakes and the timing of the first. *Ours*, in the other rows, are put on the
    performances as played (`tools/measure/faults.py`), seeded by name, {seeds}: the same shares, but with other mistakes in
    each pass; a restart, 8 to 20 notes back to the start of a measure; a measure left out, half of the players waiting and
    half going straight on; 12 to 32 notes 15 % faster, all at once. *Harsh*: restarts from any note, one for each 60 notes and
    at least two, 1 to 24 notes back after 0.15 to 2.5 s, each pass in another player's timing with mistakes of its own.""",
    """**Long lines** of 300, 600 and 1,200 notes are made of the short ones (`tools/measure/longer.py`): the piece round
    after round, each round by another player scaled to the first one's tempo. *Other keys*: each round lies in another key or
    octave, as in a warm-up. *Same key*: only time tells one round from the next.""",
    """**Live** figures are those of the live engine run on the take's own clock (`restward check --report jsonl`).""",
    """**Pieces.** {tuned}""",
)


def build(found, told):
    """The whole document. `found` holds the parts that were measured, `told` facts about the run."""
    parts = heading(told)
    if found.get("goals"):
        parts += ["## Goals", table.goals_table(found["goals"]),
                  "*check*: what `accuracy --check`, and so continuous integration, insists on."]
    if "flags" in found:
        parts += ["## Flags on simulated takes", table.flags_table(found["flags"]),
                  *bullets(table.flags_facts(found["flags"]))]
    for title, name in (("Placement on real performances: short lines", "short"), ("Placement on long lines", "long")):
        if name in found:
            parts += [f"## {title}", "### Offline: the whole take is known", table.offline_table(found[name], told["tuned_on"]),
                      "### Online: announced note by note", table.online_table(found[name], told["tuned_on"]), wrapped(ONLINE_WORDS)]
    if "short" in found or "cost" in found:
        parts += lag(found)
    if "others" in found:
        parts += others(*found["others"])
    parts += ["## How it is measured", *bullets(text.format(**told) for text in METHOD)]
    return "\n\n".join(parts) + "\n"


def wrapped(text, **indents):
    """A paragraph."""
    text = re.sub(r"[ \n]+", " ", text).strip().replace(" %", "\u00a0%")  # no line begins with a per cent sign
    return textwrap.fill(text, WIDTH, break_long_words=False, break_on_hyphens=False, **indents)


def bullets(texts):
    return ["\n".join(wrapped(text, initial_indent="* ", subsequent_indent="  ") for text in texts)]


def heading(told):
    return ["# How far restward can be trusted", wrapped(
        f"""Measured on {datetime.date.today().isoformat()} with `{told['command']}`: restward {told['version']}, takes in
        `{told['takes']}`, performances in `{told['played']}`. Everything but times and memory comes out the same on
        every machine. What the columns mean stands at the end.""")]


def lag(found):
    parts = ["## Lag and cost"]
    if "short" in found:
        parts += [wrapped("""From the beginning of a note to the announcement of its place, in ms; and after how many more
            played notes the right place is announced, in % of the notes of the part. Before 30 ms have passed, a note may be one
            of those between two fingerings that nobody meant."""), table.lag_table(found["short"])]
    if "cost" in found:
        parts += [wrapped(f"""Processor time and memory of a whole `restward check`, with start, reading and printing;
            *each more*: for each note more than in the row above. {found['build']}"""), table.cost_table(found["cost"])]
    return parts


def others(methods, notes):
    restward = {"restward": methods["restward"]}
    offline = restward | {name: methods[name] for name in matchers.OFFLINE if name in methods}
    online = restward | {name: methods[name] for name in matchers.ONLINE if name in methods}
    return ["## Side by side with other matchers", wrapped(
        """Each column is one set of inputs, the same for every row: as above, one seed. parangonar 3.4 is an open library for
        aligning performances with scores, here at its default settings; the edit distance is the textbook's, on pitch and
        local timing (`tools/measure/matchers.py`, `tools/measure/edit_distance.py`). *failed*: performances on which the
        matcher broke down, counted as nothing placed."""),
        "### Offline: F1", table.side_by_side(offline, table.offline_cell, " \\*"),
        "### Online at once: exact / F1", table.side_by_side(online, table.online_cell, " \\*"), wrapped(notes)]


def said_by_hand(kept, same_inputs):
    """What the reader must know of the rows that were not measured in this run."""
    if not kept:
        return "Rows of the slower matchers are missing: `tools/measure/accuracy --by-hand` makes them."
    versions = ", ".join(f"{name} {version}" for name, version in kept["versions"].items())
    inputs = "on these very inputs" if same_inputs else "on other inputs than the rest of this table: compare with care"
    return f"""\\* Not measured in this run but by hand on {kept['date']}, with `{kept['command']}` ({versions}), {inputs}.
        `AutomaticNoteMatcher` needs over two minutes for a line of 1,200 notes and was left out of the long ones.
        *position*: the note at the position returned, if its pitch is the played one; *pairs*: what it pairs itself."""
