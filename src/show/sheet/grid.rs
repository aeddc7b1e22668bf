//! The count as cells: a word, and under it what is heard. Text and HTML draw the same cells.

use super::words::label;
use crate::exercise::Note;
use crate::prepare::{Sheet, State};
use crate::theory::{Pitch, Rank, sign};

/// A measure of the count, or several of rest.
pub(super) struct Row {
    /// The first measure, an index into the part's measures.
    pub(super) first: usize,
    /// The printed label, or `5 to 8`.
    pub(super) measure: String,
    /// How many measures of rest; 0 for a measure with cells.
    pub(super) rests: usize,
    /// The cells in order.
    pub(super) cells: Vec<Cell>,
}

/// One word of the count.
pub(super) struct Cell {
    /// What is said.
    pub(super) spoken: String,
    /// The name of the note that begins, `–` while it sounds, `off` where it is let go, nothing for a rest.
    pub(super) heard: String,
    /// What it is.
    pub(super) kind: Kind,
}

/// What a cell is, for its looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Begins,
    /// A primary or secondary changed note begins: its name stands in parentheses.
    Changed,
    Sounds,
    Release,
    Rest,
}

impl Kind {
    /// What everybody does on it, whichever note it is.
    pub(super) fn action(self) -> &'static str {
        match self {
            Kind::Begins | Kind::Changed => "play",
            Kind::Sounds => "–",
            Kind::Release => "off",
            Kind::Rest => "",
        }
    }
}

/// The rows of a sheet; measures of rest in a row are one.
pub(super) fn rows(sheet: &Sheet) -> Vec<Row> {
    let mut changed = vec![false; sheet.part.notes.len()];
    let ranked = sheet.sections.iter().flat_map(|section| &section.changed).filter(|it| it.changed.rank != Rank::Other);
    ranked.flat_map(|it| &it.notes).for_each(|&note| changed[note] = true);
    let sustains = sheet.instrument.as_ref().is_none_or(|instrument| instrument.sustains);
    let mut rows: Vec<Row> = Vec::new();
    let mut rest_from = String::new();
    for counted in &sheet.counts {
        let name = label(&sheet.part, counted.measure);
        if counted.is_silent() {
            match rows.last_mut().filter(|row| row.rests > 0) {
                Some(row) => {
                    row.rests += 1;
                    row.measure = format!("{rest_from}–{name}");
                }
                None => {
                    rest_from.clone_from(&name);
                    rows.push(Row { first: counted.measure, measure: name, rests: 1, cells: Vec::new() });
                }
            }
            continue;
        }
        let cells = counted.counts.iter().map(|count| {
            let (heard, kind) = match count.state {
                State::Begins(note) if changed[note] => {
                    let Pitch { letter, alter, .. } = sheet.part.notes[note].written;
                    (format!("({letter}{})", sign::symbol(alter)), Kind::Changed)
                }
                State::Begins(note) => (name_of(&sheet.part.notes[note]), Kind::Begins),
                State::Sounds(_) => ("–".into(), Kind::Sounds),
                State::Rest if count.releases.is_some() && sustains => ("off".into(), Kind::Release),
                State::Rest => (String::new(), Kind::Rest),
            };
            Cell { spoken: count.spoken.clone(), heard, kind }
        });
        rows.push(Row { first: counted.measure, measure: name, rests: 0, cells: cells.collect() });
    }
    rows
}

/// `F♯`, `B♭`, `C`; a natural shows its sign where the signature alters the letter.
fn name_of(note: &Note) -> String {
    let (letter, alter) = (note.written.letter, note.written.alter);
    let shows = alter != 0 || note.key.alter(letter) != 0;
    if shows { format!("{letter}{}", sign::symbol(alter)) } else { letter.to_string() }
}
