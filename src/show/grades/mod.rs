//! Grades for people and for programs: text, CSV, JSON, a gradebook's files.

mod json;
mod table;
mod text;
mod words;

pub use json::grades_json;
pub use table::grades_csv;
pub use text::grades_text;
pub use words::{RowWords, TotalWords, row_words, total_words};
