//! What comes in, and what goes on.

use crate::exercise::Micros;

/// Something with the time at which it happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Timed<T> {
    /// When, from the start of the take or stream.
    pub at: Micros,
    /// What.
    pub what: T,
}

/// One arrival on a port.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Which port (its number, not its name: two ports may share a name).
    pub port: u32,
    /// What arrived.
    pub what: What,
}

/// What arrives on a port.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// Raw bytes: several messages or a piece of one.
    Bytes(Vec<u8>),
    /// The cable was pulled: all notes of the port end.
    Disconnect,
    /// It was put back.
    Connect,
}

/// Counts the notes of a stream from 0, in order of their note-on.
pub type NoteId = u32;

/// A step in the life of a played note, in the order of decision. A note-on is told as soon as it is
/// sure that somebody meant it; its times are those of the player, not of the decision.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoteEvent {
    /// A note that was meant began at `at`.
    On {
        /// Names the note.
        id: NoteId,
        /// When it began.
        at: Micros,
        /// MIDI number as sent by the instrument.
        midi: u8,
        /// 1..=127.
        velocity: u8,
    },
    /// The note ended at `at`.
    Off {
        /// Names the note.
        id: NoteId,
        /// When it ended.
        at: Micros,
        /// Nobody let it go: the cable was pulled or the stream ended while it sounded, and how long it was held nobody
        /// knows.
        is_cut_off: bool,
    },
}
