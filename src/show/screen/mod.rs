//! The full screen: for each lane the name in large letters, where in the part, what was found last, the numbers so far;
//! below, the log.
//!
//! In: [`Told`], in order, as the log gets it. Out: rows ([`draw`] is a pure function of this state and a size), and the
//! whole log for afterwards. Next is [`Window`], which knows the terminal.

mod draw;
mod tally;
mod window;

pub use window::Window;

use super::console::{Console, Face, Look};
use super::finding::{CLOSE, TOO_CLOSE, place, symbol};
use super::phrases::beat_line;
use crate::judge::Decision;
use crate::session::{Outcome, Plan, Step, Told, Turn, View};
use anstream::StripStream;
use std::io;
use tally::{Counts, Tally};

/// So many findings of a take are kept in sight.
const FOUND: usize = 3;

/// What is shown.
pub struct Screen {
    plan: Plan,
    faces: Vec<Face>,
    lanes: Vec<Lane>,
    /// The beat, or what the session waits for.
    moment: String,
    /// What the director did last, or could not do.
    notice: String,
    log: Console<StripStream<Vec<u8>>>,
    lines: Vec<String>,
    /// So many lines of the log are below what is shown of it.
    back: usize,
    /// So many were shown last, for paging.
    page: usize,
    /// The lane that the next key is about.
    chosen: Option<usize>,
    ascii: bool,
}

/// One lane as it is shown.
#[derive(Debug, Clone, Default)]
struct Lane {
    port: String,
    turn: Option<Turn>,
    waiting: Vec<usize>,
    /// Of the take being played, or the one before until the next is cued.
    take: Option<Take>,
}

/// A take in sight.
#[derive(Debug, Clone)]
struct Take {
    turn: Turn,
    tally: Tally,
    /// At its end.
    counts: Option<Counts>,
    /// The label of the measure that was reached.
    measure: String,
    /// Last findings, the newest last.
    found: Vec<(usize, String)>,
}

impl Screen {
    /// The screen of a session. `ascii`: the terminal reads nothing else.
    pub fn new(plan: Plan, faces: Vec<Face>, kept_in: Option<String>, ascii: bool) -> Screen {
        let look = Look { terminal: false, keys: true, ascii: false, kept_in };
        let log = Console::new(StripStream::new(Vec::new()), look, plan.clone(), faces.clone());
        let lanes = vec![Lane::default(); plan.lanes.len()];
        let (moment, notice, lines) = (String::new(), String::new(), Vec::new());
        Screen { plan, faces, lanes, moment, notice, log, lines, back: 0, page: 1, chosen: None, ascii }
    }

    /// A line of the log that no session told.
    pub fn line(&mut self, text: &str) -> io::Result<()> {
        self.log.line(text)?;
        self.take_lines();
        Ok(())
    }

