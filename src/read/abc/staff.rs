//! Clef, octave and transposition of a voice. ABC 2.1, 4.6.
//!
//! Three pitches are told apart: as typed; as *printed* (`octave=` raises it; with `middle=` a clef shows other octaves than
//! its own); and as it *sounds* (`transpose=`, and the 8 at a clef, move it from what is typed).

use super::cursor::Cursor;
use super::properties::Property;
use super::{heads, wrong};
use crate::read::ReadError;
use crate::theory::{Letter, Pitch};

/// The most semitones of `transpose=`: three octaves, as in MusicXML's reader.
const MOST_SEMITONES: i8 = 36;

/// How typed notes are printed and sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Staff {
    clef: Clef,
    /// Octaves added to what is typed.
    pub(super) octave: i8,
    /// Semitones from typed (with its octaves) to sounding; `None` where nothing is said.
    pub(super) transpose: Option<i8>,
    /// The note on the middle line, as a number of letters above C0.
    middle: Option<i32>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Clef {
    kind: Kind,
    /// 1 is the lowest.
    line: i8,
    /// The 8 or 15 at the clef.
    octaves: i8,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Treble,
    C,
    Bass,
    Percussion,
    None,
}

impl Default for Clef {
    fn default() -> Clef {
        Clef { kind: Kind::Treble, line: 2, octaves: 0 }
    }
}

impl Clef {
    /// `treble`, `bass3`, `treble-8`; `None` if it is no clef.
    fn parse(text: &str) -> Option<Clef> {
        let digits = text.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(text.len());
        let (name, rest) = text.split_at(digits);
        let (kind, usual) = match name {
            "treble" => (Kind::Treble, 2),
            "alto" => (Kind::C, 3),
            "tenor" => (Kind::C, 4),
            "bass" => (Kind::Bass, 4),
            "perc" => (Kind::Percussion, 3),
            "none" => (Kind::None, 3),
            _ => return None,
        };
        let (line, rest) = match rest.as_bytes() {
            [line @ b'1'..=b'5', ..] => ((line - b'0') as i8, &rest[1..]),
            _ => (usual, rest),
        };
        let octaves = if rest.is_empty() { 0 } else { octaves(rest)? };
        Some(Clef { kind, line, octaves })
    }

    /// The note on the middle line, as letters above C0.
    fn middle(self) -> i32 {
        let (letter, octave) = match self.kind {
            Kind::Treble => (Letter::G, 4),
            Kind::C => (Letter::C, 4),
            Kind::Bass => (Letter::F, 3),
            Kind::Percussion | Kind::None => return Pitch::new(Letter::B, 0, 4).diatonic(),
        };
        // Two letters from line to line.
        Pitch::new(letter, 0, octave).diatonic() + 2 * (3 - i32::from(self.line))
    }
}

/// The 8 at a clef, in octaves. The standard has `+8` and `-8`; the others are found in files.
fn octaves(text: &str) -> Option<i8> {
    Some(match text {
        "+8" | "^8" | "+8va" => 1,
        "-8" | "_8" | "-8va" => -1,
        "+15" | "^15" => 2,
        "-15" | "_15" => -2,
        _ => return None,
    })
}

impl Staff {
    /// Takes in a property; false if it is none of a staff.
    pub(super) fn apply(&mut self, property: &Property) -> Result<bool, ReadError> {
        let value = property.value.as_str();
        match property.name.as_str() {
            // An unknown clef changes nothing.
            "" | "clef" => match (Clef::parse(value), octaves(value)) {
                (Some(clef), _) => self.clef = clef,
                (None, Some(octaves)) => self.clef.octaves = octaves,
                (None, None) => return Ok(false),
            },
            "middle" | "m" => {
                let mut cursor = Cursor::new(value, property.at);
                let head = heads::head(&mut cursor)?;
                self.middle = Some(Pitch::new(head.letter, 0, head.octave).diatonic());
            }
            "transpose" | "t" => self.transpose = Some(number(property, MOST_SEMITONES)?),
            "octave" => self.octave = number(property, 5)?,
            "stafflines" | "staffscale" | "stem" => {}
            _ => return Ok(false),
        }
        Ok(true)
    }

    /// No pitches: the drum clef.
    pub(super) fn is_unpitched(&self) -> bool {
        self.clef.kind == Kind::Percussion
    }

    /// Octaves from typed (with `octave=`) to printed: `middle=d` in the bass clef shows d two octaves lower. A `middle=` that
    /// the clef has on another line only moves the clef there.
    pub(super) fn printed_octaves(&self) -> i8 {
        let Some(middle) = self.middle else { return 0 };
        let fits = |octaves: &i8| {
            let mut lines = (1..=5).map(|line| Clef { line, ..self.clef }.middle());
            lines.any(|on_line| on_line == middle + 7 * i32::from(*octaves))
        };
        [0, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5].into_iter().find(fits).unwrap_or(0)
    }

    /// Semitones from typed (with `octave=`) to sounding.
    pub(super) fn sounding_semitones(&self) -> i16 {
        i16::from(self.transpose.unwrap_or(0)) + 12 * i16::from(self.clef.octaves)
    }

    /// The 8 at the clef, in octaves.
    pub(super) fn clef_octaves(&self) -> i8 {
        self.clef.octaves
    }
}

fn number(property: &Property, most: i8) -> Result<i8, ReadError> {
    let text = property.value.strip_prefix('+').unwrap_or(&property.value);
    let number = text.parse::<i8>().ok().filter(|number| (-most..=most).contains(number));
    number.ok_or_else(|| {
        let (name, value) = (&property.name, crate::read::error::shown(&property.value));
        wrong(property.at, format!("{name}= is \"{value}\": write a whole number from -{most} to {most}"))
    })
}

#[cfg(test)]
mod tests {
    use super::super::lines::At;
    use super::super::properties;
    use super::*;

    fn staff(text: &str) -> Staff {
        let mut staff = Staff::default();
        for property in properties::all(&mut Cursor::new(text, At { line: 1, column: 1 })) {
            assert!(staff.apply(&property).unwrap(), "{text}");
        }
        staff
    }

    /// ABC 2.1, 4.6: the defaults of `middle`: B for treble, C for alto, A, for tenor, D, for bass.
    #[test]
    fn middle_lines() {
        for (clef, middle) in [("treble", "B4"), ("alto", "C4"), ("tenor", "A3"), ("bass", "D3"), ("none", "B4")] {
            assert_eq!(staff(clef).clef.middle(), Pitch::parse(middle).unwrap().diatonic(), "{clef}");
        }
    }

    /// ABC 2.1, 4.6 and 7: bass middle=d transpose=-24 sounds as it is printed, two octaves below what is typed.
    #[test]
    fn typed_printed_and_sounding() {
        let shifts = |text: &str| (staff(text).printed_octaves(), staff(text).sounding_semitones());
        assert_eq!(shifts("middle=d clef=bass transpose=-24"), (-2, -24));
        assert_eq!(shifts("transpose=-2"), (0, -2));
        assert_eq!(shifts("clef=treble-8"), (0, -12));
        assert_eq!(shifts("t=+3 treble+8"), (0, 15));
        assert_eq!(shifts("-8va"), (0, -12));
        // The soprano clef by its middle line: G on the middle line is the C clef on line 1.
        assert_eq!(shifts("alto middle=G"), (0, 0));
        assert_eq!(staff("octave=-1").octave, -1);
        assert!(staff("perc stafflines=1").is_unpitched());
    }
}
