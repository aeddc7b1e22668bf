//! What a director does the evening before: the sheet of each instrument with its count.
//!
//! In: an exercise and the instruments of the band. Out: what stands on a sheet, as data. Next is [`crate::show`].

mod changed;
mod counts;
mod numbers;
mod sheet;

pub use changed::{ChangedNote, Fingered, KeySection};
pub use counts::{Count, MeasureCount, Release, State, count};
pub use numbers::{RangeCheck, Reason, Spot, Stretch};
pub use sheet::{Moved, Sheet};
