//! Where a hold drill holds: every value from 1 to 8 beats against every count on which a rest can begin.
//!
//! A value and the count of its release make a *case*; 4/4 has 32. A walk through the measures takes one hold after the
//! other, with a beat of rest at least between them; many walks are tried, and the one that meets most values, counts
//! and cases is kept. All cases of a meter need 44 measures by arithmetic: values 1 to 8 and a beat of rest after each
//! are 44 beats, times the counts of a measure; phrases and the last note take some more.

use super::chance::Chance;
use super::frame::Frame;
use super::spot::Spot;

/// The longest value in beats.
pub(super) const LONGEST: usize = 8;
/// Walks tried for one drill.
const WALKS: usize = 60;

/// One held note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Hold {
    /// Notes of a beat that lead to it without a rest.
    lead: usize,
    /// The beat of the drill on which it begins, from 0.
    start: usize,
    beats: usize,
}

/// The notes of a hold drill without their tones; the last one fills its measure.
pub(super) fn holds(frame: &Frame, chance: &mut Chance) -> Vec<Spot> {
    let counts = frame.beats();
    let best = (0..WALKS).map(|_| walk(frame, chance)).max_by_key(|(met, _)| met.worth());
    let mut spots = Vec::new();
    let mut add = |beat: usize, beats: usize, after_rest: bool| {
        let unit = frame.meter.beat();
        let onset = unit.times((beat % counts) as i64, 1);
        let duration = unit.times(beats as i64, 1);
        spots.push(Spot::new(beat / counts, onset, duration, after_rest, frame.stress(onset)));
    };
    for hold in best.map(|(_, holds)| holds).unwrap_or_default() {
        for lead in (1..=hold.lead).rev() {
            add(hold.start - lead, 1, lead == hold.lead);
        }
        add(hold.start, hold.beats, hold.lead == 0);
    }
    add((frame.measures - 1) * counts, counts, true);
    spots
}

/// The cases met so far.
struct Met {
    counts: usize,
    /// Place: value - 1, times the counts, plus the count of the release.
    cases: Vec<bool>,
}

impl Met {
    fn case(&self, beats: usize, end: usize) -> usize {
        (beats - 1) * self.counts + end % self.counts
    }

    fn has_value(&self, beats: usize) -> bool {
        self.cases.chunks(self.counts).nth(beats - 1).is_some_and(|row| row.contains(&true))
    }

    fn has_count(&self, count: usize) -> bool {
        self.cases.chunks(self.counts).any(|row| row.get(count) == Some(&true))
    }

    /// Values and counts first, a count as much as two values; then cases.
    fn worth(&self) -> (usize, usize) {
        let values = (1..=LONGEST).filter(|&beats| self.has_value(beats)).count();
        let counts = (0..self.counts).filter(|&count| self.has_count(count)).count();
        (values + 2 * counts, self.cases.iter().filter(|&&met| met).count())
    }
}

/// One way through the measures. No hold goes on over the end of a phrase; before the last note there is a rest.
fn walk(frame: &Frame, chance: &mut Chance) -> (Met, Vec<Hold>) {
    let counts = frame.beats();
    let mut met = Met { counts, cases: vec![false; LONGEST * counts] };
    let mut holds = Vec::new();
    let before_last = (frame.measures - 1) * counts - 1;
    let mut free = 0;
    for phrase in &frame.phrases {
        free = free.max(phrase.first * counts);
        let end = (phrase.end() * counts).min(before_last);
        while free < end {
            let Some(hold) = next(&met, free, end, before_last, chance) else { break };
            let case = met.case(hold.beats, hold.start + hold.beats);
            met.cases[case] = true;
            free = hold.start + hold.beats + 1;
            holds.push(hold);
        }
    }
    (met, holds)
}

/// Draws the next hold between `free` and `end`: rather what has not been met, rather soon.
fn next(met: &Met, free: usize, end: usize, before_last: usize, chance: &mut Chance) -> Option<Hold> {
    let needed: usize = (1..=LONGEST).filter(|&beats| !met.has_value(beats)).map(|beats| beats + 1).sum();
    let tight = before_last.saturating_sub(free) < needed + needed / 4;
    let mut choices = Vec::with_capacity(LONGEST * met.counts);
    let mut weights = Vec::with_capacity(LONGEST * met.counts);
    for wait in 0..met.counts {
        for beats in 1..=LONGEST {
            let start = free + wait;
            if start + beats > end {
                break;
            }
            let is_new = !met.cases[met.case(beats, start + beats)];
            let new_value = if met.has_value(beats) { 1 } else { 30 };
            let new_count = if met.has_count((start + beats) % met.counts) { 1 } else { 4 };
            let soon = if tight { 8 >> (3 * wait).min(3) } else { 8 >> wait };
            choices.push((start, beats, wait));
            weights.push(soon * new_value * new_count * if is_new { 40 } else { u32::from(beats > 2) });
        }
    }
    // Nothing new fits and only a beat or two are left: they rest.
    let &(start, beats, wait) = choices.get(chance.weighted(&weights)?)?;
    // The drill begins on its first beat.
    let lead = match wait {
        0 => 0,
        _ if free == 0 => wait,
        _ if chance.percent(70) => 1 + chance.below(wait),
        _ => 0,
    };
    Some(Hold { lead, start, beats })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exercise::Meter;
    use std::collections::BTreeSet;

    fn met(meter: &str, measures: usize, seed: u64) -> (usize, usize, usize) {
        let frame = Frame::new(Meter::parse(meter).unwrap(), measures, 1);
        let counts = frame.beats();
        let unit = frame.meter.beat();
        let spots = holds(&frame, &mut Chance::new(seed));
        let beat = |spot: &Spot| {
            let onset = spot.onset.in_beats(unit);
            spot.measure * counts + onset.numerator() as usize
        };
        let beats = |spot: &Spot| spot.duration.in_beats(unit).numerator() as usize;
        let mut cases = BTreeSet::new();
        for pair in spots.windows(2) {
            let end = beat(&pair[0]) + beats(&pair[0]);
            assert!(end + usize::from(pair[1].after_rest) <= beat(&pair[1]), "{pair:?}");
            if pair[1].after_rest {
                cases.insert((beats(&pair[0]), end % counts));
            }
        }
        let values: BTreeSet<_> = cases.iter().map(|case| case.0).collect();
        let releases: BTreeSet<_> = cases.iter().map(|case| case.1).collect();
        (values.len(), releases.len(), cases.len())
    }

    /// Values 1 to 8 and a beat of rest after each take 44 beats, the last note one measure more: sixteen measures of
    /// 4/4 or 3/4 and twenty-four of 2/4 have room for them in phrases of four or eight measures.
    #[test]
    fn every_value_and_every_count() {
        for (meter, measures, counts) in [("4/4", 16, 4), ("3/4", 16, 3), ("2/4", 24, 2), ("6/8", 24, 2)] {
            for seed in 0..50 {
                let (values, releases, cases) = met(meter, measures, seed);
                assert_eq!((values, releases), (8, counts), "{meter} {measures} {seed}");
                assert!(cases >= 8);
            }
        }
    }

    #[test]
    fn every_value_against_every_count() {
        for (meter, cases) in [("4/4", 32), ("3/4", 24), ("2/4", 16), ("2/2", 16), ("6/8", 16)] {
            for seed in 0..20 {
                assert_eq!(met(meter, 56, seed).2, cases, "{meter} {seed}");
            }
        }
    }
}
