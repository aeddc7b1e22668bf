//! One part as it stands on the page: measures in printed order, notes in all voices, and the signs that
//! say where to go next.
//!
//! In: what a reader of [`crate::read`] understood. Next is [`super::unfold`], which plays it out.

use super::{Alteration, Meter, PartName, Quarters};
use crate::theory::{Key, Pitch, Transposition};
use std::ops::Range;

/// A part in printed order.
#[derive(Debug, Clone)]
pub(crate) struct WrittenPart {
    /// How the file names it.
    pub(crate) name: PartName,
    /// The transposition at the start; `None` where the file gives none.
    pub(crate) transposition: Option<Transposition>,
    /// The measures in printed order.
    pub(crate) measures: Vec<WrittenMeasure>,
    /// Passages of the page that are played one after the other, each as its signs say; empty: the page as a whole.
    pub(crate) passages: Vec<Range<usize>>,
}

/// One measure of the page.
#[derive(Debug, Clone)]
pub(crate) struct WrittenMeasure {
    /// The printed label.
    pub(crate) label: String,
    /// As long as what it holds.
    pub(crate) duration: Quarters,
    /// The meter in force.
    pub(crate) meter: Meter,
    /// The written key in force at its start.
    pub(crate) key: Key,
    /// Not counted: a pickup, the second half of a divided measure.
    pub(crate) implicit: bool,
    /// A phrase may begin here.
    pub(crate) phrase_start: bool,
    /// The tones of all voices, in order of onset; no grace notes, no rests.
    pub(crate) notes: Vec<WrittenNote>,
    /// Grace notes of the judged voice after its last note: they belong to the next note played.
    pub(crate) trailing_graces: Vec<u8>,
    /// (from, microseconds a quarter), counted from the start of the measure.
    pub(crate) tempos: Vec<(Quarters, f64)>,
    /// Where to go next.
    pub(crate) flow: Flow,
}

/// What a tone is to the judged line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// The judged line: the top tone of the top voice of the chosen staff.
    Line,
    /// A lower tone of a chord of that voice.
    ChordTone,
    /// Another voice or staff: only its ties matter.
    Elsewhere,
}

/// One tone on the page.
#[derive(Debug, Clone)]
pub(crate) struct WrittenNote {
    /// From the start of the measure.
    pub(crate) onset: Quarters,
    /// Its value, ties not merged.
    pub(crate) duration: Quarters,
    /// As printed in the part.
    pub(crate) written: Pitch,
    /// As it sounds.
    pub(crate) sounding: u8,
    /// The written key in force.
    pub(crate) key: Key,
    /// Where its alteration comes from.
    pub(crate) alteration: Alteration,
    /// What it is to the judged line.
    pub(crate) role: Role,
    /// Counts the chords of the measure, so that the tones of one are found again.
    pub(crate) chord: u32,
    /// Tells the voices of the part apart.
    pub(crate) voice: u32,
    /// A tie begins here.
    pub(crate) tie_start: bool,
    /// A tie ends here.
    pub(crate) tie_stop: bool,
    /// Staccato or staccatissimo.
    pub(crate) staccato: bool,
    /// Under a fermata.
    pub(crate) fermata: bool,
    /// Slurred to the next note.
    pub(crate) slurred: bool,
    /// A breath mark or caesura after it.
    pub(crate) breath: bool,
    /// Grace notes before it, sounding.
    pub(crate) graces: Vec<u8>,
    /// The identifier in the file.
    pub(crate) id: Option<String>,
}

/// The signs of one measure that change the order of playing (MusicXML 4.0 `barline`, `sound`).
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Flow {
    /// A forward repeat at its left barline.
    pub(crate) repeat_start: bool,
    /// A backward repeat at its right barline.
    pub(crate) repeat_end: Option<RepeatEnd>,
    /// An ending begins here: the passes it is for, empty where the file does not say.
    pub(crate) ending_start: Option<Ending>,
    /// An ending stops with this measure.
    pub(crate) ending_stop: bool,
    /// A segno at its start, with its name.
    pub(crate) segno: Option<String>,
    /// A coda at its start, with its name.
    pub(crate) coda: Option<String>,
    /// "To Coda" at its end, with the name of the coda.
    pub(crate) to_coda: Option<String>,
    /// D.S. at its end, with the name of the segno.
    pub(crate) dal_segno: Option<String>,
    /// D.C. at its end.
    pub(crate) da_capo: bool,
    /// Fine at its end.
    pub(crate) fine: bool,
}

/// For which passes an ending is.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Ending {
    /// 1 is the first pass.
    pub(crate) passes: Vec<u32>,
    /// Whether, with a repeat sign and no ending after it, later passes leave it out, as in ABC; else they play it, as
    /// other readers of MusicXML do.
    pub(crate) only_then: bool,
}

/// A backward repeat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RepeatEnd {
    /// How often the passage is played in all; 2 unless printed otherwise.
    pub(crate) times: u32,
    /// Whether it also counts after a D.C. or D.S.
    pub(crate) after_jump: bool,
}
