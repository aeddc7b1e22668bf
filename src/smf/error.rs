//! What is wrong with a MIDI file, and at which byte.

/// A MIDI file that cannot be read. Bytes are counted from 0 at the start of the file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SmfError {
    /// No header.
    #[error("byte {byte}: no MIDI file header (MThd) where one should be: record or export the file again")]
    NoHeader {
        /// Where it should be.
        byte: usize,
    },
    /// The file stops inside a chunk or event.
    #[error("byte {byte}: the file ends in the middle of {what}: copy, record or export it again")]
    CutOff {
        /// The end of the file or chunk.
        byte: usize,
        /// What was begun.
        what: &'static str,
    },
    /// Independent sequences.
    #[error(
        "byte 8: a MIDI file of format {format}; only formats 0 and 1 hold one piece of music: save it as format 1"
    )]
    Format {
        /// As in the header.
        format: u16,
    },
    /// No ticks to the quarter.
    #[error("byte 12: the file has no ticks to the quarter note, so its rhythm is lost: export it again")]
    Division,
    /// Something that no event may be.
    #[error("byte {byte}: {what}: the file is damaged, record or export it again")]
    Damaged {
        /// Where.
        byte: usize,
        /// What is there.
        what: &'static str,
    },
    /// Fewer tracks than promised.
    #[error("byte {byte}: the file ends after {found} of {promised} tracks: copy, record or export it again")]
    TracksMissing {
        /// The end of the file.
        byte: usize,
        /// Tracks found.
        found: usize,
        /// Tracks promised in the header.
        promised: usize,
    },
    /// More events than any piece of music has.
    #[error("byte {byte}: more events before here than any exercise or take has: choose another file")]
    TooManyEvents {
        /// Of the first that is too many.
        byte: usize,
    },
    /// Times beyond counting.
    #[error("byte {byte}: the pauses in the file add up to more time than can be counted: export it again")]
    TooLong {
        /// Where.
        byte: usize,
    },
}
