//! A roster as schools export it: CSV, whatever its encoding, delimiter and order of columns.
//!
//! In: bytes. Out: entries with the line that each came from, what was left out, and what stands in the way; then, held
//! against the players of a book, what [`super::Book::enter_roster`] is to do.

mod changes;
mod columns;
mod text;

use super::Entry;
use crate::instrument::catalogue;
use crate::judge::Level;
use crate::plain::plain;
pub use changes::{Changes, Fate};
use clap::ValueEnum;
use columns::{Column, Columns};
use csv::StringRecord;
use std::collections::HashMap;
use std::io::{self, Read};
use std::path::Path;

/// A roster as it was understood.
#[derive(Debug, Default)]
pub struct Roster {
    /// The players, each with the line it stands in.
    pub entries: Vec<(u64, Entry)>,
    /// What was guessed or left out, a sentence each.
    pub notices: Vec<String>,
    /// Why it cannot be entered as it is, a sentence each with its line.
    pub problems: Vec<String>,
    /// The ids of all instruments, where one of the roster is not among them.
    unknown: Option<Vec<String>>,
}

/// The longest name, in letters: more is a file misread.
pub(crate) const LONGEST_NAME: usize = 80;
/// The largest roster, in bytes: a school has thousands of pupils, not millions.
const MOST_BYTES: usize = 4 << 20;
/// And so many lines.
const MOST_LINES: usize = 20_000;
/// At most so many problems are listed.
const MOST_PROBLEMS: usize = 20;

impl Roster {
    /// Reads a roster from a file, no more of it than a roster may have.
    pub fn read_file(file: &Path) -> io::Result<Roster> {
        let mut bytes = Vec::new();
        std::fs::File::open(file)?.take(MOST_BYTES as u64 + 1).read_to_end(&mut bytes)?;
        Ok(Roster::read(&bytes))
    }

    /// Reads a roster.
    pub fn read(bytes: &[u8]) -> Roster {
        let refused = |problem: &str| Roster { problems: vec![problem.into()], ..Roster::default() };
        if bytes.len() > MOST_BYTES {
            return refused("the file is larger than 4 megabytes, which no roster is");
        }
        let Some((text, guessed)) = text::decode(bytes) else {
            return refused(
                "this is no text: a spreadsheet must be exported as CSV first (\"Save as\", \"CSV UTF-8\")",
            );
        };
        if text.trim().is_empty() {
            return refused("the file is empty: its first line must name the columns, as in name,instrument,section");
        }
        let mut roster = Roster { notices: guessed.into_iter().collect(), ..Roster::default() };
        roster.read_text(&text);
        if let Some(known) = roster.unknown.take() {
            roster.notices.push(format!("Instruments that restward knows: {}.", known.join(", ")));
        }
        let more = roster.problems.len().saturating_sub(MOST_PROBLEMS);
        roster.problems.truncate(MOST_PROBLEMS);
        if more > 0 {
            roster.problems.push(format!("and {more} more"));
        }
        roster
    }

    fn read_text(&mut self, text: &str) {
        // Some spreadsheets write the delimiter into a line of its own.
        let (text, skipped) = match text.split_once('\n') {
            Some((first, rest)) if first.trim().to_lowercase().starts_with("sep=") => (rest, 1),
            _ => (text, 0),
        };
        let delimiter = delimiter(text);
        let mut rows = rows(text, delimiter);
        let Some(Ok(header)) = rows.next() else {
            self.problems.push("the first line must name the columns, as in name,instrument,section".into());
            return;
        };
        let columns = Columns::guess(&header);
        if ![Column::Name, Column::First, Column::Last].iter().any(|&column| columns.has(column)) {
            self.problems.push(format!(
                "line {}: no column is headed name, student, or first name and last name; write such a first line, as in \
                 name,instrument,section",
                1 + skipped
            ));
            return;
        }
        if !columns.has(Column::Instrument) {
            self.notices.push("No column is headed instrument: the players are entered without one.".into());
        }
        let unused = columns.unused(&header);
        if !unused.is_empty() {
            self.notices.push(format!("Not used: {}.", plain(&unused.join(", "))));
        }
        if let Some(line) = text::open_quote(text, delimiter) {
            self.notices.push(format!(
                "Line {}: a quotation mark is opened there and never closed; look whether every player stands in a line \
                 of their own.",
                line + skipped
            ));
        }
        let (mut seen, mut lines) = (Seen::default(), Lines::default());
        for (number, row) in rows.enumerate() {
            if number == MOST_LINES {
                self.problems.push(format!("there are more than {MOST_LINES} lines, which no roster has"));
                break;
            }
            match row {
                Ok(row) => {
                    let byte = row.position().map_or(0, csv::Position::byte);
                    let line = skipped + lines.at(text, usize::try_from(byte).unwrap_or(usize::MAX));
                    let width = (header.len(), delimiter);
                    self.read_row(line, &row, &columns, width, &mut seen);
                }
                Err(error) => self.problems.push(format!("a line cannot be read: {error}")),
            }
        }
        if self.entries.is_empty() && self.problems.is_empty() {
            self.problems.push("there are no players below the first line".into());
        }
    }

