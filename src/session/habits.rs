//! What a simulated player gets wrong now and then: how often, and, of one take, where.

use super::simulated::Chance;
use crate::exercise::{FollowedBy, Note, Part, Quarters};
use crate::theory::Letter;
use std::collections::BTreeSet;

/// How often something goes wrong, as a share of the notes that it can happen to, 0 to 1.
#[derive(Debug, Clone, Default)]
pub struct Habits {
    /// Changed notes played as in another key.
    pub missed_changes: f64,
    /// The same for single letters as the key has them: the higher of both shares counts.
    pub stubborn: Vec<(Letter, i8, f64)>,
    /// Notes let go before the rest that ends them.
    pub short_holds: f64,
    /// Notes of a quarter or more that come late.
    pub late_entrances: f64,
    /// Notes a whole step too low.
    pub wrong_notes: f64,
}

/// What goes wrong in one take, by the indices of the notes.
#[derive(Debug, Clone, Default)]
pub(super) struct Lapses {
    pub(super) missed: BTreeSet<usize>,
    pub(super) short: BTreeSet<usize>,
    pub(super) late: BTreeSet<usize>,
    pub(super) wrong: BTreeSet<usize>,
}

impl Lapses {
    /// The accidents of take `number`; `changed`: the changed letters of the part.
    pub(super) fn of(habits: &Habits, changed: &[(Letter, i8)], number: u64, part: &Part) -> Lapses {
        // Another row of accidents than those that the player counts.
        let mut chance = Chance(number ^ 0x5851_F42D_4C95_7F2D);
        let mut lapses = Lapses::default();
        let mut happens = |share: f64| chance.share(share);
        for note in &part.notes {
            // Every note asks every question, so that more of one fault moves no other.
            let missed = happens(habits.missed_share(note, changed));
            let short = happens(habits.short_holds);
            let late = happens(habits.late_entrances);
            let wrong = happens(habits.wrong_notes);
            let is_long = note.duration >= Quarters::new(1, 1);
            for (happened, which) in [
                (missed, &mut lapses.missed),
                (short && note.followed_by == FollowedBy::Rest, &mut lapses.short),
                (late && is_long, &mut lapses.late),
                (wrong, &mut lapses.wrong),
            ] {
                if happened {
                    which.insert(note.index);
                }
            }
        }
        lapses
    }
}

impl Habits {
    fn missed_share(&self, note: &Note, changed: &[(Letter, i8)]) -> f64 {
        let is = |letter, alter| note.written.letter == letter && note.written.alter == alter;
        let any = changed.iter().any(|&(letter, alter)| is(letter, alter));
        let stubborn = self.stubborn.iter().filter(|&&(letter, alter, _)| is(letter, alter)).map(|&(.., share)| share);
        stubborn.fold(if any { self.missed_changes } else { 0.0 }, f64::max)
    }
}
