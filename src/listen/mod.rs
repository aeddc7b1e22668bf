//! From MIDI to clean timed notes: ports, take files and timed streams, all the same way.
//!
//! In: raw bytes with a time. Out: [`NoteEvent`]s, which [`crate::follow`] places in the part.

mod event;

pub use event::{Input, NoteEvent, NoteId, Timed, What};
