//! One key and its notes as another part prints them, respelled together.

use super::{Key, Pitch, Transposition};

/// How a key and its notes are written for an instrument that transposes: beyond six accidentals the key is printed
/// as the one of the same sound with fewer, and every note moves by a letter with it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Printed {
    /// The written key.
    pub(crate) key: Key,
    /// Written pitch plus this is concert pitch; spelled for that key.
    transposition: Transposition,
}

impl Printed {
    /// For an instrument that transposes by so much, from concert pitch. Between two written parts: what the new
    /// instrument transposes by less what the old one does.
    pub(crate) fn new(concert: Key, transposition: Transposition) -> Printed {
        let key = transposition.key_to_written(concert);
        // Where the key was respelled by twelve fifths the notes move by a letter with it.
        let fifths = 7 * i32::from(transposition.chromatic) - 12 * i32::from(transposition.diatonic);
        let turns = (i32::from(key.fifths) - (i32::from(concert.fifths) - fifths)) / 12;
        Printed {
            key,
            transposition: Transposition { diatonic: transposition.diatonic + turns as i8, ..transposition },
        }
    }

    /// As printed in the part.
    pub(crate) fn pitch(&self, concert: Pitch) -> Pitch {
        self.transposition.to_written(concert)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Letter;
    use super::*;

    /// DESIGN.md §2, common practice: concert E♭ is F for B♭, C for E♭ instruments, B♭ for horn in F.
    #[test]
    fn written_keys() {
        let eb = Key::major(-3);
        for (diatonic, chromatic, fifths) in [(-1, -2, -1), (-5, -9, 0), (-4, -7, -2), (0, 0, -3), (-7, -12, -3)] {
            assert_eq!(Printed::new(eb, Transposition { diatonic, chromatic }).key, Key::major(fifths));
        }
        // Concert E (4 sharps) would be C♯ (7) for E♭ instruments: written D♭ (5 flats), and E sounds from D♭.
        let alto = Printed::new(Key::major(4), Transposition { diatonic: -5, chromatic: -9 });
        assert_eq!(alto.key, Key::major(-5));
        assert_eq!(alto.pitch(Pitch::new(Letter::E, 0, 4)), Pitch::new(Letter::D, -1, 5));
        // Who does not transpose reads the key as it is.
        assert_eq!(Printed::new(Key::major(7), Transposition::default()).key, Key::major(7));
    }
}
