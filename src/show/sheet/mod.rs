//! Sheets for people and programs: text, JSON, a page to print.
//!
//! In: [`Sheet`]s of [`crate::prepare`], or why there is none. Out: text.

mod card;
mod diagram;
mod fit;
mod grid;
mod html;
mod json;
mod marks;
mod remarks;
mod text;
mod words;

pub use marks::marked;

use crate::instrument::Instrument;
use crate::prepare::Sheet;
use askama::Template;
use std::io::{self, Write};

/// One instrument's sheet, or the sentence that says why it has none.
pub enum SheetOrWhy {
    /// The sheet.
    Sheet(Box<Sheet>),
    /// A part that no sheet can be made of.
    Why {
        /// The part or instrument.
        name: String,
        /// Why.
        sentence: String,
    },
}

/// Writes sheets for people: 80 columns, no colour.
pub fn write_text(out: &mut dyn Write, title: &str, sheets: &[SheetOrWhy]) -> io::Result<()> {
    for (place, sheet) in sheets.iter().enumerate() {
        if place > 0 {
            writeln!(out, "\n")?;
        }
        match sheet {
            SheetOrWhy::Sheet(sheet) => text::write(out, title, sheet)?,
            SheetOrWhy::Why { name, sentence } => {
                let heading = format!("{title} · {name}");
                writeln!(out, "{heading}\n{}", "=".repeat(heading.chars().count().min(80)))?;
                super::wrapped(sentence, 80, "").iter().try_for_each(|line| writeln!(out, "{line}"))?;
            }
        }
    }
    Ok(())
}

/// Sheets for programs: one JSON object.
pub fn json(title: &str, sheets: &[SheetOrWhy]) -> serde_json::Result<Vec<u8>> {
    let mut text = serde_json::to_vec(&json::of(title, sheets))?;
    text.push(b'\n');
    Ok(text)
}

/// The engraved staff of a sheet.
#[derive(Debug, Clone)]
pub enum Staff {
    /// Its systems: SVG of our own engraver, put into the page as they are.
    Systems(Vec<String>),
    /// Why there is none, a sentence.
    Missing(String),
}

/// Sheets as a page to print, with the staff of each sheet in their order; where one is missing the page says why.
pub fn html(title: &str, sheets: &[SheetOrWhy], staves: &[Staff]) -> Result<String, askama::Error> {
    html::document(title, sheets, staves).render()
}

/// The key check card of these sheets as text; a sentence where none of them has a key.
pub fn write_card(out: &mut dyn Write, title: &str, sheets: &[SheetOrWhy]) -> io::Result<()> {
    match card::card(title, sheets) {
        Some(card) => card::write(out, &card),
        None => write_text(out, title, sheets),
    }
}

/// The key check card as one page; the sheets themselves where none of them has a key.
pub fn html_card(title: &str, sheets: &[SheetOrWhy]) -> Result<String, askama::Error> {
    card::card(title, sheets).map_or_else(|| html(title, sheets, &[]), |card| card.render())
}

/// Who plays from this sheet.
fn who(sheet: &Sheet) -> String {
    let plays = match (&sheet.instrument, sheet.part.name.name.as_str()) {
        (Some(instrument), _) => instrument.name.clone(),
        (None, "") => format!("part {}", sheet.part.name.id),
        (None, name) => name.to_owned(),
    };
    sheet.player.as_ref().map_or(plays.clone(), |player| format!("{}, {plays}", player.name))
}

/// The numbers of a sheet: what, and how much.
fn director(sheet: &Sheet) -> Vec<(&'static str, String)> {
    let numbers = [
        ("longest hold", words::longest(sheet)),
        ("range", words::range(sheet)),
        ("no breath in measures", words::breathless(&sheet.part, &sheet.breathless)),
    ];
    numbers.into_iter().filter_map(|(title, text)| Some((title, text?))).collect()
}

/// In place of a sheet: a part of drums.
pub fn without_pitches(part: &str, name: &str) -> SheetOrWhy {
    SheetOrWhy::Why {
        name: if name.is_empty() { format!("part {part}") } else { name.into() },
        sentence: "This part has no notes with a pitch: no key and no changed note to prepare, and no sheet.".into(),
    }
}

/// In place of a sheet: a line that no octave brings onto an instrument.
pub fn too_far_apart(instrument: &Instrument) -> SheetOrWhy {
    SheetOrWhy::Why {
        name: instrument.name.clone(),
        sentence: "The notes of this line lie too far apart for this instrument, whichever octave is taken: choose \
                   another line with --part."
            .into(),
    }
}
