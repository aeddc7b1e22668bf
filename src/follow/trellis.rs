//! The search: hypotheses about where the player is, one step per played note.

use super::density::{normal, tail};
use super::tempo::Tempo;
use super::{Heard, Line, Model};
use std::sync::Arc;

/// Where a played note belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// It begins this note of the part.
    Note(u32),
    /// It continues this note: a dip of breath struck it again.
    Again(u32),
    /// It belongs to no note of the part.
    Extra,
}

/// One hypothesis: the note of the part last begun, and what the newest played note was to it.
#[derive(Debug, Clone, Copy)]
struct State {
    /// The last note begun; -1 before the first.
    note: i32,
    /// The newest played note was extra.
    extra: bool,
    /// Nats.
    score: f64,
    /// When `note` was begun.
    begun: f64,
    tempo: Tempo,
    /// Extras in a row that look like a trill.
    trill: u8,
    /// The way here.
    node: u32,
}

/// One step of a way back.
#[derive(Debug, Clone, Copy)]
struct Node {
    back: u32,
    place: Place,
}

/// Chance of the right pitch where a note is played at all.
const RIGHT_PITCH: f64 = 0.97;
const ROOT: u32 = u32::MAX;
/// Most hypotheses kept alive; the beam leaves some twenty.
const MOST_ALIVE: usize = 64;
/// Notes looked over when skipping.
const FARTHEST_SKIP: usize = 40;
/// Quick: typical distance of the notes of a trill, its spread, and the longest that counts (seconds).
/// Measured on trills of the Vienna 4x22 corpus.
const TRILL_STEP: f64 = 0.085;
const TRILL_SPREAD: f64 = 0.035;
const TRILL_LONGEST: f64 = 0.2;
/// The longest gap of a breath dip (DESIGN.md §5), with the clock's grain.
pub(crate) const LONGEST_DIP: f64 = 0.0405;

/// The search over one line.
#[derive(Debug, Clone)]
pub(crate) struct Trellis {
    line: Arc<Line>,
    model: Model,
    heard: Vec<Heard>,
    alive: Vec<State>,
    next: Vec<(State, Place)>,
    /// Per (note, extra): place in `next` plus one, valid if the stamp is this step's.
    slots: Vec<(u32, u32)>,
    step: u32,
    /// Nats of the best in `next`.
    best: f64,
    nodes: Vec<Node>,
    /// Score taken out of the states to keep them near zero.
    taken_out: f64,
}

impl Trellis {
    pub(crate) fn new(line: Arc<Line>, model: Model) -> Trellis {
        let (log_quarter, variance) = line.tempo;
        let start = State {
            note: -1,
            extra: true,
            score: 0.0,
            begun: 0.0,
            tempo: Tempo { log_quarter, variance },
            trill: 0,
            node: ROOT,
        };
        let slots = vec![(0, 0); 2 * (line.notes.len() + 1)];
        let (alive, next) = (vec![start], Vec::with_capacity(4 * MOST_ALIVE));
        Trellis {
            line,
            model,
            heard: Vec::new(),
            alive,
            next,
            slots,
            step: 0,
            best: 0.0,
            nodes: Vec::new(),
            taken_out: 0.0,
        }
    }

    /// The notes taken in, with their ends where known.
    pub(crate) fn heard(&self) -> &[Heard] {
        &self.heard
    }

    /// A played note ended.
    pub(crate) fn release(&mut self, index: usize, at: f64) {
        if let Some(heard) = self.heard.get_mut(index) {
            heard.released = Some(at);
        }
    }

