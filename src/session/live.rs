//! The loop: seat whose turn it is, cue a take, play it ([`super::playing`]), and again; and what the director asks for.
//!
//! One thread runs it. It alone knows the engines; it tells in order what is to be written, to a writer that
//! must not make it wait.

use super::journal::Folder;
use super::lane::Run;
use super::spot::NoteSpotter;
use super::turns::{Turns, Undone};
use super::{Click, Command, Keeper, Outcome, Plan, Told, Turn};
use crate::exercise::Micros;
use crate::judge::Sends;
use crate::listen::{Input, MidiSink, MidiSource, PortError, Timed, What};
use crossbeam_channel::Receiver;
use std::sync::Arc;

/// How often time alone is looked at.
pub(super) const TICK: Micros = Micros(10_000);
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
    pub(super) plan: Plan,
    pub(super) stage: Stage<'a>,
    pub(super) lanes: Vec<Lane>,
    pub(super) turns: Turns,
    pub(super) folder: Option<Folder>,
    pub(super) outcomes: Vec<Arc<Outcome>>,
    /// How many takes were cued.
    pub(super) rounds: usize,
    pub(super) lost: u64,
    /// Why takes of this round cannot be saved, as far as told.
    pub(super) unsaved: Vec<String>,
}

/// An input, between and during takes.
#[derive(Default)]
pub(super) struct Lane {
    spotter: NoteSpotter,
    /// Its cable is pulled, or it is switched off.
    is_out: bool,
    /// Whose check note was heard.
    checked: Option<usize>,
    pub(super) playing: Option<Playing>,
    /// Without a click: what came before the first note.
    pub(super) before: Vec<(Timed<Input>, bool)>,
}

/// A take that is played.
pub(super) struct Playing {
    pub(super) turn: Turn,
    pub(super) run: Run,
    /// Whether all that keep takes could begin this one.
    pub(super) is_kept: bool,
}

/// How a take or a pause ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ended {
    /// By itself.
    Over,
    /// By a command.
    By(Command),
    /// Somebody else is to play.
    Changed,
}

/// Why there is a rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Rest {
    Pause,
    /// Nobody played: until somebody does, so that the click does not go on in an empty room.
    Silent,
    /// Everybody has played: until something is asked for.
    Through,
}

