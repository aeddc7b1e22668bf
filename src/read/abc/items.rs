//! What a voice holds, in the order of the file: notes as they are typed, signs, changes.

use super::key::Signature;
use super::lines::At;
use super::marks::Mark;
use super::staff::Staff;
use crate::exercise::{Meter, Quarters};
use crate::theory::Letter;

/// One thing and its place in the file.
#[derive(Debug, Clone)]
pub(super) struct Item {
    pub(super) at: At,
    pub(super) what: What,
}

/// What stands there.
#[derive(Debug, Clone)]
pub(super) enum What {
    /// A note, or the notes of a chord.
    Sound {
        first: Head,
        others: Vec<Head>,
        length: Length,
    },
    /// `z` or `x`.
    Rest(Length),
    /// `Z` or `X`: so many measures of rest.
    MeasureRests(u32),
    /// `{...}`.
    Graces(Vec<Head>),
    /// `y`: nothing but a place for marks.
    Spacer,
    Bar(Bar),
    /// The passes that an ending is for; empty where it does not say.
    Ending(Vec<u32>),
    SlurStart,
    SlurEnd,
    /// `(p:q:r`; `None` where the default counts.
    Tuplet {
        notes: u32,
        time_of: Option<u32>,
        count: u32,
    },
    /// `>` (positive) or `<` (negative), so many of them.
    Broken(i32),
    /// A mark for the note that follows.
    Mark(Mark),
    Key(Signature),
    Staff(Staff),
    Meter(Time),
    /// The unit note length.
    Unit(Quarters),
    Tempo(Tempo),
    /// `&`: back by so many barlines.
    Overlay(u32),
    /// A section of the tune (`P:`), by its name.
    Section(String),
    /// The number of the next measure.
    Number(u32),
}

/// One note as it is typed, without its length.
#[derive(Debug, Clone, Copy)]
pub(super) struct Head {
    pub(super) letter: Letter,
    /// As typed; the octave of the voice is not added.
    pub(super) octave: i8,
    /// The accidental at the note.
    pub(super) accidental: Option<i8>,
    /// Tied to the next.
    pub(super) is_tied: bool,
}

/// A length in units: numerator and denominator.
pub(super) type Length = (u32, u32);

/// A bar line of any shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Bar {
    /// It ends a repeated passage that is played so many times in all; 0 if it ends none.
    pub(super) times: u32,
    /// It begins a repeated passage.
    pub(super) starts: bool,
    /// Two lines or a thick one.
    pub(super) is_double: bool,
    /// Dotted or invisible: it may divide a measure.
    pub(super) is_editorial: bool,
}

/// A meter, or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Time {
    Free,
    Of(Meter),
}

/// A tempo: so many beats a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tempo {
    /// The beat; `None`: the unit note length times `units`.
    pub(super) beat: Option<Quarters>,
    pub(super) units: u32,
    pub(super) per_minute: f64,
}
