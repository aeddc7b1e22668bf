//! One measured row of one player: which takes it comes from, and the step.

use super::best::best;
use super::{Measure, Measured, NoStep, Outcome, Rounding, Row, Rubric, TakesCount};
use crate::book::Attempt;
use crate::judge::Count;

/// Whole percent of a share; 0 of 0 is 0. Exact: whole numbers throughout.
pub fn percent(good: u64, of: u64, rounding: Rounding) -> u8 {
    let (good, of) = (u128::from(good.min(of)), u128::from(of));
    let whole = match rounding {
        _ if of == 0 => 0,
        Rounding::Down => 100 * good / of,
        Rounding::HalfUp => (200 * good + of) / (2 * of),
    };
    // At most 100, because no more are good than there are.
    u8::try_from(whole).unwrap_or(100)
}

/// What the takes say of a row. `takes`: those that count, the oldest first.
pub(super) fn measured(takes: &[&Attempt], row: &Row, measure: Measure, rubric: &Rubric) -> Outcome {
    let with_notes: Vec<(usize, Count)> =
        takes.iter().map(|take| count(take, measure)).enumerate().filter(|(_, count)| count.of > 0).collect();
    let all = together(&with_notes);
    let least = row.least_notes;
    if takes.is_empty() {
        return Outcome::None(NoStep::NoTake);
    }
    if all.of == 0 {
        return Outcome::None(NoStep::NothingToJudge);
    }
    if all.of < least {
        return Outcome::None(NoStep::FewNotes { found: all.of, least });
    }
    if with_notes.len() < row.least_takes {
        return Outcome::None(NoStep::FewTakes { found: with_notes.len(), least: row.least_takes });
    }
    let chosen = chosen(&with_notes, least, rubric.takes_count);
    let count = together(&chosen);
    let percent = whole(count, rubric);
    let reached = rubric.step_of(percent);
    let step = held(reached, &with_notes, &chosen, least, rubric);
    Outcome::Measured(Measured {
        step,
        held_from: (step != reached).then_some(reached),
        count,
        percent,
        from: chosen.iter().map(|(place, _)| *place).collect(),
    })
}

fn count(take: &Attempt, measure: Measure) -> Count {
    match measure {
        Measure::RightPitches => take.right_pitches,
        Measure::ChangedNotes => take.changed_notes,
        Measure::FullValues => take.full_releases,
        Measure::Entrances => take.entrances,
    }
}

fn together(takes: &[(usize, Count)]) -> Count {
    takes.iter().map(|(_, count)| *count).sum()
}

fn whole(count: Count, rubric: &Rubric) -> u8 {
    percent(count.good as u64, count.of as u64, rubric.rounding)
}

/// The takes that a row comes from; all of them together have enough notes.
fn chosen(takes: &[(usize, Count)], least: usize, which: TakesCount) -> Vec<(usize, Count)> {
    match which {
        TakesCount::Mean => takes.to_vec(),
        TakesCount::Last => {
            let enough = (0..takes.len()).rev().find(|&first| together(&takes[first..]).of >= least);
            takes[enough.unwrap_or(0)..].to_vec()
        }
        TakesCount::Best => {
            let counts: Vec<Count> = takes.iter().map(|(_, count)| *count).collect();
            best(&counts, least).into_iter().filter_map(|place| takes.get(place)).copied().collect()
        }
    }
}

/// The step, where takes after the first may lift a row so far only. The first is the first that has enough notes.
fn held(reached: usize, takes: &[(usize, Count)], chosen: &[(usize, Count)], least: usize, rubric: &Rubric) -> usize {
    let Some(most) = rubric.retake.and_then(|retake| retake.lifts_to_step) else { return reached };
    let first = takes.iter().find(|(_, count)| count.of >= least);
    // What the first take itself reached is never taken away by this rule.
    let at_first = first.map_or(0, |(_, count)| rubric.step_of(whole(*count, rubric)));
    let is_first_alone = chosen.len() == 1 && first.is_some_and(|(place, _)| *place == chosen[0].0);
    if is_first_alone { reached } else { reached.min(most.max(at_first)) }
}
