//! What people and programs read: console log, reports, tables, JSON, CSV.
//!
//! In: decisions, reports, theory. Out: text. Next is the command line.

mod advice;
mod ascii;
pub mod changed;
mod console;
mod drill;
pub mod engraver;
mod finding;
mod key_check;
mod letters;
mod phrases;
pub mod report;
mod screen;
pub mod sheet;
mod stream;
mod summary;

pub use advice::advice;
pub use console::{Console, Face, Look};
pub(crate) use drill::drill;
pub use key_check::key_check;
pub(crate) use phrases::{beat_line, wrapped};
pub use screen::{Screen, Window};
pub use stream::Stream;
pub use summary::{Who, summary_csv, summary_json};

use std::path::Path;

/// The last component of a path, for headings.
pub fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
