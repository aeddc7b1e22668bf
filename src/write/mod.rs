//! From exercises to files again: MusicXML and ABC, plain or with our marks.
//!
//! In: a [`Part`](crate::exercise::Part), from whatever kind of file, printed for whichever instrument. Out: text that reads the same notes.
//! On the way: `page` (measures, notes and rests in printed `shape`s) → `beams` → [`musicxml()`] or [`abc()`]. Next is
//! the command line, sheets, and [`crate::show::engraver`].

mod abc;
mod beams;
mod marked;
mod musicxml;
mod page;
mod shape;
mod spans;
mod xml;

pub use abc::abc;
pub use marked::{MarkedPart, held_over, printed_ids};
pub use musicxml::musicxml;

/// Why a part cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WriteError {
    /// Values so fine that no notation program counts them.
    #[error(
        "part {part}: its values are too fine for notation (a take rather than an exercise?): quantize it in the program that made it"
    )]
    TooFine {
        /// The part.
        part: String,
    },
    /// A note without a place on paper.
    #[error(
        "part {part}, measure {measure}: {pitch} is too low or too high to be written: choose another instrument or octave"
    )]
    OutOfReach {
        /// The part.
        part: String,
        /// The label of the measure.
        measure: String,
        /// The written note.
        pitch: String,
    },
}
