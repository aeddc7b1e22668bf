//! Controllers handed to the wrong player: each take fits the other's part.

use super::PlayerPlan;
use super::lane::Finished;
use crate::exercise::Part;
use crate::judge::Report;

/// A take with this share of its notes right is its player's own.
const OWN: f64 = 0.6;
/// The parts changed over fit so many times better, and fit well: the sum of both shares of right notes.
const CLEARLY: f64 = 1.5;
const FIT_WELL: f64 = 1.2;

/// A sentence for each pair of players whose takes fit each other's part, and not their own.
pub(super) fn sentences(takes: &[(&PlayerPlan, &Finished)]) -> Vec<String> {
    let played = takes.iter().filter(|(_, take)| take.played);
    let strangers: Vec<_> = played.filter(|(_, take)| right(&take.report) < OWN).collect();
    let mut sentences = Vec::new();
    for (place, &&(one, one_take)) in strangers.iter().enumerate() {
        for &&(other, other_take) in &strangers[place + 1..] {
            let own = right(&one_take.report) + right(&other_take.report);
            let swapped = || right(&one_take.judged_as(other)) + right(&other_take.judged_as(one));
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

/// The share of a part's notes that are right.
fn right(report: &Report) -> f64 {
    report.totals.right_pitches.good as f64 / report.totals.notes.max(1) as f64
}

fn is_same(one: &Part, other: &Part) -> bool {
    let sounds = |part: &Part| part.notes.iter().map(|note| (note.sounding, note.onset)).collect::<Vec<_>>();
    sounds(one) == sounds(other)
}
