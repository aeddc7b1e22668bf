//! One player's take while it is played: the engine, and the record of all that it was told.

use super::LanePlan;
use crate::exercise::Micros;
use crate::judge::{Decision, Engine, Report, Settings};
use crate::listen::{Input, Timed, What};
use std::sync::Arc;

/// A running take. All times are from the start of the take.
///
/// The engine is told nothing that the record does not hold, at the very time that the record holds, so that
/// the saved take gives the same flags: an arrival that comes after its time has been decided counts as of now.
pub(super) struct Run {
    engine: Engine,
    snap: fn(Micros) -> Micros,
    record: Vec<Timed<Input>>,
    decided_to: Micros,
    played: bool,
    over: Option<Micros>,
}

impl Run {
    /// Begins a take.
    pub(super) fn new(plan: &LanePlan, settings: Settings) -> Run {
        let engine = Engine::new(Arc::clone(&plan.part), settings);
        Run { engine, snap: |at| at, record: Vec::new(), decided_to: Micros(0), played: false, over: None }
    }

    /// Something arrived.
    pub(super) fn arrive(&mut self, at: Micros, what: What, is_note: bool) {
        let at = (self.snap)(at).max(self.decided_to);
        if self.is_over(at) {
            return;
        }
        self.played |= is_note;
        let input = Timed { at, what: Input { port: 0, what } };
        self.engine.push(&input);
        self.record.push(input);
        self.decided_to = at;
    }

    /// Time passed.
    pub(super) fn advance(&mut self, now: Micros) {
        let now = (self.snap)(now);
        if now > self.decided_to && !self.is_over(now) {
            self.engine.advance(now);
            self.decided_to = now;
        }
    }

    /// Whether the take has ended by itself by this time; once it has, it stays so.
    fn is_over(&mut self, now: Micros) -> bool {
        if self.over.is_none() && self.engine.is_over(now) {
            self.over = Some(now);
        }
        self.over.is_some()
    }

    /// Whether the take has ended by itself.
    pub(super) fn over(&self) -> bool {
        self.over.is_some()
    }

    /// Whether any note was played.
    pub(super) fn played(&self) -> bool {
        self.played
    }

    /// What was decided since the last call.
    pub(super) fn decisions(&mut self) -> Vec<Decision> {
        self.engine.take_decisions()
    }

    /// Ends the take.
    pub(super) fn finish(self) -> (Report, Vec<Decision>, Vec<Timed<Input>>) {
        let end = self.over.unwrap_or(self.decided_to);
        let (report, decisions) = self.engine.finish(end);
        (report, decisions, self.record)
    }
}