    /// Takes one thing in.
    pub fn tell(&mut self, told: &Told) -> io::Result<()> {
        let before = self.lines.len();
        self.log.tell(told)?;
        self.take_lines();
        match told {
            Told::Step(_) | Told::Undone(_) | Told::Discarded { .. } | Told::Back(_) | Told::Trouble(_) => {
                self.notice = self.lines[before..].join(" ");
            }
            Told::Cued { .. } => self.notice.clear(),
            _ => {}
        }
        match told {
            Told::Listening { ports } => {
                self.lanes.iter_mut().zip(ports).for_each(|(lane, port)| lane.port.clone_from(port));
            }
            Told::Ahead { turns, waiting } => {
                self.moment = "get ready".into();
                for (place, lane) in self.lanes.iter_mut().enumerate() {
                    lane.turn = turns.iter().find(|turn| turn.lane == place).copied();
                    lane.waiting = waiting.get(place).cloned().unwrap_or_default();
                }
            }
            Told::Cued { turns, score_zero, .. } => {
                self.moment = if score_zero.is_some() { "count-in" } else { "play when you are ready" }.into();
                self.lanes.iter_mut().for_each(|lane| lane.take = None);
                for &turn in turns {
                    let (Some(lane), Some(player)) =
                        (self.lanes.get_mut(turn.lane), self.plan.players.get(turn.player))
                    else {
                        continue;
                    };
                    let (tally, measure) = (Tally::new(player, &self.plan.family, score_zero.is_some()), String::new());
                    lane.take = Some(Take { turn, tally, counts: None, measure, found: Vec::new() });
                }
            }
            Told::Beat(beat) => self.moment = beat_line(beat),
            Told::Decided { turn, decision } => self.decided(*turn, decision),
            Told::Over(outcome) => self.over(outcome),
            Told::Waiting => self.moment = "nobody played: play a note, or press n".into(),
            Told::Through => {
                self.moment = "all turns are over".into();
                self.lanes.iter_mut().for_each(|lane| lane.turn = None);
            }
            Told::Step(Step::Absent(player) | Step::Skipped(player)) => {
                // Who is next there is told with the next take.
                for lane in &mut self.lanes {
                    lane.turn.take_if(|turn| turn.player == *player);
                }
            }
            Told::Discarded { turns, .. } => {
                for turn in turns {
                    if let Some(lane) = self.lanes.get_mut(turn.lane) {
                        lane.take.take_if(|take| take.turn == *turn);
                    }
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn decided(&mut self, turn: Turn, decision: &Decision) {
        let Some(take) = self.lanes.get_mut(turn.lane).and_then(|lane| lane.take.as_mut()) else { return };
        take.tally.decided(decision);
        match decision {
            Decision::Placed { index: Some(index), .. } => {
                let part = self.plan.players.get(turn.player).map(|player| &player.part);
                let note = part.and_then(|part| part.notes.get(*index));
                if let Some(measure) = part.zip(note).and_then(|(part, note)| part.measure_of(note)) {
                    take.measure.clone_from(&measure.label);
                }
            }
            Decision::Flag { flag, .. } => {
                take.found.push((flag.index, format!("{} {}  {}", symbol(flag.kind).0, place(flag), flag.sentence)));
            }
            Decision::Close { flag, .. } => {
                let sentence = format!("{CLOSE} {}  {TOO_CLOSE}: {}", place(flag), flag.sentence);
                take.found.push((flag.index, sentence));
            }
            Decision::Withdrawn { index, .. } => take.found.retain(|(of, _)| of != index),
            _ => {}
        }
        let more = take.found.len().saturating_sub(FOUND);
        take.found.drain(..more);
    }

    fn over(&mut self, outcome: &Outcome) {
        let take = self.lanes.get_mut(outcome.turn.lane).and_then(|lane| lane.take.as_mut());
        if let Some(take) = take.filter(|_| outcome.played) {
            take.counts = Some(Counts::from(&outcome.report.totals));
        }
    }

    /// Moves the cut of the log, or marks the chosen lane.
    pub fn look(&mut self, view: View) {
        let page = self.page.saturating_sub(1).max(1);
        match view {
            View::Chosen(lane) => self.chosen = lane,
            View::Back => self.back += page,
            View::Forward => self.back = self.back.saturating_sub(page),
            View::First => self.back = self.lines.len(),
            View::Last => self.back = 0,
            View::Resized => {}
        }
        self.back = self.back.min(self.lines.len().saturating_sub(self.page));
    }

    fn take_lines(&mut self) {
        let text = String::from_utf8_lossy(self.log.written().as_inner()).into_owned();
        let new = text.lines().map(|line| line.trim_end_matches('\r').to_owned());
        let before = self.lines.len();
        self.lines.extend(new);
        if self.back > 0 {
            // Who reads back is not pushed on.
            self.back += self.lines.len() - before;
        }
        *self.log.written() = StripStream::new(Vec::new());
    }

    /// The whole log, as the plain one has it.
    pub fn log(&self) -> Vec<String> {
        self.lines.iter().map(|line| self.spelled(line)).collect()
    }

    fn spelled(&self, text: &str) -> String {
        if self.ascii { super::ascii::ascii(text) } else { text.to_owned() }
    }
}

#[cfg(test)]
mod tests;
