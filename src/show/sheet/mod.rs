//! Sheets for people and programs: text, JSON, a page to print.
//!
//! In: [`Sheet`]s of [`crate::prepare`], or why there is none. Out: text.

mod grid;
mod text;
mod words;

use crate::prepare::Sheet;
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

/// Who plays from this sheet.
fn who(sheet: &Sheet) -> String {
    match (&sheet.instrument, sheet.part.name.name.as_str()) {
        (Some(instrument), _) => instrument.name.clone(),
        (None, "") => format!("part {}", sheet.part.name.id),
        (None, name) => name.to_owned(),
    }
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
