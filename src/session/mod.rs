//! The live loop: lanes, count-in, click, turns.
//!
//! In: ports and players. Out: decisions of [`crate::judge`], take files. Next is [`crate::show`].

mod beats;
mod click;
mod lane;
mod live;
mod plan;
mod spot;
mod told;

pub use beats::{Beat, schedule, steady};
pub use click::{Click, MidiClick, Silent};
pub use live::{Session, Stage};
pub use plan::{Command, LanePlan, Plan};
pub use told::{Outcome, Told};
