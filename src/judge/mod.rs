//! From placements to flags and totals. Pure: the same exercise, settings and timed input give the
//! same report, live or from a file.
//!
//! In: timed MIDI. Out: [`Decision`]s as soon as they are certain, and a [`Report`] at the end.
//! Next is [`crate::session`], which runs it live, and [`crate::show`], which writes it down.

mod engine;
mod report;
mod settings;

pub use engine::Engine;
pub use report::{Count, Decision, Extra, Flag, FlagKind, NoteResult, Report, Restart, Totals};
pub use settings::{Grid, Level, Sends, Settings};
