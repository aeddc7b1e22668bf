//! Grades as CSV: one line for each player, exercise and row of the rubric.

use super::super::cells::guarded;
use super::super::dates::day;
use super::{row_words, total_words};
use crate::book::plain;
use crate::grade::{Graded, Outcome, Rubric, Total};

const HEADING: [&str; 21] = [
    "section",
    "player",
    "player_id",
    "instrument",
    "exercise",
    "exercise_number",
    "grade",
    "grade_percent",
    "how",
    "play_again",
    "row",
    "row_title",
    "weight",
    "step",
    "steps",
    "percent",
    "good",
    "of",
    "takes",
    "first_day",
    "row_how",
];

/// CSV (RFC 4180, UTF-8, a header row). What is not known is empty; a cell that a spreadsheet would take for a formula
/// begins with an apostrophe.
pub fn grades_csv(graded: &[Graded], rubric: &Rubric) -> Result<Vec<u8>, csv::Error> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    table.write_record(HEADING)?;
    for graded in graded {
        let before = of_player(graded, rubric);
        for place in 0..rubric.rows.len() {
            table.write_record(before.iter().chain(&of_row(graded, place, rubric)))?;
        }
    }
    table.into_inner().map_err(|error| csv::Error::from(std::io::Error::other(error.to_string())))
}

fn of_player(graded: &Graded, rubric: &Rubric) -> [String; 10] {
    let text = |text: &Option<String>| guarded(&plain(text.as_deref().unwrap_or_default()));
    let words = total_words(graded, rubric);
    let (name, percent) = match &graded.total {
        Total::Grade { name, percent, .. } => (guarded(name), percent.to_string()),
        Total::None(_) => (String::new(), String::new()),
    };
    [
        text(&graded.player.section),
        guarded(&plain(&graded.player.name)),
        text(&graded.player.outside_id),
        text(&graded.player.instrument),
        guarded(&plain(&graded.exercise.title)),
        graded.exercise.id.to_string(),
        name,
        percent,
        guarded(&std::iter::once(words.how).chain(words.remarks).collect::<Vec<_>>().join(" ")),
        words.retake.unwrap_or_default(),
    ]
}

fn of_row(graded: &Graded, place: usize, rubric: &Rubric) -> [String; 11] {
    let row = &rubric.rows[place];
    let outcome = &graded.rows[place];
    let (percent, good, of, takes, first) = match outcome {
        Outcome::Measured(measured) => {
            let takes: Vec<_> = measured.from.iter().filter_map(|&place| graded.takes.get(place)).collect();
            let numbers: Vec<String> = takes.iter().map(|take| take.take.to_string()).collect();
            (
                measured.percent.to_string(),
                measured.count.good.to_string(),
                measured.count.of.to_string(),
                numbers.join(" "),
                takes.first().map_or(String::new(), |take| day(take.begun_us)),
            )
        }
        Outcome::Marked { marked_us, .. } => {
            (String::new(), String::new(), String::new(), String::new(), day(*marked_us))
        }
        Outcome::None(_) => Default::default(),
    };
    [
        row.id.clone(),
        guarded(&row.title),
        row.weight.to_string(),
        outcome.step().map_or(String::new(), |step| step.to_string()),
        rubric.steps.len().to_string(),
        percent,
        good,
        of,
        takes,
        first,
        guarded(&row_words(graded, place, rubric).how),
    ]
}
