//! `restward book roster`: players from a CSV file.

use super::super::{Failure, Outcome};
use super::Which;
use crate::book::{Book, Entry, Player, Roster};
use crate::show::table;
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;

/// Enters players from a CSV file of any school's making; shows first what it understood.
///
/// The first line names the columns: name (or first name and last name), instrument, section, level, id. What the book
/// knows already stays.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book roster --book band.db players.csv          shows, changes nothing
  restward book roster --book band.db players.csv --yes    enters")]
pub(super) struct Arguments {
    #[command(flatten)]
    which: Which,
    /// The roster: comma, semicolon or tab; UTF-8, UTF-16 or Latin-1
    roster: PathBuf,
    /// Enter them; without it they are only shown
    #[arg(long)]
    yes: bool,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let Arguments { which, roster: file, yes } = arguments;
    let bytes = std::fs::read(file).map_err(|error| Failure::input(format!("{}: {error}", file.display())))?;
    let roster = Roster::read(&bytes);
    let known = if which.book.exists() { Book::open(&which.book)?.players()? } else { Vec::new() };
    let mut problems = roster.problems.clone();
    problems.extend(taken_ids(&roster, &known));
    let mut out = anstream::stdout().lock();
    if !roster.entries.is_empty() {
        preview(&mut out, &roster, &known)?;
    }
    for notice in roster.notices.iter().chain(&differences(&roster, &known)) {
        writeln!(out, "{}", crate::show::wrapped(notice, 80, "").join("\n"))?;
    }
    out.flush()?;
    if !problems.is_empty() {
        let file = file.display();
        let problems: Vec<String> = problems.iter().map(|problem| format!("{file}: {problem}")).collect();
        return Err(Failure::Input(format!("{}\nNothing was entered.", problems.join("\nrestward: "))));
    }
    let question = format!("Enter {} into {}?", players(roster.entries.len()), which.book.display());
    if !yes && !agreed(&mut out, &question)? {
        writeln!(out, "Nothing was entered. To enter them, type the same again with --yes.")?;
        return Ok(());
    }
    let entries: Vec<Entry> = roster.entries.into_iter().map(|(_, entry)| entry).collect();
    let entered = Book::open_or_begin(&which.book)?.enter(&entries)?;
    writeln!(out, "{} entered; {} known already.", players(entered), entries.len() - entered)?;
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

fn find<'a>(known: &'a [Player], entry: &Entry) -> Option<&'a Player> {
    known.iter().find(|player| player.name.eq_ignore_ascii_case(&entry.name))
}

fn preview(out: &mut impl Write, roster: &Roster, known: &[Player]) -> io::Result<()> {
    let rows = roster.entries.iter().map(|(line, entry)| {
        let cell = |text: &Option<String>| text.clone().unwrap_or_default();
        let is_new = if find(known, entry).is_some() { "known" } else { "new" };
        [
            line.to_string(),
            entry.name.clone(),
            cell(&entry.instrument),
            cell(&entry.section),
            cell(&entry.level),
            cell(&entry.outside_id),
            is_new.to_owned(),
        ]
    });
    table(out, ["line", "player", "instrument", "section", "level", "id", ""], rows)?;
    writeln!(out)
}

/// Where the book knows otherwise.
fn differences(roster: &Roster, known: &[Player]) -> Vec<String> {
    let mut sentences = Vec::new();
    for (line, entry) in &roster.entries {
        let Some(player) = find(known, entry) else { continue };
        for (what, ours, theirs) in [
            ("instrument", &player.instrument, &entry.instrument),
            ("section", &player.section, &entry.section),
            ("level", &player.level, &entry.level),
            ("id", &player.outside_id, &entry.outside_id),
        ] {
            if let (Some(ours), Some(theirs)) = (ours, theirs)
                && ours != theirs
            {
                sentences.push(format!(
                    "Line {line}: {}'s {what} is {theirs} here and {ours} in the book; the book's stays.",
                    player.name
                ));
            }
        }
    }
    sentences
}

/// Ids that belong to another player of the book.
fn taken_ids(roster: &Roster, known: &[Player]) -> Vec<String> {
    let taken = roster.entries.iter().filter_map(|(line, entry)| {
        let id = entry.outside_id.as_ref()?;
        let owner = known.iter().find(|player| player.outside_id.as_ref() == Some(id))?;
        let other = !owner.name.eq_ignore_ascii_case(&entry.name);
        other.then(|| format!("line {line}: {} has the id {id}, which {} has in the book", entry.name, owner.name))
    });
    taken.collect()
}
