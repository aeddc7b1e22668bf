//! The engine: timed MIDI in, decisions out. Live and file are the same.

use super::live::Live;
use super::{Decision, Delay, Report, Sends, Settings};
use super::{delay, whole};
use crate::exercise::{Micros, Part};
use crate::follow::{Heard, Line, Model, Trellis, Wire};
use crate::listen::{Cleaner, Input, NoteEvent, NoteId, Restrikes, Timed, What, is_one_message};
use std::sync::Arc;

/// Judges one take of one part by one player.
///
/// Deadlines are its own: [`Engine::advance`] decides what was due up to a time, each decision stamped
/// with the moment it became certain, so the caller's timer may be as coarse as it likes.
pub struct Engine {
    part: Arc<Part>,
    settings: Settings,
    cleaner: Cleaner,
    /// One search for each way the instrument may put the part on the wire, until the take decides.
    ears: Vec<Ear>,
    /// Notes that sound: their names and places among the heard.
    sounding: Vec<(NoteId, usize)>,
    live: Live,
    remarked: bool,
    /// When the last note was struck or ended.
    last_event: Option<Micros>,
    /// When time alone decides something next, until something is heard or decided; the inner `None`: never.
    due: Option<Option<Micros>>,
    /// The stream time up to which everything is decided.
    now: Micros,
    events: Vec<NoteEvent>,
}

/// One way of hearing.
#[derive(Clone)]
struct Ear {
    wire: Wire,
    /// Nats, for how common it is.
    prior: f64,
    line: Arc<Line>,
    trellis: Trellis,
}

impl Ear {
    fn score(&self) -> f64 {
        self.prior + self.trellis.score()
    }
}

/// Octave switches of controllers, with the nats they cost: one octave off is one take in some hundred.
const OCTAVES: [(i16, f64); 5] = [(0, 0.0), (12, -6.0), (-12, -6.0), (24, -9.0), (-24, -9.0)];
/// A way of sending that is so many nats behind is given up.
const HOPELESS: f64 = 25.0;
/// A way of sending that leads by so many nats is said to the player.
const CERTAIN: f64 = 7.0;
/// Seconds of silence that end a take without a click.
const LONG_SILENCE: f64 = 6.0;
/// Seconds after the release of the last note of the part that end a take.
const AFTER_THE_END: f64 = 1.5;
/// Beats after the end of the part that end a take with a click.
const BEATS_AFTER_THE_END: f64 = 3.0;

impl Engine {
    /// An engine for one take.
    pub fn new(part: Arc<Part>, settings: Settings) -> Engine {
        let settings = delay::known(settings);
        let cleaner = Cleaner::new(Restrikes::Kept);
        Engine {
            ears: ears(&part, &settings),
            cleaner: if settings.sustains() { cleaner } else { cleaner.of_struck_instrument() },
            sounding: Vec::new(),
            live: Live::new(Arc::clone(&part), &settings),
            remarked: false,
            last_event: None,
            due: None,
            now: Micros::default(),
            events: Vec::new(),
            part,
            settings,
        }
    }

    /// Takes in one arrival; times must not run backward.
    pub fn push(&mut self, input: &Timed<Input>) {
        self.advance(input.at);
        match &input.what.what {
            // Several messages in one piece are judged as if each had come on its own.
            What::Bytes(bytes) if !is_one_message(bytes) => {
                for byte in bytes.chunks(1) {
                    self.hear(input.at, |cleaner, events| cleaner.push_bytes(input.what.port, byte, input.at, events));
                }
            }
            _ => self.hear(input.at, |cleaner, events| cleaner.push(input, events)),
        }
    }

    fn hear(&mut self, at: Micros, push: impl FnOnce(&mut Cleaner, &mut Vec<NoteEvent>)) {
        let mut events = std::mem::take(&mut self.events);
        push(&mut self.cleaner, &mut events);
        let heard_something = !events.is_empty();
        self.take_in(&mut events, at);
        self.events = events;
        if heard_something {
            // What has just become certain about the past is said at once.
            self.advance(at);
        }
    }

    /// Decides what time alone makes certain, up to `now`.
    pub fn advance(&mut self, now: Micros) {
        loop {
            let next = match (self.cleaner.next_deadline(), self.own_deadline()) {
                (Some(cleaner), Some(own)) => Some(cleaner.min(own)),
                (cleaner, own) => cleaner.or(own),
            };
            let Some(at) = next.filter(|&next| next <= now) else { break };
            self.now = self.now.max(at);
            let at = self.now;
            let mut events = std::mem::take(&mut self.events);
            self.cleaner.advance(at, &mut events);
            self.take_in(&mut events, at);
            self.events = events;
            let struck = self.cleaner.is_struck();
            self.due = None;
            if let Some(ear) = best_of(&self.ears) {
                self.live.time_passed(&ear.line, ear.trellis.heard(), struck, at.seconds());
            }
        }
        self.now = self.now.max(now);
    }

