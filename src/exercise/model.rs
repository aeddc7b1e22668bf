//! One part in performed order: repeats taken, ties merged, grace and cue notes left out.

use super::{Flow, Quarters, TempoMap};
use crate::theory::{Key, Pitch, Transposition};

/// What a file holds, and the part of it that was chosen.
#[derive(Debug, Clone)]
pub struct Exercise {
    /// The title, where the file has one.
    pub title: Option<String>,
    /// All parts of the file, in order.
    pub parts: Vec<PartName>,
    /// The chosen part.
    pub part: Part,
    /// What the reader skipped or decided, one plain sentence each.
    pub notices: Vec<String>,
}

/// How a file names a part.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PartName {
    /// Identifier in the file (`P1`), or the track number of a MIDI file.
    pub id: String,
    /// The printed name.
    pub name: String,
    /// Further hints to the instrument: abbreviation, instrument names, sounds, in the file's order.
    pub hints: Vec<String>,
}

/// The line for one player, as performed.
#[derive(Debug, Clone)]
pub struct Part {
    /// How the file names it.
    pub name: PartName,
    /// The transposition at the start; `None` where the file gives none (a concert score or C part).
    pub transposition: Option<Transposition>,
    /// Measures in performed order.
    pub measures: Vec<Measure>,
    /// Sounding notes in performed order.
    pub notes: Vec<Note>,
    /// The tempo printed in the exercise.
    pub tempo: TempoMap,
    /// Whether the file gives a tempo at all.
    pub tempo_given: bool,
}

/// A meter as printed, additive meters summed: 3+2/8 is five eighths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Meter {
    /// Upper number.
    pub count: u16,
    /// Lower number: 4 for quarters, 8 for eighths.
    pub unit: u16,
}

impl Meter {
    /// Four quarters, where nothing is said.
    pub const COMMON: Meter = Meter { count: 4, unit: 4 };

    /// Reads `4/4`, `6/8`; the upper number up to 64, the lower a power of two up to 64. `None`: no meter.
    pub fn parse(text: &str) -> Option<Meter> {
        let (count, unit) = text.trim().split_once('/')?;
        let meter = Meter { count: count.parse().ok()?, unit: unit.parse().ok()? };
        let sound = (1..=64).contains(&meter.count) && meter.unit.is_power_of_two() && meter.unit <= 64;
        sound.then_some(meter)
    }

    /// The beat: the quarter in x/4, the half in x/2, the dotted quarter in 6/8, 9/8, 12/8 (DESIGN.md §3).
    /// Other meters: the unit of the lower number, and three of them where the upper number is a
    /// multiple of three above three.
    pub fn beat(self) -> Quarters {
        let unit = Quarters::new(4, i64::from(self.unit.max(1)));
        if self.unit >= 8 && self.count > 3 && self.count.is_multiple_of(3) { unit.times(3, 1) } else { unit }
    }

    /// The length of a full measure.
    pub fn measure(self) -> Quarters {
        Quarters::new(4 * i64::from(self.count), i64::from(self.unit.max(1)))
    }
}

/// One measure as performed.
#[derive(Debug, Clone)]
pub struct Measure {
    /// The printed label, as it stands: need not be unique or a number.
    pub label: String,
    /// Which measure of the page it is, from 0; performed repeats share it.
    pub page_index: usize,
    /// Where it begins.
    pub onset: Quarters,
    /// As long as what it holds.
    pub duration: Quarters,
    /// The meter in force.
    pub meter: Meter,
    /// The written key in force at its start.
    pub key: Key,
    /// A pickup or another measure that is not counted (`implicit`).
    pub implicit: bool,
    /// A phrase may begin here: after a double bar, a rest of a measure, a repeat sign, a rehearsal letter.
    pub phrase_start: bool,
    /// The signs on the page that led here, for writing the part out again.
    pub(crate) flow: Flow,
}

/// Where the alteration of a written note comes from (DESIGN.md §2).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Alteration {
    /// The key signature.
    Signature,
    /// An accidental printed at the note itself.
    Printed,
    /// An accidental printed earlier in the measure.
    Carried,
}

/// What stands after a note, in performed order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FollowedBy {
    /// Another note begins where this one ends.
    Note,
    /// Silence, also after the last note where the last measure goes on.
    Rest,
    /// The end of the exercise.
    End,
}

/// One sounding note.
#[derive(Debug, Clone)]
pub struct Note {
    /// Place in performed order, from 0.
    pub index: usize,
    /// Index into [`Part::measures`] of the measure where it begins.
    pub measure: usize,
    /// Where it begins, from score time zero.
    pub onset: Quarters,
    /// Its full value, ties merged.
    pub duration: Quarters,
    /// As printed in the part.
    pub written: Pitch,
    /// As it sounds: a MIDI number.
    pub sounding: u8,
    /// The written key in force.
    pub key: Key,
    /// Where its flat, natural or sharp comes from.
    pub alteration: Alteration,
    /// What follows it.
    pub followed_by: FollowedBy,
    /// Marked staccato (or staccatissimo).
    pub staccato: bool,
    /// Under a fermata.
    pub fermata: bool,
    /// Slurred to the next note.
    pub slurred: bool,
    /// A breath mark or caesura after it.
    pub breath: bool,
    /// Other chord notes, as MIDI numbers: accepted in its place, never extra.
    pub chord: Vec<u8>,
    /// Grace notes before it, as MIDI numbers: may be played or left out.
    pub graces: Vec<u8>,
    /// The identifier in the file, where there is one.
    pub id: Option<String>,
    /// Where the page ties it, from its start: the shapes that it is printed with.
    pub(crate) ties: Vec<Quarters>,
}

impl Note {
    /// The point where its full value ends.
    pub fn end(&self) -> Quarters {
        self.onset + self.duration
    }
}

impl Part {
    /// The measure in which a note begins. `None` only for a note of another part.
    pub fn measure_of(&self, note: &Note) -> Option<&Measure> {
        self.measures.get(note.measure)
    }

    /// The beat of the measure on which a note begins: 1 is the first beat. In a pickup the beats
    /// count back from the barline, so that a quarter before 4/4 is beat 4.
    pub fn beat_of(&self, note: &Note) -> Quarters {
        let Some(measure) = self.measure_of(note) else { return Quarters::new(1, 1) };
        let missing = measure.meter.measure() - measure.duration;
        let skipped =
            if measure.implicit && note.measure == 0 && missing > Quarters::ZERO { missing } else { Quarters::ZERO };
        (note.onset - measure.onset + skipped).in_beats(measure.meter.beat()) + Quarters::new(1, 1)
    }

    /// The beat in quarters where a note begins.
    pub fn beat_unit(&self, note: &Note) -> Quarters {
        self.measure_of(note).map_or(Quarters::new(1, 1), |measure| measure.meter.beat())
    }
}