    /// Nats of the best hypothesis, for comparing whole searches with one another.
    pub(crate) fn score(&self) -> f64 {
        self.taken_out + self.alive.iter().map(|state| state.score).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Takes in the next played note.
    pub(crate) fn hear(&mut self, heard: Heard) {
        self.step += 1;
        self.next.clear();
        let line = Arc::clone(&self.line);
        self.best = f64::NEG_INFINITY;
        let mut alive = std::mem::take(&mut self.alive);
        // The best first, so that hopeless moves of the others are seen to be so before they are worked out.
        let first = (0..alive.len()).max_by(|&a, &b| alive[a].score.total_cmp(&alive[b].score));
        if let Some(first) = first {
            alive.swap(0, first);
        }
        let mut source: Option<(f64, &State)> = None;
        for state in &alive {
            let left = state.score + self.ended(&line, state, heard.at);
            if state.note >= 0 && source.is_none_or(|(best, _)| left > best) {
                source = Some((left, state));
            }
            if state.note < 0 {
                self.begin(&line, state, left, heard);
            } else {
                self.strike_again(&line, state, heard);
                self.advance(&line, state, left, heard);
            }
            self.insert(&line, state, left, heard);
        }
        if let Some((left, state)) = source {
            self.jump(&line, state, left, heard);
        }
        self.alive = alive;
        self.heard.push(heard);
        self.settle();
    }

    /// What the length of the newest played note says, now that the next one begins.
    fn ended(&self, line: &Line, state: &State, now: f64) -> f64 {
        let Some(newest) = self.heard.last() else { return 0.0 };
        // What is struck says nothing by its length.
        if !line.sustains {
            return 0.0;
        }
        let end = newest.released.map_or(now, |released| released.min(now));
        if state.extra {
            let length = (end - newest.at).max(0.005);
            return normal((length / 0.16).ln(), 0.8).ln();
        }
        let note = &line.notes[state.note as usize];
        let length = (end - state.begun).max(0.005);
        let expected = state.tempo.seconds(note.value);
        let ratio = (length / expected).ln();
        let unsure = state.tempo.variance;
        let center = if note.staccato { -0.8 } else { -0.1 };
        let density = 0.6 * normal(ratio - center, (0.05 + unsure).sqrt())
            + 0.34 * normal(ratio + 0.5, (0.25 + unsure).sqrt())
            + 0.06 * normal(ratio + 0.3, 1.2);
        density.ln()
    }

    /// Where each note heard so far belongs, in the likeliest reading of the whole.
    pub(crate) fn places(&self) -> Vec<Place> {
        let mut places = vec![Place::Extra; self.heard.len()];
        let last = self.line.notes.len() as i32 - 1;
        let ended = |state: &State| {
            let bonus = if state.note == last { self.model.end_bonus } else { 0.0 };
            state.score + bonus + self.ended(&self.line, state, f64::INFINITY)
        };
        let best = self.alive.iter().max_by(|a, b| ended(a).total_cmp(&ended(b)));
        let mut node = best.map_or(ROOT, |state| state.node);
        for place in places.iter_mut().rev() {
            let Some(step) = self.nodes.get(node as usize) else { break };
            *place = step.place;
            node = step.back;
        }
        places
    }

    /// The place `ago` notes before the newest (0: the newest), in the likeliest reading so far, and by
    /// how many nats that reading leads over the best one which places it elsewhere.
    pub(crate) fn place(&self, ago: usize) -> Option<(Place, f64)> {
        let best = self.alive.iter().max_by(|a, b| a.score.total_cmp(&b.score))?;
        let place = self.walk(best.node, ago)?;
        let rival = self.alive.iter().filter(|state| self.walk(state.node, ago) != Some(place));
        let rival = rival.map(|state| state.score).fold(best.score - self.model.beam, f64::max);
        Some((place, best.score - rival))
    }

    /// The likeliest note of the part for the newest played note, even where an extra is likelier.
    pub(crate) fn likeliest_note(&self) -> Option<u32> {
        let placed = self.alive.iter().filter(|state| !state.extra);
        placed.max_by(|a, b| a.score.total_cmp(&b.score)).map(|state| state.note as u32)
    }

    fn walk(&self, mut node: u32, ago: usize) -> Option<Place> {
        for _ in 0..ago {
            node = self.nodes.get(node as usize)?.back;
        }
        self.nodes.get(node as usize).map(|node| node.place)
    }

    fn pitch(&self, line: &Line, note: usize, midi: u8) -> f64 {
        match (line.notes[note].midi - i16::from(midi)).abs() {
            0 => RIGHT_PITCH,
            1 => self.model.wrong_by_semitone,
            _ => self.model.wrong_pitch,
        }
    }

    /// Density per second of an arrival at the click.
    fn at_click(&self, line: &Line, note: usize, at: f64, quarter: f64) -> Option<f64> {
        let due = line.notes[note].due?;
        let off = at - due;
        let beat = line.notes[note].beat * quarter;
        let (loose, spread) = self.model.click_loose;
        Some((1.0 - loose) * normal(off, self.model.click + 0.04 * beat) + loose * normal(off, spread * beat))
    }

    /// From before the first note: anywhere, but most likely at the beginning.
    fn begin(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
        let count = line.notes.len();
        let quarter = state.tempo.seconds(1.0);
        for to in candidates(line, heard.midi, count.min(2)) {
            let chance = match (to, line.notes[to].opens_measure) {
                (0, _) => 0.9,
                (1 | 2, _) => 0.015,
                (_, true) => 0.1 / (1.0 + count as f64 / 5.0),
                (_, false) => 0.02 / count as f64,
            };
            // Without a click a take may begin at any time: one a second, which only scales all alike.
            let time = self.at_click(line, to, heard.at, quarter).unwrap_or(1.0);
            let score = left + (chance * self.pitch(line, to, heard.midi) * time.max(1e-9)).ln();
            self.offer(
                State { note: to as i32, extra: false, score, begun: heard.at, trill: 0, ..*state },
                Place::Note(to as u32),
            );
        }
    }

    /// The same note once more, after a dip of breath.
    fn strike_again(&mut self, line: &Arc<Line>, state: &State, heard: Heard) {
        let Some(newest) = self.heard.last() else { return };
        let gap = newest.released.map_or(0.0, |released| heard.at - released);
        if !line.sustains || state.extra || newest.midi != heard.midi || gap > LONGEST_DIP {
            return;
        }
        let length = state.tempo.seconds(line.notes[state.note as usize].value);
        let played = heard.at - state.begun;
        // Anywhere within the note, hardly after its end.
        let over = (played / length - 1.0).max(0.0);
        let density = self.model.strike_again / length * (-over / 0.15).exp();
        self.offer(State { score: state.score + density.ln(), ..*state }, Place::Again(state.note as u32));
    }

    /// On to the next note of the part, or over some.
    fn advance(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
        let from = state.note as usize;
        let last = (from + FARTHEST_SKIP).min(line.notes.len() - 1);
        let next_distance = if from < last { line.distance(from, from + 1) } else { 1.0 };
        // No arrival can gain more than the peak of its density.
        let gap = (heard.at - state.begun).max(1e-3);
        let peak = 0.4 / self.model.interval / gap + 0.4 / self.model.click;
        let most = peak.max(1.0).ln();
        for to in from + 1..=last {
            let right = line.notes[to].midi == i16::from(heard.midi);
            let skipped = to - from - 1;
            if !right && skipped > 1 {
                continue;
            }
            let chance = match skipped {
                0 => 0.97,
                1..=3 => self.model.skips[skipped - 1],
                _ if line.notes[to].opens_measure => self.model.skip_far,
                _ => 0.1 * self.model.skip_far,
            };
            let chance = if state.trill > 0 { chance * (1.0 - self.model.trill_goes_on) } else { chance };
            let score = left + (chance * self.pitch(line, to, heard.midi)).ln();
            if score + most < self.best - self.model.beam {
                continue;
            }
            let straight = if skipped == 0 || line.notes[to].due.is_some() { 0.0 } else { self.model.straight_on };
            self.arrive(line, state, to, line.distance(from, to), score + (1.0 - straight).ln(), heard);
            if straight > 0.0 {
                self.arrive(line, state, to, next_distance, score + straight.ln(), heard);
            }
        }
    }

    /// Offers the arrival at a note which should have taken `quarters` since the last.
    fn arrive(&mut self, line: &Arc<Line>, state: &State, to: usize, quarters: f64, score: f64, heard: Heard) {
        let model = &self.model;
        let gap = (heard.at - state.begun).max(1e-3);
        let expected = state.tempo.seconds(quarters);
        let residual = (gap / expected).ln();
        let jitter = model.jitter / expected;
        let noise = model.interval * model.interval + jitter * jitter;
        let (mut late, late_spread) =
            if line.notes[state.note as usize].may_wait { model.late_after_wait } else { model.late };
        if state.extra {
            late = late.max(0.25);
        }
        let (early, early_spread) = model.early;
        let deviation = (noise + state.tempo.variance).sqrt();
        let core = (1.0 - late - early - 0.02) * normal(residual, deviation);
        let interval = core
            + late * tail(residual, late_spread)
            + early * tail(-residual, early_spread)
            + 0.02 * normal(residual, 1.0);
        let weight = (core / interval.max(1e-300)).powi(2);
        let mut time = interval / gap;
        if let Some(click) = self.at_click(line, to, heard.at, state.tempo.seconds(1.0)) {
            time = (1.0 - model.click_lost) * click + model.click_lost * time;
        }
        let tempo = state.tempo.after(quarters, residual, noise, weight);
        let score = score + time.max(1e-300).ln();
        self.offer(
            State { note: to as i32, extra: false, score, begun: heard.at, tempo, trill: 0, node: state.node },
            Place::Note(to as u32),
        );
    }

    /// A note that the part does not have.
    fn insert(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
        let midi = i16::from(heard.midi);
        let here = usize::try_from(state.note).ok().map(|note| &line.notes[note]);
        let next = line.notes.get((state.note + 1) as usize);
        let newest = self.heard.last();
        let since = newest.map_or(f64::INFINITY, |newest| heard.at - newest.at);
        // Told apart from extras afterwards: grace notes and the other notes of a chord.
        let expected = next.is_some_and(|next| next.graces.contains(&midi) || next.chord.contains(&midi))
            || here.is_some_and(|here| here.chord.contains(&midi) && heard.at - state.begun < 0.08);
        let near = here.is_some_and(|here| (here.midi - midi).abs() <= 2)
            || next.is_some_and(|next| (next.midi - midi).abs() <= 2);
        let quick = since < TRILL_LONGEST && near;
        let chance = match (expected, state.extra && state.note >= 0, quick && state.trill > 0) {
            (true, ..) => 0.4,
            (_, _, true) => self.model.trill_goes_on,
            (_, true, _) => self.model.extra_after_extra,
            _ => self.model.extra,
        };
        // Anywhere in the time of a note, or hard upon the note before.
        let length = state.tempo.seconds(here.map_or(1.0, |here| here.value)).clamp(0.1, 2.0);
        let hurried = if near { 0.5 } else { 0.2 };
        let time = if newest.is_none() {
            1.0
        } else {
            (1.0 - hurried) / length + hurried * normal(since - TRILL_STEP, TRILL_SPREAD)
        };
        let pitch = if expected {
            0.5
        } else if near {
            0.1
        } else {
            0.5 / 40.0
        };
        let trill = if quick { state.trill.saturating_add(1) } else { 0 };
        let score = left + (chance * time * pitch).ln();
        self.offer(State { extra: true, score, trill, ..*state }, Place::Extra);
    }

    /// Somewhere else: from the best hypothesis only, since the target does not ask where one came from.
    fn jump(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
        let Some(newest) = self.heard.last() else { return };
        let pause = (heard.at - newest.at).max(0.02);
        // A restart comes after a breath: around a second, anything between a fifth and five.
        let time = normal((pause / 0.9).ln(), 0.8) / pause;
        let clicked = line.notes[0].due.is_some();
        let from = state.note as usize;
        let count = line.notes.len() as f64;
        let base = left + time.ln() + RIGHT_PITCH.ln();
        for place in 0..line.at_midi(heard.midi).len() {
            let to = line.at_midi(heard.midi)[place] as usize;
            let preferred = if line.notes[to].opens_measure { self.model.opening_preferred } else { 1.0 };
            let chance = if to <= from {
                let near = 1.0 + (from - to) as f64 / 16.0;
                let share = 0.9 / (48.0 * near * near) + 0.1 / (3.0 * count);
                self.model.back * preferred * share * if clicked { 0.02 } else { 1.0 }
            } else if to > from + FARTHEST_SKIP {
                self.model.forth * preferred / (3.0 * count)
            } else {
                continue;
            };
            let score = base + chance.ln();
            if score < self.best - self.model.beam {
                continue;
            }
            let tempo = state.tempo.shaken(0.01);
            self.offer(
                State { note: to as i32, extra: false, score, begun: heard.at, tempo, trill: 0, node: state.node },
                Place::Note(to as u32),
            );
        }
    }

    /// Keeps a hypothesis if it is the best of its kind. `state.node` is the way to its predecessor.
    fn offer(&mut self, state: State, place: Place) {
        self.best = self.best.max(state.score);
        let slot = &mut self.slots[2 * (state.note + 1) as usize + usize::from(state.extra)];
        if slot.0 == self.step {
            let kept = &mut self.next[slot.1 as usize];
            if kept.0.score < state.score {
                *kept = (state, place);
            }
        } else {
            *slot = (self.step, self.next.len() as u32);
            self.next.push((state, place));
        }
    }

    /// Drops what is hopeless and writes down the way of the rest.
    fn settle(&mut self) {
        let best = self.best;
        self.taken_out += best;
        let floor = best - self.model.beam;
        self.next.retain(|(state, _)| state.score >= floor);
        if self.next.len() > MOST_ALIVE {
            self.next.sort_by(|a, b| b.0.score.total_cmp(&a.0.score));
            self.next.truncate(MOST_ALIVE);
        }
        self.alive.clear();
        for &(mut state, place) in &self.next {
            state.score -= best;
            let node = self.nodes.len() as u32;
            self.nodes.push(Node { back: state.node, place });
            state.node = node;
            self.alive.push(state);
        }
    }
}

/// The notes due at a MIDI number, and the first few of the line whatever they are.
fn candidates(line: &Line, midi: u8, first: usize) -> impl Iterator<Item = usize> + use<'_> {
    let due = line.at_midi(midi);
    (0..first).chain(due.iter().map(|&index| index as usize).filter(move |&index| index >= first))
}
