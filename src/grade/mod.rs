//! Grades: what a player's takes and the director's marks come to, row by row of a rubric, and how.
//!
//! In: attempts and marks of a [`Book`](crate::book::Book), a [`Rubric`]. Out: [`Graded`], one for each player and
//! exercise. Next is [`show`](crate::show). All numbers are whole or fractions of whole numbers, so a grade is the same on
//! every machine. Where there is too little to go by there is no grade, and the reason instead.

mod best;
mod evidence;
mod graded;
mod grading;
mod rubric;
#[cfg(test)]
mod tests;
mod total;

pub use evidence::percent;
pub use graded::{Graded, Measured, NoStep, NoTotal, Outcome, Played, Retake, Total};
pub use grading::grades;
pub use rubric::{Band, Measure, Retakes, Rounding, Row, Rubric, RubricError, Step, TakesCount, WhichTakes, Without};