    /// When time alone decides something next that has been heard. Breath data come by the hundred a second and move
    /// nothing, so it is worked out once for all of them.
    fn own_deadline(&mut self) -> Option<Micros> {
        let (ears, live) = (&self.ears, &self.live);
        let work_out = || best_of(ears).and_then(|ear| live.next_deadline(ear.trellis.heard())).map(not_before);
        *self.due.get_or_insert_with(work_out)
    }

    /// The decisions since the last call, in order.
    pub fn take_decisions(&mut self) -> Vec<Decision> {
        self.live.take_decisions()
    }

    /// Whether the take is over by itself: the last note has been played and released, the click has run
    /// past the end, or nothing was played for a long time.
    pub fn is_over(&self, now: Micros) -> bool {
        let silent_for = |seconds: f64| {
            self.sounding.is_empty() && self.last_event.is_some_and(|last| (now - last).seconds() >= seconds)
        };
        let at_the_end = self.live.position().is_some_and(|position| position + 1 == self.part.notes.len());
        let Some(grid) = &self.settings.grid else {
            return silent_for(LONG_SILENCE + 2.0 * self.longest_rest()) || at_the_end && silent_for(AFTER_THE_END);
        };
        let Some(last) = self.part.notes.last() else { return true };
        let end = grid.seconds_at(last.end());
        let beat = grid.seconds_at(last.onset + self.part.beat_unit(last)) - grid.seconds_at(last.onset);
        let past = now.seconds() - end;
        past > BEATS_AFTER_THE_END * beat && (silent_for(beat) || self.last_event.is_none())
            || at_the_end && past > 0.0 && silent_for(AFTER_THE_END)
    }

    /// Seconds of the longest rest of the part at the printed tempo: whoever counts it, slowly, has not stopped.
    fn longest_rest(&self) -> f64 {
        let seconds = |point| self.part.tempo.micros_at(point).seconds();
        let notes = self.part.notes.iter();
        let rests = notes.clone().skip(1).zip(notes).map(|(next, note)| seconds(next.onset) - seconds(note.end()));
        rests.fold(0.0, f64::max)
    }

    /// Ends the take: judges it as a whole, withdraws or adds what the whole take shows, and reports.
    /// The last decisions, the summary among them, are returned beside the report.
    pub fn finish(mut self, now: Micros) -> (Report, Vec<Decision>) {
        self.advance(now);
        let mut events = Vec::new();
        self.cleaner.finish(now, &mut events);
        self.take_in(&mut events, now);

        let best = best_score(&self.ears, |_| true);
        let whole = self.ears.iter().filter(|ear| ear.score() > best - HOPELESS).map(|ear| {
            let mut trellis = Trellis::new(Arc::clone(&ear.line), Model::whole_take());
            ear.trellis.heard().iter().for_each(|&heard| trellis.hear(heard));
            Ear { trellis, ..ear.clone() }
        });
        let whole = whole.max_by(|a, b| a.score().total_cmp(&b.score()));
        let seconds = now.seconds();
        let (reading, mut remarks) = match &whole {
            Some(ear) => {
                let (heard, places) = (ear.trellis.heard(), ear.trellis.places());
                let (settings, delay) = delay::of_take(&self.part, &self.settings, &ear.line, heard, &places);
                let mut reading = whole::read(&self.part, &settings, &ear.line, heard, &places, seconds);
                reading.totals.delay = delay.filter(|_| reading.totals.fits);
                let remarks = [remark(ear.wire, heard.len()), delay.and_then(Delay::remark)];
                (reading, remarks.into_iter().flatten().collect())
            }
            None => {
                let line = Line::new(&self.part, Wire { written: false, shift: 0 }, true, None);
                (whole::read(&self.part, &self.settings, &line, &[], &[], seconds), Vec::new())
            }
        };
        let because = if reading.totals.fits {
            remarks.extend(reading.displaced.clone());
            "the whole take shows it otherwise"
        } else {
            remarks = vec![reading.fit.sentence()];
            "the take does not fit the exercise"
        };
        remarks.extend(reading.moved.clone());
        self.live.withdraw(seconds, because, |index, kind| {
            reading.flags.iter().all(|flag| (flag.index, flag.kind) != (index, kind))
        });
        for flag in &reading.flags {
            if !self.live.told().contains(&(flag.index, flag.kind)) {
                self.live.say(Decision::Flag { at_s: seconds, flag: flag.clone() });
            }
        }
        for flag in &reading.close {
            self.live.say(Decision::Close { at_s: seconds, flag: flag.clone() });
        }
        self.live.say(Decision::Summary { totals: reading.totals.clone() });
        let decisions = self.live.take_decisions();
        let whole::Reading { notes, flags, close, extra, restarts, totals, .. } = reading;
        (Report { notes, flags, close, extra, restarts, remarks, totals, ended: now }, decisions)
    }

