//! `restward book`: the file that keeps players, exercises, takes and findings.

mod players;
mod roster;

use super::{Failure, Outcome};
use crate::book::BookError;
use std::path::PathBuf;

/// The book: who plays, what was played, what was found.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book roster --book band.db players.csv
  restward book roster --book band.db players.csv --yes
  restward book players --book band.db")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(clap::Subcommand)]
enum Command {
    Roster(roster::Arguments),
    Players(players::Arguments),
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
    }
}

impl From<BookError> for Failure {
    fn from(error: BookError) -> Failure {
        if error.problem.is_machine() { Failure::Machine(error.to_string()) } else { Failure::input(error) }
    }
}
