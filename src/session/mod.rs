//! The live loop: lanes, count-in, click, turns.
//!
//! In: ports and players. Out: decisions of [`crate::judge`], take files. Next is [`crate::show`].

mod beats;
#[cfg(feature = "sound")]
mod burst;
mod click;
mod delays;
mod habits;
mod journal;
mod keeper;
mod keys;
mod lane;
mod latency;
mod live;
mod metronome;
mod plan;
mod playing;
mod simulated;
#[cfg(feature = "sound")]
mod speakers;
mod spot;
mod swapped;
mod told;
mod turns;

pub use beats::{Beat, schedule, steady};
pub use click::{Click, MidiClick, Silent};
pub use delays::{KeptDelay, KeptDelays, KeptError};
pub use habits::Habits;
pub(crate) use journal::make_folder;
pub use journal::recover;
pub use keeper::{Begun, Keeper, Kept};
pub use keys::{Keys, View, end_on_signal};
pub use latency::{Measured, NotMeasured, PlayedAlong, play_along};
pub use live::{Session, Stage};
pub use plan::{Command, LanePlan, Plan, PlayerPlan, Plays};
pub use simulated::Student;
#[cfg(feature = "sound")]
pub use speakers::{NoSound, Speakers};
pub use told::{Outcome, Step, Told, Turn};
