//! What stands on one instrument's sheet.

use super::changed::{self, ChangedNote, KeySection};
use super::counts::{MeasureCount, Release, count};
use super::numbers::{self, RangeCheck, Spot, Stretch};
use super::plan::Share;
use crate::exercise::Part;
use crate::instrument::{Family, Instrument};
use crate::theory::{Key, Letter, Pitch};

/// How a line was printed for an instrument that it was not written for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// Octaves that it sounds above (negative: below) the line.
    pub octaves: i8,
    /// The concert key of each measure of the line: a respelled part does not tell how the band names it.
    pub concert_keys: Vec<Key>,
}

/// Whom a sheet is for.
#[derive(Debug, Clone, PartialEq)]
pub struct ForPlayer {
    /// The player's name.
    pub name: String,
    /// Changed notes of the part that the player keeps missing, as the part has them (letter and alteration), with how much
    /// of them was missed.
    pub missed: Vec<(Letter, i8, Share)>,
}

/// A sheet, as data.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// The instrument, where it is known.
    pub instrument: Option<Instrument>,
    /// The part as this instrument reads it.
    pub part: Part,
    /// One player's own sheet.
    pub player: Option<ForPlayer>,
    /// `None` for the file's own part.
    pub moved: Option<Moved>,
    /// Its keys, with their changed notes.
    pub sections: Vec<KeySection>,
    /// The count of each measure of the page.
    pub counts: Vec<MeasureCount>,
    /// Where notes before a rest, and the last one, are let go; none for instruments that do not sustain.
    pub releases: Vec<Release>,
    /// Changed notes that are harder than others, the hardest first.
    pub hard_spots: Vec<Spot>,
    /// The longest note, an index into [`Part::notes`].
    pub longest: Option<usize>,
    /// Where winds cannot breathe; none for others.
    pub breathless: Vec<Stretch>,
    /// The written range, where the instrument is known.
    pub range: Option<RangeCheck>,
}

impl Sheet {
    /// The sheet of a part that its instrument reads as it is. `family` are the band's concert keys.
    pub fn new(part: Part, instrument: Option<Instrument>, moved: Option<Moved>, family: &[Key]) -> Sheet {
        let transposition = part.transposition.unwrap_or_default();
        let concert = moved.as_ref().map(|moved| moved.concert_keys.as_slice()).unwrap_or_default();
        let sections = changed::sections(&part, transposition, concert, instrument.as_ref(), family);
        let (counts, mut releases) = count(&part);
        if instrument.as_ref().is_some_and(|instrument| !instrument.sustains) {
            releases.clear();
        }
        let is_wind = instrument.as_ref().is_none_or(|it| matches!(it.family, Family::Woodwind | Family::Brass));
        Sheet {
            hard_spots: numbers::hard_spots(&part, &sections, instrument.as_ref()),
            longest: numbers::longest(&part),
            breathless: if is_wind { numbers::breathless(&part) } else { Vec::new() },
            range: instrument.as_ref().and_then(|instrument| numbers::range(&part, instrument)),
            sections,
            counts,
            releases,
            instrument,
            part,
            player: None,
            moved,
        }
    }

    /// Makes it one player's own: a changed note that the player keeps missing moves up. `missed` are concert pitches, the
    /// surest first.
    pub fn for_player(&mut self, name: &str, missed: &[(Letter, i8, Share)]) {
        let transposition = self.part.transposition.unwrap_or_default();
        let written = |&(letter, alter, share): &(Letter, i8, Share)| {
            let pitch = transposition.to_written(Pitch::new(letter, alter, 4));
            (pitch.letter, pitch.alter, share)
        };
        let missed: Vec<_> = missed.iter().map(written).collect();
        for section in &mut self.sections {
            let place = |it: &ChangedNote| {
                missed.iter().position(|&(letter, alter, _)| (letter, alter) == (it.changed.letter, it.changed.alter))
            };
            // Stable: the others stay in their order.
            section.changed.sort_by_key(|it| place(it).unwrap_or(usize::MAX));
        }
        self.player = Some(ForPlayer { name: name.into(), missed });
    }
}
