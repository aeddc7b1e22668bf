//! Why a take could not be read, where, and what to do.

use crate::smf::SmfError;
use std::path::Path;

/// A take that could not be read.
#[derive(Debug, thiserror::Error)]
#[error("{path}: {problem}")]
pub struct TakeError {
    /// The file as it was named.
    pub path: String,
    /// What is wrong with it.
    pub problem: TakeProblem,
}

impl TakeError {
    pub(super) fn new(path: &Path, problem: TakeProblem) -> TakeError {
        TakeError { path: path.display().to_string(), problem }
    }
}

/// What is wrong with a take.
#[derive(Debug, thiserror::Error)]
pub enum TakeProblem {
    /// It is not there, or may not be read.
    #[error("could not be opened: {0}")]
    Open(#[from] std::io::Error),
    /// Larger than any take.
    #[error("larger than {megabytes} MB, which no take is: choose another file")]
    TooLarge {
        /// The limit.
        megabytes: usize,
    },
    /// More notes than anybody plays in one go.
    #[error("more than {most} notes, which nobody plays in one take: choose another file")]
    TooManyNotes {
        /// The limit.
        most: usize,
    },
    /// No bytes.
    #[error("the file is empty: record or export it again")]
    Empty,
    /// Something else.
    #[error(
        "neither a Standard MIDI File nor a list of timed MIDI bytes in JSON: choose a take, or export it as a \
         Standard MIDI File"
    )]
    UnknownKind,
    /// A damaged MIDI file.
    #[error(transparent)]
    Midi(#[from] SmfError),
    /// JSON that is no stream.
    #[error(
        "line {line}, column {column}: {message}; a stream is a list of [seconds, [bytes]], as in \
         [[0.5, [144, 60, 80]], [1.0, [128, 60, 64]]]"
    )]
    Stream {
        /// 1 is the first.
        line: usize,
        /// 1 is the first.
        column: usize,
        /// What is wrong there.
        message: String,
    },
    /// Nobody played.
    #[error(
        "there are no notes in this take: check that the instrument was connected and switched on while it was \
         recorded, and that this is the right file"
    )]
    NoNotes,
}
