//! From a book to grades: one pass over its attempts.

use super::evidence::measured;
use super::total::total;
use super::{Graded, NoStep, Outcome, Played, Retake, Row, Rubric, WhichTakes};
use crate::book::{Attempt, Book, BookError, KeptExercise, Mark, Player, Wanted};
use std::collections::{BTreeMap, HashMap};

/// Attempts of one player, the oldest first.
type Takes<'a> = Vec<&'a Attempt>;

/// Grades the takes that are wanted, by section, player and exercise (the first played first).
///
/// Whoever has no take of an exercise that somebody of the same section played or was marked in is there too, without a grade.
/// Marks count whenever they were given; times in `wanted` are those of takes.
pub fn grades(book: &mut Book, wanted: &Wanted, rubric: &Rubric) -> Result<Vec<Graded>, BookError> {
    let attempts = book.attempts(wanted)?;
    let marks = book.marks()?;
    let exercises: HashMap<i64, KeptExercise> = book.exercises()?.into_iter().map(|it| (it.id, it)).collect();
    let everybody = book.players()?;
    let in_section = |player: &Player| match (&wanted.section, &player.section) {
        (None, _) => true,
        (Some(wanted), Some(section)) => wanted.eq_ignore_ascii_case(section),
        (Some(_), None) => false,
    };
    let is_asked = |player: &Player| wanted.player.is_none_or(|id| id == player.id) && in_section(player);
    let players: Vec<Player> = everybody.into_iter().filter(is_asked).collect();

    let mut of_pair: HashMap<(i64, i64), Takes> = HashMap::new();
    let mut first_played: BTreeMap<i64, i64> = BTreeMap::new();
    for attempt in &attempts {
        of_pair.entry((attempt.player, attempt.exercise)).or_default().push(attempt);
        let first = first_played.entry(attempt.exercise).or_insert(attempt.begun_us);
        *first = (*first).min(attempt.begun_us);
    }
    let any_time = wanted.since_us.is_none() && wanted.until_us.is_none();
    let mut marked: HashMap<(i64, i64), Vec<&Mark>> = HashMap::new();
    for mark in marks.iter().filter(|mark| wanted.exercise.is_none_or(|id| id == mark.exercise)) {
        marked.entry((mark.player, mark.exercise)).or_default().push(mark);
    }
    let asked_of = asked_of(&players, |pair| of_pair.contains_key(pair) || any_time && marked.contains_key(pair), {
        let mut all: Vec<i64> = exercises.keys().copied().collect();
        all.sort_by_key(|id| (first_played.get(id).copied().unwrap_or(i64::MAX), *id));
        all
    });
    let mut graded = Vec::new();
    for player in players {
        for id in asked_of.get(&player.section.as_ref().map(|name| name.to_ascii_lowercase())).into_iter().flatten() {
            let pair = (player.id, *id);
            let Some(exercise) = exercises.get(id) else { continue };
            let takes = of_pair.remove(&pair).unwrap_or_default();
            let marks = marked.remove(&pair).unwrap_or_default();
            graded.push(grade(player.clone(), exercise.clone(), &takes, &marks, rubric));
        }
    }
    Ok(graded)
}

/// For each section the exercises that anybody in it has, in the order given. A player without a section is asked for
/// what others without one have.
fn asked_of(
    players: &[Player],
    has: impl Fn(&(i64, i64)) -> bool,
    exercises: Vec<i64>,
) -> HashMap<Option<String>, Vec<i64>> {
    let mut sections: HashMap<Option<String>, Vec<i64>> = HashMap::new();
    for player in players {
        sections.entry(player.section.as_ref().map(|name| name.to_ascii_lowercase())).or_default().push(player.id);
    }
    let of = |section: (Option<String>, Vec<i64>)| {
        let (name, players) = section;
        let any = |exercise: &i64| players.iter().any(|&player| has(&(player, *exercise)));
        (name, exercises.iter().copied().filter(any).collect())
    };
    sections.into_iter().map(of).collect()
}

pub(super) fn grade(
    player: Player,
    exercise: KeptExercise,
    all: &[&Attempt],
    marks: &[&Mark],
    rubric: &Rubric,
) -> Graded {
    let fitting: Takes = all.iter().copied().filter(|take| take.fits).collect();
    let most = rubric.takes_at_most.unwrap_or(usize::MAX).min(fitting.len());
    let counted = match rubric.which_takes {
        WhichTakes::Newest => &fitting[fitting.len() - most..],
        WhichTakes::First => &fitting[..most],
    };
    let outcome = |row: &Row| match row.measures {
        Some(measure) => measured(counted, row, measure, rubric),
        None => by_hand(marks, row, rubric),
    };
    let rows: Vec<Outcome> = rubric.rows.iter().map(outcome).collect();
    let played = |take: &&Attempt| Played { take: take.take, begun_us: take.begun_us, level: take.level.clone() };
    Graded {
        takes: counted.iter().map(played).collect(),
        unfit: all.len() - fitting.len(),
        beyond: fitting.len() - counted.len(),
        total: total(&rows, rubric),
        retake: retake(&rows, rubric, fitting.len()),
        rows,
        player,
        exercise,
    }
}

fn by_hand(marks: &[&Mark], row: &Row, rubric: &Rubric) -> Outcome {
    match marks.iter().find(|mark| mark.row == row.id) {
        None => Outcome::None(NoStep::NotMarked),
        Some(mark) if (1..=rubric.steps.len()).contains(&usize::from(mark.step)) => {
            Outcome::Marked { step: usize::from(mark.step), marked_us: mark.marked_us }
        }
        Some(mark) => Outcome::None(NoStep::OutsideScale { step: mark.step }),
    }
}

/// Why a player plays again. Nobody does whose takes are used up, where the first so many count.
fn retake(rows: &[Outcome], rubric: &Rubric, fitting: usize) -> Vec<Retake> {
    let Some(rule) = rubric.retake else { return Vec::new() };
    if rubric.which_takes == WhichTakes::First && rubric.takes_at_most.is_some_and(|most| fitting >= most) {
        return Vec::new();
    }
    let why = |(place, outcome): (usize, &Outcome)| match outcome {
        Outcome::Measured(measured) if measured.step < rule.below_step => Some(Retake::Below(place)),
        // Another take of an exercise without changed notes would not have any either.
        Outcome::None(NoStep::NoTake | NoStep::FewNotes { .. } | NoStep::FewTakes { .. }) => {
            Some(Retake::Evidence(place))
        }
        _ => None,
    };
    rows.iter().enumerate().filter_map(why).collect()
}
