//! `restward book players`.

use super::super::Outcome;
use super::Which;
use crate::book::{Book, plain};
use crate::show::table;
use std::io::{self, Write};

/// Lists the players.
#[derive(clap::Args)]
#[command(after_help = "Example:  restward book players --book band.db")]
pub(super) struct Arguments {
    #[command(flatten)]
    which: Which,
    /// For programs
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let players = Book::open(&arguments.which.book)?.players()?;
    let mut out = io::stdout().lock();
    if arguments.json {
        serde_json::to_writer(&mut out, &serde_json::json!({ "players": players })).map_err(io::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    if players.is_empty() {
        writeln!(out, "There are no players yet. Enter them with: restward book roster --book FILE players.csv")?;
        return Ok(());
    }
    let rows = players.iter().map(|player| {
        let known = |text: &Option<String>| text.as_deref().map(plain).unwrap_or_default();
        [
            plain(&player.name),
            known(&player.instrument),
            known(&player.section),
            known(&player.level),
            known(&player.outside_id),
        ]
    });
    table(&mut out, ["player", "instrument", "section", "level", "id"], rows)?;
    Ok(())
}
