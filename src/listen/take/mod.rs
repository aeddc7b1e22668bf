//! Takes in files: Standard MIDI Files and timed streams in JSON, read and written.
//!
//! In: a file. Out: a [`Take`], whose arrivals go the same way as those of a port: next is [`super::Cleaner`].
//! The content decides what a file is, never its name.

mod clock;
mod delay;
mod error;
mod midi;
mod record;
mod steady;
mod stream;
mod write;

pub use clock::Clock;
pub use delay::LONGEST_DELAY;
pub use error::{TakeError, TakeProblem};
pub use record::Record;
pub(crate) use record::{decode, encode};
pub use write::write_take;

use super::{Input, Timed, What};
use crate::exercise::{Micros, TempoMap};
use std::io::Read;
use std::path::Path;

/// The text of the marker at score time zero of a take with a click.
const START_MARKER: &str = "exercise-start";
/// Texts that keep a pulled cable in a MIDI file, which has no message for it.
const DISCONNECTED: &str = "port disconnected";
const CONNECTED: &str = "port connected";

/// The largest file that is read: an hour of breath data at hundreds of messages a second.
const MOST_BYTES: usize = 24 << 20;
/// A MIDI file says in a few bytes what a stream says in twenty; this too is an hour.
const MOST_MIDI_BYTES: usize = 8 << 20;

/// Ports told apart in one file; the time to read it grows with their number.
const MOST_PORTS: usize = 64;

/// What was played, from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// All that arrived, in order; times never step back. Ports count the tracks of a MIDI file from 0.
    pub inputs: Vec<Timed<Input>>,
    /// Where score time zero is, if there was a click.
    pub start: Option<Micros>,
    /// The tempo of the click from there. Without a click it means nothing.
    pub tempo: TempoMap,
    /// The delay of the controller with that click, where it was measured.
    pub delay: Option<Micros>,
    /// The end of the file.
    pub end: Micros,
    /// How coarse its times are: the length of the longest tick.
    pub resolution: Micros,
    /// What the reader forgave.
    pub notices: Vec<String>,
}

impl Take {
    /// Whether any note begins.
    pub fn has_notes(&self) -> bool {
        !super::clean_notes(&self.inputs).is_empty()
    }
}

/// Reads a take; the error names the file. A take in which no note begins is refused: somebody forgot to
/// connect something, and a sheet full of missed notes would not say so.
pub fn read_file(path: &Path) -> Result<Take, TakeError> {
    let take = read_any_file(path)?;
    if take.has_notes() { Ok(take) } else { Err(TakeError::new(path, TakeProblem::NoNotes)) }
}

/// Reads a take or stream, with or without notes; the error names the file.
pub fn read_any_file(path: &Path) -> Result<Take, TakeError> {
    let read = || {
        let mut bytes = Vec::new();
        // One byte over the limit shows that a file is too large, also where its size is not known (a pipe).
        std::fs::File::open(path)?.take(MOST_BYTES as u64 + 1).read_to_end(&mut bytes)?;
        read_take(&bytes)
    };
    read().map_err(|problem| TakeError::new(path, problem))
}

/// Reads a take or stream from its bytes.
pub fn read_take(bytes: &[u8]) -> Result<Take, TakeProblem> {
    if bytes.len() > MOST_BYTES {
        return Err(TakeProblem::TooLarge { megabytes: MOST_BYTES >> 20 });
    }
    if bytes.is_empty() {
        return Err(TakeProblem::Empty);
    }
    if bytes.starts_with(b"MThd") || bytes.starts_with(b"RIFF") {
        if bytes.len() > MOST_MIDI_BYTES {
            return Err(TakeProblem::TooLarge { megabytes: MOST_MIDI_BYTES >> 20 });
        }
        return midi::read(bytes);
    }
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    match text.iter().find(|byte| !byte.is_ascii_whitespace()) {
        None => Err(TakeProblem::Empty),
        Some(b'<' | b'P' | 0x00 | 0x80..) => Err(TakeProblem::UnknownKind),
        Some(_) => stream::read(text),
    }
}
