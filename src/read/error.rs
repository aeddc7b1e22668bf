//! Why a file could not be read, where, and what to do.

use crate::smf::SmfError;
use std::fmt;

/// A file that could not be read.
#[derive(Debug, thiserror::Error)]
#[error("{path}: {problem}")]
pub struct FileError {
    /// The file as it was named.
    pub path: String,
    /// What is wrong with it.
    pub problem: ReadError,
}

/// Where in a MusicXML or ABC file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The label of the measure, if it is in one.
    pub measure: Option<String>,
    /// Line of the file, 1 is the first.
    pub line: u32,
    /// Column, in characters, 1 is the first.
    pub column: u32,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.measure {
            Some(measure) => write!(f, "measure {measure} (line {}, column {})", self.line, self.column),
            None => write!(f, "line {}, column {}", self.line, self.column),
        }
    }
}

/// What is wrong with a file.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// It is not there, or may not be read.
    #[error("could not be opened: {0}")]
    Open(#[from] std::io::Error),
    /// Larger than any exercise.
    #[error("larger than {megabytes} MB unpacked, which no exercise is: choose another file, or save only the part")]
    TooLarge {
        /// The limit.
        megabytes: usize,
    },
    /// XML that would take too much memory or time.
    #[error("more XML elements or attributes than any exercise has: save only the part")]
    TooManyElements,
    /// No bytes.
    #[error("the file is empty: save it again from the notation program")]
    Empty,
    /// Something else.
    #[error(
        "neither MusicXML nor a Standard MIDI File nor ABC: in the notation program choose Export, then MusicXML; \
         an ABC tune begins with a line X:1 and has its key in a line K:C"
    )]
    UnknownKind,
    /// Text that cannot be decoded.
    #[error("line {line}: the text is not {encoding}, though it should be: save it again in UTF-8")]
    Encoding {
        /// The encoding tried.
        encoding: String,
        /// Line of the first wrong byte.
        line: usize,
    },
    /// Not well-formed.
    #[error("{place}: the XML is damaged ({reason}): save or copy the file again")]
    Xml {
        /// Where.
        place: Place,
        /// What the parser says.
        reason: String,
    },
    /// The document type defines entities.
    #[error(
        "line {line}: the file defines entities of its own, which are not opened for safety: save it again as MusicXML"
    )]
    Entities {
        /// Where.
        line: usize,
    },
    /// XML of another kind.
    #[error(
        "line {line}: this is XML, but its outermost element is <{root}>, not <score-partwise> or <score-timewise>: export it as MusicXML"
    )]
    NotMusicXml {
        /// The outermost element.
        root: String,
        /// Where.
        line: u32,
    },
    /// A score that contradicts itself or MusicXML.
    #[error("{place}: {problem}: correct it in the notation program and export again")]
    Notation {
        /// Where.
        place: Place,
        /// What is wrong.
        problem: String,
    },
    /// ABC that cannot be understood; the problem says what to write.
    #[error("{place}: {problem}")]
    Abc {
        /// Where.
        place: Place,
        /// What is wrong, and what to write instead.
        problem: String,
    },
    /// The tune asked for is not there.
    #[error("no tune \"{asked}\"; the file has {there_are}: give one of them after --tune")]
    NoSuchTune {
        /// As asked.
        asked: String,
        /// All tunes.
        there_are: String,
    },
    /// A damaged or too clever archive.
    #[error("the compressed file cannot be unpacked ({reason}): export it again, or as uncompressed MusicXML")]
    Archive {
        /// What is wrong.
        reason: String,
    },
    /// A damaged MIDI file.
    #[error("{0}")]
    Midi(#[from] SmfError),
    /// The part asked for is not there.
    #[error("no part \"{asked}\"; the file has {there_are}: give one of them after --part")]
    NoSuchPart {
        /// As asked.
        asked: String,
        /// All parts.
        there_are: String,
    },
    /// The staff asked for is not there.
    #[error("part {part} has no notes on staff {staff}: choose another staff")]
    NoSuchStaff {
        /// The part.
        part: String,
        /// As asked.
        staff: u8,
    },
    /// No parts at all.
    #[error("there is no music in it: no part has a measure")]
    NoParts,
    /// Nothing to judge.
    #[error("part {part} has no notes with a pitch, so there is nothing to judge: choose another part with --part")]
    NoNotes {
        /// The part.
        part: String,
    },
    /// Endless repeats, or times beyond counting.
    #[error("played out, the part is longer than any exercise: check its repeat signs and its pauses")]
    TooLong,
}

/// Text from a file in a message: never long.
pub(super) fn shown(text: &str) -> String {
    if text.chars().count() > 40 { text.chars().take(40).chain("…".chars()).collect() } else { text.to_owned() }
}
