//! From MIDI to clean timed notes: ports, take files and timed streams, all the same way.
//!
//! In: raw bytes with a time. Out: [`NoteEvent`]s, which [`crate::follow`] places in the part.

mod cleaner;
mod event;
mod splitter;
pub mod take;

pub use cleaner::{CleanNote, Cleaner, Restrikes, clean_notes};
pub use event::{Input, NoteEvent, NoteId, Timed, What};
