//! How a mark came about, in words: shared by the console, pages and tables.

use super::super::dates::day;
use crate::grade::{Graded, Measure, Measured, NoStep, NoTotal, Outcome, Retake, Row, Rubric, TakesCount, Total};

/// A row in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowWords {
    /// `3 of 4`, or nothing without a step.
    pub step: Option<String>,
    /// How it came about, or why there is none: a sentence without its full stop.
    pub how: String,
}

/// The total in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TotalWords {
    /// `B, 86 percent`, or `not enough evidence`.
    pub grade: String,
    /// The sum, or why there is none: a sentence.
    pub how: String,
    /// What was left out, which takes do not count: sentences.
    pub remarks: Vec<String>,
    /// Why the player plays again: a sentence.
    pub retake: Option<String>,
}

/// A row in words; `place` is its place in the rubric.
pub fn row_words(graded: &Graded, place: usize, rubric: &Rubric) -> RowWords {
    let (Some(row), Some(outcome)) = (rubric.rows.get(place), graded.rows.get(place)) else {
        return RowWords { step: None, how: String::new() };
    };
    let step = outcome.step().map(|step| format!("{step} of {}", rubric.steps.len()));
    let how = match outcome {
        Outcome::Measured(measured) => measured_words(graded, row, measured, rubric),
        Outcome::Marked { step, marked_us } => {
            format!("{}; marked by hand on {}", rubric.words(row, *step), day(*marked_us))
        }
        Outcome::None(why) => no_step(*why, row, graded),
    };
    RowWords { step, how }
}

fn measured_words(graded: &Graded, row: &Row, measured: &Measured, rubric: &Rubric) -> String {
    let (count, percent) = (measured.count, measured.percent);
    let mut words = format!(
        "{} of {} {}, {percent} percent; {}",
        count.good,
        count.of,
        things(row, count.of),
        from(graded, measured, rubric)
    );
    if let Some(reached) = measured.held_from {
        words.push_str(&format!("; these notes reach step {reached}, but takes after the first lift it no further"));
    }
    words
}

/// Which takes a row comes from.
fn from(graded: &Graded, measured: &Measured, rubric: &Rubric) -> String {
    let takes: Vec<_> = measured.from.iter().filter_map(|&place| graded.takes.get(place)).collect();
    match takes[..] {
        [one] if graded.takes.len() == 1 => format!("the take of {}", day(one.begun_us)),
        [one] => {
            let which = match rubric.takes_count {
                TakesCount::Best => "best of",
                TakesCount::Last => "last of",
                TakesCount::Mean => "the only one of",
            };
            let place = graded.takes.iter().take_while(|take| take.take != one.take).count() + 1;
            format!("{which} {} takes: take {place}, of {}", graded.takes.len(), day(one.begun_us))
        }
        [first, .., last] => {
            let days = match (day(first.begun_us), day(last.begun_us)) {
                (first, last) if first == last => format!("of {first}"),
                (first, last) => format!("{first} to {last}"),
            };
            let which = match rubric.takes_count {
                _ if takes.len() == graded.takes.len() => format!("{} takes", takes.len()),
                TakesCount::Best => format!("the best {} of {} takes", takes.len(), graded.takes.len()),
                TakesCount::Last => format!("the last {} of {} takes", takes.len(), graded.takes.len()),
                TakesCount::Mean => format!("{} of {} takes", takes.len(), graded.takes.len()),
            };
            format!("{which} together, {days}")
        }
        [] => String::new(),
    }
}

/// What is counted.
fn things(row: &Row, count: usize) -> &'static str {
    match (row.measures, count) {
        (Some(Measure::ChangedNotes), 1) => "changed note",
        (Some(Measure::ChangedNotes), _) => "changed notes",
        (Some(Measure::FullValues), 1) => "release",
        (Some(Measure::FullValues), _) => "releases",
        (Some(Measure::Entrances), 1) => "entrance",
        (Some(Measure::Entrances), _) => "entrances",
        (Some(Measure::RightPitches) | None, 1) => "note",
        (Some(Measure::RightPitches) | None, _) => "notes",
    }
}

