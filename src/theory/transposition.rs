//! Transposition by diatonic and chromatic step, as MusicXML 4.0 `<transpose>` defines it: what is
//! added to the *written* pitch to get the *sounding* one.

use super::key::Key;
use super::pitch::{Letter, Pitch};

/// Written pitch plus this is concert pitch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Transposition {
    /// Letters up (negative: down), octaves included.
    pub diatonic: i8,
    /// Semitones up (negative: down), octaves included.
    pub chromatic: i8,
}

impl Transposition {
    /// The usual interval of so many semitones, where nothing tells the letters: 3 is a minor third, 6 an augmented
    /// fourth.
    pub fn usual(semitones: i8) -> Transposition {
        const STEPS: [i8; 12] = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
        let (octaves, rest) = (semitones / 12, semitones % 12);
        let steps = STEPS[usize::from(rest.unsigned_abs())];
        Transposition { diatonic: 7 * octaves + semitones.signum() * steps, chromatic: semitones }
    }

    /// Written pitch to concert pitch.
    pub fn to_concert(self, written: Pitch) -> Pitch {
        shift(written, i32::from(self.diatonic), i16::from(self.chromatic))
    }

    /// Concert pitch to written pitch.
    pub fn to_written(self, concert: Pitch) -> Pitch {
        shift(concert, -i32::from(self.diatonic), -i16::from(self.chromatic))
    }

    /// The key printed in the part for a concert key; beyond six accidentals it is printed as the key
    /// of the same sound with fewer. Instruments that do not transpose, or by octaves only, keep the key.
    pub fn key_to_written(self, concert: Key) -> Key {
        self.moved(concert, -self.fifths())
    }

    /// Whether a concert key is printed as another spelling of it: beyond six accidentals.
    pub fn is_respelled(self, concert: Key) -> bool {
        self.fifths() != 0 && self.key_to_written(concert).fifths != concert.fifths - self.fifths() as i8
    }

    /// The concert key of a printed one, respelled in the same way.
    pub fn key_to_concert(self, written: Key) -> Key {
        self.moved(written, self.fifths())
    }

    fn moved(self, key: Key, fifths: i32) -> Key {
        if fifths == 0 {
            return key;
        }
        let sum = (i32::from(key.fifths) + fifths).clamp(i32::from(i8::MIN) + 7, i32::from(i8::MAX) - 7);
        Key { fifths: sum as i8, ..key }.respelled()
    }

    /// The interval as steps on the line of fifths. A fifth is 4 letters and 7 semitones, an octave 7
    /// and 12: fifths = 7 × semitones − 12 × letters holds for both, hence for every interval.
    fn fifths(self) -> i32 {
        7 * i32::from(self.chromatic) - 12 * i32::from(self.diatonic)
    }
}

fn shift(pitch: Pitch, steps: i32, semitones: i16) -> Pitch {
    let place = pitch.diatonic() + steps;
    let natural = Pitch::new(Letter::from_step(place), 0, place.div_euclid(7) as i8);
    let alter = pitch.midi() + semitones - natural.midi();
    Pitch { alter: alter as i8, ..natural }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// MusicXML 4.0, `<transpose>`: its example is the part for clarinet in B♭, diatonic -1 and
    /// chromatic -2. The others by hand.
    #[test]
    fn pitches_by_hand() {
        let clarinet = Transposition { diatonic: -1, chromatic: -2 };
        let alto = Transposition { diatonic: -5, chromatic: -9 };
        let pitch = |name: &str| Pitch::parse(name).unwrap();
        assert_eq!(clarinet.to_concert(pitch("C4")), pitch("Bb3"));
        assert_eq!(clarinet.to_concert(pitch("F#4")), pitch("E4"));
        assert_eq!(alto.to_concert(pitch("F4")), pitch("Ab3"));
        assert_eq!(alto.to_written(pitch("Ab3")), pitch("F4"));
    }

    #[test]
    fn keys_by_hand() {
        let clarinet = Transposition { diatonic: -1, chromatic: -2 };
        let horn = Transposition { diatonic: -4, chromatic: -7 };
        let piccolo = Transposition { diatonic: 7, chromatic: 12 };
        let key = |name: &str| Key::parse(name).unwrap();
        assert_eq!(clarinet.key_to_written(key("Bb")), key("C"));
        assert_eq!(horn.key_to_written(key("Eb")), key("Bb"));
        assert_eq!(horn.key_to_concert(key("Bb")), key("Eb"));
        assert_eq!(clarinet.key_to_written(key("g")), key("a"));
        // B major for a B♭ instrument would be C♯ major, seven sharps: printed as D♭ major.
        assert_eq!(clarinet.key_to_written(key("B")), key("Db"));
        assert_eq!(piccolo.key_to_written(key("C#")), key("C#"));
    }

    proptest! {
        #[test]
        fn written_to_concert_and_back(step in 0i32..7, alter in -2i8..=2, octave in 0i8..9,
                                       diatonic in -21i8..=21, off in -2i16..=2) {
            let pitch = Pitch::new(Letter::from_step(step), alter, octave);
            let chromatic = (i16::from(diatonic) * 12 / 7 + off) as i8;
            let transposition = Transposition { diatonic, chromatic };
            prop_assert_eq!(transposition.to_written(transposition.to_concert(pitch)), pitch);
            prop_assert_eq!(transposition.to_concert(pitch).midi(), pitch.midi() + i16::from(chromatic));
        }

        /// The key moves as its tonic does, wherever no respelling is needed.
        #[test]
        fn a_key_moves_with_its_tonic(fifths in -3i8..=3, diatonic in -7i8..=7) {
            let chromatic = [0, 2, 4, 5, 7, 9, 11][usize::from(diatonic.unsigned_abs()) % 7]
                + 12 * (diatonic.abs() / 7);
            let transposition = Transposition { diatonic, chromatic: chromatic * diatonic.signum() };
            let written = Key::major(fifths);
            let (letter, alter) = written.tonic();
            let tonic = transposition.to_concert(Pitch::new(letter, alter, 4));
            let concert = transposition.key_to_concert(written);
            let (letter, alter) = concert.tonic();
            prop_assert_eq!((tonic.midi() - Pitch::new(letter, alter, 4).midi()).rem_euclid(12), 0);
            prop_assert_eq!(transposition.key_to_written(concert), written);
        }
    }
}
