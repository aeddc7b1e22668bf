//! A rubric: rows, steps, weights, the scale of the total, which takes count, who plays again.

mod check;
mod file;

pub use file::RubricError;

/// How takes become grades: `config/rubric.toml` or the user's own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rubric {
    /// Which take counts for a row.
    pub takes_count: TakesCount,
    /// How many takes count at most.
    pub takes_at_most: Option<usize>,
    /// Which of them.
    pub which_takes: WhichTakes,
    /// How fractions become whole percent.
    pub rounding: Rounding,
    /// What a row without a step does to the total.
    pub without_evidence: Without,
    /// Percent of all weights that must have a step for a total, 0 to 100.
    pub least_weight: u8,
    /// 2 to 9 steps, the lowest first.
    pub steps: Vec<Step>,
    /// At least one row.
    pub rows: Vec<Row>,
    /// What the total is called, the lowest first.
    pub scale: Vec<Band>,
    /// Who plays again.
    pub retake: Option<Retakes>,
}

/// Which take counts for a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TakesCount {
    /// The one with the largest share of right notes; where one has too few notes, those that together have the largest.
    Best,
    /// The newest; with the ones before it until there are enough notes.
    Last,
    /// All together.
    Mean,
}

/// Which takes count where not all do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WhichTakes {
    /// The newest.
    Newest,
    /// The first.
    First,
}

/// How fractions become whole percent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rounding {
    /// 89.9 is 89.
    Down,
    /// 89.5 is 90.
    HalfUp,
}

/// What a row without a step does to the total.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Without {
    /// It is left out, and that is said.
    LeftOut,
    /// There is no total until it has one.
    NoTotal,
}

/// A step of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// In words.
    pub name: String,
    /// Whole percent at which a measured row reaches it.
    pub from: u8,
    /// Percent that it brings into the total.
    pub worth: u8,
}

/// A row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Lower-case letters, digits and `-`: what marks and tables call it.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// What it is measured by; none: the director marks it.
    pub measures: Option<Measure>,
    /// Its share in the total, 1 to 1000.
    pub weight: u32,
    /// With fewer notes there is no step.
    pub least_notes: usize,
    /// With fewer takes there is no step.
    pub least_takes: usize,
    /// What each step means, the lowest first; empty: the names of the steps say it.
    pub words: Vec<String>,
}

/// What MIDI can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// Notes with the right pitch, of all notes.
    RightPitches,
    /// Changed notes played right, of those met.
    ChangedNotes,
    /// Releases at full value, of those judged.
    FullValues,
    /// Entrances on time, of those judged.
    Entrances,
}

/// A name of the total.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Band {
    /// `A`, `4`, or any.
    pub name: String,
    /// The whole percent at which it begins.
    pub from: u8,
}

/// Who plays again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Retakes {
    /// Whoever is below this step in a measured row, 1 is the lowest.
    pub below_step: usize,
    /// Takes after the first lift a row to this step at most.
    pub lifts_to_step: Option<usize>,
}

impl Rubric {
    /// The text of `config/rubric.toml`, used where the director gives no other.
    pub const BUILT_IN: &str = include_str!("../../../config/rubric.toml");

    /// The one of `config/rubric.toml`.
    pub fn built_in() -> Result<Rubric, RubricError> {
        Rubric::parse(Rubric::BUILT_IN)
    }

    /// What a step of a row means, in words.
    pub fn words<'a>(&'a self, row: &'a Row, step: usize) -> &'a str {
        let place = step.saturating_sub(1);
        let own = row.words.get(place).map(String::as_str);
        own.or_else(|| self.steps.get(place).map(|step| step.name.as_str())).unwrap_or_default()
    }

    /// The step of a whole percentage, 1 is the lowest.
    pub(super) fn step_of(&self, percent: u8) -> usize {
        self.steps.iter().rposition(|step| step.from <= percent).map_or(1, |place| place + 1)
    }

    /// What the scale calls a whole percentage.
    pub(super) fn called(&self, percent: u8) -> &str {
        self.scale.iter().rfind(|band| band.from <= percent).map_or("", |band| &band.name)
    }
}
