//! What grading comes to.

use crate::book::{KeptExercise, Player};
use crate::judge::Count;

/// One player's grade in one exercise, and how it came about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Graded {
    /// Who.
    pub player: Player,
    /// What was played.
    pub exercise: KeptExercise,
    /// The takes that may count, the oldest first.
    pub takes: Vec<Played>,
    /// Takes that did not fit the exercise; they are no evidence.
    pub unfit: usize,
    /// Takes beyond those that the rubric counts.
    pub beyond: usize,
    /// One for each row of the rubric, in its order.
    pub rows: Vec<Outcome>,
    /// All rows together.
    pub total: Total,
    /// Why the player is asked to play again; empty if not.
    pub retake: Vec<Retake>,
}

/// A take that counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Played {
    /// The take's number in the book.
    pub take: i64,
    /// Microseconds since 1970 when it began.
    pub begun_us: i64,
    /// The level it was judged at, by its name.
    pub level: String,
}

/// What a row came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// From takes.
    Measured(Measured),
    /// Marked by the director.
    Marked {
        /// The step, 1 is the lowest.
        step: usize,
        /// Microseconds since 1970 when it was given.
        marked_us: i64,
    },
    /// Nothing, and why.
    None(NoStep),
}

impl Outcome {
    /// The step, 1 is the lowest.
    pub fn step(&self) -> Option<usize> {
        match self {
            Outcome::Measured(measured) => Some(measured.step),
            Outcome::Marked { step, .. } => Some(*step),
            Outcome::None(_) => None,
        }
    }
}

/// A row from takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// The step, 1 is the lowest.
    pub step: usize,
    /// The step that the notes alone would give, where later takes may not lift so far.
    pub held_from: Option<usize>,
    /// So many notes of so many.
    pub count: Count,
    /// The same in whole percent, by the rubric's rounding.
    pub percent: u8,
    /// The takes it comes from: places in [`Graded::takes`], the oldest first.
    pub from: Vec<usize>,
}

/// Why a row has no step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoStep {
    /// There is no take that counts.
    NoTake,
    /// In the takes there is nothing of the kind to judge.
    NothingToJudge,
    /// Too few notes.
    FewNotes {
        /// Notes judged.
        found: usize,
        /// Notes that the rubric asks for.
        least: usize,
    },
    /// Too few takes.
    FewTakes {
        /// Takes with notes of the kind.
        found: usize,
        /// Takes that the rubric asks for.
        least: usize,
    },
    /// The director has not marked it.
    NotMarked,
    /// It was marked with a step that this rubric does not have.
    OutsideScale {
        /// The step that was given.
        step: u8,
    },
}

/// All rows together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Total {
    /// A grade.
    Grade {
        /// Weighted worth of the steps.
        points: u64,
        /// Weights of the rows that count: `points / weights` is the percent.
        weights: u64,
        /// Whole percent, by the rubric's rounding.
        percent: u8,
        /// What the scale calls it.
        name: String,
        /// Rows that were left out for want of a step: places in the rubric.
        left_out: Vec<usize>,
    },
    /// Not enough evidence.
    None(NoTotal),
}

/// Why there is no total.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoTotal {
    /// The rubric wants a step in each of these rows: places in the rubric.
    Missing(Vec<usize>),
    /// The rows that have a step weigh too little.
    LittleWeight {
        /// Weights with a step.
        weights: u64,
        /// All weights.
        of: u64,
    },
}

/// Why a player is asked to play again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Retake {
    /// A measured row below the step that the rubric wants: its place in the rubric.
    Below(usize),
    /// A measured row with too few notes or takes: its place in the rubric.
    Evidence(usize),
}
