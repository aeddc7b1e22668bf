//! Keys: a signature on the circle of fifths, and a mode.

use super::pitch::Letter;
use super::sign;
use std::fmt;

/// Major or minor; other modes are read as the major key of the same signature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Mode {
    /// Tonic on the first degree of the signature's major scale.
    Major,
    /// Tonic on its sixth degree.
    Minor,
}

/// A key signature with its mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Key {
    /// Sharps (positive) or flats (negative); -7..=7 on paper.
    pub fifths: i8,
    /// Major or minor.
    pub mode: Mode,
}

/// The order in which sharps appear; flats appear in the opposite order.
const SHARPS: [Letter; 7] = [Letter::F, Letter::C, Letter::G, Letter::D, Letter::A, Letter::E, Letter::B];

/// The most sharps or flats that a signature has on paper.
const MOST_ACCIDENTALS: i8 = 7;

/// Why a text names no key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// Not the name of a key at all.
    #[error(
        "'{0}' is no key: write a letter A to G, b or # where it has one, then major or minor, as in Bb, F#, 'Eb major', 'G minor' (or g)"
    )]
    Unknown(String),
    /// A key that would need double accidentals in its signature.
    #[error("{asked} would need {accidentals} sharps or flats, and a signature has 7 at most: write {instead}")]
    NoSignature {
        /// The key as read.
        asked: String,
        /// How many sharps or flats it would need.
        accidentals: u8,
        /// The key of the same sound that has a signature.
        instead: String,
    },
}

impl Key {
    /// The major key with this signature.
    pub const fn major(fifths: i8) -> Key {
        Key { fifths, mode: Mode::Major }
    }

    /// The minor key with this signature.
    pub const fn minor(fifths: i8) -> Key {
        Key { fifths, mode: Mode::Minor }
    }

    /// Reads a key: `B♭`, `Bb`, `Bb major`, `B flat`, `G minor`, `Gm`. A small letter alone is minor, as
    /// musicians write it (`g`, `c#`, `bb`); with a mode, the size of the letter means nothing.
    pub fn parse(text: &str) -> Result<Key, KeyError> {
        let unknown = || KeyError::Unknown(text.trim().to_owned());
        let name = text.trim();
        let first = name.chars().next().ok_or_else(unknown)?;
        let letter = Letter::from_char(first).ok_or_else(unknown)?;
        let (alter, rest) = sign::read(&name[first.len_utf8()..]);
        let mode = match rest.trim_start_matches([' ', '-']) {
            "" if first.is_ascii_lowercase() => Mode::Minor,
            "" | "M" => Mode::Major,
            "m" => Mode::Minor,
            word => match word.to_ascii_lowercase().as_str() {
                "major" | "maj" => Mode::Major,
                "minor" | "min" => Mode::Minor,
                _ => return Err(unknown()),
            },
        };
        if alter.unsigned_abs() > 2 {
            return Err(unknown());
        }
        let key = Key::of_tonic(letter, alter, mode);
        if key.fifths.abs() > MOST_ACCIDENTALS {
            return Err(KeyError::NoSignature {
                asked: key.to_string(),
                accidentals: key.fifths.unsigned_abs(),
                instead: key.respelled().to_string(),
            });
        }
        Ok(key)
    }

    /// The key on a tonic; its signature may lie beyond what is written on paper.
    fn of_tonic(letter: Letter, alter: i8, mode: Mode) -> Key {
        // The line of fifths: F is at -1, C at 0, G at 1 …; a sharp is seven further on. The minor key
        // has the signature of the major key three fifths back.
        let fifths = line_of_fifths(letter, alter) - if mode == Mode::Minor { 3 } else { 0 };
        Key { fifths: fifths as i8, mode }
    }

    /// The letter and alteration of the first degree.
    pub fn tonic(self) -> (Letter, i8) {
        let place = i32::from(self.fifths) + if self.mode == Mode::Minor { 3 } else { 0 } + 1;
        (SHARPS[place.rem_euclid(7) as usize], place.div_euclid(7) as i8)
    }

    /// What the signature does to a letter: -1 flat, 0, 1 sharp (beyond seven fifths also ±2).
    pub fn alter(self, letter: Letter) -> i8 {
        // In the order of sharps F C G D A E B the letter at place p is sharpened once for each
        // full turn of seven fifths that passes it; flats are the same turn backwards.
        (i32::from(self.fifths) + 6 - place_among_sharps(letter)).div_euclid(7) as i8
    }

    /// The letters that the signature alters, in the order in which it writes them: B E A … for flats,
    /// F C G … for sharps.
    pub fn signature_letters(self) -> Vec<Letter> {
        let count = usize::from(self.fifths.unsigned_abs()).min(7);
        if self.fifths < 0 {
            SHARPS.into_iter().rev().take(count).collect()
        } else {
            SHARPS.into_iter().take(count).collect()
        }
    }

    /// The scale degree of a letter, 1 (the tonic) to 7.
    pub fn degree(self, letter: Letter) -> u8 {
        let (tonic, _) = self.tonic();
        (letter.step() - tonic.step()).rem_euclid(7) as u8 + 1
    }

    /// In minor, the raised leading tone: printed in the part, not in the signature. `None` in major.
    pub fn printed_leading_tone(self) -> Option<(Letter, i8)> {
        let (tonic, _) = self.tonic();
        let letter = Letter::from_step(i32::from(tonic.step()) - 1);
        (self.mode == Mode::Minor).then(|| (letter, self.alter(letter) + 1))
    }

    /// Steps between two signatures on the circle of fifths, 0 to 6.
    pub fn distance(self, other: Key) -> u8 {
        let apart = (i32::from(self.fifths) - i32::from(other.fifths)).rem_euclid(12) as u8;
        apart.min(12 - apart)
    }

