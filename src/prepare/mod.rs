//! What a director does the evening before: the sheet of each instrument with its count.
//!
//! In: an exercise and the instruments of the band. Out: what stands on a sheet, as data. Next is [`crate::show`].

mod counts;

pub use counts::{Count, MeasureCount, Release, State, count};
