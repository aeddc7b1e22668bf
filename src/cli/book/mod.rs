//! `restward book`: the file that keeps players, exercises, takes and findings.

mod again;
mod care;
mod export;
mod listening;
mod player;
mod players;
mod roster;

pub(super) use again::progress;
pub(super) use listening::{Kept, Known, Opened};

use super::{Failure, Outcome};
use crate::book::{BookError, Contents, Player, plain};
use crate::show::counted;
use crate::show::moment as when;
use std::path::PathBuf;

/// The book: who plays, what was played, what was found.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book roster --book band.db players.csv
  restward book roster --book band.db players.csv --yes
  restward book players --book band.db
  restward listen march.musicxml --book band.db --player Mia=wind
  restward book verify --book band.db
  restward book backup --book band.db band-2026-03-04.db")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(clap::Subcommand)]
enum Command {
    Roster(roster::Arguments),
    Players(players::Arguments),
    Player(player::Arguments),
    Verify(again::Verify),
    Rejudge(again::Rejudge),
    Backup(care::Backup),
    Forget(care::Forget),
    Export(export::Arguments),
}

/// Which book.
#[derive(clap::Args)]
struct Which {
    /// The book
    #[arg(long, value_name = "FILE")]
    book: PathBuf,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    match arguments.command {
        Command::Roster(arguments) => roster::run(&arguments),
        Command::Players(arguments) => players::run(&arguments),
        Command::Player(arguments) => player::run(&arguments),
        Command::Verify(arguments) => again::verify(&arguments),
        Command::Rejudge(arguments) => again::rejudge(&arguments),
        Command::Backup(arguments) => care::backup(&arguments),
        Command::Forget(arguments) => care::forget(&arguments),
        Command::Export(arguments) => export::run(&arguments),
    }
}

impl From<BookError> for Failure {
    fn from(error: BookError) -> Failure {
        if error.problem.is_machine() { Failure::Machine(error.to_string()) } else { Failure::input(error) }
    }
}

/// `30 players, 2 exercises, 1 take`.
fn contents_of(contents: &Contents) -> String {
    let Contents { players, exercises, takes, .. } = *contents;
    let counted = |count: i64, what| counted(usize::try_from(count).unwrap_or(0), what);
    [counted(players, "player"), counted(exercises, "exercise"), counted(takes, "take")].join(", ")
}

/// What is known of a player beside the name: `flute, Woodwinds, first-year, id 17`.
fn known_of(player: &Player) -> String {
    let known = [&player.instrument, &player.section, &player.level].into_iter().flatten();
    let id = player.outside_id.iter().map(|id| format!("id {id}"));
    known.cloned().chain(id).map(|text| plain(&text)).collect::<Vec<_>>().join(", ")
}