    /// The key of the same sound on the other side of the circle of fifths, if this one has more than
    /// six accidentals; else itself.
    pub(super) fn respelled(self) -> Key {
        let fifths = match self.fifths {
            7.. => (self.fifths - 7) % 12 - 5,
            ..=-7 => (self.fifths + 7) % 12 + 5,
            few => few,
        };
        Key { fifths, ..self }
    }

    /// ASCII name as in JSON: `Eb major`, `F# minor`.
    pub fn ascii(self) -> String {
        let (letter, alter) = self.tonic();
        format!("{letter}{} {}", sign::ascii(alter), self.mode)
    }
}

/// Place on the line of fifths: C is 0, G is 1, F is -1; a sharp adds 7.
pub(super) fn line_of_fifths(letter: Letter, alter: i8) -> i32 {
    place_among_sharps(letter) - 1 + 7 * i32::from(alter)
}

fn place_among_sharps(letter: Letter) -> i32 {
    SHARPS.iter().position(|&sharp| sharp == letter).unwrap_or(0) as i32
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if *self == Mode::Major { "major" } else { "minor" })
    }
}

/// As people read it: `E♭ major`, `F♯ minor`.
impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (letter, alter) = self.tonic();
        write!(f, "{letter}{} {}", sign::in_name(alter), self.mode)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all_keys() -> impl Iterator<Item = Key> {
        (-7..=7).flat_map(|fifths| [Key::major(fifths), Key::minor(fifths)])
    }

    /// Common practice, no source: every beginner's book prints these names.
    #[test]
    fn names_by_signature() {
        let names: Vec<String> = (-7..=7).map(|fifths| Key::major(fifths).ascii()).collect();
        assert_eq!(
            names.join(", "),
            "Cb major, Gb major, Db major, Ab major, Eb major, Bb major, F major, C major, G major, D major, \
             A major, E major, B major, F# major, C# major"
        );
        assert_eq!(Key::minor(-2).to_string(), "G minor");
        assert_eq!(Key::minor(3).to_string(), "F♯ minor");
        assert_eq!(Key::minor(-7).to_string(), "A♭ minor");
    }

    #[test]
    fn what_is_shown_is_read_again() {
        for key in all_keys() {
            assert_eq!(Key::parse(&key.to_string()), Ok(key));
            assert_eq!(Key::parse(&key.ascii()), Ok(key));
        }
    }

    #[test]
    fn ways_to_write_a_key() {
        let flat = Key::major(-2);
        for name in ["B♭", "Bb", "Bb major", "B♭ Major", " bb major ", "B flat", "B-flat major", "Bbmaj", "B ♭", "BbM"]
        {
            assert_eq!(Key::parse(name), Ok(flat), "{name}");
        }
        for (name, fifths) in
            [("g", -2), ("G minor", -2), ("Gm", -2), ("bb", -5), ("b", 2), ("f#", 3), ("c sharp minor", 4)]
        {
            assert_eq!(Key::parse(name), Ok(Key::minor(fifths)), "{name}");
        }
    }

    #[test]
    fn what_is_no_key_is_refused_with_what_to_write() {
        for name in ["", "H", "Bb dorian", "Bbbb", "♭", "major", "B♭♭♭ minor", "é"] {
            assert!(matches!(Key::parse(name), Err(KeyError::Unknown(_))), "{name}");
        }
        let refused = Key::parse("G# major").unwrap_err().to_string();
        assert_eq!(refused, "G♯ major would need 8 sharps or flats, and a signature has 7 at most: write A♭ major");
    }

    /// One step up the circle of fifths raises exactly one letter, by one semitone.
    #[test]
    fn each_step_on_the_circle_raises_one_letter() {
        for fifths in -7..7 {
            let raised: Vec<i8> =
                Letter::ALL.map(|l| Key::major(fifths + 1).alter(l) - Key::major(fifths).alter(l)).to_vec();
            assert_eq!(raised.iter().sum::<i8>(), 1);
            assert!(raised.iter().all(|step| (0..=1).contains(step)));
        }
        for key in all_keys() {
            let total: i8 = Letter::ALL.map(|letter| key.alter(letter)).iter().sum();
            assert_eq!(total, key.fifths);
            assert_eq!(key.signature_letters().len(), usize::from(key.fifths.unsigned_abs()));
            assert!(key.signature_letters().iter().all(|&letter| key.alter(letter) == key.fifths.signum()));
        }
    }

    /// Harmonic minor, common practice: G♯ in A minor, F♯ in G minor, B♮ in C minor.
    #[test]
    fn the_leading_tone_of_minor_is_printed() {
        assert_eq!(Key::minor(0).printed_leading_tone(), Some((Letter::G, 1)));
        assert_eq!(Key::minor(-2).printed_leading_tone(), Some((Letter::F, 1)));
        assert_eq!(Key::minor(-3).printed_leading_tone(), Some((Letter::B, 0)));
        assert_eq!(Key::major(0).printed_leading_tone(), None);
    }

    #[test]
    fn degrees_count_from_the_tonic() {
        assert_eq!(Key::major(0).degree(Letter::F), 4);
        assert_eq!(Key::major(-2).degree(Letter::A), 7);
        assert_eq!(Key::minor(-2).degree(Letter::G), 1);
    }

    #[test]
    fn beyond_six_accidentals_is_respelled() {
        for (from, to) in [(6, 6), (7, -5), (8, -4), (-6, -6), (-7, 5), (-9, 3), (12, 0), (13, 1)] {
            assert_eq!(Key::major(from).respelled(), Key::major(to));
        }
    }
}
