//! One more good note never lowers a grade.

use super::super::{Graded, Retakes, Rubric, TakesCount, Total, WhichTakes};
use super::{Counts, attempt, graded, rubric};
use crate::book::Attempt;
use proptest::prelude::*;

fn takes() -> impl Strategy<Value = Vec<Attempt>> {
    let count = (0_usize..12, 0_usize..12).prop_map(|(good, more)| (good, good + more));
    let counts = [count.clone(), count.clone(), count.clone(), count];
    prop::collection::vec(counts, 1..5)
        .prop_map(|takes: Vec<Counts>| takes.into_iter().zip(1..).map(|(counts, day)| attempt(day, counts)).collect())
}

fn rubrics() -> impl Strategy<Value = Rubric> {
    let which = prop_oneof![Just(TakesCount::Best), Just(TakesCount::Last), Just(TakesCount::Mean)];
    let first = prop_oneof![Just(WhichTakes::Newest), Just(WhichTakes::First)];
    let retake = prop::option::of(prop::option::of(1_usize..=4));
    (which, first, prop::option::of(1_usize..4), retake).prop_map(|(takes_count, which_takes, takes_at_most, lifts)| {
        let retake = lifts.map(|lifts_to_step| Retakes { below_step: 3, lifts_to_step });
        Rubric { takes_count, which_takes, takes_at_most, retake, ..rubric(&[]) }
    })
}

fn count(take: &mut Attempt, which: usize) -> &mut crate::judge::Count {
    match which {
        0 => &mut take.right_pitches,
        1 => &mut take.changed_notes,
        2 => &mut take.full_releases,
        _ => &mut take.entrances,
    }
}

fn percent(graded: &Graded) -> Option<u8> {
    match graded.total {
        Total::Grade { percent, .. } => Some(percent),
        Total::None(_) => None,
    }
}

proptest! {
    /// A note that was wrong is right: whichever takes count, no row and no total is lower.
    #[test]
    fn a_note_played_right_instead(
        takes in takes(), rubric in rubrics(), which in 0_usize..4, at in any::<prop::sample::Index>(),
    ) {
        let mut better = takes.clone();
        let changed = count(at.get_mut(&mut better), which);
        changed.good = (changed.good + 1).min(changed.of);
        let (before, after) = (graded(&takes, &[], &rubric), graded(&better, &[], &rubric));
        for (before, after) in before.rows.iter().zip(&after.rows) {
            prop_assert!(before.step() <= after.step(), "{before:?} {after:?}");
        }
        prop_assert!(percent(&before) <= percent(&after));
    }

    /// A note more that is right: no row is lower where the best or all takes count and takes may lift to any step. (With
    /// "last" a take may come to have enough notes by itself; then the takes before it count no longer.)
    #[test]
    fn a_good_note_more(
        takes in takes(), rubric in rubrics(), which in 0_usize..4, at in any::<prop::sample::Index>(),
    ) {
        let takes_count = if rubric.takes_count == TakesCount::Last { TakesCount::Best } else { rubric.takes_count };
        let rubric = Rubric { takes_count, retake: None, ..rubric };
        let mut better = takes.clone();
        let changed = count(at.get_mut(&mut better), which);
        (changed.good, changed.of) = (changed.good + 1, changed.of + 1);
        let (before, after) = (graded(&takes, &[], &rubric), graded(&better, &[], &rubric));
        for (before, after) in before.rows.iter().zip(&after.rows) {
            prop_assert!(before.step() <= after.step(), "{before:?} {after:?}");
        }
    }
}
