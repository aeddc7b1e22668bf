//! Spelled pitches: a letter, an alteration, an octave.
//!
//! Octaves as in scientific pitch notation (C4 = middle C) and MIDI numbers with C4 = 60
//! (MIDI 1.0, "middle C is note number 60").

use std::fmt;

/// The letter of a note, C first as in a MIDI octave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)] // the seven letters speak for themselves
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// The seven letters from C to B.
    pub const ALL: [Letter; 7] = [Letter::C, Letter::D, Letter::E, Letter::F, Letter::G, Letter::A, Letter::B];

    /// Steps above C, 0 to 6.
    pub fn step(self) -> i8 {
        self as i8
    }

    /// The letter `steps` above C; any integer, octaves taken away.
    pub fn from_step(steps: i32) -> Letter {
        Letter::ALL[steps.rem_euclid(7) as usize]
    }

    /// Semitones of the natural letter above C, 0 to 11.
    pub fn semitones(self) -> i8 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    /// From an ASCII letter of either case.
    pub fn from_char(letter: char) -> Option<Letter> {
        Some(match letter.to_ascii_uppercase() {
            'C' => Letter::C,
            'D' => Letter::D,
            'E' => Letter::E,
            'F' => Letter::F,
            'G' => Letter::G,
            'A' => Letter::A,
            'B' => Letter::B,
            _ => return None,
        })
    }
}

impl fmt::Display for Letter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self:?}")
    }
}

/// A spelled pitch. Whether it is written or concert pitch is said by the name that holds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Pitch {
    /// The letter.
    pub letter: Letter,
    /// Semitones added to the letter: -1 flat, 1 sharp.
    pub alter: i8,
    /// Octave; 4 begins at middle C.
    pub octave: i8,
}

impl Pitch {
    /// A pitch from its three parts.
    pub const fn new(letter: Letter, alter: i8, octave: i8) -> Pitch {
        Pitch { letter, alter, octave }
    }

    /// The MIDI number, C4 = 60; may lie outside 0..=127 for pitches no MIDI device can play.
    pub fn midi(self) -> i16 {
        12 * (i16::from(self.octave) + 1) + i16::from(self.letter.semitones()) + i16::from(self.alter)
    }

    /// Diatonic position: letters above C0. `E4` and `E♭4` are at one place.
    pub fn diatonic(self) -> i32 {
        7 * i32::from(self.octave) + i32::from(self.letter.step())
    }

    /// ASCII name with octave as in JSON: `Bb4`, `F#4`, `C5`.
    pub fn ascii(self) -> String {
        let sign = if self.alter < 0 { "b" } else { "#" };
        format!("{}{}{}", self.letter, sign.repeat(self.alter.unsigned_abs().into()), self.octave)
    }
}

/// As people read it: `B♭4`, `F♯4`, `C5`.
impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.alter < 0 { "♭" } else { "♯" };
        write!(f, "{}{}{}", self.letter, sign.repeat(self.alter.unsigned_abs().into()), self.octave)
    }
}
