//! What a director does the evening before: the sheet of each instrument with its count, and exercises made on
//! purpose.
//!
//! In: an exercise and the instruments of the band; what the director asks of a drill; a book. Out: what stands on a sheet,
//! as data; drills in the model of [`crate::exercise`]; the plan of the next rehearsal. Next is [`crate::show`].

mod changed;
mod counts;
pub mod drill;
mod numbers;
pub mod plan;
mod sheet;

pub use changed::{ChangedNote, Fingered, KeySection};
pub use counts::{Count, MeasureCount, Release, State, count};
pub use numbers::{RangeCheck, Reason, Spot, Stretch};
pub use sheet::{ForPlayer, Moved, Sheet};
