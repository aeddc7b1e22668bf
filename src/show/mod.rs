//! Writes things down for people and programs: console log, JSON, CSV.

mod advice;
pub mod changed;
mod console;
mod key_check;
mod phrases;
mod stream;
mod summary;

pub use advice::advice;
pub use console::{Console, Face, Look};
pub use key_check::key_check;
pub use stream::Stream;
pub use summary::{Who, summary_csv, summary_json};
