//! Keys: a signature on the circle of fifths, and a mode.

use super::pitch::Letter;

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

/// The order in which sharps appear.
const SHARPS: [Letter; 7] = [Letter::F, Letter::C, Letter::G, Letter::D, Letter::A, Letter::E, Letter::B];

impl Key {
    /// The major key with this signature.
    pub const fn major(fifths: i8) -> Key {
        Key { fifths, mode: Mode::Major }
    }

    /// What the signature does to a letter: -1 flat, 0, 1 sharp (beyond seven fifths also ±2).
    pub fn alter(self, letter: Letter) -> i8 {
        // In the order of sharps F C G D A E B the letter at place p is sharpened once for each
        // full turn of seven fifths that passes it; flats are the same turn backwards.
        let place = SHARPS.iter().position(|&l| l == letter).unwrap_or(0) as i8;
        (self.fifths + 6 - place).div_euclid(7)
    }
}
