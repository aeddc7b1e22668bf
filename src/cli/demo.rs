//! `restward demo`.

mod filled;
mod handed;
mod invented;
mod performed;
mod pieces;
mod term;

use super::lanes::{lane, player, player_part};
use super::stage::{self, Report, Setting};
use super::{Failure, Outcome};
use crate::exercise::Micros;
use crate::judge::{Level, Sends};
use crate::listen::{Input, Pace, Replay, Timed, What};
use crate::read::{Choice, read_exercise};
use crate::session::{Plan, PlayerPlan, Plays, Silent, Student};
use crate::theory::default_family;
use std::path::PathBuf;
use std::sync::Arc;

/// Runs a sectional with simulated players, without any hardware; or fills a book with the term of an invented band.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward demo
  restward demo --screen
  restward demo --book band.db
  restward demo --book band.db --until 2026-06-19 --seed 3")]
pub(super) struct Arguments {
    /// Do not wait: the same take in a moment
    #[arg(long, conflicts_with = "book")]
    fast: bool,
    /// Other accidents: the same number plays the same takes
    #[arg(long, value_name = "N", default_value_t = 7)]
    seed: u64,
    /// Six simulated players hand round two controllers, on the full screen
    #[arg(long, conflicts_with = "book")]
    screen: bool,
    /// Lines for people or for programs
    #[arg(long, value_enum, default_value_t = Report::Text, conflicts_with = "book")]
    report: Report,
    /// A new book, filled with eight weeks of a band of thirty
    #[arg(long, value_name = "FILE")]
    book: Option<PathBuf>,
    /// The last day of those eight weeks
    #[arg(long, value_name = "DATE", requires = "book", default_value = "2026-03-27", value_parser = super::choose::date)]
    until: jiff::civil::Date,
}

/// The exercise, ours: eight measures in concert E♭ major, where A is flat.
const EXERCISE: &[u8] = include_bytes!("../../config/exercises/lantern-walk.musicxml");
const TITLE: &str = "Lantern Walk";

/// A simulated player: name, instrument, part, missed changed notes, short holds.
const PLAYERS: [(&str, &str, usize, usize); 3] =
    [("Ada", "flute", 1, 0), ("Ben", "trumpet", 1, 1), ("Cleo", "alto-sax", 0, 1)];

pub(super) fn run(arguments: Arguments) -> Outcome {
    match &arguments.book {
        Some(book) => filled::run(book, arguments.seed, arguments.until),
        None if arguments.screen => handed::run(arguments.fast, arguments.seed, arguments.report),
        None => sectional(&arguments),
    }
}

fn sectional(arguments: &Arguments) -> Outcome {
    let (mut lanes, mut players) = (Vec::new(), Vec::new());
    let mut students = Vec::new();
    for (channel, (name, instrument, missed_changes, short_holds)) in (0..).zip(PLAYERS) {
        let number = arguments.seed.wrapping_add(u64::from(channel).wrapping_mul(1_000));
        let (player, student) = simulated(
            name,
            instrument,
            Student { number, channel, missed_changes, short_holds, ..Student::default() },
        )?;
        students.push(student);
        lanes.push(lane(&port(instrument), Plays::Always(players.len())));
        players.push(player);
    }
    let tempo = players.first().map(|player| player.part.tempo.clone()).unwrap_or_default();
    let parts: Vec<_> = players.iter().map(|player| Arc::clone(&player.part)).collect();
    let plan = Plan {
        exercise: TITLE.into(),
        players,
        lanes,
        queues: Vec::new(),
        click: Some(tempo.clone()),
        count_in: 1,
        takes: Some(1),
        pause: Micros(0),
        handover: Micros(0),
        lingers: false,
        family: default_family(),
        save: None,
    };
    let performance = move |_: usize, zero: Micros| {
        let mut arrivals = Vec::new();
        for (port, (student, part)) in (0..).zip(students.iter().zip(&parts)) {
            let played = student.play(part, &tempo, zero).into_iter();
            arrivals.extend(played.map(|(at, bytes)| Timed { at, what: Input { port, what: What::Bytes(bytes) } }));
        }
        arrivals
    };
    let names = PLAYERS.iter().map(|(_, instrument, ..)| port(instrument)).collect();
    let pace = if arguments.fast { Pace::Fast } else { Pace::Real };
    let mut source = Replay::new(names, pace, Box::new(performance));
    let setting = Setting {
        report: arguments.report,
        keys: !arguments.fast,
        opening: vec![
            "The Lantern Hill Band has a sectional: Ada, Ben and Cleo play the same eight measures, each as it is \
             written for the instrument. The players are simulated, nothing is kept."
                .into(),
        ],
        ..Setting::default()
    };
    stage::run(&plan, &mut source, &mut Silent, None, None, setting)?;
    if arguments.report == Report::Text {
        stage::print(&[
            "",
            "Now with a real controller. Plug it in, then type:",
            "  restward ports",
            "  restward listen EXERCISE.musicxml --player Ada=PORT:flute",
            "EXERCISE.musicxml is what your notation program exports; PORT is part of the",
            "name that restward ports shows.",
        ])?;
    }
    Ok(())
}

/// What a simulated player's controller is called.
fn port(instrument: &str) -> String {
    format!("simulated {instrument}")
}

/// A player with an instrument's part of the built-in exercise, and the one who plays it, as `student` says.
fn simulated(name: &str, instrument: &str, student: Student) -> Result<(PlayerPlan, Student), Failure> {
    let read = |choice: &Choice| read_exercise(EXERCISE, choice).map_err(Failure::input);
    let found = player_part(read, None, Some(instrument))?;
    let player = player(name, found, Sends::Written, Level::FirstYear);
    let changed = stage::changed(&default_family(), &player);
    Ok((player, Student { sends_written: true, changed, ..student }))
}
