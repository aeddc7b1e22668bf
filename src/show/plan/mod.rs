//! The plan of the next rehearsal: text, JSON, a page to print.
//!
//! In: a [`Plan`], and who is asked to play again. Out: text. All three say the same, from the same [`Page`].

mod html;
mod json;
mod page;
mod text;

pub use page::{Page, Retake};

use crate::prepare::plan::Plan;
use askama::Template;
use std::io::{self, Write};

/// Writes the plan for people: 80 columns, no colour.
pub fn write_text(out: &mut dyn Write, page: &Page) -> io::Result<()> {
    text::write(out, page)
}

/// The plan for programs: one JSON object, note names in ASCII.
pub fn json(plan: &Plan, retakes: &[Retake]) -> serde_json::Result<Vec<u8>> {
    let mut text = serde_json::to_vec(&json::of(plan, retakes))?;
    text.push(b'\n');
    Ok(text)
}

/// The plan as a page to print.
pub fn html(page: &Page) -> Result<String, askama::Error> {
    html::Document::new(page).render()
}
