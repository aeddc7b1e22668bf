//! Flags, decisions and the report of a take: the shapes that people and programs read.

use super::Delay;
use crate::exercise::{Alteration, Micros};
use crate::theory::Rank;

/// What can be found about one note (DESIGN.md §3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)] // defined one by one in the files of this folder
pub enum FlagKind {
    WrongAccidental,
    WrongOctave,
    WrongPartial,
    WrongNote,
    MissedNote,
    EarlyRelease,
    LateRelease,
    CutShort,
    EarlyEntrance,
    LateEntrance,
}

impl FlagKind {
    /// Its name in reports: `wrong-accidental`.
    pub fn name(self) -> &'static str {
        match self {
            FlagKind::WrongAccidental => "wrong-accidental",
            FlagKind::WrongOctave => "wrong-octave",
            FlagKind::WrongPartial => "wrong-partial",
            FlagKind::WrongNote => "wrong-note",
            FlagKind::MissedNote => "missed-note",
            FlagKind::EarlyRelease => "early-release",
            FlagKind::LateRelease => "late-release",
            FlagKind::CutShort => "cut-short",
            FlagKind::EarlyEntrance => "early-entrance",
            FlagKind::LateEntrance => "late-entrance",
        }
    }
}

/// One finding about one note.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Flag {
    /// Index of the note in performed order.
    pub index: usize,
    /// What was found.
    #[serde(rename = "flag")]
    pub kind: FlagKind,
    /// Measure label.
    pub measure: String,
    /// Beat of the measure, 1 is the first.
    pub beat: f64,
    /// The written note, ASCII.
    pub written: String,
    /// What was played, ASCII, in the player's written pitch; absent for missed notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub played: Option<String>,
    /// How far off in beats; negative is early. Absent where time is not the matter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub off_beats: Option<f64>,
    /// The same in milliseconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub off_ms: Option<f64>,
    /// Of an entrance that came too soon because the note before it was counted short: the beats that this note and
    /// the rest after it got, and the beats they have.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beats_given: Option<f64>,
    /// See `beats_given`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beats_due: Option<f64>,
    /// Where the note's alteration comes from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alteration: Option<Alteration>,
    /// Its rank as a changed note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_note: Option<Rank>,
    /// One plain sentence.
    pub sentence: String,
}

/// What was decided, with the stream time at which it was.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[serde(tag = "event", rename_all = "lowercase")]
pub enum Decision {
    /// A played note has its place; a later one with the same onset replaces it.
    Placed {
        /// When it was decided, in seconds of stream time.
        at_s: f64,
        /// When the note began.
        onset_s: f64,
        /// MIDI number as sent.
        midi: u8,
        /// Index of the note; none: an extra note.
        index: Option<usize>,
    },
    /// A finding.
    Flag {
        /// When it was decided.
        at_s: f64,
        /// The finding.
        #[serde(flatten)]
        flag: Flag,
    },
    /// A finding too close to the tolerance to be sure of: no fault.
    Close {
        /// When it was decided.
        at_s: f64,
        /// The finding.
        #[serde(flatten)]
        flag: Flag,
    },
    /// A finding that the whole take contradicts.
    Withdrawn {
        /// When it was withdrawn.
        at_s: f64,
        /// The note it was about.
        index: usize,
        /// What had been found.
        flag: FlagKind,
        /// Why it no longer holds.
        because: String,
    },
    /// A passage was begun again.
    Restart {
        /// When it was decided.
        at_s: f64,
        /// Which.
        #[serde(flatten)]
        restart: Restart,
    },
    /// A word to the player that is no flag: the take sits an octave off.
    Remark {
        /// When it was decided.
        at_s: f64,
        /// One plain sentence.
        sentence: String,
    },
    /// The end of the take.
    Summary {
        /// The take as a whole.
        totals: Totals,
    },
}

/// A passage begun again: no fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Restart {
    /// The last note attempted before going back.
    pub from_index: usize,
    /// The note begun again from.
    pub to_index: usize,
}

