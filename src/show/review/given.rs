//! Grades on a page: of a section in one table, of a player with how each came about.

use super::Reviewed;
use crate::grade::{Graded, NoStep, Outcome, Rubric, Total};
use crate::show::{row_words, total_words};

/// The grades of a section: players by exercises.
pub(super) struct Overview {
    pub(super) exercises: Vec<String>,
    pub(super) rows: Vec<(String, Vec<String>)>,
}

/// A grade with how it came about.
pub(super) struct Given {
    pub(super) grade: String,
    /// Row, step, how.
    pub(super) rows: Vec<(String, String, String)>,
    pub(super) remarks: Vec<String>,
}

/// The grades of these players; `None` where there are none.
pub(super) fn overview(players: &[&Reviewed], graded: &[Graded]) -> Option<Overview> {
    let mut exercises: Vec<(i64, String)> = Vec::new();
    let is_here = |graded: &&Graded| players.iter().any(|it| it.player.id == graded.player.id);
    let here: Vec<&Graded> = graded.iter().filter(is_here).collect();
    for graded in &here {
        if !exercises.iter().any(|(id, _)| *id == graded.exercise.id) {
            exercises.push((graded.exercise.id, graded.exercise.title.clone()));
        }
    }
    let row = |reviewed: &&Reviewed| {
        let own = |exercise: i64| {
            let found = here.iter().find(|it| it.player.id == reviewed.player.id && it.exercise.id == exercise);
            found.map_or_else(String::new, |graded| in_short(graded))
        };
        (reviewed.player.name.clone(), exercises.iter().map(|(id, _)| own(*id)).collect())
    };
    let rows = players.iter().map(row).collect();
    (!here.is_empty()).then(|| Overview { rows, exercises: exercises.into_iter().map(|(_, title)| title).collect() })
}

/// `B`, `B, play again`, `too little yet`.
fn in_short(graded: &Graded) -> String {
    let grade = match &graded.total {
        Total::Grade { name, .. } => name.as_str(),
        Total::None(_) => "too little yet",
    };
    let again = match (graded.retake.is_empty(), graded.takes.is_empty()) {
        (true, _) => "",
        (false, true) => ", please play",
        (false, false) => ", play again",
    };
    format!("{grade}{again}")
}

pub(super) fn given(graded: &Graded, rubric: &Rubric) -> Given {
    let total = total_words(graded, rubric);
    // What is not marked yet is told once, in the remarks.
    let is_marked = |place: &usize| !matches!(graded.rows.get(*place), Some(Outcome::None(NoStep::NotMarked)));
    let rows = rubric.rows.iter().enumerate().filter(|(place, _)| is_marked(place)).map(|(place, row)| {
        let words = row_words(graded, place, rubric);
        (row.title.clone(), words.step.unwrap_or_else(|| "-".into()), words.how)
    });
    let sum = format!("{}.", total.how.trim_end_matches('.'));
    let remarks = std::iter::once(sum).chain(total.remarks).chain(total.retake);
    Given { grade: total.grade, rows: rows.collect(), remarks: remarks.collect() }
}