    fn take_in(&mut self, events: &mut Vec<NoteEvent>, now: Micros) {
        for event in events.drain(..) {
            self.due = None;
            match event {
                NoteEvent::On { id, at, midi, .. } => {
                    self.last_event = Some(at);
                    let heard = Heard { at: at.seconds(), released: None, is_cut_off: false, midi };
                    self.ears.iter_mut().for_each(|ear| ear.trellis.hear(heard));
                    let Some(count) = self.ears.first().map(|ear| ear.trellis.heard().len()) else { continue };
                    self.sounding.push((id, count - 1));
                    self.choose(now.seconds());
                    if let Some(ear) = best_of(&self.ears) {
                        let lead = ear.score() - best_score(&self.ears, |other| other.wire != ear.wire);
                        self.live.heard(&ear.trellis, &ear.line, lead, now.seconds());
                    }
                }
                NoteEvent::Off { id, at, is_cut_off } => {
                    self.last_event = self.last_event.max(Some(at));
                    let Some(place) = self.sounding.iter().position(|&(sounding, _)| sounding == id) else { continue };
                    let (_, index) = self.sounding.swap_remove(place);
                    self.ears.iter_mut().for_each(|ear| ear.trellis.release(index, at.seconds(), is_cut_off));
                    if let Some(ear) = best_of(&self.ears) {
                        self.live.released(index, ear.trellis.heard());
                    }
                }
            }
        }
    }

    /// Gives up hopeless ways of hearing, and says once that the take sits an octave off.
    fn choose(&mut self, now: f64) {
        if self.ears.len() > 1 {
            let best = best_score(&self.ears, |_| true);
            self.ears.retain(|ear| ear.score() > best - HOPELESS);
        }
        if self.remarked {
            return;
        }
        let Some(best) = best_of(&self.ears) else { return };
        let certain = best_score(&self.ears, |ear| ear.wire.shift != best.wire.shift) < best.score() - CERTAIN;
        if let Some(sentence) = remark(best.wire, best.trellis.heard().len()).filter(|_| certain) {
            self.remarked = true;
            self.live.say(Decision::Remark { at_s: now, sentence });
        }
    }
}

/// A microsecond that is not before `seconds`, as a rule the first: a deadline met must be a deadline past, also where the
/// nearest floating number lies on the other side: by a hair, or by many microseconds if the stream's clock counts centuries.
fn not_before(seconds: f64) -> Micros {
    let mut micros = Micros((seconds * 1e6).ceil() as i64);
    let mut step = 1;
    while micros.seconds() < seconds && micros.0 < i64::MAX / 2 {
        (micros, step) = (micros + Micros(step), 2 * step);
    }
    micros
}

fn best_of(ears: &[Ear]) -> Option<&Ear> {
    ears.iter().max_by(|a, b| a.score().total_cmp(&b.score()))
}

/// Nats of the best of those that count.
fn best_score(ears: &[Ear], counts: impl Fn(&Ear) -> bool) -> f64 {
    ears.iter().filter(|ear| counts(ear)).map(Ear::score).fold(f64::NEG_INFINITY, f64::max)
}

/// What is said once about a take that sits octaves off.
fn remark(wire: Wire, heard: usize) -> Option<String> {
    let octaves = wire.shift.abs() / 12;
    if octaves == 0 || heard < 3 {
        return None;
    }
    let so_many = if octaves == 1 { "one octave".to_owned() } else { format!("{octaves} octaves") };
    let side = if wire.shift > 0 { "too high" } else { "too low" };
    Some(format!("the whole take sounds {so_many} {side}: set the octave switch of the controller (not counted)"))
}

/// All ways in which the part may come in.
fn ears(part: &Part, settings: &Settings) -> Vec<Ear> {
    let ways: &[bool] = match settings.sends {
        Sends::Written => &[true],
        Sends::Concert => &[false],
        Sends::Auto => &[true, false],
    };
    let grid = settings.grid.as_ref();
    let mut ears: Vec<Ear> = Vec::new();
    for &(shift, prior) in &OCTAVES {
        for &written in ways {
            let wire = Wire { written, shift };
            let line = match grid {
                Some(grid) => Line::new(part, wire, settings.sustains(), Some(&|point| grid.seconds_at(point))),
                None => Line::new(part, wire, settings.sustains(), None),
            };
            let known = |ear: &Ear| ear.line.notes.iter().zip(&line.notes).all(|(a, b)| a.midi == b.midi);
            if !ears.iter().any(known) {
                let line = Arc::new(line);
                ears.push(Ear { wire, prior, trellis: Trellis::new(Arc::clone(&line), Model::online()), line });
            }
        }
    }
    ears
}
