//! Spelled pitches: a letter, an alteration, an octave.
//!
//! Octaves as in scientific pitch notation (C4 = middle C) and MIDI numbers with C4 = 60
//! (MIDI 1.0, "middle C is note number 60").

use super::key::{self, Key};
use super::sign;
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

    /// The seven letters as the alphabet has them.
    pub const A_TO_G: [Letter; 7] = [Letter::A, Letter::B, Letter::C, Letter::D, Letter::E, Letter::F, Letter::G];

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

    /// Reads a name with its octave: `Bb4`, `F♯4`, `c5`. `None` if it is no pitch.
    pub fn parse(text: &str) -> Option<Pitch> {
        let name = text.trim();
        let first = name.chars().next()?;
        let letter = Letter::from_char(first)?;
        let (alter, octave) = sign::read(&name[first.len_utf8()..]);
        let octave = octave.parse().ok().filter(|octave| (-2..=12).contains(octave))?;
        (alter.abs() <= 2).then_some(Pitch { letter, alter, octave })
    }

    /// How a played MIDI number (or a written pitch on that scale, which may lie beyond 0 to 127) is best
    /// written in a key: as the signature has it; else as a natural;
    /// else by the chromatic scale around the tonic, from the lowered second to the raised fourth
    /// (on the line of fifths five below the tonic to six above).
    pub fn spelled_in(midi: i16, key: Key) -> Pitch {
        let spellings = || {
            Letter::ALL
                .into_iter()
                .flat_map(move |letter| (-2..=2).filter_map(move |alter| Pitch::with_midi(letter, alter, midi)))
        };
        let (tonic, altered) = key.tonic();
        let tonic = key::line_of_fifths(tonic, altered);
        let around = |pitch: &Pitch| {
            let place = key::line_of_fifths(pitch.letter, pitch.alter) - tonic;
            pitch.alter.abs() == 1 && (-5..=6).contains(&place)
        };
        spellings()
            .find(|pitch| key.alter(pitch.letter) == pitch.alter)
            .or_else(|| spellings().find(|pitch| pitch.alter == 0))
            .or_else(|| spellings().find(around))
            .unwrap_or_else(|| Pitch::sharp_spelling(midi))
    }

    /// The pitch of this letter and alteration that has the MIDI number, if there is one.
    fn with_midi(letter: Letter, alter: i8, midi: i16) -> Option<Pitch> {
        let above_c = midi - i16::from(alter) - i16::from(letter.semitones());
        (above_c.rem_euclid(12) == 0).then(|| Pitch { letter, alter, octave: (above_c.div_euclid(12) - 1) as i8 })
    }

    /// Without a key to go by (signatures beyond paper): naturals and sharps.
    fn sharp_spelling(midi: i16) -> Pitch {
        let names = [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (3, 0), (3, 1), (4, 0), (4, 1), (5, 0), (5, 1), (6, 0)];
        let (step, alter) = names[midi.rem_euclid(12) as usize];
        Pitch { letter: Letter::from_step(step), alter, octave: (midi.div_euclid(12) - 1) as i8 }
    }

    /// ASCII name with octave as in JSON: `Bb4`, `F#4`, `C5`.
    pub fn ascii(self) -> String {
        format!("{}{}{}", self.letter, sign::ascii(self.alter), self.octave)
    }
}

/// As people read it: `B♭4`, `F♯4`, `C5`.
impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}", self.letter, sign::in_name(self.alter), self.octave)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Mode;
    use super::*;

    fn spelled(midi: i16, key: &str) -> String {
        Pitch::spelled_in(midi, Key::parse(key).unwrap()).ascii()
    }

    /// Common practice, no source.
    #[test]
    fn a_played_note_is_named_as_its_key_would() {
        for (midi, key, name) in [
            (65, "G", "F4"),
            (66, "G", "F#4"),
            (71, "F", "B4"),
            (70, "F", "Bb4"),
            (66, "C", "F#4"),
            (70, "C", "Bb4"),
            (63, "C", "Eb4"),
            (68, "a", "G#4"),
            (61, "d", "C#4"),
            (66, "g", "F#4"),
            (66, "Ab", "Gb4"),
            (59, "Gb", "Cb4"),
            (60, "C#", "B#3"),
            (62, "C#", "D4"),
        ] {
            assert_eq!(spelled(midi, key), name, "MIDI {midi} in {key}");
        }
    }

    /// Any number has a spelling that sounds as it does, even in signatures that no paper holds.
    #[test]
    fn a_spelling_sounds_as_what_was_played() {
        for fifths in [-128, -20, -9, -7, -6, -4, 0, 3, 6, 7, 11, 30, 127] {
            for (midi, mode) in (-20..=150).flat_map(|midi| [(midi, Mode::Major), (midi, Mode::Minor)]) {
                assert_eq!(Pitch::spelled_in(midi, Key { fifths, mode }).midi(), midi);
            }
        }
    }

    #[test]
    fn names_are_read_as_they_are_shown() {
        for midi in 0..=127 {
            for fifths in -7..=7 {
                let pitch = Pitch::spelled_in(midi, Key::major(fifths));
                assert_eq!(Pitch::parse(&pitch.ascii()), Some(pitch));
                assert_eq!(Pitch::parse(&pitch.to_string()), Some(pitch));
            }
        }
        for text in ["", "H4", "C", "Bb", "C99", "Bbbb4", "4", "C4x"] {
            assert_eq!(Pitch::parse(text), None, "{text}");
        }
    }

    /// MIDI 1.0: note number 60 is middle C.
    #[test]
    fn middle_c_is_sixty() {
        assert_eq!(Pitch::new(Letter::C, 0, 4).midi(), 60);
        assert_eq!(Pitch::new(Letter::B, 1, 3).midi(), 60);
        assert_eq!(Pitch::new(Letter::C, -1, 4).midi(), 59);
    }
}
