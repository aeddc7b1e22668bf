//! `restward mark`: marks by hand, for what MIDI cannot tell.

mod round;
mod screen;

use super::choose::Chosen;
use super::grades::rubric;
use super::{Failure, Outcome};
use crate::book::{Book, KeptExercise, Mark, Player, now_us, plain};
use crate::grade::{Graded, Row, Rubric, grades};
use round::{Change, Place, Round};
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;

/// Marks by hand what restward cannot hear: tone, posture, articulation, dynamics, or what your rubric has.
///
/// On a terminal it goes from player to player and row to row, one key each. Every mark is in the book at once. It asks for
/// players who have a take or a mark in the exercise; with ROW=STEP anybody can be marked.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward mark --book band.db --exercise March --section flutes
  restward mark --book band.db --exercise March --player Ines tone=3 posture=4
  restward mark --book band.db --exercise March --player Ines tone=none")]
pub(super) struct Arguments {
    /// The book
    #[arg(long, value_name = "FILE")]
    book: PathBuf,
    #[command(flatten)]
    chosen: Chosen,
    /// Your own rubric
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// Marks to give without being asked: the row's id and the step, or none to take it back; for one --player and one
    /// --exercise
    #[arg(value_name = "ROW=STEP")]
    marks: Vec<String>,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let rubric = rubric(arguments.rubric.as_deref())?;
    let mut book = Book::open(&arguments.book)?;
    if !arguments.marks.is_empty() {
        let given = arguments.marks.iter().map(|text| given(text, &rubric)).collect::<Result<Vec<_>, _>>()?;
        return give(&mut book, &arguments.chosen, &given);
    }
    if !io::stdin().is_terminal() || !io::stdout().is_terminal() {
        let what = "this is no terminal: give the marks, as in --player Ines --exercise March tone=3 posture=4";
        return Err(Failure::Usage(what.into()));
    }
    let found = arguments.chosen.find(&mut book)?;
    let graded = grades(&mut book, &found.wanted, &rubric)?;
    let is_asked = |graded: &&Graded| {
        let has_take = !graded.takes.is_empty() || graded.unfit > 0;
        let is_marked =
            graded.rows.iter().zip(&rubric.rows).any(|(outcome, row)| by_hand(row) && outcome.step().is_some());
        found.has(graded.player.id, graded.exercise.id) && (has_take || is_marked)
    };
    let graded: Vec<&Graded> = graded.iter().filter(is_asked).collect();
    ask(&mut book, &graded, &rubric)
}

fn by_hand(row: &Row) -> bool {
    row.measures.is_none()
}

/// Goes from player to player and row to row.
fn ask(book: &mut Book, graded: &[&Graded], rubric: &Rubric) -> Outcome {
    let rows: Vec<usize> = (0..rubric.rows.len()).filter(|&row| by_hand(&rubric.rows[row])).collect();
    let mut out = io::stdout().lock();
    if rows.is_empty() || graded.is_empty() {
        let why = if rows.is_empty() { "the rubric has no row to mark by hand" } else { "nobody has a take of it yet" };
        writeln!(out, "There is nothing to mark: {why}.")?;
        return Ok(());
    }
    let place = |(of, graded): (usize, &&Graded)| {
        let step = |row: usize| graded.rows[row].step().and_then(|step| u8::try_from(step).ok());
        rows.iter().map(|&row| Place { of, row, step: step(row) }).collect::<Vec<_>>()
    };
    let places: Vec<Place> = graded.iter().enumerate().flat_map(place).collect();
    let mut round = Round::new(places.clone(), u8::try_from(rubric.steps.len()).unwrap_or(u8::MAX));
    let change = |change: Change| -> Outcome {
        let Place { of, row, .. } = places[change.place];
        let (player, exercise) = (graded[of].player.id, graded[of].exercise.id);
        set(book, player, exercise, &rubric.rows[row].id, change.step)
    };
    screen::ask(&mut out, &mut round, graded, rubric, change)?;
    let (given, passed) = round.counts();
    let left = round.places.len() - given - passed;
    writeln!(out, "\n{} given, {passed} skipped, {left} not asked.", marks(given))?;
    Ok(())
}

fn marks(count: usize) -> String {
    if count == 1 { "1 mark".into() } else { format!("{count} marks") }
}

fn set(book: &mut Book, player: i64, exercise: i64, row: &str, step: Option<u8>) -> Outcome {
    match step {
        Some(step) => book.give_mark(&Mark { player, exercise, row: row.to_owned(), step, marked_us: now_us() })?,
        None => {
            book.take_mark_back(player, exercise, row)?;
        }
    }
    Ok(())
}

/// Reads `tone=3`.
fn given<'a>(text: &str, rubric: &'a Rubric) -> Result<(&'a Row, Option<u8>), Failure> {
    let (id, step) = text
        .split_once('=')
        .ok_or_else(|| Failure::Usage(format!("{}: a mark is written ROW=STEP, as in tone=3", plain(text))))?;
    let hand: Vec<&str> = rubric.rows.iter().filter(|row| by_hand(row)).map(|row| row.id.as_str()).collect();
    let Some(row) = rubric.rows.iter().find(|row| row.id == id) else {
        return Err(Failure::Input(format!(
            "the rubric has no row {}; marked by hand are: {}",
            plain(id),
            hand.join(", ")
        )));
    };
    if !by_hand(row) {
        return Err(Failure::Input(format!("{id} is measured; marked by hand are: {}", hand.join(", "))));
    }
    if step == "none" {
        return Ok((row, None));
    }
    let steps = rubric.steps.len();
    let known = step.parse::<u8>().ok().filter(|&step| (1..=steps).contains(&usize::from(step)));
    match known {
        Some(step) => Ok((row, Some(step))),
        None => {
            Err(Failure::Input(format!("{id}={}: steps are 1 to {steps}, or none to take a mark back", plain(step))))
        }
    }
}

/// Gives one player marks in one exercise.
fn give(book: &mut Book, chosen: &Chosen, given: &[(&Row, Option<u8>)]) -> Outcome {
    let (player, exercise): (Player, KeptExercise) = chosen.one_of_each(book)?;
    for (row, step) in given {
        set(book, player.id, exercise.id, &row.id, *step)?;
    }
    let mut out = io::stdout().lock();
    let words: Vec<String> = given
        .iter()
        .map(|(row, step)| match step {
            Some(step) => format!("{} {step}", row.title),
            None => format!("{} taken back", row.title),
        })
        .collect();
    writeln!(out, "{}, {}: {}.", plain(&player.name), plain(&exercise.title), words.join(", "))?;
    Ok(())
}