impl<'a> Session<'a> {
    /// Opens the ports of all lanes.
    pub fn open(plan: Plan, stage: Stage<'a>) -> Result<Session<'a>, PortError> {
        let wanted: Vec<String> = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
        let ports = stage.source.open(&wanted)?;
        let lanes = plan.lanes.iter().map(|_| Lane::default()).collect();
        let exercise = plan.exercise.clone();
        let folder = plan.save.clone().map(|folder| Folder { folder, exercise });
        let turns = Turns::new(&plan);
        let session = Session {
            plan,
            stage,
            lanes,
            turns,
            folder,
            outcomes: Vec::new(),
            rounds: 0,
            lost: 0,
            unsaved: Vec::new(),
        };
        (session.stage.tell)(Told::Listening { ports });
        Ok(session)
    }

    /// Runs it to its end and returns the takes that were kept.
    pub fn run(mut self) -> Vec<Arc<Outcome>> {
        let mut silent = false;
        let mut last: Vec<Turn> = Vec::new();
        loop {
            let turns = self.turns.ahead();
            let rest = match (turns.is_empty(), silent) {
                (true, _) if !self.plan.lingers => break,
                (true, _) => Rest::Through,
                (false, true) => Rest::Silent,
                (false, false) => Rest::Pause,
            };
            if !turns.is_empty() {
                self.tell(Told::Ahead { turns: turns.clone(), waiting: self.turns.waiting() });
            }
            let goes_on = |turn: &Turn| last.iter().any(|last| (last.lane, last.player) == (turn.lane, turn.player));
            let is_handover = !last.is_empty() && !turns.iter().all(goes_on);
            match self.rest(rest, is_handover) {
                Ended::By(Command::Quit) => break,
                Ended::Changed => {
                    silent = false;
                    continue;
                }
                Ended::By(_) | Ended::Over => {}
            }
            last = turns.clone();
            match self.take(&turns) {
                Ended::By(Command::Again | Command::Discard(_)) => {
                    self.discard_running(None);
                    silent = false;
                }
                Ended::By(Command::Quit) => {
                    self.give_up_unplayed();
                    self.finish();
                    break;
                }
                // Nobody was left to play.
                Ended::Changed => silent = false,
                Ended::Over | Ended::By(_) => silent = !self.finish(),
            }
            self.turns.fill();
        }
        self.throw_away();
        let unplayed = self.turns.unplayed(&self.plan);
        self.tell(Told::End { unplayed });
        self.outcomes
    }

    pub(super) fn tell(&mut self, told: Told) {
        (self.stage.tell)(told);
    }

    /// The pause before a take.
    fn rest(&mut self, rest: Rest, is_handover: bool) -> Ended {
        let has_click = self.plan.click.is_some();
        // Without a click a take begins with its first note, so there is nothing to wait for but that the player before
        // has let go of the controller.
        let rest = match rest {
            Rest::Silent if !has_click => Rest::Pause,
            rest => rest,
        };
        if !has_click && !is_handover && rest != Rest::Through {
            return self.asked_in_rest().unwrap_or(Ended::Over);
        }
        match rest {
            Rest::Silent => self.tell(Told::Waiting),
            Rest::Through => self.tell(Told::Through),
            Rest::Pause => {}
        }
        let pause = if is_handover && has_click { self.plan.handover } else { self.plan.pause };
        let until = self.stage.source.now() + pause;
        let mut is_told = false;
        loop {
            if let Some(ended) = self.asked_in_rest() {
                return ended;
            }
            let now = self.stage.source.now();
            if rest == Rest::Pause && now >= until {
                match self.out_of_turn() {
                    None => return Ended::Over,
                    Some(_) if is_told => {}
                    Some(lane) => {
                        is_told = true;
                        let of =
                            if self.lanes.len() > 1 { format!(" of controller {}", lane + 1) } else { String::new() };
                        let sentence = format!("the cable{of} is out: the count-in waits for it; n goes on without");
                        self.tell(Told::Trouble(sentence));
                    }
                }
            }
            let deadline = if rest == Rest::Pause && now < until { until.min(now + TICK) } else { now + TICK };
            let mut anybody = false;
            while let Some(arrival) = self.stage.source.next(deadline) {
                if let Some((lane, Some(midi))) = self.meet(&arrival) {
                    anybody = true;
                    self.check_note(lane, midi);
                }
            }
            if rest == Rest::Silent && anybody {
                return Ended::Over;
            }
        }
    }

    /// A lane of which somebody is to play whose cable is out. Without a click the first note is waited for anyhow.
    fn out_of_turn(&self) -> Option<usize> {
        let has_click = self.plan.click.is_some();
        let ahead = self.turns.ahead().into_iter().map(|turn| turn.lane);
        ahead.filter(|_| has_click).find(|&lane| self.lanes.get(lane).is_some_and(|lane| lane.is_out))
    }

    /// What the director asks for between takes; `None`: nothing that ends the rest.
    pub(super) fn asked_in_rest(&mut self) -> Option<Ended> {
        let command = self.stage.commands.try_recv().ok()?;
        let is_done = match command {
            Command::Quit => return Some(Ended::By(command)),
            Command::Again | Command::Next if self.turns.is_through() => {
                self.tell(Told::Trouble("nobody is to play any more: r plays once more, q ends".into()));
                return None;
            }
            Command::Again | Command::Next => return Some(Ended::By(command)),
            Command::Discard(lane) => self.discard_last(lane),
            Command::Retake(_) | Command::Absent(_) | Command::Skip(_) | Command::Undo => self.step(command),
        };
        is_done.then_some(Ended::Changed)
    }

    /// A step with the turns; whether it was done.
    pub(super) fn step(&mut self, command: Command) -> bool {
        let lane = match command {
            Command::Undo => return self.undo(),
            Command::Retake(lane) | Command::Absent(lane) | Command::Skip(lane) => lane.or(self.turns.only_lane()),
            Command::Again | Command::Next | Command::Discard(_) | Command::Quit => return false,
        };
        let Some(lane) = lane.filter(|&lane| lane < self.lanes.len()) else {
            self.tell(Told::Trouble(match self.lanes.len() {
                1 => "there is only one controller: press the key alone".into(),
                lanes => format!("say on which controller: its number first, 1 to {}, then the key", lanes.min(9)),
            }));
            return false;
        };
        let playing = self.lanes[lane].playing.as_ref().map(|playing| (playing.turn.player, playing.run.played()));
        let done = match (command, playing) {
            (Command::Retake(_), _) => self.turns.retake(lane, playing.map(|(player, _)| player)),
            (_, Some((player, true))) => {
                Err(format!("{} is playing: d throws the take away, then it can be done", self.plan.name(player)))
            }
            (Command::Absent(_), _) => self.turns.absent(lane),
            _ => self.turns.skip(lane),
        };
        match done {
            Ok(step) => {
                if !matches!(command, Command::Retake(_))
                    && let Some(playing) = self.lanes[lane].playing.take()
                {
                    playing.run.discard();
                }
                self.tell(Told::Step(step));
                true
            }
            Err(sentence) => {
                self.tell(Told::Trouble(sentence));
                false
            }
        }
    }

    fn undo(&mut self) -> bool {
        let lanes = self.lanes.iter().enumerate();
        let playing: Vec<usize> = lanes.filter(|(_, lane)| lane.playing.is_some()).map(|(place, _)| place).collect();
        match self.turns.undo(&playing) {
            Some(Undone::Step(step)) => self.tell(Told::Undone(step)),
            Some(Undone::Back(outcomes)) => {
                self.outcomes.extend(outcomes.iter().cloned());
                self.tell(Told::Back(outcomes));
            }
            None => {
                self.tell(Told::Trouble("there is no step to take back".into()));
                return false;
            }
        }
        true
    }

    /// What is done with every arrival, in a take or not: thru, and a word on cables. Returns the lane, and
    /// the MIDI number of a note that begins.
    pub(super) fn meet(&mut self, arrival: &Timed<Input>) -> Option<(usize, Option<u8>)> {
        let lane = arrival.what.port as usize;
        let Lane { spotter, is_out, .. } = self.lanes.get_mut(lane)?;
        let mut note = None;
        match &arrival.what.what {
            What::Bytes(bytes) => {
                note = spotter.note_begins(bytes);
                if let Some(thru) = &mut self.stage.thru {
                    thru.send(bytes);
                }
            }
            What::Disconnect => {
                *is_out = true;
                *spotter = NoteSpotter::default();
                if let Some(thru) = &mut self.stage.thru {
                    (0..16).for_each(|channel| thru.send(&[CONTROL_CHANGE | channel, ALL_NOTES_OFF, 0]));
                }
                self.tell(Told::Unplugged { lane });
            }
            What::Connect => {
                *is_out = false;
                self.tell(Told::Replugged { lane });
            }
        }
        Some((lane, note))
    }

    /// The first note that a player whose way of sending is not known plays before a take: it should be a written C, and
    /// shows whether the controller sends written or concert pitch. Only said: the take itself decides.
    fn check_note(&mut self, lane: usize, midi: u8) {
        let Some(Turn { player, .. }) = self.turns.ahead().into_iter().find(|turn| turn.lane == lane) else { return };
        let (Some(seat), Some(plan)) = (self.lanes.get_mut(lane), self.plan.players.get(player)) else { return };
        if seat.checked.replace(player) == Some(player) || !plan.asks_check_note() {
            return;
        }
        let chromatic = i16::from(plan.part.transposition.unwrap_or_default().chromatic);
        let sends = match i16::from(midi) % 12 {
            0 => Some(Sends::Written),
            class if class == chromatic.rem_euclid(12) => Some(Sends::Concert),
            _ => None,
        };
        self.tell(Told::CheckNote { player, sends });
    }

    /// Throws the last finished takes away, of one lane or of all, and has them played again. They can be brought back
    /// until the next take begins. Whether there were any.
    fn discard_last(&mut self, lane: Option<usize>) -> bool {
        let of_lane = |outcome: &&Arc<Outcome>| lane.is_none_or(|lane| outcome.turn.lane == lane);
        let Some(round) = self.outcomes.iter().rfind(of_lane).map(|outcome| outcome.round) else {
            self.tell(Told::Trouble("there is no take to throw away".into()));
            return false;
        };
        let is_last = |outcome: &Arc<Outcome>| outcome.round == round && of_lane(&outcome);
        let (gone, kept) = std::mem::take(&mut self.outcomes).into_iter().partition(is_last);
        self.outcomes = kept;
        self.thrown(gone.iter().map(|outcome: &Arc<Outcome>| outcome.turn).collect(), gone, true);
        true
    }

    pub(super) fn thrown(&mut self, turns: Vec<Turn>, outcomes: Vec<Arc<Outcome>>, counted: bool) {
        let is_kept = !outcomes.is_empty();
        if is_kept {
            self.turns.thrown(outcomes, counted);
        }
        self.tell(Told::Discarded { turns, is_kept });
    }

    /// What was thrown away is thrown away for good.
    pub(super) fn throw_away(&mut self) {
        for outcome in self.turns.begun() {
            self.forget(&outcome);
        }
    }

    /// Throws a take away wherever it was kept.
    pub(super) fn forget(&mut self, outcome: &Outcome) {
        let mut troubles = Vec::new();
        for keeper in keepers(&mut self.folder, &mut self.stage.keeper) {
            troubles.extend(keeper.throw_away(outcome).err());
        }
        let Turn { player, take, .. } = outcome.turn;
        for error in troubles {
            let name = self.plan.name(player);
            let sentence = format!("{name}'s take {take} cannot be thrown away: {error}");
            self.tell(Told::Trouble(sentence));
        }
    }
}

/// All that keep takes.
pub(super) fn keepers<'k>(
    folder: &'k mut Option<Folder>,
    other: &'k mut Option<Box<dyn Keeper>>,
) -> impl Iterator<Item = &'k mut (dyn Keeper + 'static)> {
    let folder = folder.iter_mut().map(|folder| folder as &mut dyn Keeper);
    folder.chain(other.iter_mut().map(Box::as_mut))
}
