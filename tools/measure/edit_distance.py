"""Alignment by a plain edit distance on pitch and local timing, to have something to compare with.

The textbook method (Wagner and Fischer, "The string-to-string correction problem", Journal of the ACM 21,
1974): pair, skip or insert notes at the least sum of costs. A pair costs more if its pitch differs, and, timing
being local, if the interval to the note before is not what the notes say at the present tempo. It knows no
restarts. The costs are round numbers, not fitted to anything.
"""

import numpy as np

SKIP = 1.0
INSERT = 1.0
WRONG_PITCH = 1.8
# For an interval twice or half as long as due; never more than the last number.
DOUBLED = 0.5
TIMING_AT_MOST = 0.7
# The tempo is the median over so many pairs before.
PAIRS = 8


class EditDistance:
    """Takes played notes one by one; `path` and `here` tell how they are paired so far."""

    def __init__(self, midi, onsets):
        self.midi, self.onsets = np.array(midi), np.array(onsets)
        count = len(midi)
        self.costs = SKIP * np.arange(count + 1.0)  # of having reached each note of the part
        self.steps = []  # for each played note and note of the part: did it pair (1), insert (0) or skip (2)
        self.last = np.full(count + 1, -np.inf)  # when the last paired note was played, and where it stands
        self.at = np.zeros(count + 1)
        self.tempo = np.full((count + 1, PAIRS), np.nan)  # logarithms of seconds a quarter

    def play(self, onset, midi):
        """One more played note."""
        quarters = self.onsets - self.at[:-1]
        seconds = onset - self.last[:-1]
        known = np.isfinite(seconds) & (quarters > 0)
        pace = np.full(len(quarters), np.nan)
        pace[known] = np.log(np.maximum(seconds[known], 1e-3) / quarters[known])
        usual = middle(self.tempo[:-1])
        off = np.nan_to_num(np.abs(pace - usual))
        pair = self.costs[:-1] + np.where(self.midi == midi, 0.0, WRONG_PITCH)
        pair += np.minimum(DOUBLED * off / np.log(2.0), TIMING_AT_MOST)
        insert = self.costs + INSERT
        best, step = insert.copy(), np.zeros(len(insert), dtype=np.int8)
        paired = np.flatnonzero(pair <= insert[1:]) + 1
        best[paired], step[paired] = pair[paired - 1], 1
        # Skips of any number of notes: a running minimum.
        positions = SKIP * np.arange(len(best))
        least = np.minimum.accumulate(best - positions)
        start = np.maximum.accumulate(np.where(best - positions == least, np.arange(len(best)), 0))
        step[start < np.arange(len(best))] = 2
        self.costs = least + positions
        self.steps.append(step)
        last, at, tempo = self.last.copy(), self.at.copy(), self.tempo.copy()
        last[paired], at[paired] = onset, self.onsets[paired - 1]
        tempo[paired, 1:], tempo[paired, 0] = self.tempo[paired - 1, :-1], pace[paired - 1]
        self.last, self.at, self.tempo = last[start], at[start], tempo[start]

    def here(self):
        """The best place to pair the newest played note with."""
        paired = self.steps[-1] == 1
        return int(np.argmin(np.where(paired, self.costs, np.inf))) - 1 if paired.any() else None

    def path(self):
        """Pairs of the whole: played note -> note of the part."""
        pairs, place = {}, len(self.costs) - 1
        for number in range(len(self.steps) - 1, -1, -1):
            while self.steps[number][place] == 2:
                place -= 1
            if self.steps[number][place] == 1:
                place -= 1
                pairs[number] = place
        return pairs


def middle(paces):
    """The median of each row, as far as known."""
    ordered = np.sort(paces, axis=1)  # unknown ones last
    known = np.isfinite(paces).sum(axis=1)
    rows = np.arange(len(paces))
    return np.where(known > 0, ordered[rows, np.maximum(known - 1, 0) // 2], np.nan)
