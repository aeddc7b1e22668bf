"""The document: what was measured, as tables in Markdown that also read well on a terminal."""

import flags
import matchers
import placement
from suite import ALL


def table(head, rows):
    """A Markdown table; the first column is text, the others are numbers."""
    lines = [[str(cell) for cell in row] for row in [head, *rows]]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]

    def line(cells):
        aligned = [cells[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(cells[1:], widths[1:]))]
        return "| " + " | ".join(aligned) + " |"

    rule = ["-" * widths[0], *("-" * (width - 1) + ":" for width in widths[1:])]
    return "\n".join([line(lines[0]), "| " + " | ".join(rule) + " |", *map(line, lines[1:])])


def share(value):
    return f"{value:.4f}"


def number(value):
    return "-" if value is None else f"{value:g}"


def goals_table(rows):
    plain = [(figure, f"{sign} {wanted:g}", f"{value:.4f}".rstrip("0").rstrip("."), "yes" if met else "not yet", f"{floor:g}")
             for figure, sign, wanted, value, met, floor, _ in rows]
    return table(["figure", "goal", "now", "met", "check"], plain)


def flags_table(tally):
    rows = []
    for kind in [*flags.KINDS, "(extra)", "(restart)"]:
        rows.append([kind, *tally.kinds[kind], *map(share, placement.score(*tally.kinds[kind]))])
    rows.append(["all flags", *tally.all_flags(), *map(share, placement.score(*tally.all_flags()))])
    return table(["flag", "right", "false", "missed", "precision", "recall", "F1"], rows)


def flags_facts(tally):
    """What else there is to say of flags."""
    sums = tally.sums
    return [
        f"False flags on clean takes: {sums['false on clean']} on {sums['clean notes']} notes,"
        f" {tally.rate('false on clean', 'clean notes', 1000):.2f} in 1,000.",
        f"Notes placed right: {sums['placed']} of {sums['notes']}, {tally.rate('placed', 'notes', 100):.2f} %.",
        f"Live flags: {sums['flags live']}; withdrawn later: {sums['withdrawn']},"
        f" {tally.rate('withdrawn', 'flags live', 100):.1f} %; given up with attempts begun again:"
        f" {sums['given up']}, {tally.rate('given up', 'flags live', 100):.1f} %; said only when the take had ended:"
        f" {sums['flags at the end']}. Takes whose flags live and in the report differ: {sums['differ']} of {sums['takes']}.",
        f"A live flag on a pitch comes {spread(tally.pitch_ms)} after the note begins; one on a release that was too"
        f" early {spread(tally.release_ms)} after the note ends.",
    ]


def spread(values):
    median, nine = placement.percentile(values, 0.5), placement.percentile(values, 0.9)
    return "-" if median is None else f"{median:.0f} ms (median), {nine:.0f} ms (nine in ten)"


def ordered(rows, tuned_on):
    """Rows with the pieces after their sum, in the order measured; pieces tuned on are marked."""
    variants = list(dict.fromkeys(variant for variant, _ in rows))
    pieces = [ALL, *sorted({piece for _, piece in rows} - {ALL})]
    for variant in variants:
        for piece in pieces:
            if (variant, piece) in rows:
                title = piece + (" (tuned on)" if piece in tuned_on else "")
                yield f"**{variant}**" if piece == ALL else title, rows[variant, piece]


def offline_table(rows, tuned_on):
    lines = [[title, tally.takes, tally.notes, *map(share, tally.offline_score())] for title, tally in ordered(rows, tuned_on)]
    return table(["", "takes", "notes", "precision", "recall", "F1"], lines)


def online_table(rows, tuned_on):
    lines = []
    for title, tally in ordered(rows, tuned_on):
        again = [number(placement.percentile(tally.recovery, part)) for part in (0.5, 0.9)]
        precision, exact, f1 = map(share, tally.online_score(0))
        lines.append([title, exact, share(tally.near()), precision, f1, *map(share, tally.online_score(1)[1:]),
                      *map(share, tally.online_score(2)[1:]), " / ".join(again) if tally.recovery else ""])
    return table(["", "exact", "within 1", "prec.", "F1", "+1: exact", "F1", "+2: exact", "F1", "again"], lines)


def lag_table(rows):
    """How long a note waits for its first place, in ms, and for its right place, in notes."""
    lines = []
    for variant in dict.fromkeys(variant for variant, _ in rows):
        tally = rows[variant, ALL]
        right = [tally.online["right", wait] / max(1, tally.online["due"]) for wait in placement.WAITS]
        lines.append([variant, *(f"{placement.percentile(tally.lag_ms, part):.0f}" for part in (0.5, 0.9, 0.99, 1)),
                      *(f"{100 * part:.1f}" for part in right), f"{100 * (1 - right[-1]):.1f}"])
    return table(["", "median", "9 in 10", "99 in 100", "longest", "at once %", "after 1 %", "after 2 %", "later %"], lines)


def cost_table(rows):
    lines, before = [], None
    for notes, runs in rows:
        cells = []
        for report in ("json", "jsonl"):
            seconds, memory = runs[report]
            more = "" if before is None else (
                f"{1e6 * (seconds - before[1][report][0]) / (notes - before[0]):.0f} µs")
            cells += [f"{1000 * seconds:.0f} ms", more, f"{memory / 1e6:.1f} MB" if memory else "-"]
        lines.append([f"{notes:,} notes", *cells])
        before = notes, runs
    return table(["", "report", "each more", "memory", "live", "each more", "memory"], lines)


def side_by_side(methods, value, note=""):
    """`methods`: name -> column -> (tally, seconds); `value` makes a cell of a tally."""
    columns = list(next(iter(methods.values())))
    rows = []
    for name, cells in methods.items():
        seconds = sum(cells[column][1] for column in columns if column in cells)
        notes = sum(cells[column][0].notes for column in columns if column in cells)
        failed = sum(cells[column][0].failed for column in columns if column in cells)
        rows.append([name + (note if name in matchers.BY_HAND else ""),
                     *(value(cells[column][0]) if column in cells else "-" for column in columns),
                     f"{1e6 * seconds / notes:.0f}" if seconds else "", failed or ""])
    return table(["", *map(short, columns), "µs a note", "failed"], rows)


def short(column):
    """A variant's name as head of a column."""
    return column.split(":")[0].replace("long, ", "long: ").replace("faults + ", "+ ")


def offline_cell(tally):
    return share(tally.offline_score()[2])


def online_cell(tally):
    return f"{share(tally.online_score(0)[1])} / {share(tally.online_score(0)[2])}"


def unmet(rows):
    """One line for each figure below its floor."""
    return [f"{figure}: {value:.4f}, must be {sign} {floor:g}" for figure, sign, _, value, _, floor, holds in rows
            if not holds]