fn no_step(why: NoStep, row: &Row, graded: &Graded) -> String {
    match why {
        NoStep::NoTake if graded.unfit > 0 => "not enough evidence: no take that fits the exercise".into(),
        NoStep::NoTake => "not enough evidence: no take yet".into(),
        NoStep::NothingToJudge => format!("not enough evidence: no {} in the takes", things(row, 0)),
        NoStep::FewNotes { found, least } => {
            format!("not enough evidence: {found} {}, and {least} are needed", things(row, found))
        }
        NoStep::FewTakes { found, least } => {
            format!("not enough evidence: {found} take{}, and {least} are needed", if found == 1 { "" } else { "s" })
        }
        NoStep::NotMarked => "not marked yet".into(),
        NoStep::OutsideScale { step } => format!("marked {step}, which this rubric does not have: mark it again"),
    }
}

/// The total in words.
pub fn total_words(graded: &Graded, rubric: &Rubric) -> TotalWords {
    let (grade, how) = match &graded.total {
        Total::Grade { weights, percent, name, .. } => {
            (format!("{name}, {percent} percent"), sum(graded, *weights, *percent, rubric))
        }
        Total::None(why) => ("not enough evidence".into(), no_total(why, rubric)),
    };
    TotalWords { grade, how, remarks: remarks(graded, rubric), retake: retake(graded, rubric) }
}

/// `(2 × 100 + 1 × 85) / 3 = 95`.
fn sum(graded: &Graded, weights: u64, percent: u8, rubric: &Rubric) -> String {
    let worth = |(row, outcome): (&Row, &Outcome)| {
        let step = rubric.steps.get(outcome.step()? - 1)?;
        Some(format!("{} × {}", row.weight, step.worth))
    };
    let parts: Vec<String> = rubric.rows.iter().zip(&graded.rows).filter_map(worth).collect();
    format!("({}) / {weights} = {percent}", parts.join(" + "))
}

fn titles(places: impl IntoIterator<Item = usize>, rubric: &Rubric) -> String {
    let titles: Vec<&str> =
        places.into_iter().filter_map(|place| rubric.rows.get(place)).map(|row| row.title.as_str()).collect();
    match &titles[..] {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => titles.concat(),
    }
}

fn no_total(why: &NoTotal, rubric: &Rubric) -> String {
    match why {
        NoTotal::Missing(rows) => {
            format!("No total until there is a step for {}.", titles(rows.iter().copied(), rubric))
        }
        NoTotal::LittleWeight { weights, of } => format!(
            "No total: the rows with a step weigh {weights} of {of}, and {} percent are needed.",
            rubric.least_weight
        ),
    }
}

fn remarks(graded: &Graded, rubric: &Rubric) -> Vec<String> {
    let mut remarks = Vec::new();
    let mut takes = |count: usize, one: &str, more: &str| match count {
        0 => {}
        1 => remarks.push(format!("1 take {one}")),
        _ => remarks.push(format!("{count} takes {more}")),
    };
    takes(graded.unfit, "did not fit the exercise and does not count.", "did not fit the exercise and do not count.");
    let most = rubric.takes_at_most.unwrap_or_default();
    let beyond = |verb: &str| format!("{verb} not count: the rubric takes {most} at most.");
    takes(graded.beyond, &beyond("does"), &beyond("do"));
    let mut levels: Vec<&str> = graded.takes.iter().map(|take| take.level.as_str()).collect();
    levels.sort_unstable();
    levels.dedup();
    if levels.len() > 1 {
        remarks.push(format!("The takes were judged at different levels: {}.", levels.join(", ")));
    }
    if let Total::Grade { left_out, .. } = &graded.total
        && !left_out.is_empty()
    {
        remarks.push(format!("Left out of the total: {}.", titles(left_out.iter().copied(), rubric)));
    }
    remarks
}

/// Why a player plays again.
fn retake(graded: &Graded, rubric: &Rubric) -> Option<String> {
    if graded.retake.is_empty() {
        return None;
    }
    if graded.takes.is_empty() {
        return Some("Please play: there is no take that counts.".into());
    }
    let of = |below: bool| {
        let of_kind = graded.retake.iter().filter_map(move |retake| match retake {
            Retake::Below(place) => below.then_some(*place),
            Retake::Evidence(place) => (!below).then_some(*place),
        });
        titles(of_kind, rubric)
    };
    let least = rubric.retake.map_or(1, |rule| rule.below_step);
    let reasons: Vec<String> =
        [(of(true), format!("below step {least}")), (of(false), "without enough evidence".into())]
            .into_iter()
            .filter(|(titles, _)| !titles.is_empty())
            .map(|(titles, why)| format!("{titles} {why}"))
            .collect();
    Some(format!("Please play again: {}.", reasons.join("; ")))
}
