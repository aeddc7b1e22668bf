//! Exercises made for a weakness: the changed note, the full value, a key that turns into another.
//!
//! In: a [`Brief`]. Out: a [`Drill`], a part for each instrument in the model of [`crate::exercise`].
//!
//! First the measures and phrases (`frame`), then the rhythm (`rhythm`; of hold drills `hold`), harmony and line (`shape`),
//! what the drill practises (`figure`), then the tones (`melody`), and the parts (`voices`). What each level may be asked
//! stands in `config/drills.toml`. All choices come from one seed.

mod chance;
mod cost;
mod courtesy;
mod ensemble;
mod error;
mod figure;
mod frame;
mod hold;
mod melody;
mod rhythm;
mod rules;
mod shape;
mod spot;
mod tally;
mod theme;
mod tone;
mod vocabulary;
mod voices;

pub use error::DrillError;
pub use tally::Tally;

use crate::exercise::{Meter, Part, Quarters};
use crate::instrument::Instrument;
use crate::judge::Level;
use crate::theory::{Key, Letter};
use chance::Chance;
use frame::Frame;
use spot::Degrees;
use theme::Theme;
use vocabulary::Vocabulary;
use voices::Line;

/// The fewest and the most measures of a drill.
const MEASURES: std::ops::RangeInclusive<usize> = 4..=64;
/// Drafts made before giving up.
const DRAFTS: usize = 100;
/// Drafts that must have every way to come to the changed note; later ones must only have the changed note.
const THOROUGH_DRAFTS: usize = 70;

/// What a drill is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A changed note, come to by step, by leap and after its other form. The letter is that of the part for one
    /// instrument, that of concert pitch for several; `None`: the one that changes most.
    Changed(Option<Letter>),
    /// Values of 1 to 8 beats, released on each count of the measure.
    Hold,
    /// The key turns into this concert key in the middle.
    TwoKeys(Key),
}

impl Kind {
    /// How many measures it has unless somebody asks for others.
    pub fn usual_measures(self) -> usize {
        if self == Kind::Hold { 16 } else { 8 }
    }
}

/// What the director asks for.
#[derive(Debug, Clone, Copy)]
pub struct Brief<'a> {
    /// What it is for.
    pub kind: Kind,
    /// The concert key.
    pub key: Key,
    /// The concert keys of the band.
    pub family: &'a [Key],
    /// Who plays it: one, or several in unison and octaves.
    pub instruments: &'a [&'a Instrument],
    /// How hard it may be.
    pub level: Level,
    /// The meter: one of those in `config/drills.toml`.
    pub meter: Meter,
    /// 4 to 64.
    pub measures: usize,
    /// The same seed gives the same drill.
    pub seed: u64,
}

/// An exercise made on purpose.
#[derive(Debug, Clone)]
pub struct Drill {
    /// A title for the page.
    pub title: String,
    /// One part for each instrument, in the order of the brief.
    pub parts: Vec<Part>,
    /// For each part the changed note of a changed-note drill, as its key has it: letter and alteration.
    pub changed: Vec<Option<(Letter, i8)>>,
    /// For each part the notes, by their indices, that remind with a sign in parentheses that an accidental of the
    /// measure before is over.
    pub courtesy: Vec<Vec<usize>>,
    /// What it came to.
    pub tally: Tally,
}

/// Makes the drill, in all its notes.
pub fn compose(brief: &Brief<'_>) -> Result<Drill, DrillError> {
    let vocabulary = Vocabulary::of(brief.level);
    if !MEASURES.contains(&brief.measures) {
        return Err(DrillError::Measures(brief.measures));
    }
    let rhythms = vocabulary.rhythms(brief.meter).ok_or_else(|| DrillError::Meter {
        asked: format!("{}/{}", brief.meter.count, brief.meter.unit),
        known: vocabulary.meters().collect::<Vec<_>>().join(", "),
    })?;
    if brief.instruments.is_empty() {
        return Err(DrillError::NoInstrument);
    }
    let theme = Theme::new(brief)?;
    let stages = theme.stages(vocabulary)?;
    let frame = Frame::new(brief.meter, brief.measures, theme.keys.len());
    let mut chance = Chance::new(brief.seed);
    for draft in 0..DRAFTS {
        let Some(stage) = chance.pick(&stages) else { break };
        let mut spots = match brief.kind {
            Kind::Hold => hold::holds(&frame, &mut chance),
            Kind::Changed(_) | Kind::TwoKeys(_) => rhythm::rhythm(&frame, rhythms, &mut chance),
        };
        shape::shape(&mut spots, &frame, stage.window, &mut chance);
        match brief.kind {
            Kind::Hold => spots.iter_mut().for_each(|spot| spot.chord = Degrees::ALL),
            Kind::Changed(_) | Kind::TwoKeys(_) => {
                let chunk = if frame.meter.measure() < Quarters::new(3, 1) { 2 } else { 1 };
                figure::place(&mut spots, &stage.tones, &stage.figures, chunk, &mut chance);
            }
        }
        let Some(line) = melody::melody(&spots, &stage.tones, vocabulary.widest, &mut chance) else { continue };
        let tally = Tally::of(&spots, &line, frame.meter.beat(), frame.beats());
        let thorough = draft >= THOROUGH_DRAFTS || stage.is_thorough(&tally);
        if thorough && rules::no_bare_repetition(&spots, &line, &frame) {
            let line = Line {
                frame: &frame,
                spots: &spots,
                tones: &line,
                keys: &theme.keys,
                beats_a_minute: vocabulary.beats_a_minute,
            };
            // 64 measures are not too long for anything.
            let parts = line.parts(brief.instruments).map_err(|_| DrillError::NoLine { seed: brief.seed })?;
            return Ok(Drill {
                title: theme.title(),
                changed: parts.iter().map(|part| theme.changed_in(part)).collect(),
                courtesy: parts.iter().map(courtesy::courtesy).collect(),
                parts,
                tally,
            });
        }
    }
    Err(DrillError::NoLine { seed: brief.seed })
}
