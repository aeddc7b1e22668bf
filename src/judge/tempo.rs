//! The player's own tempo around one note, and how sure that is.

use crate::exercise::Part;

/// How far around a note (quarters) its player's own tempo is looked for.
const REACH: f64 = 8.0;
/// Distance (quarters) at which an interval counts half.
const NEARBY: f64 = 4.0;
/// Intervals further than this (ratio to the middle one) are waits and slips, not tempo.
const OUTLYING: f64 = 1.25;
/// Fewest quarters of played music from which a tempo is believed.
const LEAST_MUSIC: f64 = 1.5;
/// So many intervals on each side show that a tempo was kept, and by so much (logarithm) the sides may differ.
const LEAST_BESIDE: usize = 2;
const KEPT: f64 = 0.15;
/// Most intervals on each side.
const MOST: usize = 24;
/// The tempo at the note may be off by so many times what the intervals and their drift say: with 1.8 ninety-nine of a
/// hundred findings called certain are true (tools/measure/calibration.py).
const ERRORS: f64 = 1.8;
/// One interval alone may be so far off, as a share of itself, whatever the others say.
const UNEVEN: f64 = 0.015;
/// Quarters: a change of tempo is believed in full only where the intervals spread much further than this.
const STIFF: f64 = 4.0;
/// No interval weighs more than so many quarters: long rests are counted worse than notes are played.
const WEIGHTIEST: f64 = 4.0;
/// The last so many quarters show whether the player is slowing down or hurrying.
const RECENT: f64 = 3.0;
/// The last intervals are so much longer or shorter by accident.
const ACCIDENT: f64 = 0.02;

/// The player's own tempo around a note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tempo {
    /// Seconds a quarter.
    pub(super) quarter: f64,
    /// By how much of itself that may be off.
    pub(super) error: f64,
    /// By how much of itself it may have grown (negative: shrunk) by the middle of the note, if the player goes on
    /// slowing down or hurrying.
    pub(super) trend: f64,
    /// Seconds a quarter before the note, on average and just before it, the shorter and the longer: where nothing is
    /// played after it, nobody can say that the player did not go on like either.
    pub(super) before: (f64, f64),
    /// By how much of itself one interval is off from the tempo, as a rule.
    pub(super) uneven: f64,
}

/// The time between two neighbouring notes that both were played.
#[derive(Debug, Clone, Copy, Default)]
struct Interval {
    /// Seconds a quarter.
    quarter: f64,
    /// How long it is in the part, in quarters.
    quarters: f64,
    weight: f64,
    /// Where its middle lies, in quarters after the note.
    after: f64,
}

impl Tempo {
    /// The tempo around a note: the mean of the intervals played nearby, those far from their middle one left out. None
    /// where too little was played. `onsets`: seconds at which each note of the part began.
    pub(super) fn around(part: &Part, onsets: &[Option<f64>], note: usize) -> Option<Tempo> {
        let mut intervals = [Interval::default(); 2 * MOST];
        let count = intervals_around(part, onsets, note, |_| true, &mut intervals);
        Tempo::of(&mut intervals[..count], part.notes[note].duration.to_f64())
    }

    /// The tempo around a note without the time from it to the next note; none unless the player kept it before and
    /// after that.
    pub(super) fn beside(part: &Part, onsets: &[Option<f64>], note: usize) -> Option<Tempo> {
        let mut intervals = [Interval::default(); 2 * MOST];
        let count = intervals_around(part, onsets, note, |from| from != note, &mut intervals);
        let intervals = &mut intervals[..count];
        let side = |before| intervals.iter().filter(move |it| (it.after < 0.0) == before);
        let is_enough = |before| {
            side(before).count() >= LEAST_BESIDE && side(before).map(|it| it.quarters).sum::<f64>() >= LEAST_MUSIC
        };
        let (before, after) = (Mean::of(side(true)), Mean::of(side(false)));
        let is_kept = is_enough(true) && is_enough(false) && (before.quarter / after.quarter).ln().abs() < KEPT;
        is_kept.then(|| Tempo::of(intervals, part.notes[note].duration.to_f64())).flatten()
    }

    /// From intervals around a note that lasts `value` quarters.
    fn of(intervals: &mut [Interval], value: f64) -> Option<Tempo> {
        if intervals.iter().map(|it| it.quarters).sum::<f64>() < LEAST_MUSIC {
            return None;
        }
        intervals.sort_unstable_by(|a, b| a.quarter.total_cmp(&b.quarter));
        let middle = middle(intervals)?;
        let is_steady = |it: &&Interval| it.quarter < middle * OUTLYING && it.quarter > middle / OUTLYING;
        let steady = || intervals.iter().filter(is_steady);
        let all = Mean::of(steady());
        if all.weights <= 0.0 {
            return Some(Tempo {
                quarter: middle,
                error: OUTLYING - 1.0,
                trend: 0.0,
                before: (middle, middle),
                uneven: OUTLYING - 1.0,
            });
        }
        // The tempo in the middle of the note, where it changes about it or goes on changing as it did.
        let Change { by, error, uneven } = all.change_to(value / 2.0, steady());
        let quarter = all.quarter + by;
        let recent = Mean::of(intervals.iter().filter(|it| (-RECENT..0.0).contains(&it.after)));
        let earlier = Mean::of(intervals.iter().filter(|it| it.after < -RECENT));
        let trend = trend(&recent, &earlier, value);
        let recent = if recent.weights > 0.0 { recent.quarter } else { all.quarter };
        let before = (recent.min(all.quarter), recent.max(all.quarter));
        Some(Tempo { quarter, error: ERRORS * error / quarter, trend, before, uneven: uneven / quarter })
    }
}

