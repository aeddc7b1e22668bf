"""What is measured: which inputs, how many of each, and the loops over them.

Out: tallies by row. A row is (variant, piece); piece `ALL` sums the pieces.
"""

import collections
import concurrent.futures
import dataclasses
import hashlib
import json
import os
import pathlib

import faults
import flags
import longer
import matchers
import performances
import placement

ALL = "all"
# Two at a time: what the machines of continuous integration have.
WORKERS = max(1, min(2, os.cpu_count() or 1))
LONG_LENGTHS = (300, 600, 1200)
# Which variants of long lines, by kind.
LONG_VARIANTS = {
    "other keys": ("faults", "faults + restart", "faults + measure left out", "faults + 15 % rush",
                   "harsh: restarts anywhere"),
    "same key": ("faults + restart",),
}
COST_LENGTHS = (300, 3000, 12000)


@dataclasses.dataclass(frozen=True)
class Amount:
    """How much is measured."""

    seeds: int
    lines: int


QUICK, FULL = Amount(seeds=1, lines=1), Amount(seeds=3, lines=2)
# The other matchers always get the same: so many performers of each piece, first seed; long lines up to this length.
SIDE_BY_SIDE_TAKES = 4
SIDE_BY_SIDE_LENGTH = 600


class Suite:
    """The inputs, and the program to measure. Only what has `only` in its name is taken."""

    def __init__(self, program, takes, played, scratch, amount, only=""):
        self.program, self.takes, self.scratch, self.amount, self.only = program, takes, scratch, amount, only
        self.taken = 0  # so many takes were measured
        scratch.mkdir(parents=True, exist_ok=True)
        self.as_played, self.published = performances.read_folder(played)
        self.pieces = performances.by_piece(self.as_played)

    def flags(self, tell):
        """The simulated takes: a `flags.Tally`."""
        total = flags.Tally()
        paths = [path for path in sorted(self.takes.glob("*.truth.json")) if self.only in path.name]
        self.taken += len(paths)
        with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
            for tally, misses in pool.map(lambda path: flags.measure(self.program, path), paths):
                total.add(tally)
                tell(misses)
        return total

    def short(self, tell):
        """Real performances, as played, with the published faults and with ours: row -> tally."""
        return self._place([*self.as_played, *self.published, *self._with_faults(self.as_played, faults.VARIANTS)], tell)

    def long(self, tell):
        """Long lines: row -> tally."""
        rows = {}
        for kind, variants in LONG_VARIANTS.items():
            cases = []
            for group in self._long_lines(kind, LONG_LENGTHS, self.amount.lines):
                cases += [*group, *self._with_faults(group, variants)]
            for (variant, piece), tally in self._place(cases, tell).items():
                rows[f"{variant}, {kind}", piece] = tally
        return rows

    def cost(self):
        """For each length: notes, and for a report of the whole and live: seconds of processor time,
        bytes at most."""
        piece = max(self.pieces.values(), key=lambda group: len(group[0].notes))
        rows = []
        for length in COST_LENGTHS:
            line = next(longer.lines(piece, length, "other keys", 1, self.scratch)).written(self.scratch)
            runs = {report: [self.program.cost(line.exercise, line.take, report) for _ in range(3)]
                    for report in ("json", "jsonl")}
            rows.append((len(line.played), {report: (min(cost[0] for cost in costs), max(cost[1] or 0 for cost in costs))
                                            for report, costs in runs.items()}))
        return rows

    def side_by_side(self, names):
        """The named matchers and restward on one set of inputs: (method -> column -> (tally, seconds)), and the
        fingerprint of the set. A column is a variant; restward has its own two methods."""
        short = [one for group in self.pieces.values() for one in group[:SIDE_BY_SIDE_TAKES]]
        short += [faults.made(one, self.pieces[one.piece], variant, 0) for one in short for variant in faults.VARIANTS]
        long = [one for group in self._long_lines("other keys", (SIDE_BY_SIDE_LENGTH,), 1) for one in group]
        long += [faults.made(one, [one], "faults + restart", 0) for one in long]
        cases = [(one.variant, one.written(self.scratch)) for one in short]
        cases += [(f"long, {one.variant}", one.written(self.scratch)) for one in long]
        table = collections.defaultdict(lambda: collections.defaultdict(lambda: [placement.Tally(), 0.0]))
        with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
            for (column, _), (tally, _) in zip(cases, pool.map(self._measure, [one for _, one in cases])):
                table["restward"][column][0].add(tally)
        jobs = [(name, column, one) for name in names for column, one in cases
                if not (name in matchers.SQUARE and column.startswith("long"))]
        with concurrent.futures.ProcessPoolExecutor(WORKERS) as pool:
            found = pool.map(matchers.run, [job[0] for job in jobs], [job[2] for job in jobs], chunksize=4)
            for (name, column, _), (tally, seconds) in zip(jobs, found):
                table[name][column][0].add(tally)
                table[name][column][1] += seconds
        return table, fingerprint(one for _, one in cases)

    def _with_faults(self, group, variants):
        siblings = performances.by_piece(group)
        return [faults.made(one, siblings[one.piece], variant, seed)
                for variant in variants for one in group for seed in range(self.amount.seeds)]

    def _long_lines(self, kind, lengths, count):
        for group in self.pieces.values():
            for length in lengths:
                yield list(longer.lines(group, length, kind, count, self.scratch))

    def _measure(self, one):
        return placement.measure(self.program, one.written(self.scratch))

    def _place(self, cases, tell):
        rows = collections.defaultdict(placement.Tally)
        cases = [one for one in cases if self.only in one.name]
        self.taken += len(cases)
        with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
            for one, (tally, misses) in zip(cases, pool.map(self._measure, cases)):
                for piece in (ALL, one.piece):
                    rows[one.variant, piece].add(tally)
                tell(misses)
        return dict(rows)


def fingerprint(cases):
    """Of what was played, to the millisecond: tells whether figures kept from another day are of the same inputs."""
    digest = hashlib.sha256()
    for one in cases:
        digest.update(json.dumps([one.name, [(round(note.onset, 3), note.midi) for note in one.played]]).encode())
    return digest.hexdigest()[:16]


def inputs(top):
    """The folders of takes and performances: the larger ones beside the project if they are there."""
    beside = top.parent / "shared"
    takes, played = beside / "takes" / "visible", beside / "data" / "performances"
    return (takes if takes.is_dir() else top / "tests/data/takes",
            played if played.is_dir() else top / "tests/data/performances")


def name_of(folder, top):
    """A folder as somebody in the project's folder would type it."""
    return os.path.relpath(pathlib.Path(folder).resolve(), pathlib.Path(top).resolve())