/// A note played that belongs to no note of the part.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Extra {
    /// When it began, in seconds.
    pub onset_s: f64,
    /// When it ended, in seconds.
    pub release_s: f64,
    /// MIDI number as sent.
    pub midi: u8,
}

/// So many of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Count {
    /// Done well.
    pub good: usize,
    /// Judged.
    pub of: usize,
}

impl std::ops::AddAssign for Count {
    fn add_assign(&mut self, other: Count) {
        self.good += other.good;
        self.of += other.of;
    }
}

impl std::iter::Sum for Count {
    fn sum<I: Iterator<Item = Count>>(counts: I) -> Count {
        counts.fold(Count::default(), |mut sum, count| {
            sum += count;
            sum
        })
    }
}

/// The take in numbers.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Totals {
    /// Whether the take belongs to the exercise at all; where it does not, nothing is judged or counted.
    pub fits: bool,
    /// Notes of the exercise.
    pub notes: usize,
    /// Notes with the right pitch, of all notes.
    pub right_pitches: Count,
    /// Changed notes (primary and secondary) played right, of those met.
    pub changed_notes: Count,
    /// Releases at full value, of those judged.
    pub full_releases: Count,
    /// Entrances on time, of those judged.
    pub entrances: Count,
    /// Notes that belong to no note of the part.
    pub extra: usize,
    /// Passages begun again.
    pub restarts: usize,
    /// Findings too close to the tolerance to be sure of: they count neither way.
    pub close: usize,
    /// What was taken off all times against the click.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delay: Option<Delay>,
    /// Flags by kind, those that occur.
    pub flags: std::collections::BTreeMap<FlagKind, usize>,
}

impl Default for Totals {
    fn default() -> Totals {
        let none = Count::default();
        Totals {
            fits: true,
            notes: 0,
            right_pitches: none,
            changed_notes: none,
            full_releases: none,
            entrances: none,
            extra: 0,
            restarts: 0,
            close: 0,
            delay: None,
            flags: std::collections::BTreeMap::new(),
        }
    }
}

/// One note of the exercise and what became of it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct NoteResult {
    /// Index in performed order.
    pub index: usize,
    /// Measure label.
    pub measure: String,
    /// Beat of the measure, 1 is the first.
    pub beat: f64,
    /// The written note, ASCII.
    pub written: String,
    /// MIDI number that is right for it, as sounding.
    pub expected_midi: u8,
    /// MIDI number played, as sounding; none if missed.
    pub played_midi: Option<u8>,
    /// When it began, in seconds of the take.
    pub onset_s: Option<f64>,
    /// When it ended.
    pub release_s: Option<f64>,
    /// How long it was held, in beats.
    pub held_beats: Option<f64>,
    /// How long it lasts in the part, in beats.
    pub value_beats: f64,
    /// Its rank as a changed note.
    pub changed_note: Option<Rank>,
    /// Whether its release was judged: full, or too soon, or too late beyond doubt.
    pub release_judged: bool,
    /// What was found.
    pub flags: Vec<FlagKind>,
    /// What may be, but lies within the error of the measurement.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub close: Vec<FlagKind>,
}

/// The whole take, judged.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Report {
    /// Each note of the exercise.
    pub notes: Vec<NoteResult>,
    /// The findings with their sentences, in order of notes.
    pub flags: Vec<Flag>,
    /// Findings that lie so near the tolerance that the measurement may be wrong: no faults, listed apart.
    pub close: Vec<Flag>,
    /// Notes that belong nowhere.
    pub extra: Vec<Extra>,
    /// Passages begun again.
    pub restarts: Vec<Restart>,
    /// What is said once about the whole take.
    pub remarks: Vec<String>,
    /// In numbers.
    pub totals: Totals,
    /// Where the take ended, for those who run it live.
    #[serde(skip)]
    pub ended: Micros,
}
