//! What people and programs read: console log, reports, tables, JSON, CSV.
//!
//! In: decisions, reports, theory. Out: text. Next is the command line.

mod advice;
mod ascii;
mod cells;
pub mod changed;
mod console;
mod dates;
mod drill;
pub mod engraver;
mod finding;
pub mod gradebook;
mod grades;
mod key_check;
mod letters;
mod phrases;
pub mod plan;
pub mod report;
pub mod review;
mod screen;
pub mod sheet;
mod stream;
mod summary;
mod table;
pub mod tables;

pub use advice::advice;
pub use console::{Console, Face, Look};
pub use dates::{day, moment};
pub(crate) use drill::drill;
pub use grades::{RowWords, TotalWords, grades_csv, grades_json, grades_text, row_words, total_words};
pub use key_check::key_check;
pub(crate) use phrases::{beat_line, counted, wrapped};
pub use screen::{Screen, Window};
pub use stream::Stream;
pub use summary::{Who, summary_csv, summary_json};
pub(crate) use table::table;

use crate::plain::plain;
use std::path::Path;

/// The last component of a path, for headings.
pub fn file_name(path: &Path) -> String {
    plain(&path.file_name().unwrap_or(path.as_os_str()).to_string_lossy())
}
