//! `restward book players`.

use super::super::Outcome;
use super::Which;
use crate::book::{Book, plain};
use crate::plain::escaped;
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
        writeln!(out, "{}", escaped(&serde_json::json!({ "players": players }).to_string()))?;
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

/// Columns as wide as they need, in 80 columns; what is longer is cut.
pub(super) fn table<const N: usize>(
    out: &mut impl Write,
    heading: [&str; N],
    rows: impl Iterator<Item = [String; N]>,
) -> io::Result<()> {
    let rows: Vec<[String; N]> = std::iter::once(heading.map(str::to_owned)).chain(rows).collect();
    let mut widths = [0; N];
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    // The widest column gives way until all fit.
    while widths.iter().map(|width| width + 2).sum::<usize>() > 81 {
        let Some(widest) = widths.iter_mut().max() else { break };
        *widest -= 1;
    }
    for row in &rows {
        let mut line = String::new();
        for (cell, &width) in row.iter().zip(&widths) {
            let shown: String = if cell.chars().count() > width {
                cell.chars().take(width.saturating_sub(1)).chain(['…']).collect()
            } else {
                cell.clone()
            };
            line.push_str(&format!("{shown:<width$}  "));
        }
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
