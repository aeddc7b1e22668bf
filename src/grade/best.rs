//! The takes that together show most: of all lots of takes with enough notes, the one with the largest share of right ones.
//!
//! Any lot may be chosen, not only single takes, so that one more good note, in whichever take, never lowers a row: whatever
//! lot was the best is still there, and is no worse.

use crate::judge::Count;
use std::cmp::Reverse;

/// What speaks for a lot: how far it is above the share in question, in `of`ths; then few takes; then late ones.
type Weight = (i128, Reverse<usize>, usize);

/// The best lot of these takes, as places among them, the oldest first. `least` notes must be in it, and are in all together.
///
/// The largest share good/of with of ≥ least is found by Dinkelbach's method (Management Science 13, 1967): look for the lot
/// that is farthest above a share, take its share instead, until none is above. Whole numbers throughout. Of equal shares the
/// lot of the fewest takes, and of these the latest.
pub(super) fn best(takes: &[Count], least: usize) -> Vec<usize> {
    let mut lot: Vec<usize> = (0..takes.len()).collect();
    loop {
        let share = together(takes, &lot);
        let (next, above) = farthest_above(takes, least, share);
        if above <= 0 {
            // No lot is above; this one is as good, and the smallest and latest.
            return if next.is_empty() { lot } else { next };
        }
        lot = next;
    }
}

fn together(takes: &[Count], lot: &[usize]) -> Count {
    lot.iter().filter_map(|&place| takes.get(place)).copied().sum()
}

/// The lot with enough notes whose good notes are farthest above a share of its notes, and how far, in `of`ths of the share.
fn farthest_above(takes: &[Count], least: usize, share: Count) -> (Vec<usize>, i128) {
    let above = |take: &Count| take.good as i128 * share.of as i128 - take.of as i128 * share.good as i128;
    // For each number of notes up to `least` (there: or more) the best lot so far; taken: whether its last take is this one.
    let mut best: Vec<Option<Weight>> = vec![None; least + 1];
    best[0] = Some((0, Reverse(0), 0));
    let mut taken: Vec<Vec<Option<usize>>> = Vec::with_capacity(takes.len());
    for (place, take) in takes.iter().enumerate() {
        let mut next = best.clone();
        let mut from = vec![None; least + 1];
        for (notes, weight) in best.iter().enumerate() {
            let Some((so_far, Reverse(count), late)) = *weight else { continue };
            let more = (so_far + above(take), Reverse(count + 1), late + place);
            let with = (notes + take.of).min(least);
            // Of equal weights the one with this take, which is later.
            if next[with].is_none_or(|there| there <= more) {
                (next[with], from[with]) = (Some(more), Some(notes));
            }
        }
        best = next;
        taken.push(from);
    }
    let weight = best[least].map_or(0, |(above, ..)| above);
    let mut lot = Vec::new();
    let mut notes = least;
    for (place, from) in taken.iter().enumerate().rev() {
        if let Some(before) = from[notes] {
            lot.push(place);
            notes = before;
        }
    }
    lot.reverse();
    (lot, weight)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn counts(takes: &[(usize, usize)]) -> Vec<Count> {
        takes.iter().map(|&(good, of)| Count { good, of }).collect()
    }

    #[test]
    fn short_takes_are_put_together() {
        // Too short each; the last two of three are as good as it gets.
        assert_eq!(best(&counts(&[(1, 3), (3, 3), (3, 3)]), 4), [1, 2]);
        assert_eq!(best(&counts(&[(3, 3), (0, 3), (3, 3), (1, 3)]), 4), [0, 2]);
        // One is enough, and as good as more of them.
        assert_eq!(best(&counts(&[(4, 4), (4, 4), (1, 4)]), 4), [1]);
        assert_eq!(best(&counts(&[(1, 2), (2, 2)]), 4), [0, 1]);
        assert_eq!(best(&counts(&[(0, 5), (0, 6)]), 4), [1]);
    }

    /// Every lot there is, one after the other.
    fn by_hand(takes: &[Count], least: usize) -> Vec<usize> {
        let lots =
            (1_u32..1 << takes.len()).map(|lot| (0..takes.len()).filter(|place| lot >> place & 1 == 1).collect());
        let enough = lots.filter(|lot: &Vec<usize>| together(takes, lot).of >= least);
        let small_and_late = |lot: &Vec<usize>| (Reverse(lot.len()), lot.iter().sum::<usize>());
        let compare = |one: &Vec<usize>, other: &Vec<usize>| {
            let (first, second) = (together(takes, one), together(takes, other));
            let by_share = (first.good * second.of).cmp(&(second.good * first.of));
            by_share.then_with(|| small_and_late(one).cmp(&small_and_late(other)))
        };
        enough.max_by(compare).unwrap_or_default()
    }

    proptest! {
        #[test]
        fn no_other_lot_is_better(
            takes in prop::collection::vec((0_usize..6, 0_usize..6), 1..8), least in 1_usize..10,
        ) {
            let takes: Vec<Count> = takes.into_iter().map(|(good, bad)| Count { good, of: good + bad + 1 }).collect();
            prop_assume!(takes.iter().map(|take| take.of).sum::<usize>() >= least);
            let (found, expected) = (best(&takes, least), by_hand(&takes, least));
            let (one, other) = (together(&takes, &found), together(&takes, &expected));
            prop_assert!(one.of >= least);
            prop_assert_eq!(one.good * other.of, other.good * one.of, "{:?} {:?}", found, expected);
            prop_assert_eq!(found.len(), expected.len());
            prop_assert_eq!(found.iter().sum::<usize>(), expected.iter().sum::<usize>());
        }
    }
}
