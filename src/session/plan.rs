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
    /// Everybody who may play. A player is named by the place in this list.
    pub players: Vec<PlayerPlan>,
    /// The inputs that are listened to.
    pub lanes: Vec<LanePlan>,
    /// Players who take turns, in their order, queue by queue.
    pub queues: Vec<Vec<usize>>,
    /// The tempo of the click; `None`: no click, the player's own tempo is followed.
    pub click: Option<TempoMap>,
    /// Measures of count-in.
    pub count_in: u32,
    /// So many takes are played by each player; `None`: until the session is told to end, but one by each in a queue.
    pub takes: Option<usize>,
    /// The rest between a take and the next count-in.
    pub pause: Micros,
    /// The same where a controller goes to another player.
    pub handover: Micros,
    /// Whether the session waits for a word when the queues are through; else it ends.
    pub lingers: bool,
    /// The band's concert keys.
    pub family: Vec<Key>,
    /// Where takes are saved.
    pub save: Option<PathBuf>,
}

impl Plan {
    /// Whether any lane is shared by players who take turns.
    pub fn has_queue(&self) -> bool {
        self.lanes.iter().any(|lane| matches!(lane.plays, Plays::Queue(_)))
    }

    /// Whether players take turns on this lane.
    pub fn takes_turns(&self, lane: usize) -> bool {
        self.lanes.get(lane).is_some_and(|lane| matches!(lane.plays, Plays::Queue(_)))
    }

    /// A player's name; empty for nobody's number.
    pub fn name(&self, player: usize) -> &str {
        self.players.get(player).map_or("", |player| player.player.as_str())
    }
}

/// One input.
#[derive(Debug, Clone)]
pub struct LanePlan {
    /// The port as asked for.
    pub port: String,
    /// Who plays on it.
    pub plays: Plays,
    /// The delay of the port with the click, where it was measured.
    pub delay: Option<Micros>,
}

/// Who plays on a lane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plays {
    /// One player, take after take.
    Always(usize),
    /// The players of a queue, one after the other; several lanes may serve one queue.
    Queue(usize),
}

/// One player.
#[derive(Debug, Clone)]
pub struct PlayerPlan {
    /// The player's name.
    pub player: String,
    /// The player's part.
    pub part: Arc<Part>,
    /// The instrument, where it is known.
    pub instrument: Option<Instrument>,
    /// Which pitch it sends.
    pub sends: Sends,
    /// The tolerances.
    pub level: Level,
}

impl PlayerPlan {
    /// Whether a written C played before the take tells something: the part transposes, and which pitch the controller
    /// sends is not known.
    pub fn asks_check_note(&self) -> bool {
        self.sends == Sends::Auto && self.part.transposition.unwrap_or_default().chromatic % 12 != 0
    }
}

/// What the director asks for while the session runs. A lane that is not given is the only one in question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// Give this try up and begin it again.
    Again,
    /// End this take as it stands and go on to the next.
    Next,
    /// Throw the last takes away: those being played, else those before; of one lane, or of all.
    Discard(Option<usize>),
    /// The same player once more: the one who plays, else the one who played last.
    Retake(Option<usize>),
    /// The player is not here today.
    Absent(Option<usize>),
    /// The player comes later: to the end of the queue.
    Skip(Option<usize>),
    /// Take the last such step back.
    Undo,
    /// End the session: what was played is judged and saved.
    Quit,
}
