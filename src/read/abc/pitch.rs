//! From notes as typed to written and sounding pitch, and where the alteration of each comes from.
//!
//! ABC 2.1: 4.2 and 11.3 (accidentals hold to the bar line, in all octaves unless a directive says otherwise), 3.1.14 (key),
//! 4.6 (octaves, transposition). That a tied note keeps its accidental over the bar line, and those after it do not, is
//! common practice, no source.

use super::items::Head;
use super::key::Signature;
use super::staff::Staff;
use super::tune::Reach;
use crate::exercise::Alteration;
use crate::read::spelling::{Printed, usual_steps};
use crate::theory::{Key, Pitch, Transposition};

/// The accidentals in force.
#[derive(Debug, Default)]
pub(super) struct Carried {
    /// By letter or by letter and octave.
    in_force: Vec<(i32, i8)>,
    /// Notes tied to what follows.
    tied: Vec<(i32, i8)>,
}

/// How a note is altered.
pub(super) struct Altered {
    pub(super) alter: i8,
    pub(super) source: Alteration,
    /// It goes on from the note before.
    pub(super) is_tied_to: bool,
}

impl Carried {
    /// A bar line or a new key.
    pub(super) fn forget(&mut self) {
        self.in_force.clear();
    }

    /// What sounds now is tied to what comes next.
    pub(super) fn tied(&mut self, tied: Vec<(i32, i8)>) {
        self.tied = tied;
    }

    /// The alteration of a note.
    pub(super) fn alter(&mut self, head: &Head, signature: &Signature, reach: Reach) -> Altered {
        let place = place(head);
        let key = if reach == Reach::Letter { head.letter as i32 } else { place };
        let usual = signature.key.alter(head.letter);
        let of_signature = |alter: i8| if alter == usual { Alteration::Signature } else { Alteration::Printed };
        let carried = self.in_force.iter().find(|(carried, _)| *carried == key).map(|&(_, alter)| alter);
        let tied = self.tied.iter().find(|(tied, _)| *tied == place).map(|&(_, alter)| alter);
        let (alter, source) = match (head.accidental, tied, carried) {
            (Some(alter), ..) => {
                if reach != Reach::Note {
                    self.in_force.retain(|(carried, _)| *carried != key);
                    self.in_force.push((key, alter));
                }
                // A courtesy accidental says what the signature says anyway, unless it takes back an earlier one.
                (alter, if carried.is_none() { of_signature(alter) } else { Alteration::Printed })
            }
            (None, Some(alter), _) => (alter, of_signature(alter)),
            (None, None, Some(alter)) => (alter, Alteration::Carried),
            (None, None, None) => {
                let alter = signature.alter(head.letter);
                (alter, of_signature(alter))
            }
        };
        Altered { alter, source, is_tied_to: tied == Some(alter) }
    }
}

/// The place of a typed note, as letters above C0.
pub(super) fn place(head: &Head) -> i32 {
    Pitch::new(head.letter, 0, head.octave).diatonic()
}

/// From typed to written and sounding.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tuning {
    /// The player's instrument where the file is at concert pitch and the instrument is not.
    pub(super) instrument: Option<Transposition>,
}

impl Tuning {
    /// For a voice whose staves are these. A file that transposes anywhere counts before the instrument; a difference of octaves
    /// alone is how such parts are printed anyway.
    pub(super) fn new<'a>(mut staves: impl Iterator<Item = &'a Staff>, instrument: Option<Transposition>) -> Tuning {
        let file_transposes = staves.any(|staff| of_staff(staff).is_some());
        Tuning { instrument: instrument.filter(|instrument| !file_transposes && instrument.chromatic % 12 != 0) }
    }

    /// What is added to the written pitch to get the sounding one; `None` where nothing says it.
    pub(super) fn transposition(&self, staff: &Staff) -> Option<Transposition> {
        self.instrument.or_else(|| of_staff(staff))
    }

    /// The key as printed.
    pub(super) fn key(&self, key: Key) -> Key {
        self.instrument.map_or(key, |instrument| Printed::new(key, instrument).key)
    }

    /// The written pitch and the sounding MIDI number.
    pub(super) fn tune(&self, head: &Head, alter: i8, key: Key, staff: &Staff) -> (Pitch, i16) {
        let typed = Pitch::new(head.letter, alter, head.octave + staff.octave);
        let sounding = typed.midi() + staff.sounding_semitones();
        let written = match self.instrument {
            Some(instrument) => Printed::new(key, instrument).pitch(typed),
            None => Pitch { octave: typed.octave + staff.printed_octaves(), ..typed },
        };
        (written, sounding)
    }
}

/// The transposition that a staff states.
fn of_staff(staff: &Staff) -> Option<Transposition> {
    let octaves = i16::from(staff.clef_octaves()) - i16::from(staff.printed_octaves());
    if staff.transpose.is_none() && octaves == 0 {
        return None;
    }
    let semitones = i16::from(staff.transpose.unwrap_or(0));
    let steps = usual_steps(i64::from(semitones)) as i16;
    Some(Transposition { diatonic: (steps + 7 * octaves) as i8, chromatic: (semitones + 12 * octaves) as i8 })
}
