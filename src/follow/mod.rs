//! Where in the part each played note belongs.
//!
//! In: clean timed notes and a [`Part`](crate::exercise::Part). Out: a place for every played note: a
//! note of the part, the same note struck again by a dip of breath, or an extra. Next is
//! [`crate::judge`].
//!
//! The model is a hidden semi-Markov chain over the notes of the part with explicit moves: advance,
//! skip (in time or straight on), insert, strike again, begin again elsewhere. Jumps are one running
//! maximum over all notes, not a matrix (the idea of the outer-product models for arbitrary repeats
//! and skips, Nakamura et al., "Outer-product hidden Markov model and polyphonic MIDI score
//! following", Journal of New Music Research 43, 2014), so that the cost of a note does not grow with
//! the square of the part. Every hypothesis carries its own tempo.

mod density;
mod line;
mod model;
mod passes;
mod tempo;
#[cfg(test)]
mod tests;
mod trellis;

pub(crate) use line::{Line, Wire};
pub(crate) use model::Model;
pub(crate) use passes::Passes;
pub(crate) use trellis::{LONGEST_DIP, Place, Trellis};

/// A played note as the follower sees it, in seconds of stream time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Heard {
    /// When it began.
    pub(crate) at: f64,
    /// When it ended; none while it sounds.
    pub(crate) released: Option<f64>,
    /// Nobody let it go: it ended with the stream, or with the cable.
    pub(crate) is_cut_off: bool,
    /// MIDI number as sent.
    pub(crate) midi: u8,
}
