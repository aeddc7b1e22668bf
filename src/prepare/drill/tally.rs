//! What a drill came to: how often each thing it is for comes up.

use super::spot::Spot;
use super::tone::{Standing, Tone};
use crate::exercise::Quarters;
use std::collections::BTreeSet;

/// How often each thing comes up in a drill.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    /// Changed notes, as the key has them.
    pub changed: usize,
    /// Of them: come to by step.
    pub by_step: usize,
    /// Come to by a third or more.
    pub by_leap: usize,
    /// Come to after their other form, with one note between at most.
    pub after_other: usize,
    /// Of the rest: the same note stood before.
    pub repeated: usize,
    /// Of the rest: the first note, or a rest stood before.
    pub after_rest: usize,
    /// The values that end with a rest, in beats.
    pub values: BTreeSet<usize>,
    /// The counts of the measure on which a rest begins, 1 is the first.
    pub releases: BTreeSet<usize>,
    /// The pairs of value and count that were met.
    pub cases: BTreeSet<(usize, usize)>,
}

impl Tally {
    pub(super) fn of(spots: &[Spot], line: &[Tone], beat: Quarters, beats: usize) -> Tally {
        let mut tally = Tally::default();
        for (index, (spot, tone)) in spots.iter().zip(line).enumerate() {
            let before = |back: usize| index.checked_sub(back).and_then(|place| line.get(place));
            let is_other = |before: Option<&Tone>| {
                before.is_some_and(|other| other.standing == Standing::Other && other.place == tone.place)
            };
            if tone.is_target {
                tally.changed += 1;
                let letters = before(1).map_or(0, |before| (tone.place - before.place).abs());
                match letters {
                    _ if is_other(before(1)) || is_other(before(2)) => tally.after_other += 1,
                    _ if spot.after_rest || index == 0 => tally.after_rest += 1,
                    0 => tally.repeated += 1,
                    1 => tally.by_step += 1,
                    _ => tally.by_leap += 1,
                }
            }
            let rests = spots.get(index + 1).is_some_and(|next| next.after_rest);
            let whole = |time: Quarters| {
                let time = time.in_beats(beat);
                (time.denominator() == 1).then_some(time.numerator() as usize)
            };
            if let (true, Some(value), Some(end)) = (rests, whole(spot.duration), whole(spot.onset + spot.duration)) {
                let count = end % beats + 1;
                tally.values.insert(value);
                tally.releases.insert(count);
                tally.cases.insert((value, count));
            }
        }
        tally
    }
}
