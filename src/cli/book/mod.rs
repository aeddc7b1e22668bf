//! `restward book`: the file that keeps players, exercises, takes and findings.

mod again;
mod care;
mod listening;
mod players;
mod roster;

pub(super) use listening::{Kept, Known, Opened};

use super::{Failure, Outcome};
use crate::book::BookError;
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
    Verify(again::Verify),
    Rejudge(again::Rejudge),
    Backup(care::Backup),
    Forget(care::Forget),
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
        Command::Verify(arguments) => again::verify(&arguments),
        Command::Rejudge(arguments) => again::rejudge(&arguments),
        Command::Backup(arguments) => care::backup(&arguments),
        Command::Forget(arguments) => care::forget(&arguments),
    }
}

impl From<BookError> for Failure {
    fn from(error: BookError) -> Failure {
        if error.problem.is_machine() { Failure::Machine(error.to_string()) } else { Failure::input(error) }
    }
}

/// A time for people, `2026-03-04 15:06 UTC`, of microseconds since 1970.
fn when(us: i64) -> String {
    let minutes = us.div_euclid(60_000_000);
    let (days, minute) = (minutes.div_euclid(1_440), minutes.rem_euclid(1_440));
    // The calendar repeats every 400 years = 146,097 days; years begin in March, so that the leap day is their last
    // (the proleptic Gregorian calendar of ISO 8601).
    let day = days + 719_468;
    let (era, of_era) = (day.div_euclid(146_097), day.rem_euclid(146_097));
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let of_month = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = 400 * era + year + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{of_month:02} {:02}:{:02} UTC", minute / 60, minute % 60)
}

#[cfg(test)]
mod tests {
    use super::when;

    /// Values of `date -u -d @SECONDS` (GNU coreutils).
    #[test]
    fn times_for_people() {
        for (seconds, expected) in [
            (0, "1970-01-01 00:00 UTC"),
            (951_827_696, "2000-02-29 12:34 UTC"),
            (1_700_000_000, "2023-11-14 22:13 UTC"),
            (4_107_542_399, "2100-02-28 23:59 UTC"),
            (4_107_542_400, "2100-03-01 00:00 UTC"),
        ] {
            assert_eq!(when(seconds * 1_000_000), expected);
        }
    }
}
