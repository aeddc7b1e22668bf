//! What the judge needs to know besides the exercise and the take.

use crate::exercise::{Micros, Quarters, TempoMap};
use crate::instrument::Instrument;
use crate::theory::Key;
use serde::Deserialize;
use std::sync::OnceLock;

/// How strict to be: a fraction of a beat, for entrances and releases alike (DESIGN.md §3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, PartialOrd, Ord, serde::Serialize, clap::ValueEnum)]
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
    /// The tolerance in beats, from `config/levels.toml`.
    pub fn tolerance_beats(self) -> f64 {
        let Tolerances { first_year, second_year, third_year } = levels().tolerance_beats;
        match self {
            Level::FirstYear => first_year,
            Level::SecondYear => second_year,
            Level::ThirdYear => third_year,
        }
    }

    /// The least tolerance of any level and tempo, from the same file: the onset tolerance of MIREX note tracking,
    /// as in mir_eval (`mir_eval.transcription`, `onset_tolerance=0.05`).
    pub fn shortest_tolerance() -> Micros {
        Micros(1_000 * levels().shortest_tolerance_ms)
    }
}

/// The file of levels.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Levels {
    shortest_tolerance_ms: i64,
    tolerance_beats: Tolerances,
}

#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct Tolerances {
    first_year: f64,
    second_year: f64,
    third_year: f64,
}

/// The built-in file; a test reads it, so that it cannot fail here.
fn levels() -> Levels {
    static LEVELS: OnceLock<Levels> = OnceLock::new();
    *LEVELS.get_or_init(|| toml::from_str(include_str!("../../config/levels.toml")).unwrap_or_default())
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
#[derive(Debug, Clone, PartialEq, serde::Serialize, Deserialize)]
pub struct Grid {
    /// Stream time of score time zero.
    #[serde(rename = "score_zero_us")]
    pub start: Micros,
    /// The tempo of the click from there.
    pub tempo: TempoMap,
    /// How far off that start may be for the player: nothing, unless a delay was guessed.
    #[serde(skip)]
    pub(crate) error: Micros,
}

impl Grid {
    /// A click from score time zero on.
    pub fn new(start: Micros, tempo: TempoMap) -> Grid {
        Grid { start, tempo, error: Micros(0) }
    }

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
    /// How much later than the click the notes of a player arrive who plays exactly with it, where that was measured;
    /// `None`: the take shows it. Without a click it means nothing.
    pub delay: Option<Micros>,
    /// The player's instrument; `None`: it sustains and is no brass.
    pub instrument: Option<Instrument>,
    /// The band's concert keys, for changed notes.
    pub family: Vec<Key>,
    /// How far off the time of one arrival may be.
    pub stamp_error: Micros,
}

/// How far off a time stamp may be that came over a live port: 1.25 ms were measured between the notes of one
/// sender over JACK with 64 frames at 48 kHz; WinMM stamps whole milliseconds; a DIN cable needs 0.96 ms a note (31,250
/// baud, MIDI 1.0 specification).
const TRANSPORT_ERROR: Micros = Micros(2_000);

impl Settings {
    /// How far off a time stamp may be in a take whose times are so coarse: as much as a live port may add, or a
    /// tick of the file if that is longer.
    pub fn stamp_error(resolution: Micros) -> Micros {
        TRANSPORT_ERROR.max(resolution)
    }

    /// Whether the player's instrument holds its notes; what is not known is taken to.
    pub(crate) fn sustains(&self) -> bool {
        self.instrument.as_ref().is_none_or(|instrument| instrument.sustains)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DESIGN.md §3.
    #[test]
    fn the_built_in_levels_are_read() {
        let beats = [Level::FirstYear, Level::SecondYear, Level::ThirdYear].map(Level::tolerance_beats);
        assert_eq!(beats, [0.25, 0.20, 0.15]);
        assert_eq!(Level::shortest_tolerance(), Micros(50_000));
    }
}
