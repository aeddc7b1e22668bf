//! The live log for other programs: one JSON object a line, flushed at once (DESIGN.md §6).
//!
//! Besides the events of the design: `take` (a take is cued; `score_zero_s` counts from its start, `unix_s` is
//! that start in seconds since 1970), `check-note`, `waiting`, `over`, `unplugged`, `replugged`, `discarded`, `trouble`; where players take
//! turns also `turns` (who is next on each lane, and who after), `absent`, `skipped`, `retake`, `undone`, `back` (a take
//! thrown away is kept after all), `unplayed`. Times of a take count from its start; `take` is the number of a player's take.

use crate::judge::Decision;
use crate::session::{LanePlan, Plan, Plays, Step, Told, Turn};
use serde::Serialize;
use serde_json::{Value, json};
use std::io::{self, Write};

/// The log.
pub struct Stream<W: Write> {
    out: W,
    plan: Plan,
    /// Who is at each lane.
    seats: Vec<Option<usize>>,
}

/// A decision and whose it is. With one player the lines are those of `check`.
#[derive(Serialize)]
struct Line<'a> {
    #[serde(flatten)]
    decision: &'a Decision,
    #[serde(skip_serializing_if = "Option::is_none")]
    player: Option<&'a str>,
    take: usize,
}

impl<W: Write> Stream<W> {
    /// A log of this session.
    pub fn new(out: W, plan: Plan) -> Stream<W> {
        // Lanes that share a queue begin with its first players, in their order.
        let mut called_up = vec![0; plan.queues.len()];
        let plays = |lane: &LanePlan| match lane.plays {
            Plays::Always(player) => Some(player),
            Plays::Queue(queue) => {
                let place = called_up.get_mut(queue)?;
                *place += 1;
                plan.queues.get(queue)?.get(*place - 1).copied()
            }
        };
        let seats = plan.lanes.iter().map(plays).collect();
        Stream { out, seats, plan }
    }

    fn name(&self, player: usize) -> &str {
        self.plan.name(player)
    }

    /// Who is at a lane.
    fn at(&self, lane: usize) -> Option<&str> {
        self.seats.get(lane).copied().flatten().map(|player| self.name(player))
    }

    fn turns(&self, turns: &[Turn]) -> Vec<Value> {
        let turn = |turn: &Turn| json!({"lane": turn.lane + 1, "player": self.name(turn.player), "take": turn.take});
        turns.iter().map(turn).collect()
    }

    fn names(&self, players: &[usize]) -> Vec<&str> {
        players.iter().map(|&player| self.name(player)).collect()
    }

    /// Writes one thing down.
    pub fn tell(&mut self, told: &Told) -> io::Result<()> {
        let line = match told {
            Told::Listening { ports } => {
                let queue = |lane: usize| match self.plan.lanes.get(lane)?.plays {
                    Plays::Always(_) => None,
                    Plays::Queue(queue) => Some(self.names(self.plan.queues.get(queue)?)),
                };
                let lanes = ports.iter().enumerate().map(|(lane, port)| match queue(lane) {
                    None => json!({"player": self.at(lane), "port": port}),
                    Some(queue) => json!({"player": self.at(lane), "port": port, "queue": queue}),
                });
                json!({"event": "listening", "lanes": lanes.collect::<Vec<_>>()})
            }
            Told::Ahead { turns, waiting } => {
                self.seats.fill(None);
                turns.iter().for_each(|turn| self.seats[turn.lane] = Some(turn.player));
                if !self.plan.has_queue() {
                    return Ok(());
                }
                let waiting: Vec<_> = waiting.iter().map(|players| self.names(players)).collect();
                json!({"event": "turns", "players": self.turns(turns), "waiting": waiting})
            }
            Told::Cued { turns, score_zero, unix_s } => json!({
                "event": "take", "take": turns.iter().map(|turn| turn.take).max(), "click": score_zero.is_some(),
                "score_zero_s": score_zero.map(crate::exercise::Micros::seconds), "unix_s": unix_s,
                "players": self.turns(turns),
            }),
            Told::Decided { turn, decision } => {
                let player = if self.plan.players.len() > 1 { Some(self.plan.name(turn.player)) } else { None };
                return write(&mut self.out, &Line { decision, player, take: turn.take });
            }
            Told::CheckNote { player, sends } => {
                json!({"event": "check-note", "player": self.name(*player), "sends": sends})
            }
            Told::Waiting => json!({"event": "waiting"}),
            Told::Unplugged { lane } => json!({"event": "unplugged", "player": self.at(*lane), "lane": lane + 1}),
            Told::Replugged { lane } => json!({"event": "replugged", "player": self.at(*lane), "lane": lane + 1}),
            Told::Over(outcome) => json!({
                "event": "over", "player": self.name(outcome.turn.player), "take": outcome.turn.take,
                "played": outcome.played, "saved": outcome.saved,
            }),
            Told::Discarded { turns, .. } => {
                let take = turns.iter().map(|turn| turn.take).max();
                json!({"event": "discarded", "take": take, "players": self.turns(turns)})
            }
            Told::Back(outcomes) => {
                let turns: Vec<Turn> = outcomes.iter().map(|outcome| outcome.turn).collect();
                json!({"event": "back", "players": self.turns(&turns)})
            }
            Told::Step(step) => {
                let (event, player) = step_event(*step);
                json!({"event": event, "player": self.name(player)})
            }
            Told::Undone(step) => {
                let (what, player) = step_event(*step);
                json!({"event": "undone", "what": what, "player": self.name(player)})
            }
            Told::Trouble(sentence) => json!({"event": "trouble", "sentence": sentence}),
            Told::End { unplayed } if !unplayed.is_empty() => {
                json!({"event": "unplayed", "players": self.names(unplayed)})
            }
            Told::Beat(_) | Told::Through | Told::End { .. } => return Ok(()),
        };
        write(&mut self.out, &line)
    }
}

fn step_event(step: Step) -> (&'static str, usize) {
    match step {
        Step::Absent(player) => ("absent", player),
        Step::Skipped(player) => ("skipped", player),
        Step::Retake(player) => ("retake", player),
    }
}

fn write(out: &mut impl Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")?;
    out.flush()
}
