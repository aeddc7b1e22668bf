//! What the rules look at, and what they say.

use super::FlagKind;
use super::frame::Frame;
use crate::exercise::{Note, Part};
use crate::instrument::Instrument;

/// A note of the part as it was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sounded {
    /// Index of the note in the part.
    pub(super) note: usize,
    /// When it began and ended (none: it still sounds), in seconds of stream time.
    pub(super) onset: f64,
    pub(super) release: Option<f64>,
    /// Semitones above the pitch that is due.
    pub(super) off_pitch: i16,
}

/// What all rules may look at.
pub(super) struct Scene<'a> {
    pub(super) part: &'a Part,
    pub(super) instrument: Option<&'a Instrument>,
    pub(super) frame: Frame<'a>,
}

impl Scene<'_> {
    pub(super) fn note(&self, index: usize) -> &Note {
        &self.part.notes[index]
    }

    /// Whether the instrument holds its notes; what is not known is taken to.
    pub(super) fn sustains(&self) -> bool {
        self.instrument.is_none_or(|instrument| instrument.sustains)
    }
}

/// One finding of one rule, before it is put into words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Finding {
    pub(super) note: usize,
    pub(super) kind: FlagKind,
    pub(super) amount: Amount,
}

/// How far off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Amount {
    /// Not played at all.
    Silent,
    /// Semitones above the pitch that was due.
    Pitch(i16),
    /// Time.
    Time {
        /// Seconds late; negative is early.
        off: f64,
        /// Seconds held.
        held: f64,
        /// A beat in seconds.
        beat: f64,
    },
}

/// What a rule of time says about one note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Verdict {
    /// The rule does not apply to this note, or nothing can be measured.
    NotJudged,
    /// Within what is asked.
    Good,
    /// A fault, or not sure enough to say so.
    Fault(Finding),
}

impl Verdict {
    pub(super) fn fault(self) -> Option<Finding> {
        match self {
            Verdict::Fault(finding) => Some(finding),
            _ => None,
        }
    }
}
