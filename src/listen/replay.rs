//! A source that plays back what is already known: takes, or simulated players.

use super::{Input, MidiSource, PortError, Timed, choose};
use crate::exercise::Micros;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How fast time runs in a replay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// As on the wall.
    Real,
    /// As fast as the program can: the same stream times, no waiting.
    Fast,
}

/// What is played when a take is cued: of the take's number (from 1) and score time zero (the moment of the cue
/// itself without a click), the arrivals at stream times not before the cue.
pub type Performance = dyn FnMut(usize, Micros) -> Vec<Timed<Input>> + Send;

/// The source.
pub struct Replay {
    names: Vec<String>,
    opened: Vec<usize>,
    performance: Box<Performance>,
    coming: VecDeque<Timed<Input>>,
    pace: Pace,
    started: Instant,
    now: Micros,
    seats: Seats,
}

/// Who plays on each lane, for performances of players who take turns.
pub type Seats = Arc<Mutex<Vec<Option<usize>>>>;

impl Replay {
    /// A source with these inputs. The lanes of what `performance` returns are places in `names`.
    pub fn new(names: Vec<String>, pace: Pace, performance: Box<Performance>) -> Replay {
        let (opened, coming) = (Vec::new(), VecDeque::new());
        let (started, now, seats) = (Instant::now(), Micros(0), Seats::default());
        Replay { names, opened, performance, coming, pace, started, now, seats }
    }

    /// Says in `seats`, before a take is cued, who plays it.
    pub fn with_seats(self, seats: Seats) -> Replay {
        Replay { seats, ..self }
    }

    /// Lets time pass until `until`.
    fn wait(&mut self, until: Micros) {
        if self.pace == Pace::Real {
            let target = Duration::from_micros(u64::try_from(until.0).unwrap_or(0));
            if let Some(left) = target.checked_sub(self.started.elapsed()) {
                std::thread::sleep(left);
            }
        }
        self.now = self.now.max(until);
    }
}

impl MidiSource for Replay {
    fn list(&mut self) -> Result<Vec<String>, PortError> {
        Ok(self.names.clone())
    }

    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError> {
        let places: Result<Vec<usize>, PortError> =
            wanted.iter().map(|wanted| choose("input", &self.names, wanted)).collect();
        self.opened = places?;
        Ok(self.opened.iter().filter_map(|&place| self.names.get(place).cloned()).collect())
    }

    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>> {
        while self.coming.front().is_some_and(|next| next.at <= deadline) {
            let Some(next) = self.coming.pop_front() else { break };
            self.wait(next.at);
            let lane = self.opened.iter().position(|&place| place == next.what.port as usize);
            if let Some(lane) = lane {
                return Some(Timed { at: next.at, what: Input { port: lane as u32, what: next.what.what } });
            }
        }
        self.wait(deadline);
        None
    }

    fn now(&self) -> Micros {
        self.now
    }

    fn seated(&mut self, players: &[Option<usize>]) {
        // A performance that panicked while it held them plays no more anyway.
        if let Ok(mut seats) = self.seats.lock() {
            *seats = players.to_vec();
        }
    }

    fn cue(&mut self, take: usize, score_zero: Option<Micros>) {
        // Who was still playing the take before stops.
        self.coming = (self.performance)(take, score_zero.unwrap_or(self.now)).into();
        self.coming.make_contiguous().sort_by_key(|arrival| arrival.at);
    }

    fn backend(&self) -> &'static str {
        "replay"
    }
}
