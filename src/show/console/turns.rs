//! Whose turn it is, in the log: names, key checks, who comes next, and the director's steps.

use super::super::key_check;
use super::super::letters::large;
use super::super::phrases::{and, wrapped};
use super::{BOLD, Console, WIDTH};
use crate::session::{Outcome, Plays, Step, Turn};
use std::io::{self, Write};
use std::sync::Arc;

/// So many of those who wait are named.
const NAMED: usize = 3;

impl<W: Write> Console<W> {
    pub(super) fn listening(&mut self, ports: &[String]) -> io::Result<()> {
        for (lane, port) in self.plan.lanes.clone().iter().zip(ports) {
            if let Plays::Always(player) = lane.plays
                && let Some(face) = self.faces.get(player)
            {
                let instrument = face.instrument.as_ref().map_or(String::new(), |name| format!(", {name}"));
                self.line(&format!("Listening to {}{instrument} on {port}.", face.player))?;
            }
        }
        for (queue, players) in self.plan.queues.clone().iter().enumerate() {
            let lanes = self.plan.lanes.iter().zip(ports).enumerate();
            let on = lanes.filter(|(_, (lane, _))| lane.plays == Plays::Queue(queue));
            let on: Vec<String> = on.map(|(place, (_, port))| self.controller(place, port)).collect();
            let names: Vec<String> = players.iter().map(|&player| self.full_name(player)).collect();
            let how = if players.len() > 1 { ", one after the other" } else { "" };
            self.line(&format!("Listening on {} to {}{how}.", and(&on), and(&names)))?;
        }
        if self.look.keys {
            let has_queue = self.plan.has_queue();
            let queue = if has_queue { ", x absent, s skip (comes later)" } else { "" };
            self.line(&format!("Keys: a again, n next, d discard, r retake{queue}, u undo, q quit."))?;
            if self.plan.lanes.len() > 1 {
                let last = self.plan.lanes.len().min(9);
                let keys = if has_queue { "d, r, x or s" } else { "d or r" };
                self.line(&format!("Before {keys} the number of the controller, 1 to {last}, as in 2d."))?;
            }
        }
        Ok(())
    }

    /// A controller by its number, where there are several.
    fn controller(&self, lane: usize, port: &str) -> String {
        if self.plan.lanes.len() > 1 { format!("{} ({port})", lane + 1) } else { port.to_owned() }
    }

    /// Who plays next. Where players take turns, only what has changed is said again.
    pub(super) fn ahead(&mut self, turns: &[Turn], waiting: &[Vec<usize>]) -> io::Result<()> {
        if !self.plan.has_queue() {
            let take = turns.iter().map(|turn| turn.take).max().unwrap_or(1);
            self.line("")?;
            self.styled_line(BOLD, &format!("{}, take {take}", self.plan.exercise))?;
        }
        let before = std::mem::take(&mut self.seats);
        self.seats = vec![None; self.plan.lanes.len()];
        let mut stay = Vec::new();
        for &turn in turns {
            self.seats[turn.lane] = Some(turn);
            if !self.plan.has_queue() {
                self.check(turn)?;
            } else if before.get(turn.lane).copied().flatten() != Some(turn) {
                self.line("")?;
                self.call(turn)?;
                self.check(turn)?;
            } else {
                stay.push(format!("{} on controller {}", self.full_name(turn.player), turn.lane + 1));
            }
        }
        // Beside somebody new who stays must know to play too.
        if !stay.is_empty() && stay.len() < turns.len() {
            self.line(&format!("Still to play: {}.", and(&stay)))?;
        }
        self.comes_next(waiting)
    }

    /// Calls a player up.
    fn call(&mut self, turn: Turn) -> io::Result<()> {
        let name = self.full_name(turn.player);
        if self.look.terminal {
            for row in large(&name, WIDTH).rows() {
                self.styled_line(BOLD, &row)?;
            }
        }
        let instrument = self.faces.get(turn.player).and_then(|face| face.instrument.as_ref());
        let instrument = instrument.map_or(String::new(), |instrument| format!(", {instrument}"));
        let on = if self.plan.lanes.len() > 1 { format!(" on controller {}", turn.lane + 1) } else { String::new() };
        self.styled_line(BOLD, &format!("{name}{instrument}: take {}{on}", turn.take))
    }

