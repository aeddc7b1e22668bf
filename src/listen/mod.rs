//! From MIDI to clean timed notes: ports, take files and timed streams, all the same way.
//!
//! In: raw bytes with a time. Out: [`NoteEvent`]s, which [`crate::follow`] places in the part.

mod cleaner;
mod event;
mod packet;
mod ports;
mod replay;
mod source;
mod splitter;
mod system;
pub mod take;
mod thinning;

pub(crate) use cleaner::is_one_message;
pub use cleaner::{CleanNote, Cleaner, Restrikes, clean_notes};
pub use event::{Input, NoteEvent, NoteId, Timed, What};
pub use ports::{PortError, choose, numbered, port_stem};
pub use replay::{Pace, Performance, Replay, Seats};
pub use source::{MidiSink, MidiSource};
pub use system::{SystemPorts, open_output, outputs};
pub(crate) use thinning::Thinning;
