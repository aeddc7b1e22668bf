//! Grades against calculations by hand, shown beside each; bands, weights and words are those of `config/rubric.toml` unless a test
//! says otherwise.

mod examples;
mod never_lower;
mod rubrics;

use super::{Graded, Rubric};
use crate::book::{Attempt, KeptExercise, Mark, Player};
use crate::judge::Count;

/// Right notes, changed notes, releases, entrances: good and of.
type Counts = [(usize, usize); 4];

/// A take on day `take`.
fn attempt(take: i64, counts: Counts) -> Attempt {
    let [right_pitches, changed_notes, full_releases, entrances] = counts.map(|(good, of)| Count { good, of });
    Attempt {
        take,
        player: 1,
        exercise: 1,
        begun_us: take * 86_400_000_000,
        instrument: None,
        level: "first-year".into(),
        fits: true,
        notes: right_pitches.of,
        right_pitches,
        changed_notes,
        full_releases,
        entrances,
        extra: 0,
        restarts: 0,
        close: 0,
    }
}

fn mark(row: &str, step: u8) -> Mark {
    Mark { player: 1, exercise: 1, row: row.into(), step, marked_us: 0 }
}

fn graded(takes: &[Attempt], marks: &[Mark], rubric: &Rubric) -> Graded {
    let (instrument, section, level, outside_id) = (None, None, None, None);
    let player = Player { id: 1, name: "Ines".into(), instrument, section, level, outside_id };
    let exercise = KeptExercise { id: 1, title: "March".into(), file_name: "march.abc".into() };
    let (takes, marks): (Vec<_>, Vec<_>) = (takes.iter().collect(), marks.iter().collect());
    super::grading::grade(player, exercise, &takes, &marks, rubric)
}

/// `config/rubric.toml` with something else in it.
fn rubric(changes: &[(&str, &str)]) -> Rubric {
    let mut text = include_str!("../../../config/rubric.toml").to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    Rubric::parse(&text).unwrap()
}

/// The steps of the measured rows.
fn steps(graded: &Graded) -> [Option<usize>; 4] {
    [0, 1, 2, 3].map(|place| graded.rows[place].step())
}
