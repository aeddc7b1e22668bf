//! The moves: how a played note may follow from where a hypothesis stands, and how likely.

use super::super::density::{normal, tail};
use super::super::{Heard, Line};
use super::{LONGEST_DIP, Place, State, Trellis};
use std::sync::Arc;

/// Chance of the right pitch where a note is played at all.
const RIGHT_PITCH: f64 = 0.97;
/// Notes looked over when skipping.
const FARTHEST_SKIP: usize = 40;
/// Quick: typical distance of the notes of a trill, its spread, and the longest that counts (seconds).
/// Measured on trills of the Vienna 4x22 corpus.
const TRILL_STEP: f64 = 0.085;
const TRILL_SPREAD: f64 = 0.035;
const TRILL_LONGEST: f64 = 0.2;

impl Trellis {
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
    pub(super) fn begin(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
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
    pub(super) fn strike_again(&mut self, line: &Arc<Line>, state: &State, heard: Heard) {
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
    pub(super) fn advance(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
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
                _ => {
                    let preferred = if line.notes[to].opens_measure { 1.0 } else { 0.1 };
                    // With a click, time tells how far.
                    let far = if line.notes[to].due.is_some() { 0.0 } else { skipped as f64 / self.model.skip_reach };
                    preferred * self.model.skip_far / (1.0 + far * far)
                }
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
    pub(super) fn insert(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
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
    pub(super) fn jump(&mut self, line: &Arc<Line>, state: &State, left: f64, heard: Heard) {
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
}

/// The notes due at a MIDI number, and the first few of the line whatever they are.
fn candidates(line: &Line, midi: u8, first: usize) -> impl Iterator<Item = usize> + use<'_> {
    let due = line.at_midi(midi);
    (0..first).chain(due.iter().map(|&index| index as usize).filter(move |&index| index >= first))
}
