//! Transposition by diatonic and chromatic step, as MusicXML 4.0 `<transpose>` defines it: what is
//! added to the *written* pitch to get the *sounding* one.

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
    /// Written pitch to concert pitch.
    pub fn to_concert(self, written: Pitch) -> Pitch {
        shift(written, i32::from(self.diatonic), i16::from(self.chromatic))
    }

    /// Concert pitch to written pitch.
    pub fn to_written(self, concert: Pitch) -> Pitch {
        shift(concert, -i32::from(self.diatonic), -i16::from(self.chromatic))
    }
}

fn shift(pitch: Pitch, steps: i32, semitones: i16) -> Pitch {
    let place = pitch.diatonic() + steps;
    let natural = Pitch::new(Letter::from_step(place), 0, place.div_euclid(7) as i8);
    let alter = pitch.midi() + semitones - natural.midi();
    Pitch { alter: alter as i8, ..natural }
}
