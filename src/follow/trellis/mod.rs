//! The search: hypotheses about where the player is, one step per played note. What may happen in a step is in [`moves`].

mod moves;

use super::density::normal;
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

const ROOT: u32 = u32::MAX;
/// Most hypotheses kept alive; the beam leaves some twenty.
const MOST_ALIVE: usize = 64;
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
    /// Per (note, extra): the step that last wrote it, and its place in `next` then.
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
    pub(crate) fn release(&mut self, index: usize, at: f64, is_cut_off: bool) {
        if let Some(heard) = self.heard.get_mut(index) {
            (heard.released, heard.is_cut_off) = (Some(at), is_cut_off);
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

    /// The likeliest note of the part for the newest played note, even where an extra or a dip of breath is likelier.
    pub(crate) fn likeliest_note(&self) -> Option<u32> {
        let placed = self.alive.iter().filter(|state| matches!(self.walk(state.node, 0), Some(Place::Note(_))));
        placed.max_by(|a, b| a.score.total_cmp(&b.score)).map(|state| state.note as u32)
    }

    fn walk(&self, mut node: u32, ago: usize) -> Option<Place> {
        for _ in 0..ago {
            node = self.nodes.get(node as usize)?.back;
        }
        self.nodes.get(node as usize).map(|node| node.place)
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
