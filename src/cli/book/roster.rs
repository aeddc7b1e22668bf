//! `restward book roster`: players from a CSV file.

use super::super::{Failure, Outcome, given};
use super::Which;
use crate::book::{Book, Changes, Fate, Roster};
use crate::show::{table, wrapped};
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;

/// Enters players from a CSV file of any school's making; shows first what it understood.
///
/// The first line names the columns: name (or first name and last name), instrument, section, level, id. What the book
/// knows already stays, unless --over is given; an empty cell never takes anything away.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book roster --book band.db players.csv          shows, changes nothing
  restward book roster --book band.db players.csv --yes    enters
  restward book roster --book band.db players.csv --over   shows what would change")]
pub(super) struct Arguments {
    #[command(flatten)]
    which: Which,
    /// The roster: comma, semicolon or tab; UTF-8, UTF-16 or Latin-1
    roster: PathBuf,
    /// Where the book knows otherwise, the roster's values count; of one school id, its name
    #[arg(long)]
    over: bool,
    /// Enter them; without it they are only shown
    #[arg(long)]
    yes: bool,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let Arguments { which, roster: file, over, yes } = arguments;
    let roster = Roster::read_file(file)
        .map_err(|error| Failure::Input(format!("{}: {}", file.display(), given::unread(&error))))?;
    let is_begun = std::fs::metadata(&which.book).is_ok_and(|book| book.len() > 0);
    let known = if is_begun { Book::open(&which.book)?.players()? } else { Vec::new() };
    let changes = roster.changes(&known, *over);
    let mut out = anstream::stdout().lock();
    if !roster.entries.is_empty() {
        preview(&mut out, &roster, &changes)?;
    }
    let is_over_useful = !over && !changes.differences.is_empty();
    let hint = is_over_useful.then(|| "If the roster is right, --over puts its values into the book.".to_owned());
    for notice in roster.notices.iter().chain(&changes.differences).chain(&hint) {
        writeln!(out, "{}", wrapped(notice, 80, "").join("\n"))?;
    }
    out.flush()?;
    let problems: Vec<&String> = roster.problems.iter().chain(&changes.problems).collect();
    if !problems.is_empty() {
        let file = file.display();
        let problems: Vec<String> = problems.iter().map(|problem| format!("{file}: {problem}")).collect();
        return Err(Failure::Input(format!("{}\nNothing was entered.", problems.join("\nrestward: "))));
    }
    let (new, changed) = (changes.new.len(), changes.changed.len());
    let book = which.book.display();
    let question = if changed == 0 {
        format!("Enter {} into {book}?", players(new))
    } else {
        format!("Enter {} into {book} and change {changed}?", players(new))
    };
    if !yes && !agreed(&mut out, &question)? {
        writeln!(out, "Nothing was entered. To enter them, type the same again with --yes.")?;
        return Ok(());
    }
    Book::open_or_begin(&which.book)?.enter_roster(&changes)?;
    let known = roster.entries.len() - new;
    let changed = if changed == 0 { String::new() } else { format!(", {changed} of them changed") };
    writeln!(out, "{} entered; {known} known already{changed}.", players(new))?;
    Ok(())
}

fn players(count: usize) -> String {
    if count == 1 { "1 player".into() } else { format!("{count} players") }
}

/// Asks on a terminal; elsewhere nobody can agree.
pub(super) fn agreed(out: &mut impl Write, question: &str) -> io::Result<bool> {
    if !io::stdin().is_terminal() || !io::stdout().is_terminal() {
        return Ok(false);
    }
    write!(out, "{question} [y/N] ")?;
    out.flush()?;
    let mut answer = String::new();
    io::stdin().read_line(&mut answer)?;
    Ok(matches!(answer.trim(), "y" | "Y" | "yes"))
}

fn preview(out: &mut impl Write, roster: &Roster, changes: &Changes) -> io::Result<()> {
    let rows = roster.entries.iter().zip(&changes.fates).map(|((line, entry), fate)| {
        let cell = |text: &Option<String>| text.clone().unwrap_or_default();
        let fate = match fate {
            Fate::New => "new",
            Fate::Known => "known",
            Fate::Changed => "changes",
        };
        [
            line.to_string(),
            entry.name.clone(),
            cell(&entry.instrument),
            cell(&entry.section),
            cell(&entry.level),
            cell(&entry.outside_id),
            fate.to_owned(),
        ]
    });
    table(out, ["line", "player", "instrument", "section", "level", "id", ""], rows)?;
    writeln!(out)
}
