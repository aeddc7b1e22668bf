//! From files to exercises: MusicXML, compressed MusicXML, Standard MIDI Files, ABC.
//!
//! In: bytes and the choice of a part. Out: [`crate::exercise::Exercise`], or an error that names the
//! place. Next is [`crate::listen`].
//!
//! [`read_file`] takes a path, [`read_exercise`] bytes. The content decides what a file is, never its name.

mod abc;
mod choice;
mod endings;
mod error;
mod jump_words;
mod midi;
mod musicxml;
mod mxl;
mod notices;
mod sniff;
mod spelling;
mod text;
mod texts;

pub use crate::smf::SmfError;
pub use choice::Choice;
pub use error::{FileError, Place, ReadError};

use crate::exercise::Exercise;
use sniff::Kind;
use std::io::Read;
use std::path::Path;

/// The largest file that is read, unpacked: a conductor's score of an hour has a quarter of it (from memory).
const MOST_BYTES: usize = 64 << 20;

/// Reads the chosen part of a MusicXML (partwise, timewise, plain or compressed), Standard MIDI (format 0 or 1) or ABC
/// file from its bytes.
pub fn read_exercise(bytes: &[u8], choice: &Choice) -> Result<Exercise, ReadError> {
    if bytes.len() > MOST_BYTES {
        return Err(ReadError::TooLarge { megabytes: MOST_BYTES >> 20 });
    }
    let exercise = match sniff::kind(bytes)? {
        Kind::Midi => midi::read(bytes, choice),
        Kind::Archive => musicxml::read(&text::decode(&mxl::score(bytes, MOST_BYTES)?)?, choice),
        Kind::Abc(text) => abc::read(&text, choice),
        Kind::Xml => musicxml::read(&text::decode(bytes)?, choice),
    };
    exercise.map(texts::cleaned)
}

/// [`read_exercise`] from a file; the error names it.
pub fn read_file(path: &Path, choice: &Choice) -> Result<Exercise, FileError> {
    let read = || {
        let file = std::fs::File::open(path)?;
        let mut bytes = Vec::new();
        // One byte over the limit shows that a file is too large, also where its size is not known (a pipe).
        file.take(MOST_BYTES as u64 + 1).read_to_end(&mut bytes)?;
        read_exercise(&bytes, choice)
    };
    read().map_err(|problem| FileError { path: path.display().to_string(), problem })
}
