//! One take of all who have a seat: cued, played, ended.

use super::lane::{Finished, Run};
use super::live::{Ended, Playing, Session, Stage, TICK, keepers};
use super::metronome::Metronome;
use super::{Beat, Begun, Command, Outcome, PlayerPlan, Told, Turn, schedule, swapped};
use crate::exercise::Micros;
use crate::judge::{Decision, Grid, Settings};
use crate::listen::{Input, Timed};
use std::sync::Arc;

/// How far behind the clock decisions by time alone stay, so that what has happened has also arrived.
const MARGIN: Micros = Micros(5_000);
/// From the start of a take to the first beat of its count-in.
const LEAD: Micros = Micros(500_000);
/// Without a click a take begins with the first note; what came so long before it (breath, a program change)
/// still belongs to it.
const BEFORE: Micros = Micros(15_000_000);
/// Without a click takes begin on whole seconds of the source's clock, so that the times within do not depend on
/// which lane's first note was seen first.
const WHOLE: i64 = 1_000_000;

impl Session<'_> {
    /// Plays one take.
    pub(super) fn take(&mut self, turns: &[Turn]) -> Ended {
        let armed = self.stage.source.now();
        let Some(tempo) = self.plan.click.clone() else { return self.take_without_click(turns, armed) };
        let first = turns.first().and_then(|turn| self.plan.players.get(turn.player));
        let part = first.map(|player| Arc::clone(&player.part));
        let beats = part.map_or_else(Vec::new, |part| schedule(&part, &tempo, self.plan.count_in));
        let start = armed;
        let first = beats.first().map_or(Micros(0), |beat| beat.at);
        let score_zero = LEAD - first;
        self.throw_away();
        self.unsaved.clear();
        for &turn in turns {
            self.begin(turn, start, Some(Grid::new(score_zero, tempo.clone())));
        }
        self.cue(turns, Some(start + score_zero));
        let unix_s = self.stage.source.unix_seconds(start);
        self.tell(Told::Cued { turns: turns.to_vec(), score_zero: Some(score_zero), unix_s });
        let ended = self.play(start, &beats, start + score_zero);
        self.stage.click.stop();
        ended
    }

    /// Waits for the first note, then plays the take that begins with it.
    fn take_without_click(&mut self, turns: &[Turn], armed: Micros) -> Ended {
        self.cue(turns, None);
        self.tell(Told::Cued { turns: turns.to_vec(), score_zero: None, unix_s: None });
        for lane in &mut self.lanes {
            lane.before.clear();
        }
        let first = loop {
            // Nothing is played yet that could end or begin again.
            if let Some(ended @ (Ended::Changed | Ended::By(Command::Quit))) = self.asked_in_rest() {
                return ended;
            }
            let deadline = self.stage.source.now() + TICK;
            if let Some(arrival) = self.stage.source.next(deadline)
                && let Some((lane, note)) = self.meet(&arrival)
                && turns.iter().any(|turn| turn.lane == lane)
                && let Some(lane) = self.lanes.get_mut(lane)
            {
                let at = arrival.at;
                lane.before.retain(|(earlier, _)| earlier.at + BEFORE >= at);
                lane.before.push((arrival, note.is_some()));
                if note.is_some() {
                    break at;
                }
            }
        };
        let before = self.lanes.iter().flat_map(|lane| &lane.before).map(|(arrival, _)| arrival.at);
        let from = (first - BEFORE).max(armed);
        let earliest = before.filter(|&at| at >= from).min().unwrap_or(first);
        let start = Micros(earliest.0.div_euclid(WHOLE) * WHOLE);
        self.throw_away();
        self.unsaved.clear();
        for &turn in turns {
            self.begin(turn, start, None);
            let before = self.lanes.get_mut(turn.lane).map(|lane| std::mem::take(&mut lane.before)).unwrap_or_default();
            for (arrival, is_note) in before.into_iter().filter(|(arrival, _)| arrival.at >= from) {
                self.arrive(start, arrival, is_note);
            }
        }
        self.play(start, &[], start)
    }

    fn begin(&mut self, turn: Turn, start: Micros, grid: Option<Grid>) {
        let (Some(plan), Some(lane)) = (self.plan.players.get(turn.player), self.plan.lanes.get(turn.lane)) else {
            return;
        };
        let settings = Settings {
            level: plan.level,
            sends: plan.sends,
            grid,
            delay: lane.delay,
            instrument: plan.instrument.clone(),
            family: self.plan.family.clone(),
            stamp_error: Settings::stamp_error(Micros(0)),
        };
        let mut run = Run::new(plan, settings);
        let unix_s = self.stage.source.unix_seconds(start);
        let begun = Begun { turn, plan, settings: &run.settings().clone(), unix_s };
        let mut troubles = Vec::new();
        for keeper in keepers(&mut self.folder, &mut self.stage.keeper) {
            match keeper.begin(&begun) {
                Ok(kept) => run.keep(kept),
                Err(error) => troubles.push(error),
            }
        }
        if let Some(lane) = self.lanes.get_mut(turn.lane) {
            lane.playing = Some(Playing { turn, run, is_kept: troubles.is_empty() });
        }
        troubles.iter().for_each(|error| self.cannot_save(turn.player, error));
    }

    fn cue(&mut self, turns: &[Turn], score_zero: Option<Micros>) {
        self.rounds += 1;
        let mut players = vec![None; self.lanes.len()];
        for turn in turns {
            players[turn.lane] = Some(turn.player);
        }
        self.stage.source.seated(&players);
        self.stage.source.cue(self.rounds, score_zero);
    }

    /// The take itself, until all lanes are over or a command ends it.
    fn play(&mut self, start: Micros, beats: &[Beat], score_zero: Micros) -> Ended {
        let mut metronome = Metronome::new(beats, score_zero);
        loop {
            let now = self.stage.source.now();
            if let Some(ended) = self.asked_while_playing(now < score_zero) {
                return ended;
            }
            let Stage { click, tell, .. } = &mut self.stage;
            let beat = metronome.tick(now, *click, |beat| tell(Told::Beat(beat.clone())));
            let deadline = beat.map_or(now + TICK, |beat| beat.min(now + TICK)).max(now);
            while let Some(arrival) = self.stage.source.next(deadline) {
                if let Some((_, note)) = self.meet(&arrival) {
                    self.arrive(start, arrival, note.is_some());
                }
            }
            if self.advance(deadline - MARGIN - start) {
                return Ended::Over;
            }
        }
    }

    /// What the director asks for in a take; `None`: it goes on.
    fn asked_while_playing(&mut self, is_count_in: bool) -> Option<Ended> {
        let command = self.stage.commands.try_recv().ok()?;
        match command {
            // It is going on already.
            Command::Next if is_count_in => {}
            Command::Again | Command::Next | Command::Quit | Command::Discard(None) => return Some(Ended::By(command)),
            Command::Discard(lane) => self.discard_running(lane),
            Command::Retake(_) | Command::Absent(_) | Command::Skip(_) | Command::Undo => {
                self.step(command);
            }
        }
        self.lanes.iter().all(|lane| lane.playing.is_none()).then_some(Ended::Changed)
    }

    /// Gives an arrival to its lane's take.
    fn arrive(&mut self, start: Micros, arrival: Timed<Input>, is_note: bool) {
        let place = arrival.what.port as usize;
        if let Some(playing) = self.lanes.get_mut(place).and_then(|lane| lane.playing.as_mut()) {
            playing.run.arrive(arrival.at - start, arrival.what.what, is_note);
        }
        self.report(place);
    }

    /// Lets time pass for all lanes; whether the take is over for all. Without a click a lane that has not begun
    /// yet is not over while others play.
    fn advance(&mut self, now: Micros) -> bool {
        let mut all_over = true;
        for place in 0..self.lanes.len() {
            if let Some(Playing { run, .. }) = self.lanes.get_mut(place).and_then(|lane| lane.playing.as_mut())
                && (self.plan.click.is_some() || run.played())
            {
                run.advance(now);
                all_over &= run.over();
            }
            self.report(place);
        }
        all_over
    }

    /// Tells what a lane's engine has decided.
    fn report(&mut self, lane: usize) {
        let Some(Playing { run, turn, .. }) = self.lanes.get_mut(lane).and_then(|lane| lane.playing.as_mut()) else {
            return;
        };
        let (turn, decisions, trouble, has_filled) = (*turn, run.decisions(), run.trouble(), run.has_filled());
        for decision in decisions {
            self.tell(Told::Decided { turn, decision });
        }
        for error in trouble {
            self.cannot_save(turn.player, &error);
        }
        if has_filled {
            let player = self.plan.name(turn.player);
            let sentence = format!(
                "{player}'s take holds as much as a take can: it ends here and is kept. Does the controller send without end?"
            );
            self.tell(Told::Trouble(sentence));
        }
        let lost = self.stage.source.lost();
        if lost > self.lost {
            let missing = lost - self.lost;
            self.lost = lost;
            self.tell(Told::Trouble(format!("{missing} MIDI messages came faster than they could be kept")));
        }
    }

    /// Ends a take: judges it as a whole and keeps it. Whether anybody played.
    pub(super) fn finish(&mut self) -> bool {
        let playing: Vec<Playing> = self.lanes.iter_mut().filter_map(|lane| lane.playing.take()).collect();
        let finished: Vec<(Turn, bool, Finished)> =
            playing.into_iter().map(|Playing { turn, run, is_kept }| (turn, is_kept, run.finish())).collect();
        let of_players: Vec<(&PlayerPlan, &Finished)> = finished
            .iter()
            .filter_map(|(turn, _, finished)| Some((self.plan.players.get(turn.player)?, finished)))
            .collect();
        let swapped = swapped::sentences(&of_players);
        let mut anybody = false;
        for (turn, is_kept, mut finished) in finished {
            anybody |= finished.played;
            // Who was not ready while others played has missed no note more; what a click has told in time is told.
            for decision in std::mem::take(&mut finished.decisions) {
                if finished.played || !matches!(decision, Decision::Flag { .. }) {
                    self.tell(Told::Decided { turn, decision });
                }
            }
            let is_noodling = self.is_noodling(turn, &finished);
            finished.played &= !is_noodling;
            let outcome = self.outcome(turn, is_kept, finished);
            if is_noodling {
                let name = self.plan.name(turn.player);
                let sentence = format!("{name}: a few notes that are not the exercise are not taken for a take");
                self.tell(Told::Trouble(sentence));
                self.forget(&outcome);
            }
            self.turns.played(turn, outcome.played);
            // Of a player of a queue who keeps the turn there is no take.
            if self.turns.has_counted(turn) {
                self.outcomes.push(Arc::clone(&outcome));
            }
            self.tell(Told::Over(outcome));
        }
        swapped.into_iter().for_each(|sentence| self.tell(Told::Trouble(sentence)));
        anybody
    }

    /// Whether somebody only tried the controller: without a click a take begins with whatever is played first. In a queue
    /// that does not use up the turn.
    fn is_noodling(&self, turn: Turn, finished: &Finished) -> bool {
        let notes = self.plan.players.get(turn.player).map_or(0, |player| player.part.notes.len());
        let takes_turns = self.plan.click.is_none() && self.plan.takes_turns(turn.lane);
        let right = finished.report.totals.right_pitches.good;
        takes_turns && finished.played && 2 * finished.notes < notes && 2 * right < finished.notes
    }

    fn outcome(&mut self, turn: Turn, mut is_kept: bool, finished: Finished) -> Arc<Outcome> {
        let Finished { report, saved, played, .. } = finished;
        let mut file = None;
        for saved in saved {
            match saved {
                Ok(path) => file = path.or(file),
                Err(error) => {
                    is_kept = false;
                    self.cannot_save(turn.player, &error);
                }
            }
        }
        Arc::new(Outcome { turn, round: self.rounds, played, report, saved: file, is_kept })
    }

    /// Throws away what is being played, on one lane or on all. What was heard of it is kept until the next take begins,
    /// so that it can be brought back.
    pub(super) fn discard_running(&mut self, lane: Option<usize>) {
        let lanes = self.lanes.iter_mut().enumerate();
        let ended = lanes.filter(|(place, _)| lane.is_none_or(|lane| lane == *place));
        let ended: Vec<Playing> = ended.filter_map(|(_, lane)| lane.playing.take()).collect();
        if ended.is_empty() {
            self.tell(Told::Trouble("there is no take to throw away".into()));
            return;
        }
        let turns = ended.iter().map(|playing| playing.turn).collect();
        let mut gone = Vec::new();
        for Playing { turn, run, is_kept } in ended {
            if run.played() {
                let finished = run.finish();
                gone.push(self.outcome(turn, is_kept, finished));
            } else {
                run.discard();
            }
        }
        self.thrown(turns, gone, false);
    }

    /// Says what is in the way of saving, once in a take for all whom it concerns: that a take is not saved stands under each.
    fn cannot_save(&mut self, player: usize, error: &std::io::Error) {
        let why = error.to_string();
        if !self.unsaved.contains(&why) {
            self.tell(Told::Trouble(format!("{}'s take cannot be saved: {why}", self.plan.name(player))));
            self.unsaved.push(why);
        }
    }

    /// Drops what is being played where nobody has played yet.
    pub(super) fn give_up_unplayed(&mut self) {
        for lane in &mut self.lanes {
            if let Some(playing) = lane.playing.take_if(|playing| !playing.run.played()) {
                playing.run.discard();
            }
        }
    }
}
