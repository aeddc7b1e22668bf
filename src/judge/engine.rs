//! The engine: timed MIDI in, decisions out. Live and file are the same.

use super::{Decision, Report, Settings};
use crate::exercise::{Micros, Part};
use crate::listen::{Input, Timed};
use std::sync::Arc;

/// Judges one take of one part by one player.
///
/// Deadlines are its own: [`Engine::advance`] decides what was due up to a time, each decision stamped
/// with the moment it became certain, so the caller's timer may be as coarse as it likes.
pub struct Engine {
    part: Arc<Part>,
    settings: Settings,
    decisions: Vec<Decision>,
}

impl Engine {
    /// An engine for one take.
    pub fn new(part: Arc<Part>, settings: Settings) -> Engine {
        Engine { part, settings, decisions: Vec::new() }
    }

    /// Takes in one arrival; times must not run backward.
    pub fn push(&mut self, input: &Timed<Input>) {
        self.advance(input.at);
    }

    /// Decides what time alone makes certain, up to `now`.
    pub fn advance(&mut self, now: Micros) {
        let _ = (&self.part, &self.settings, now);
    }

    /// The decisions since the last call, in order.
    pub fn take_decisions(&mut self) -> Vec<Decision> {
        std::mem::take(&mut self.decisions)
    }

    /// Whether the take is over by itself: the last note has been played and released, or nothing was
    /// played for a long time.
    pub fn is_over(&self, now: Micros) -> bool {
        let _ = now;
        false
    }

    /// Ends the take: judges it as a whole, withdraws or adds what the whole take shows, and reports.
    /// The last decisions, the summary among them, are returned beside the report.
    pub fn finish(self, now: Micros) -> (Report, Vec<Decision>) {
        let report = Report {
            notes: vec![],
            flags: vec![],
            extra: vec![],
            restarts: vec![],
            remarks: vec![],
            totals: Default::default(),
            ended: now,
        };
        (report, self.decisions)
    }
}
