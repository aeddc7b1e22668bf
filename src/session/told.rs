//! What the session tells those who write.

use super::Beat;
use crate::exercise::Micros;
use crate::judge::{Decision, Report, Sends};
use std::path::PathBuf;
use std::sync::Arc;

/// One thing to be written down, in order. Lanes and players are numbered from 0, as in the plan.
#[derive(Debug, Clone)]
pub enum Told {
    /// All ports are open; from here on nothing is missed. The full names of the ports, lane by lane.
    Listening {
        /// Names of the ports.
        ports: Vec<String>,
    },
    /// The next take is ahead: time for names and the key check. Told again if somebody else is to play it.
    Ahead {
        /// Who plays it.
        turns: Vec<Turn>,
        /// Who comes after them, lane by lane.
        waiting: Vec<Vec<usize>>,
    },
    /// Nobody played in the last take: the next waits for a note or a command.
    Waiting,
    /// The queues are through: the session waits for a command.
    Through,
    /// A take is cued: from here on what is played belongs to it.
    Cued {
        /// Who plays it.
        turns: Vec<Turn>,
        /// Score time zero, from the start of the take; `None` without a click.
        score_zero: Option<Micros>,
        /// Seconds since 1970 of the start of the take, where the source runs on the wall's clock.
        unix_s: Option<f64>,
    },
    /// A beat of the count-in or the click.
    Beat(Beat),
    /// A decision of a lane's engine.
    Decided {
        /// Whose.
        turn: Turn,
        /// What was decided.
        decision: Decision,
    },
    /// A check note was played before a player's first take: it should be a written C.
    CheckNote {
        /// Who played it.
        player: usize,
        /// What it shows; `None`: it was no written C.
        sends: Option<Sends>,
    },
    /// A lane's cable was pulled.
    Unplugged {
        /// Which.
        lane: usize,
    },
    /// It was put back.
    Replugged {
        /// Which.
        lane: usize,
    },
    /// A lane's take is over.
    Over(Arc<Outcome>),
    /// Takes were thrown away; until the next take begins they can be brought back.
    Discarded {
        /// Whose.
        turns: Vec<Turn>,
        /// Whether anything was played, so that there is something to bring back.
        is_kept: bool,
    },
    /// A step of the director.
    Step(Step),
    /// A step was taken back.
    Undone(Step),
    /// Takes that were thrown away are back.
    Back(Vec<Arc<Outcome>>),
    /// Something that could not be done, in a sentence.
    Trouble(String),
    /// The session is over.
    End {
        /// Who stood in a queue and has not played.
        unplayed: Vec<usize>,
    },
}

/// Who plays a take, and where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turn {
    /// The lane.
    pub lane: usize,
    /// The player.
    pub player: usize,
    /// The number of the take among those of this player in this session, from 1.
    pub take: usize,
}

/// What the director does with the turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A player is not here today.
    Absent(usize),
    /// A player comes later.
    Skipped(usize),
    /// A player plays once more.
    Retake(usize),
}

/// A finished take of one player.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Who played, where, and which take of this player it is.
    pub turn: Turn,
    /// In which round of the session, from 1: what was cued together is one.
    pub round: usize,
    /// Whether any note was played.
    pub played: bool,
    /// The take, judged.
    pub report: Report,
    /// Where it was saved.
    pub saved: Option<PathBuf>,
    /// Whether everything that keeps takes has kept this one (or has nothing to keep, as nobody played).
    pub is_kept: bool,
}
