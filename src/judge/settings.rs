//! What the judge needs to know besides the exercise and the take.

use crate::exercise::{Micros, Quarters, TempoMap};
use crate::instrument::Instrument;
use crate::theory::Key;

/// How strict to be: a fraction of a beat, for entrances and releases alike (DESIGN.md §3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// A quarter of a beat.
    #[default]
    FirstYear,
    /// A fifth of a beat.
    SecondYear,
    /// 0.15 of a beat.
    ThirdYear,
}

impl Level {
    /// The tolerance in beats.
    pub fn tolerance_beats(self) -> f64 {
        match self {
            Level::FirstYear => 0.25,
            Level::SecondYear => 0.20,
            Level::ThirdYear => 0.15,
        }
    }
}

/// Which pitch the instrument puts on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Sends {
    /// The fingered note as printed in the part.
    Written,
    /// The note as it sounds.
    Concert,
    /// Whichever fits the take.
    #[default]
    Auto,
}

/// A click: where score time zero is, and how fast it runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Stream time of score time zero.
    pub start: Micros,
    /// The tempo of the click from there.
    pub tempo: TempoMap,
}

impl Grid {
    /// Stream time in seconds of a point of the score.
    pub fn seconds_at(&self, point: Quarters) -> f64 {
        (self.start + self.tempo.micros_at(point)).seconds()
    }
}

/// Everything the judge is told.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The tolerances.
    pub level: Level,
    /// Written or concert pitch on the wire.
    pub sends: Sends,
    /// The click, if one runs.
    pub grid: Option<Grid>,
    /// The player's instrument; `None`: it sustains and is no brass.
    pub instrument: Option<Instrument>,
    /// The band's concert keys, for changed notes.
    pub family: Vec<Key>,
}
