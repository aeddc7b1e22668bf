//! What the rules look at, and what they say.

use super::frame::Frame;
use super::{FlagKind, Settings};
use crate::exercise::{Note, Part};
use crate::follow::{Heard, Line};

/// A note of the part as it was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sounded {
    /// Index of the note in the part.
    pub(super) note: usize,
    /// When it began and ended (none: it still sounds), in seconds of stream time.
    pub(super) onset: f64,
    pub(super) release: Option<f64>,
    /// It was held at least so long, and how much longer nobody knows.
    pub(super) is_cut_off: bool,
    /// Semitones above the pitch that is due.
    pub(super) off_pitch: i16,
}

impl Sounded {
    /// A note of the part that the played note `began`, and that `held_by` held to its end: not past the next onset.
    pub(super) fn new(line: &Line, heard: &[Heard], note: usize, began: usize, held_by: usize) -> Sounded {
        let next = heard.get(held_by + 1).map(|next| next.at);
        let release = match (heard[held_by].released, next) {
            (Some(released), Some(next)) => Some(released.min(next)),
            (released, next) => released.or(next),
        };
        let (due, midi) = (&line.notes[note], i16::from(heard[began].midi));
        // A note of the chord counts as right.
        let off_pitch = if due.chord.contains(&midi) { 0 } else { midi - due.midi };
        Sounded { note, onset: heard[began].at, release, is_cut_off: heard[held_by].is_cut_off, off_pitch }
    }
}

/// What all rules may look at.
pub(super) struct Scene<'a> {
    pub(super) part: &'a Part,
    pub(super) settings: &'a Settings,
    pub(super) frame: Frame<'a>,
}

impl<'a> Scene<'a> {
    /// `onsets`: when each note of the part began, in the attempt that counts.
    pub(super) fn new(part: &'a Part, settings: &'a Settings, onsets: &'a [Option<f64>]) -> Scene<'a> {
        Scene { part, settings, frame: Frame::new(part, settings, onsets) }
    }

    pub(super) fn note(&self, index: usize) -> &Note {
        &self.part.notes[index]
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
    /// Beyond what is asked, but by no more than the measurement may be off: said apart, counted for nobody.
    Close(Finding),
    /// A fault beyond doubt.
    Fault(Finding),
}

impl Verdict {
    /// A finding that is `beyond` what is asked by so many seconds, measured to within `error` seconds.
    pub(super) fn beyond(finding: Finding, beyond: f64, error: f64) -> Verdict {
        if beyond > error {
            Verdict::Fault(finding)
        } else if beyond > 0.0 {
            Verdict::Close(finding)
        } else {
            Verdict::Good
        }
    }

    pub(super) fn fault(self) -> Option<Finding> {
        match self {
            Verdict::Fault(finding) => Some(finding),
            _ => None,
        }
    }

    pub(super) fn close(self) -> Option<Finding> {
        match self {
            Verdict::Close(finding) => Some(finding),
            _ => None,
        }
    }
}
