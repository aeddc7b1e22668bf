//! Pure theory of music: spelled pitches, keys, transposition, changed notes.
//!
//! In: names and numbers. Out: names and numbers. Knows nobody; next is [`crate::instrument`].

mod key;
mod pitch;
mod transposition;

pub use key::{Key, Mode};
pub use pitch::{Letter, Pitch};
pub use transposition::Transposition;
