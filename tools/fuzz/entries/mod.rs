//! One entry for each reader and for the engine: any bytes go in, and what must hold whatever they are is looked at. A panic
//! is a finding. The fuzz targets call one each; `tests/reading/entries.rs` calls all of them on stable.
//!
//! Formats that are told by their first bytes get those, so that no time is lost on finding them.

#![allow(dead_code)] // each target uses its entry
#![allow(clippy::unwrap_used)] // what must hold

mod exercise;
mod played;
mod playing;

pub(crate) use exercise::{abc, musicxml, mxl, smf};
pub(crate) use played::{midi, stream, take};
pub(crate) use playing::engine;

/// An entry.
pub(crate) type Entry = fn(&[u8]);

/// All of them, by the name of target and corpus.
pub(crate) const ALL: [(&str, Entry); 9] = [
    ("abc", abc),
    ("engine", engine),
    ("midi", midi),
    ("musicxml", musicxml),
    ("mxl", mxl),
    ("roster", roster),
    ("smf", smf),
    ("stream", stream),
    ("take", take),
];

/// The bytes with the mark of a format before them, unless they bring one.
fn marked(mark: &[u8], others: &[&[u8]], bytes: &[u8]) -> Vec<u8> {
    let has_one = others.iter().any(|other| bytes.starts_with(other));
    if has_one { bytes.to_vec() } else { [mark, bytes].concat() }
}

/// A roster: every player has a name and a line of the file; what is refused says why.
pub(crate) fn roster(bytes: &[u8]) {
    let roster = restward::book::Roster::read(bytes);
    let lines = bytes.len() as u64 + 1;
    assert!(roster.entries.iter().all(|(line, entry)| (1..=lines).contains(line) && !entry.name.trim().is_empty()));
    assert!(!roster.entries.is_empty() || !roster.problems.is_empty());
}
