//! Controllers handed to the wrong player: each take fits the other's part.

use super::LanePlan;
use super::lane::Run;
use crate::exercise::Part;

/// A take with this share of its notes right is its player's own.
const OWN: f64 = 0.6;
/// The parts changed over fit so many times better, and fit well: the sum of both shares of right notes.
const CLEARLY: f64 = 1.5;
const FIT_WELL: f64 = 1.2;

/// A sentence for each pair of lanes whose takes fit each other's part, and not their own.
pub(super) fn sentences(lanes: &[LanePlan], runs: &[Option<Run>]) -> Vec<String> {
    let strangers: Vec<(&LanePlan, &Run, f64)> = lanes
        .iter()
        .zip(runs)
        .filter_map(|(lane, run)| run.as_ref().filter(|run| run.played()).map(|run| (lane, run, right(run, lane))))
        .filter(|&(_, _, own)| own < OWN)
        .collect();
    let mut sentences = Vec::new();
    for (place, &(one, one_run, one_own)) in strangers.iter().enumerate() {
        for &(other, other_run, other_own) in &strangers[place + 1..] {
            let own = one_own + other_own;
            let swapped = || right(one_run, other) + right(other_run, one);
            if !is_same(&one.part, &other.part) && swapped() > FIT_WELL.max(CLEARLY * own) {
                sentences.push(format!(
                    "{} and {} seem to have each other's controller: change them over and play again",
                    one.player, other.player
                ));
            }
        }
    }
    sentences
}

/// The share of a part's notes that a take has right.
fn right(run: &Run, lane: &LanePlan) -> f64 {
    let totals = run.judged_as(lane).totals;
    totals.right_pitches.good as f64 / totals.notes.max(1) as f64
}

fn is_same(one: &Part, other: &Part) -> bool {
    let sounds = |part: &Part| part.notes.iter().map(|note| (note.sounding, note.onset)).collect::<Vec<_>>();
    sounds(one) == sounds(other)
}