    fn read_row(
        &mut self,
        line: u64,
        row: &StringRecord,
        columns: &Columns,
        (width, delimiter): (usize, u8),
        seen: &mut Seen,
    ) {
        if row.iter().all(|cell| cell.trim().is_empty()) {
            return;
        }
        if row.iter().skip(width).any(|cell| !cell.trim().is_empty()) {
            let sign = match delimiter {
                b';' => "semicolon",
                b'\t' => "tab",
                _ => "comma",
            };
            self.problems.push(format!(
                "line {line}: there are {} cells below {width} headings; put a cell with a {sign} in it into quotes",
                row.len()
            ));
            return;
        }
        let Some(name) = columns.name(row).map(|name| plain(&name)).filter(|name| !name.is_empty()) else {
            self.notices.push(format!("Line {line}: nobody's name stands there; the line is left out."));
            return;
        };
        if name.chars().count() > LONGEST_NAME {
            self.problems.push(format!("line {line}: {}", too_long(&name)));
            return;
        }
        let outside_id = columns.cell(row, Column::Id).map(plain);
        if let Some(first) = seen.names.insert(name.to_lowercase(), line) {
            self.problems.push(format!(
                "line {line}: {name} stands in line {first} already; if they are two, tell them apart, as in {name} B"
            ));
        }
        if let Some(id) = &outside_id
            && let Some((first, other)) = seen.ids.insert(id.clone(), (line, name.clone()))
        {
            self.problems.push(format!("line {line}: {name} has the id {id}, which {other} has in line {first}"));
        }
        let entry = Entry {
            instrument: self.instrument(line, &name, columns, row),
            section: columns.cell(row, Column::Section).map(plain),
            level: self.level(line, &name, columns, row),
            outside_id,
            name,
        };
        self.entries.push((line, entry));
    }

    fn instrument(&mut self, line: u64, name: &str, columns: &Columns, row: &StringRecord) -> Option<String> {
        if !columns.has(Column::Instrument) {
            return None;
        }
        let Some(cell) = columns.cell(row, Column::Instrument) else {
            self.notices.push(format!("Line {line}: {name} has no instrument."));
            return None;
        };
        match catalogue().get(cell) {
            Ok(instrument) => Some(instrument.id.clone()),
            Err(error) => {
                let hint =
                    error.meant.hint().map_or_else(String::new, |hint| format!(" ({})", hint.trim_end_matches('.')));
                self.unknown.get_or_insert(error.known);
                self.notices.push(format!(
                    "Line {line}: {name} plays \"{}\", which is no instrument that restward knows{hint}; entered \
                     without one.",
                    plain(cell),
                ));
                None
            }
        }
    }

    fn level(&mut self, line: u64, name: &str, columns: &Columns, row: &StringRecord) -> Option<String> {
        let cell = columns.cell(row, Column::Level)?;
        let found = level(cell);
        if found.is_none() {
            let known: Vec<String> = Level::value_variants().iter().filter_map(|level| level_name(*level)).collect();
            self.notices.push(format!(
                "Line {line}: {name}'s level \"{}\" is not known; write {}, or 1, 2, 3. Entered without one.",
                plain(cell),
                known.join(", ")
            ));
        }
        found
    }
}

/// Counts lines up to a row: the reader's own count does not know the empty lines before a row.
#[derive(Default)]
struct Lines {
    byte: usize,
    ended: u64,
}

impl Lines {
    /// The line, from 1, in which the row begins that was read from this byte on.
    fn at(&mut self, text: &str, byte: usize) -> u64 {
        let rest = text.as_bytes().get(byte..).unwrap_or_default();
        let empty = rest.iter().take_while(|letter| matches!(letter, b'\r' | b'\n')).count();
        let passed = text.as_bytes().get(self.byte..byte.saturating_add(empty)).unwrap_or_default();
        self.ended += passed.iter().filter(|&&letter| letter == b'\n').count() as u64;
        self.byte += passed.len();
        1 + self.ended
    }
}

/// Names and ids with the lines where they stood first.
#[derive(Default)]
struct Seen {
    names: HashMap<String, u64>,
    ids: HashMap<String, (u64, String)>,
}

fn rows(text: &str, delimiter: u8) -> csv::StringRecordsIntoIter<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .from_reader(text.as_bytes())
        .into_records()
}

/// The delimiter under which most columns of the first line are understood, then the one that makes most cells.
fn delimiter(text: &str) -> u8 {
    let understood = |&delimiter: &u8| match rows(text, delimiter).next() {
        Some(Ok(header)) => (Columns::guess(&header).known(), header.len()),
        _ => (0, 0),
    };
    // Of equals the last counts: the comma.
    b"\t;,".iter().copied().max_by_key(understood).unwrap_or(b',')
}

/// The name of a level that is meant by `second-year`, `Second Year`, `second`, `2`, `2nd year`.
pub(crate) fn level(cell: &str) -> Option<String> {
    let wanted = cell.trim().to_lowercase().replace([' ', '_'], "-");
    let number =
        wanted.chars().find(char::is_ascii_digit).filter(|_| wanted.chars().filter(char::is_ascii_digit).count() == 1);
    let levels = Level::value_variants().iter().copied().zip('1'..);
    levels
        .filter_map(|(level, place)| Some((level_name(level)?, place)))
        .find(|(name, place)| *name == wanted || name.strip_suffix("-year") == Some(&wanted) || number == Some(*place))
        .map(|(name, _)| name)
}

/// Why a name is refused that has more than [`LONGEST_NAME`] letters.
pub(crate) fn too_long(name: &str) -> String {
    let start: String = name.chars().take(20).collect();
    format!("the name {start}… is longer than {LONGEST_NAME} letters")
}

fn level_name(level: Level) -> Option<String> {
    Some(level.to_possible_value()?.get_name().to_owned())
}

#[cfg(test)]
mod tests;
