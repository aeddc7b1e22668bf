//! What a session is asked to do.

use crate::exercise::{Micros, Part, TempoMap};
use crate::instrument::Instrument;
use crate::judge::{Level, Sends};
use crate::theory::Key;
use std::path::PathBuf;
use std::sync::Arc;

/// The whole session.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The name of the exercise, for files and screens.
    pub exercise: String,
    /// The players.
    pub lanes: Vec<LanePlan>,
    /// The tempo of the click; `None`: no click, the player's own tempo is followed.
    pub click: Option<TempoMap>,
    /// Measures of count-in.
    pub count_in: u32,
    /// After so many takes the session ends; `None`: when it is told to.
    pub takes: Option<usize>,
    /// The rest between a take and the next count-in.
    pub pause: Micros,
    /// The tolerances.
    pub level: Level,
    /// The band's concert keys.
    pub family: Vec<Key>,
    /// Where takes are saved.
    pub save: Option<PathBuf>,
}

/// One player.
#[derive(Debug, Clone)]
pub struct LanePlan {
    /// The player's name.
    pub player: String,
    /// The port as asked for.
    pub port: String,
    /// The player's part.
    pub part: Arc<Part>,
    /// The instrument, where it is known.
    pub instrument: Option<Instrument>,
    /// Which pitch it sends.
    pub sends: Sends,
    /// The delay of the player's port with the click, where it was measured.
    pub delay: Option<Micros>,
}

impl LanePlan {
    /// Whether a written C played before the take tells something: the part transposes, and which pitch the controller
    /// sends is not known.
    pub fn asks_check_note(&self) -> bool {
        self.sends == Sends::Auto && self.part.transposition.unwrap_or_default().chromatic % 12 != 0
    }
}

/// What the director asks for while the session runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// Give this try up and begin it again.
    Again,
    /// End this take as it stands and go on to the next.
    Next,
    /// Throw the last take away: the one being played, else the one before.
    Discard,
    /// End the session: what was played is judged and saved.
    Quit,
}
