//! What people and programs read: console lines, reports, tables.
//!
//! In: decisions, reports, theory. Out: text. Next is the command line.

pub mod changed;
pub mod report;
pub mod words;

use std::path::Path;

/// The last component of a path, for headings.
pub fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
