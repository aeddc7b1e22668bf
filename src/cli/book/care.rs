//! `restward book backup` and `restward book forget`.

use super::super::{Outcome, named};
use super::{Which, contents_of, known_of, roster::agreed, when};
use crate::book::{Book, plain};
use crate::show::wrapped;
use std::io::{self, Write};
use std::path::PathBuf;

/// Copies the book, also while restward listens into it.
#[derive(clap::Args)]
#[command(after_help = "Example:  restward book backup --book band.db band-2026-03-04.db")]
pub(super) struct Backup {
    #[command(flatten)]
    which: Which,
    /// The copy; a file that is there is not written over
    to: PathBuf,
}

/// Erases a player: all takes, findings and marks; says first what that is.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book forget --book band.db Ines          shows, erases nothing
  restward book forget --book band.db Ines --yes    erases")]
pub(super) struct Forget {
    #[command(flatten)]
    which: Which,
    /// The player's name
    player: String,
    /// Erase; without it nothing is erased
    #[arg(long)]
    yes: bool,
}

pub(super) fn backup(arguments: &Backup) -> Outcome {
    let mut book = Book::open(&arguments.which.book)?;
    book.back_up(&arguments.to)?;
    let contents = Book::open(&arguments.to)?.contents()?;
    let to = plain(&arguments.to.to_string_lossy());
    let mut out = io::stdout().lock();
    writeln!(out, "{to}: {}.", contents_of(&contents))?;
    Ok(())
}

pub(super) fn forget(arguments: &Forget) -> Outcome {
    let path = &arguments.which.book;
    let mut book = Book::open(path)?;
    let player = named::exact_player(&mut book, &arguments.player)?;
    let held = book.held_of(&player)?;
    let known = known_of(&player);
    let known = if known.is_empty() { known } else { format!(" ({known})") };
    let span =
        held.span_us.map_or_else(String::new, |(first, last)| format!(" from {} to {}", when(first), when(last)));
    let all = format!(
        "{}{known}, {} takes{span} with all that was played, {} findings, {} marks, {} times absent",
        player.name, held.takes, held.findings, held.marks, held.absences
    );
    let mut out = anstream::stdout().lock();
    let mut say = |text: &str| writeln!(out, "{}", wrapped(text, 80, "").join("\n"));
    if !arguments.yes {
        say(&format!("To be erased from {}: {all}.", path.display()))?;
        if !agreed(&mut io::stdout(), "Erase this? It cannot be undone.")? {
            say("Nothing was erased. To erase it, type the same again with --yes.")?;
            return Ok(());
        }
    }
    let is_clean = book.forget(&player)?;
    say(&format!("Erased from {}: {all}.", path.display()))?;
    if !is_clean {
        say("Another program has the book open: the last traces in the file go when it is closed.")?;
    }
    say("Not in the book, so not erased: backups, takes saved with --save, summaries, grades handed in.")?;
    Ok(())
}
