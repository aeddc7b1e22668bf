//! A take in numbers by what was practised: each changed note, each length of hold.

use crate::exercise::{FollowedBy, Part};
use crate::judge::{Count, FlagKind, Report};
use crate::theory::{Pitch, Rank};
use std::collections::BTreeMap;

/// What is counted: changed notes by written letter and sign (`F#`, `Bb`, `E`), holds by their beats (`3`, `1.5`).
pub(super) type Tallies = BTreeMap<(&'static str, String), Count>;

/// Primary and secondary changed notes that were met, and releases before a rest that were judged: how many of each
/// were good. What was too close to call counts neither way.
pub(super) fn of(part: &Part, report: &Report) -> Tallies {
    let mut tallies = Tallies::new();
    if !report.totals.fits {
        return tallies;
    }
    let mut count = |what, name: String, good: bool| {
        let count: &mut Count = tallies.entry((what, name)).or_default();
        count.of += 1;
        count.good += usize::from(good);
    };
    for (note, result) in part.notes.iter().zip(&report.notes) {
        if result.onset_s.is_none() {
            continue;
        }
        let found = |kinds: &[FlagKind]| result.flags.iter().any(|kind| kinds.contains(kind));
        if matches!(result.changed_note, Some(Rank::Primary | Rank::Secondary)) {
            let Pitch { letter, .. } = note.written;
            let sign = ["bb", "b", "", "#", "##"][usize::try_from(note.written.alter + 2).unwrap_or(2).min(4)];
            let wrong = [FlagKind::WrongAccidental, FlagKind::WrongNote, FlagKind::WrongPartial, FlagKind::WrongOctave];
            count("changed", format!("{letter}{sign}"), !found(&wrong));
        }
        if result.release_judged && note.followed_by == FollowedBy::Rest {
            count("hold", format!("{}", result.value_beats), !found(&[FlagKind::EarlyRelease]));
        }
    }
    tallies
}
