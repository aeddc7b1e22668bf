//! Grades for a school's gradebook: the CSV files of OneRoster 1.2 (1EdTech, "OneRoster CSV Binding 1.2").

mod files;
mod ids;
mod settings;

pub use files::{Filled, gradebook};
pub use settings::{Gradebook, GradebookError};
