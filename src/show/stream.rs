//! The live log for other programs: one JSON object a line, flushed at once (DESIGN.md §6).
//!
//! Besides the events of the design: `take` (a take is cued; `score_zero_s` counts from its start, `unix_s` is
//! that start in seconds since 1970), `check-note`, `waiting`, `over`, `unplugged`, `replugged`, `discarded`, `trouble`. Times of a take count
//! from its start.

use crate::judge::Decision;
use crate::session::Told;
use serde::Serialize;
use serde_json::json;
use std::io::{self, Write};

/// The log.
pub struct Stream<W: Write> {
    out: W,
    players: Vec<String>,
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
    /// A log of a session with these players.
    pub fn new(out: W, players: Vec<String>) -> Stream<W> {
        Stream { out, players }
    }

    /// Writes one thing down.
    pub fn tell(&mut self, told: &Told) -> io::Result<()> {
        let player = |lane: usize| self.players.get(lane).map(String::as_str);
        let line = match told {
            Told::Listening { ports } => {
                let lanes: Vec<_> = self
                    .players
                    .iter()
                    .zip(ports)
                    .map(|(player, port)| json!({"player": player, "port": port}))
                    .collect();
                json!({"event": "listening", "lanes": lanes})
            }
            Told::Cued { take, score_zero, unix_s } => json!({
                "event": "take", "take": take, "click": score_zero.is_some(),
                "score_zero_s": score_zero.map(crate::exercise::Micros::seconds), "unix_s": unix_s,
            }),
            Told::Decided { lane, take, decision } => {
                let player = if self.players.len() > 1 { player(*lane) } else { None };
                return write(&mut self.out, &Line { decision, player, take: *take });
            }
            Told::CheckNote { lane, sends } => json!({"event": "check-note", "player": player(*lane), "sends": sends}),
            Told::Waiting => json!({"event": "waiting"}),
            Told::Unplugged { lane } => json!({"event": "unplugged", "player": player(*lane)}),
            Told::Replugged { lane } => json!({"event": "replugged", "player": player(*lane)}),
            Told::Over(outcome) => json!({
                "event": "over", "player": player(outcome.lane), "take": outcome.take, "played": outcome.played,
                "saved": outcome.saved,
            }),
            Told::Discarded { take } => json!({"event": "discarded", "take": take}),
            Told::Trouble(sentence) => json!({"event": "trouble", "sentence": sentence}),
            Told::Ahead { .. } | Told::Beat(_) | Told::End => return Ok(()),
        };
        write(&mut self.out, &line)
    }
}

fn write(out: &mut impl Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")?;
    out.flush()
}
