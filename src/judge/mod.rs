//! From placements to flags and totals. Pure: the same exercise, settings and timed input give the
//! same report, live or from a file.
//!
//! In: timed MIDI. Out: [`Decision`]s as soon as they are certain, and a [`Report`] at the end.
//! Next is [`crate::session`], which runs it live, and [`crate::show`], which writes it down.

mod counted;
mod cut_short;
mod delay;
mod engine;
mod entrance;
mod findings;
mod fit;
mod frame;
mod live;
mod pitch;
mod release;
mod report;
mod settings;
mod tempo;
mod whole;
mod words;

pub(crate) use delay::Middle;
pub use delay::{Delay, DelayFrom};
pub use engine::Engine;
pub use report::{Count, Decision, Extra, Flag, FlagKind, NoteResult, Report, Restart, Totals};
pub use settings::{Grid, Level, Sends, Settings};
