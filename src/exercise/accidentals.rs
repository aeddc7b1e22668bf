//! Where the alteration of each note comes from: the signature, a printed accidental, or one carried
//! from earlier in the measure.
//!
//! In: the notes of one staff and measure in order. An accidental holds for its letter in its octave to
//! the end of the measure (common practice, no source).

use super::Alteration;
use crate::theory::{Key, Pitch};
use std::collections::BTreeMap;

/// The accidentals in force in one measure of one staff. A new one is made at each barline and key change.
#[derive(Debug, Default)]
pub(crate) struct Accidentals {
    in_force: BTreeMap<i32, i8>,
}

impl Accidentals {
    /// Takes in the next note. `printed`: an accidental stands at the note; `tied_to`: it only continues
    /// a note tied to it, whose accidental does not hold for others in this measure.
    ///
    /// Files without printed accidentals are read as if what must be printed were printed. A courtesy accidental
    /// that says what the signature says anyway counts as the signature, unless it undoes an earlier one.
    pub(crate) fn source(&mut self, pitch: Pitch, key: Key, printed: bool, tied_to: bool) -> Alteration {
        let signature = key.alter(pitch.letter);
        let carried = self.in_force.get(&pitch.diatonic()).copied();
        if !printed && tied_to {
            return if pitch.alter == signature { Alteration::Signature } else { Alteration::Printed };
        }
        match carried {
            None if pitch.alter == signature => Alteration::Signature,
            Some(alter) if alter == pitch.alter && !printed => Alteration::Carried,
            _ => {
                self.in_force.insert(pitch.diatonic(), pitch.alter);
                Alteration::Printed
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::Letter;

    fn f(alter: i8) -> Pitch {
        Pitch::new(Letter::F, alter, 4)
    }

    /// Common practice, no source: F♯ printed in C major holds to the barline, a natural takes it back.
    #[test]
    fn an_accidental_holds_to_the_barline() {
        let (mut measure, key) = (Accidentals::default(), Key::major(0));
        assert_eq!(measure.source(f(0), key, false, false), Alteration::Signature);
        assert_eq!(measure.source(f(1), key, true, false), Alteration::Printed);
        assert_eq!(measure.source(f(1), key, false, false), Alteration::Carried);
        assert_eq!(measure.source(Pitch::new(Letter::F, 0, 5), key, false, false), Alteration::Signature);
        assert_eq!(measure.source(f(0), key, true, false), Alteration::Printed);
        assert_eq!(measure.source(f(0), key, false, false), Alteration::Carried);
    }

    #[test]
    fn a_courtesy_accidental_is_the_signatures() {
        let mut measure = Accidentals::default();
        assert_eq!(measure.source(f(1), Key::major(1), true, false), Alteration::Signature);
        assert_eq!(measure.source(f(1), Key::major(1), false, false), Alteration::Signature);
    }

    #[test]
    fn a_tie_over_the_barline_does_not_carry() {
        let (mut measure, key) = (Accidentals::default(), Key::major(0));
        assert_eq!(measure.source(f(1), key, false, true), Alteration::Printed);
        assert_eq!(measure.source(f(0), key, false, false), Alteration::Signature);
    }
}
