//! What stands on one instrument's sheet.

use super::changed::{self, KeySection};
use super::counts::{MeasureCount, Release, count};
use super::numbers::{self, RangeCheck, Spot, Stretch};
use crate::exercise::Part;
use crate::instrument::{Family, Instrument};
use crate::theory::Key;

/// How a line was printed for an instrument that it was not written for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// Octaves that it sounds above (negative: below) the line.
    pub octaves: i8,
    /// The concert key of each measure of the line: a respelled part does not tell how the band names it.
    pub concert_keys: Vec<Key>,
}

/// A sheet, as data.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// The instrument, where it is known.
    pub instrument: Option<Instrument>,
    /// The part as this instrument reads it.
    pub part: Part,
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
            moved,
        }
    }
}