/// By how much of itself a quarter will have grown (negative: shrunk) by the middle of a note that lasts `value` quarters,
/// if the last intervals before it differ from those before them by more than accident, and the player goes on like that.
fn trend(recent: &Mean, earlier: &Mean, value: f64) -> f64 {
    if recent.weights <= 0.0 || earlier.weights <= 0.0 {
        return 0.0;
    }
    let change = recent.quarter / earlier.quarter - 1.0;
    let beyond = change - change.clamp(-ACCIDENT, ACCIDENT);
    beyond * ((value / 2.0 - earlier.after) / (recent.after - earlier.after)).max(1.0)
}

/// Collects the intervals on both sides that begin at notes which `count`; returns how many there are.
fn intervals_around(
    part: &Part,
    onsets: &[Option<f64>],
    note: usize,
    counts: impl Fn(usize) -> bool,
    into: &mut [Interval; 2 * MOST],
) -> usize {
    let center = part.notes[note].onset.to_f64();
    let mut count = 0;
    for before in [true, false] {
        let mut at = note as isize - isize::from(before);
        let mut taken = 0;
        while taken < MOST && at >= 0 && (at as usize) + 1 < part.notes.len() {
            let (from, to) = (at as usize, at as usize + 1);
            at += if before { -1 } else { 1 };
            let (a, b) = (part.notes[from].onset.to_f64(), part.notes[to].onset.to_f64());
            let after = (a + b) / 2.0 - center;
            if after.abs() > REACH {
                break;
            }
            let (Some(began), Some(ended)) = (onsets[from], onsets[to]) else { continue };
            // A fermata is no tempo.
            if ended > began && b > a && !part.notes[from].fermata && counts(from) {
                let (quarter, weight) =
                    ((ended - began) / (b - a), (b - a).min(WEIGHTIEST) / (1.0 + after.abs() / NEARBY));
                into[count] = Interval { quarter, quarters: b - a, weight, after };
                count += 1;
                taken += 1;
            }
        }
    }
    count
}

/// The weighted middle of intervals in order of tempo.
fn middle(sorted: &[Interval]) -> Option<f64> {
    let half = sorted.iter().map(|it| it.weight).sum::<f64>() / 2.0;
    let mut passed = 0.0;
    let middle = sorted.iter().find(|it| {
        passed += it.weight;
        passed >= half
    });
    middle.map(|it| it.quarter)
}

/// The weighted mean tempo of some intervals.
struct Mean {
    /// Seconds a quarter.
    quarter: f64,
    weights: f64,
    /// Where the intervals lie on average, in quarters after the note.
    after: f64,
}

impl Mean {
    fn of<'a>(intervals: impl Iterator<Item = &'a Interval> + Clone) -> Mean {
        let sum = |of: &dyn Fn(&Interval) -> f64| intervals.clone().map(|it| of(it) * it.weight).sum::<f64>();
        let weights = sum(&|_| 1.0);
        Mean { quarter: sum(&|it| it.quarter) / weights, weights, after: sum(&|it| it.after) / weights }
    }

    /// How a quarter in a place (quarters after the note) differs from the mean: weighted least squares, drawn towards
    /// no change where the intervals lie close together.
    fn change_to<'a>(&self, place: f64, intervals: impl Iterator<Item = &'a Interval> + Clone) -> Change {
        let sum = |of: &dyn Fn(&Interval) -> f64| intervals.clone().map(|it| of(it) * it.weight).sum::<f64>();
        let spread = sum(&|it| (it.after - self.after).powi(2)) / self.weights + STIFF * STIFF;
        let slope = sum(&|it| (it.quarter - self.quarter) * (it.after - self.after)) / self.weights / spread;
        let off = |it: &Interval| it.quarter - self.quarter - slope * (it.after - self.after);
        let squares = sum(&|it| off(it).powi(2)) / self.weights + (UNEVEN * self.quarter).powi(2);
        let share = sum(&|it| it.weight) / self.weights.powi(2);
        let away = place - self.after;
        let error = (squares * share * (1.0 + away * away / spread)).sqrt();
        Change { by: slope * away, error, uneven: squares.sqrt() }
    }
}

/// A change of tempo, in seconds a quarter.
struct Change {
    by: f64,
    /// Standard error of the quarter there.
    error: f64,
    /// Standard deviation of the intervals.
    uneven: f64,
}
