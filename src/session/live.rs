//! The loop: cue a take, take in what arrives, let time pass, end it, and again.
//!
//! One thread runs it. It alone knows the engines; it tells in order what is to be written, to a writer that
//! must not make it wait.

use super::journal::Folder;
use super::lane::{Finished, Run};
use super::metronome::Metronome;
use super::spot::NoteSpotter;
use super::{Beat, Begun, Click, Command, Keeper, Outcome, Plan, Told, schedule, swapped};
use crate::exercise::Micros;
use crate::judge::{Grid, Sends, Settings};
use crate::listen::{Input, MidiSink, MidiSource, PortError, Timed, What};
use crossbeam_channel::Receiver;
use std::sync::Arc;

/// How often time alone is looked at.
const TICK: Micros = Micros(10_000);
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
/// MIDI 1.0: a controller's status, and the controller that ends all notes of a channel.
const CONTROL_CHANGE: u8 = 0xB0;
const ALL_NOTES_OFF: u8 = 123;

/// What a session works with.
pub struct Stage<'a> {
    /// Where MIDI comes from.
    pub source: &'a mut dyn MidiSource,
    /// What the director asks for.
    pub commands: &'a Receiver<Command>,
    /// The click.
    pub click: &'a mut dyn Click,
    /// Where all that arrives is sent on to.
    pub thru: Option<Box<dyn MidiSink>>,
    /// What keeps the takes, besides the folder of the plan.
    pub keeper: Option<Box<dyn Keeper>>,
    /// The writer.
    pub tell: &'a mut dyn FnMut(Told),
}

/// A session.
pub struct Session<'a> {
    plan: Plan,
    stage: Stage<'a>,
    lanes: Vec<Lane>,
    folder: Option<Folder>,
    outcomes: Vec<Arc<Outcome>>,
    lost: u64,
}

/// A player's place at the table, between and during takes.
#[derive(Default)]
struct Lane {
    spotter: NoteSpotter,
    /// Whether a check note was heard.
    checked: bool,
    run: Option<Run>,
    /// Whether all that keep takes could begin this one.
    is_kept: bool,
    /// Without a click: what came before the first note.
    before: Vec<(Timed<Input>, bool)>,
}

/// How a take or a pause ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ended {
    /// By itself.
    Over,
    /// By a command.
    By(Command),
}

