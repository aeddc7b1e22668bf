//! The places of a drill that ask for a tone: when, how long, and what must stand there.

use super::tone::Tone;
use crate::exercise::Quarters;

/// One note to be.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    /// The measure where it begins, from 0.
    pub(super) measure: usize,
    /// From the start of that measure.
    pub(super) onset: Quarters,
    /// Its full value; it may go on over barlines.
    pub(super) duration: Quarters,
    /// A rest, or nothing, stands before it.
    pub(super) after_rest: bool,
    /// Its weight in the measure: see [`super::frame::Frame::stress`].
    pub(super) stress: u8,
    /// An earlier note whose way on from its predecessor this one likes to repeat.
    pub(super) model: Option<usize>,
    /// Which tones may stand here.
    pub(super) want: Want,
    /// How they may be come to from the note before.
    pub(super) approach: Approach,
    /// Which of the drill's keys it is in.
    pub(super) segment: usize,
    /// The degrees of the scale that fit the harmony of the measure.
    pub(super) chord: Degrees,
    /// The degrees that may stand here at all: those of a cadence at the end of a phrase.
    pub(super) only: Degrees,
    /// The height that the phrase has here, a MIDI number.
    pub(super) height: i16,
}

impl Spot {
    /// A place without demands.
    pub(super) fn new(measure: usize, onset: Quarters, duration: Quarters, after_rest: bool, stress: u8) -> Spot {
        Spot {
            measure,
            onset,
            duration,
            after_rest,
            stress,
            model: None,
            want: Want::Any,
            approach: Approach::Any,
            segment: 0,
            chord: Degrees::ALL,
            only: Degrees::ALL,
            height: 0,
        }
    }

    /// Nothing has been asked of it yet.
    pub(super) fn is_free(&self) -> bool {
        self.want == Want::Any && self.approach == Approach::Any
    }
}

/// Which tones may stand at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Want {
    /// Any tone of the key in force.
    Any,
    /// A changed note, as the key has it.
    Target,
    /// A changed note as another key of the band has it.
    Other,
}

/// How the tone of a place may be come to from the one before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Approach {
    Any,
    /// By so many letters: 1 is a step up, 0 the same letter.
    Letters(i32),
    /// From below, by a third or more.
    LeapUp,
    /// From above, by a third or more.
    LeapDown,
}

impl Approach {
    /// Whether it is kept.
    pub(super) fn allows(self, from: &Tone, to: &Tone) -> bool {
        let letters = to.place - from.place;
        match self {
            Approach::Any => true,
            Approach::Letters(wanted) => letters == wanted,
            Approach::LeapUp => letters >= 2,
            Approach::LeapDown => letters <= -2,
        }
    }
}

/// A set of degrees of the scale, 0 is the tonic.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Degrees(u8);

impl Degrees {
    pub(super) const ALL: Degrees = Degrees(0b111_1111);
    pub(super) const TONIC: Degrees = Degrees(1);

    /// The triad on a degree.
    pub(super) const fn triad(root: u8) -> Degrees {
        Degrees((1 << (root % 7)) | (1 << ((root + 2) % 7)) | (1 << ((root + 4) % 7)))
    }

    pub(super) fn has(self, degree: u8) -> bool {
        self.0 >> degree & 1 == 1
    }
}
