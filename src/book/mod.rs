//! The book: players, exercises, takes, findings and marks in one SQLite file.
//!
//! In: what arrives, before it is judged; reports, after. Out: what reviews, grades and plans ask for. A take's arrivals
//! are committed within [`LONGEST_WAIT`] of their coming, so a crash loses no more than that.

mod absence;
mod again;
mod care;
mod checkpoints;
mod error;
mod exercises;
mod export;
mod file;
mod keeping;
mod marks;
mod named;
mod parts;
mod players;
mod review;
mod roster;
mod schema;
mod takes;
mod tally;
mod unfinished;

pub use crate::plain::plain;
pub use absence::Absence;
pub use again::{Again, At, Difference, Judging, NotJudged};
pub use care::{Contents, HeldOf};
pub use error::{BookError, BookProblem};
pub use exercises::KeptExercise;
pub use export::{Cell, Column, Kind, Table, TableWriter, tables};
pub use file::{Book, Listening};
pub use keeping::{Keeping, now_us};
pub use marks::Mark;
pub use named::{same, section_called, sections};
pub use parts::{Parts, judge};
pub use players::{Entry, Player};
pub use review::{Attempt, Finding, Practice, Practised, Wanted};
pub use roster::{Changes, Fate, Roster};
pub(crate) use roster::{LONGEST_NAME, level, too_long};
pub use takes::{KeptTake, TakeStart, Unfinished};
pub use unfinished::CutOff;

use crate::exercise::Micros;

/// What arrives is in the book after this time at the latest.
pub const LONGEST_WAIT: Micros = Micros(40_000);
