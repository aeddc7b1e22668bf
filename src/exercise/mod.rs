//! The model of an exercise: one part in performed order, exact in time. No I/O.
//!
//! In: what a reader of [`crate::read`] understood. Out: [`Part`], the notes to be judged. Next is
//! [`crate::read`], which makes it, and [`crate::follow`], which places what is played in it.

mod accidentals;
mod for_instrument;
mod model;
mod order;
mod quarters;
mod tempo;
mod ties;
mod unfold;
mod value_name;
mod written;

pub use for_instrument::{Fitted, for_instrument};
pub use model::{Alteration, Exercise, FollowedBy, Measure, Meter, Note, Part, PartName};
pub use quarters::Quarters;
pub use tempo::{Micros, TempoMap};
pub use value_name::value_name;

pub(crate) use accidentals::Accidentals;
pub(crate) use order::{MOST_MEASURES, performed as performed_order};
pub(crate) use unfold::{MOST_NOTES, TooLong, perform};
pub(crate) use written::{Ending, Flow, RepeatEnd, Role, WrittenMeasure, WrittenNote, WrittenPart};