    fn check(&mut self, turn: Turn) -> io::Result<()> {
        let (Some(face), Some(player)) = (self.faces.get(turn.player), self.plan.players.get(turn.player)) else {
            return Ok(());
        };
        // Without a click the first note begins the take.
        let check_note = turn.take == 1 && self.plan.click.is_some() && player.asks_check_note();
        // A name that was just called need not be said again.
        let is_said = self.faces.len() < 2 || self.plan.has_queue();
        let name = if is_said { String::new() } else { format!("{}: ", face.player) };
        let lines = key_check(&player.part, &face.changed, check_note);
        for (place, line) in lines.into_iter().enumerate() {
            let begin = if place == 0 { name.clone() } else { " ".repeat(name.chars().count()) };
            for line in wrapped(&format!("{begin}{line}"), WIDTH, &" ".repeat(name.chars().count() + 2)) {
                self.line(&line)?;
            }
        }
        Ok(())
    }

    /// Who waits, queue by queue, if that is news.
    fn comes_next(&mut self, waiting: &[Vec<usize>]) -> io::Result<()> {
        let queues = self.plan.queues.len();
        let mut next = Vec::new();
        for queue in 0..queues {
            let lane = self.plan.lanes.iter().position(|lane| lane.plays == Plays::Queue(queue));
            let Some(players) = lane.and_then(|lane| waiting.get(lane)) else { continue };
            let on = match lane {
                Some(lane) if queues > 1 => format!(" on controller {}", lane + 1),
                _ => String::new(),
            };
            next.push(match self.some(players) {
                Some(names) => format!("Then{on}: {names}."),
                None => format!("Nobody waits{on}."),
            });
        }
        let news: Vec<String> = next.iter().filter(|sentence| !self.next.contains(sentence)).cloned().collect();
        self.next = next;
        news.iter().try_for_each(|sentence| self.line(sentence))
    }

    /// The first few names, and how many more there are.
    fn some(&self, players: &[usize]) -> Option<String> {
        let mut names: Vec<String> = players.iter().take(NAMED).map(|&player| self.full_name(player)).collect();
        match players.len().saturating_sub(NAMED) {
            0 => {}
            more => names.push(format!("{more} more")),
        }
        (!names.is_empty()).then(|| and(&names))
    }

    pub(super) fn through(&mut self) -> io::Result<()> {
        self.line("")?;
        let r = if self.plan.lanes.len() > 1 { "1r, 2r and so on" } else { "r" };
        self.line(&format!(
            "All turns are over. q ends; {r}: once more; d: throw the last take away; u: take a step back."
        ))
    }

    fn takes_back(&self) -> &'static str {
        if self.look.keys { " u takes it back." } else { "" }
    }

    pub(super) fn step(&mut self, step: Step) -> io::Result<()> {
        let back = self.takes_back();
        let sentence = match step {
            Step::Absent(player) => {
                self.absent.push(player);
                format!("{} is absent today.", self.full_name(player))
            }
            Step::Skipped(player) => format!("{} comes later.", self.full_name(player)),
            Step::Retake(player) => format!("{} plays once more.", self.full_name(player)),
        };
        self.line(&format!("{sentence}{back}"))
    }

    pub(super) fn undone(&mut self, step: Step) -> io::Result<()> {
        let sentence = match step {
            Step::Absent(player) => {
                self.absent.retain(|absent| *absent != player);
                format!("{} is here after all.", self.full_name(player))
            }
            Step::Skipped(player) => format!("{} does not wait until later.", self.full_name(player)),
            Step::Retake(player) => format!("{} does not play once more.", self.full_name(player)),
        };
        self.line(&format!("Taken back: {sentence}"))
    }

    pub(super) fn discarded(&mut self, turns: &[Turn], is_kept: bool) -> io::Result<()> {
        let takes: Vec<usize> = turns.iter().map(|turn| turn.take).collect();
        let whole = turns.len() == self.plan.lanes.len()
            && takes.windows(2).all(|pair| pair[0] == pair[1])
            && !self.plan.has_queue();
        let it = if turns.len() == 1 || whole { "it" } else { "them" };
        let back = if self.look.keys && is_kept { format!(" u brings {it} back.") } else { String::new() };
        if whole {
            let take = takes.first().copied().unwrap_or(1);
            return self.line(&format!("Take {take} is thrown away.{back}"));
        }
        let of: Vec<String> = turns.iter().map(|turn| self.take_of(*turn)).collect();
        let are = if of.len() == 1 { "is" } else { "are" };
        self.line(&format!("{} {are} thrown away.{back}", and(&of)))
    }

    pub(super) fn back(&mut self, outcomes: &[Arc<Outcome>]) -> io::Result<()> {
        let of: Vec<String> = outcomes.iter().map(|outcome| self.take_of(outcome.turn)).collect();
        let are = if of.len() == 1 { "is" } else { "are" };
        self.line(&format!("Taken back: {} {are} kept.", and(&of)))
    }

    /// `Mia's take 2`.
    fn take_of(&self, turn: Turn) -> String {
        format!("{}'s take {}", self.full_name(turn.player), turn.take)
    }
}
