//! From bare MIDI numbers to spelled notes.

use crate::theory::{Key, Letter, Mode, Pitch};

pub(super) use crate::theory::Printed;

/// Spells a MIDI number in a key: its own notes as in the signature, the others as most often written there (no
/// source; flats down to the lowered second, sharps up to the raised fourth of major; minor with raised
/// sixth and seventh).
pub(super) fn spell(midi: u8, key: Key) -> Pitch {
    // Places on the line of fifths: F is -1, C 0, G 1 ...; a key of n fifths has the seven from n - 1.
    let lowest = i32::from(key.fifths) - if key.mode == Mode::Minor { 3 } else { 4 };
    let number = i32::from(midi);
    let mut place = lowest + (number * 7 - lowest).rem_euclid(12);
    // C♭ and F♭ are written only where the signature has them.
    if place <= -7 && place < i32::from(key.fifths) - 1 {
        place += 12;
    }
    let letter = Letter::from_step(place * 4);
    let alter = (place + 1).div_euclid(7);
    let octave = (number - alter - i32::from(letter.semitones())).div_euclid(12) - 1;
    Pitch::new(letter, alter as i8, octave as i8)
}

/// Letters of the usual interval of so many semitones, where the file leaves them out.
pub(super) fn usual_steps(semitones: i64) -> i64 {
    const STEPS: [i64; 12] = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
    let (octaves, rest) = (semitones.abs() / 12, semitones.abs() % 12);
    semitones.signum() * (7 * octaves + STEPS[rest as usize])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spelling_follows_the_key() {
        let names = |key| (60..72).map(|midi| spell(midi, key).ascii()).collect::<Vec<_>>().join(" ");
        assert_eq!(names(Key::major(0)), "C4 C#4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4");
        assert_eq!(names(Key::major(-3)), "C4 Db4 D4 Eb4 E4 F4 Gb4 G4 Ab4 A4 Bb4 B4");
        assert_eq!(names(Key { fifths: 0, mode: Mode::Minor }), "C4 C#4 D4 Eb4 E4 F4 F#4 G4 G#4 A4 Bb4 B4");
    }

    #[test]
    fn every_spelling_sounds_right() {
        for midi in 0..=127u8 {
            for fifths in -7..=7 {
                for mode in [Mode::Major, Mode::Minor] {
                    assert_eq!(spell(midi, Key { fifths, mode }).midi(), i16::from(midi));
                }
            }
        }
    }
}
