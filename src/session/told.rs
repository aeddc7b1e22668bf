//! What the session tells those who write.

use super::Beat;
use crate::exercise::Micros;
use crate::judge::{Decision, Report, Sends};
use std::path::PathBuf;
use std::sync::Arc;

/// One thing to be written down, in order.
#[derive(Debug, Clone)]
pub enum Told {
    /// All ports are open; from here on nothing is missed. The full names of the ports, lane by lane.
    Listening {
        /// Names of the ports.
        ports: Vec<String>,
    },
    /// The next take is ahead: time for the key check.
    Ahead {
        /// Its number, from 1.
        take: usize,
    },
    /// Nobody played in the last take: the next waits for a note or a command.
    Waiting,
    /// A take is cued: from here on what is played belongs to it.
    Cued {
        /// Its number, from 1.
        take: usize,
        /// Score time zero, from the start of the take; `None` without a click.
        score_zero: Option<Micros>,
        /// Seconds since 1970 of the start of the take, where the source runs on the wall's clock.
        unix_s: Option<f64>,
    },
    /// A beat of the count-in or the click.
    Beat(Beat),
    /// A decision of a lane's engine.
    Decided {
        /// Lane, from 0.
        lane: usize,
        /// Number of the take.
        take: usize,
        /// What was decided.
        decision: Decision,
    },
    /// A check note was played before the first take: it should be a written C.
    CheckNote {
        /// Lane, from 0.
        lane: usize,
        /// What it shows; `None`: it was no written C.
        sends: Option<Sends>,
    },
    /// A lane's cable was pulled.
    Unplugged {
        /// Lane, from 0.
        lane: usize,
    },
    /// It was put back.
    Replugged {
        /// Lane, from 0.
        lane: usize,
    },
    /// A lane's take is over.
    Over(Arc<Outcome>),
    /// A take was thrown away.
    Discarded {
        /// Its number.
        take: usize,
    },
    /// Something that could not be done, in a sentence.
    Trouble(String),
    /// The session is over.
    End,
}

/// A finished take of one player.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Lane, from 0.
    pub lane: usize,
    /// Number of the take, from 1.
    pub take: usize,
    /// Whether any note was played.
    pub played: bool,
    /// The take, judged.
    pub report: Report,
    /// Where it was saved.
    pub saved: Option<PathBuf>,
    /// Whether everything that keeps takes has kept this one (or has nothing to keep, as nobody played).
    pub is_kept: bool,
}