impl<'a> Session<'a> {
    /// Opens the ports of all lanes.
    pub fn open(plan: Plan, stage: Stage<'a>) -> Result<Session<'a>, PortError> {
        let wanted: Vec<String> = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
        let ports = stage.source.open(&wanted)?;
        let lanes = plan.lanes.iter().map(|_| Lane::default()).collect();
        let exercise = plan.exercise.clone();
        let folder = plan.save.clone().map(|folder| Folder { folder, exercise });
        let session = Session { plan, stage, lanes, folder, outcomes: Vec::new(), lost: 0 };
        (session.stage.tell)(Told::Listening { ports });
        Ok(session)
    }

    /// Runs it to its end and returns the takes that were kept.
    pub fn run(mut self) -> Vec<Arc<Outcome>> {
        let mut take = 1;
        let mut silent = false;
        while self.plan.takes.is_none_or(|takes| take <= takes) {
            self.tell(Told::Ahead { take });
            let ended = match self.rest(silent) {
                Ended::By(Command::Quit) => break,
                Ended::By(Command::Discard) => {
                    take = self.discard_last().unwrap_or(take);
                    continue;
                }
                Ended::By(Command::Again | Command::Next) | Ended::Over => self.take(take),
            };
            match ended {
                Ended::By(Command::Again | Command::Discard) => {
                    self.give_up(|_| true);
                    self.tell(Told::Discarded { take });
                }
                Ended::By(Command::Quit) => {
                    self.give_up(|run| !run.played());
                    self.finish(take);
                    break;
                }
                Ended::Over | Ended::By(Command::Next) => {
                    silent = !self.finish(take);
                    take += 1;
                }
            }
        }
        self.tell(Told::End);
        self.outcomes
    }

    fn tell(&mut self, told: Told) {
        (self.stage.tell)(told);
    }

    /// The pause before a take. After a take in which nobody played it lasts until somebody does, so that the
    /// click does not go on in an empty room.
    fn rest(&mut self, silent: bool) -> Ended {
        let Some(_) = self.plan.click else { return self.command().map_or(Ended::Over, Ended::By) };
        if silent {
            self.tell(Told::Waiting);
        }
        let until = self.stage.source.now() + self.plan.pause;
        loop {
            if let Some(command) = self.command() {
                return Ended::By(command);
            }
            let now = self.stage.source.now();
            if !silent && now >= until {
                return Ended::Over;
            }
            let deadline = if silent { now + TICK } else { until.min(now + TICK) };
            let mut anybody = false;
            while let Some(arrival) = self.stage.source.next(deadline) {
                if let Some((lane, Some(midi))) = self.meet(&arrival) {
                    anybody = true;
                    self.check_note(lane, midi);
                }
            }
            if silent && anybody {
                return Ended::Over;
            }
        }
    }

    fn command(&mut self) -> Option<Command> {
        self.stage.commands.try_recv().ok()
    }

    /// What is done with every arrival, in a take or not: thru, and a word on cables. Returns the lane, and
    /// the MIDI number of a note that begins.
    fn meet(&mut self, arrival: &Timed<Input>) -> Option<(usize, Option<u8>)> {
        let lane = arrival.what.port as usize;
        let spotter = &mut self.lanes.get_mut(lane)?.spotter;
        let mut note = None;
        match &arrival.what.what {
            What::Bytes(bytes) => {
                note = spotter.note_begins(bytes);
                if let Some(thru) = &mut self.stage.thru {
                    thru.send(bytes);
                }
            }
            What::Disconnect => {
                *spotter = NoteSpotter::default();
                if let Some(thru) = &mut self.stage.thru {
                    (0..16).for_each(|channel| thru.send(&[CONTROL_CHANGE | channel, ALL_NOTES_OFF, 0]));
                }
                self.tell(Told::Unplugged { lane });
            }
            What::Connect => self.tell(Told::Replugged { lane }),
        }
        Some((lane, note))
    }

    /// The first note that a player whose way of sending is not known plays before a take: it should be a written C, and
    /// shows whether the controller sends written or concert pitch. Only said: the take itself decides.
    fn check_note(&mut self, lane: usize, midi: u8) {
        let (Some(seat), Some(plan)) = (self.lanes.get_mut(lane), self.plan.lanes.get(lane)) else { return };
        if std::mem::replace(&mut seat.checked, true) || !plan.asks_check_note() {
            return;
        }
        let chromatic = i16::from(plan.part.transposition.unwrap_or_default().chromatic);
        let sends = match i16::from(midi) % 12 {
            0 => Some(Sends::Written),
            class if class == chromatic.rem_euclid(12) => Some(Sends::Concert),
            _ => None,
        };
        self.tell(Told::CheckNote { lane, sends });
    }

    /// Plays one take.
    fn take(&mut self, take: usize) -> Ended {
        let armed = self.stage.source.now();
        let Some(tempo) = self.plan.click.clone() else { return self.take_without_click(take, armed) };
        let part = self.plan.lanes.first().map(|lane| Arc::clone(&lane.part));
        let beats = part.map_or_else(Vec::new, |part| schedule(&part, &tempo, self.plan.count_in));
        let start = armed;
        let first = beats.first().map_or(Micros(0), |beat| beat.at);
        let score_zero = LEAD - first;
        for place in 0..self.lanes.len() {
            self.begin(place, take, start, Some(Grid::new(score_zero, tempo.clone())));
        }
        self.cue(take, start, Some(score_zero));
        let ended = self.play(take, start, &beats, start + score_zero);
        self.stage.click.stop();
        ended
    }

    /// Waits for the first note, then plays the take that begins with it.
    fn take_without_click(&mut self, take: usize, armed: Micros) -> Ended {
        self.stage.source.cue(take, None);
        self.tell(Told::Cued { take, score_zero: None, unix_s: None });
        for lane in &mut self.lanes {
            lane.before.clear();
        }
        let first = loop {
            if let Some(command) = self.command() {
                return Ended::By(command);
            }
            let deadline = self.stage.source.now() + TICK;
            if let Some(arrival) = self.stage.source.next(deadline)
                && let Some((lane, note)) = self.meet(&arrival)
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
        for place in 0..self.lanes.len() {
            self.begin(place, take, start, None);
            let before = self.lanes.get_mut(place).map(|lane| std::mem::take(&mut lane.before)).unwrap_or_default();
            for (arrival, is_note) in before.into_iter().filter(|(arrival, _)| arrival.at >= from) {
                self.arrive(take, start, arrival, is_note);
            }
        }
        self.play(take, start, &[], start)
    }

    fn begin(&mut self, place: usize, take: usize, start: Micros, grid: Option<Grid>) {
        let (Some(lane), Some(plan)) = (self.lanes.get_mut(place), self.plan.lanes.get(place)) else { return };
        let settings = Settings {
            level: self.plan.level,
            sends: plan.sends,
            grid,
            delay: plan.delay,
            instrument: plan.instrument.clone(),
            family: self.plan.family.clone(),
            stamp_error: Settings::stamp_error(Micros(0)),
        };
        let mut run = Run::new(plan, settings);
        let unix_s = self.stage.source.unix_seconds(start);
        let begun = Begun { lane: place, take, plan, settings: &run.settings().clone(), unix_s };
        let mut troubles = Vec::new();
        for keeper in keepers(&mut self.folder, &mut self.stage.keeper) {
            match keeper.begin(&begun) {
                Ok(kept) => run.keep(kept),
                Err(error) => troubles.push(unsaved(&plan.player, &error)),
            }
        }
        lane.is_kept = troubles.is_empty();
        lane.run = Some(run);
        troubles.into_iter().for_each(|trouble| self.tell(Told::Trouble(trouble)));
    }

    fn cue(&mut self, take: usize, start: Micros, score_zero: Option<Micros>) {
        self.stage.source.cue(take, score_zero.map(|zero| start + zero));
        let unix_s = self.stage.source.unix_seconds(start);
        self.tell(Told::Cued { take, score_zero, unix_s });
    }

    /// The take itself, until all lanes are over or a command ends it.
    fn play(&mut self, take: usize, start: Micros, beats: &[Beat], score_zero: Micros) -> Ended {
        let mut metronome = Metronome::new(beats, score_zero);
        loop {
            if let Some(command) = self.command() {
                return Ended::By(command);
            }
            let now = self.stage.source.now();
            let Stage { click, tell, .. } = &mut self.stage;
            let beat = metronome.tick(now, *click, |beat| tell(Told::Beat(beat.clone())));
            let deadline = beat.map_or(now + TICK, |beat| beat.min(now + TICK)).max(now);
            while let Some(arrival) = self.stage.source.next(deadline) {
                if let Some((_, note)) = self.meet(&arrival) {
                    self.arrive(take, start, arrival, note.is_some());
                }
            }
            if self.advance(take, deadline - MARGIN - start) {
                return Ended::Over;
            }
        }
    }

    /// Gives an arrival to its lane's take.
    fn arrive(&mut self, take: usize, start: Micros, arrival: Timed<Input>, is_note: bool) {
        let place = arrival.what.port as usize;
        if let Some(run) = self.lanes.get_mut(place).and_then(|lane| lane.run.as_mut()) {
            run.arrive(arrival.at - start, arrival.what.what, is_note);
        }
        self.report(take, place);
    }

    /// Lets time pass for all lanes; whether the take is over for all. Without a click a lane that has not begun
    /// yet is not over while others play.
    fn advance(&mut self, take: usize, now: Micros) -> bool {
        let mut all_over = true;
        for place in 0..self.lanes.len() {
            if let Some(run) = self.lanes.get_mut(place).and_then(|lane| lane.run.as_mut())
                && (self.plan.click.is_some() || run.played())
            {
                run.advance(now);
                all_over &= run.over();
            }
            self.report(take, place);
        }
        all_over
    }

    /// Tells what a lane's engine has decided.
    fn report(&mut self, take: usize, lane: usize) {
        let Some(run) = self.lanes.get_mut(lane).and_then(|lane| lane.run.as_mut()) else { return };
        let (decisions, trouble, has_filled) = (run.decisions(), run.trouble(), run.has_filled());
        for decision in decisions {
            self.tell(Told::Decided { lane, take, decision });
        }
        for error in trouble {
            let trouble = unsaved(self.player(lane), &error);
            self.tell(Told::Trouble(trouble));
        }
        if has_filled {
            let player = self.player(lane);
            self.tell(Told::Trouble(format!(
                "{player}'s take holds as much as a take can: it ends here and is kept. Does the controller send without end?"
            )));
        }
        let lost = self.stage.source.lost();
        if lost > self.lost {
            let missing = lost - self.lost;
            self.lost = lost;
            self.tell(Told::Trouble(format!("{missing} MIDI messages came faster than they could be kept")));
        }
    }

    /// Ends a take: judges it as a whole and keeps it. Whether anybody played.
    fn finish(&mut self, take: usize) -> bool {
        let mut anybody = false;
        let takes: Vec<Option<Finished>> = self.lanes.iter_mut().map(|lane| lane.run.take().map(Run::finish)).collect();
        let swapped = swapped::sentences(&self.plan.lanes, &takes);
        for (lane, finished) in takes.into_iter().enumerate() {
            let Some(Finished { report, decisions, saved, played, .. }) = finished else { continue };
            anybody |= played;
            for decision in decisions {
                self.tell(Told::Decided { lane, take, decision });
            }
            let (mut file, mut is_kept) = (None, self.lanes.get(lane).is_none_or(|lane| lane.is_kept));
            for saved in saved {
                match saved {
                    Ok(path) => file = path.or(file),
                    Err(error) => {
                        is_kept = false;
                        let trouble = unsaved(self.player(lane), &error);
                        self.tell(Told::Trouble(trouble));
                    }
                }
            }
            let outcome = Arc::new(Outcome { lane, take, played, report, saved: file, is_kept });
            self.outcomes.push(Arc::clone(&outcome));
            self.tell(Told::Over(outcome));
        }
        swapped.into_iter().for_each(|sentence| self.tell(Told::Trouble(sentence)));
        anybody
    }

    /// Drops the take being played, of those lanes of which this is true.
    fn give_up(&mut self, of: impl Fn(&Run) -> bool) {
        for lane in &mut self.lanes {
            if let Some(run) = lane.run.take_if(|run| of(run)) {
                run.discard();
            }
        }
    }

    fn player(&self, lane: usize) -> &str {
        self.plan.lanes.get(lane).map_or("", |lane| lane.player.as_str())
    }

    /// Throws the last finished take away and returns its number.
    fn discard_last(&mut self) -> Option<usize> {
        let take = self.outcomes.last()?.take;
        let mut troubles = Vec::new();
        for outcome in self.outcomes.iter().filter(|outcome| outcome.take == take) {
            for keeper in keepers(&mut self.folder, &mut self.stage.keeper) {
                troubles.extend(keeper.throw_away(outcome).err());
            }
        }
        let told = troubles.iter().map(|error| Told::Trouble(format!("take {take} cannot be thrown away: {error}")));
        told.for_each(&mut *self.stage.tell);
        self.outcomes.retain(|outcome| outcome.take != take);
        self.tell(Told::Discarded { take });
        Some(take)
    }
}

/// All that keep takes.
fn keepers<'k>(
    folder: &'k mut Option<Folder>,
    other: &'k mut Option<Box<dyn Keeper>>,
) -> impl Iterator<Item = &'k mut (dyn Keeper + 'static)> {
    let folder = folder.iter_mut().map(|folder| folder as &mut dyn Keeper);
    folder.chain(other.iter_mut().map(Box::as_mut))
}

fn unsaved(player: &str, error: &std::io::Error) -> String {
    format!("{player}'s take cannot be saved: {error}")
}
