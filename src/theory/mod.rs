//! Pure theory of music: spelled pitches, keys, transposition, changed notes.
//!
//! In: names and numbers. Out: names and numbers. Knows nobody; next is [`crate::instrument`].

mod changed;
mod family;
mod key;
mod pitch;
mod printed;
pub mod sign;
mod transposition;

pub use changed::{Changed, Rank, changed_notes};
pub use family::{default_family, parse_family};
pub use key::{Key, KeyError, Mode};
pub use pitch::{Letter, Pitch};
pub use transposition::Transposition;

pub(crate) use printed::Printed;
