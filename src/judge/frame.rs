//! The time that a take is measured against: the click, or the player's own beat.

use super::counted::{self, Counted};
use super::tempo::Tempo;
use super::{Grid, Level, Settings};
use crate::exercise::{Micros, Part, Quarters};

/// A note that nothing is played after may have been held at a tempo so much further off, as a share of it.
const UNMEASURED: f64 = 0.01;

/// Of so many following notes one must have been played to measure a release between two onsets.
const NEXT_WITHIN: usize = 8;

/// Due times and tolerances for one take. Seconds of stream time throughout.
pub(super) struct Frame<'a> {
    part: &'a Part,
    grid: Option<&'a Grid>,
    tolerance_beats: f64,
    /// When each note of the part began, in the attempt that counts.
    onsets: &'a [Option<f64>],
    /// How far off one time stamp may be.
    stamp_error: f64,
    /// How far off a time may be that is measured against the click.
    click_error: f64,
}

/// Where a release is due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Due {
    /// The earliest and the latest answer of all sound ways of measuring.
    pub(super) earliest: f64,
    pub(super) latest: f64,
    /// The same, each answer as far out as its error allows: what lies beyond these is beyond doubt.
    pub(super) surely_earliest: f64,
    pub(super) surely_latest: f64,
    /// Whether every way of measuring could be asked: without a click one of them needs the next note.
    pub(super) complete: bool,
}

impl Due {
    /// From two answers, each with its error.
    fn new(one: (f64, f64), other: (f64, f64), complete: bool) -> Due {
        Due {
            earliest: one.0.min(other.0),
            latest: one.0.max(other.0),
            surely_earliest: (one.0 - one.1).min(other.0 - other.1),
            surely_latest: (one.0 + one.1).max(other.0 + other.1),
            complete,
        }
    }
}

impl<'a> Frame<'a> {
    pub(super) fn new(part: &'a Part, settings: &'a Settings, onsets: &'a [Option<f64>]) -> Frame<'a> {
        Frame {
            part,
            grid: settings.grid.as_ref(),
            tolerance_beats: settings.level.tolerance_beats(),
            onsets,
            stamp_error: settings.stamp_error.seconds(),
            click_error: settings.grid.as_ref().map_or(Micros(0), |grid| grid.error + settings.stamp_error).seconds(),
        }
    }

    /// Seconds at which the click has a point of the score.
    pub(super) fn at_click(&self, point: Quarters) -> Option<f64> {
        self.grid.map(|grid| grid.seconds_at(point))
    }

    /// A beat in seconds around a note; none if nothing tells how fast the player plays.
    pub(super) fn beat(&self, note: usize) -> Option<f64> {
        let beat = self.part.beat_unit(&self.part.notes[note]).to_f64();
        self.quarter(note).map(|quarter| quarter * beat)
    }

    /// The tolerance around a note in seconds.
    pub(super) fn tolerance(&self, beat: f64) -> f64 {
        (self.tolerance_beats * beat).max(Level::shortest_tolerance().seconds())
    }

    /// A quarter in seconds around a note.
    fn quarter(&self, note: usize) -> Option<f64> {
        let it = &self.part.notes[note];
        if let Some(grid) = self.grid {
            return Some((grid.seconds_at(it.end()) - grid.seconds_at(it.onset)) / it.duration.to_f64().max(1e-6));
        }
        self.own_tempo(note).map(|tempo| tempo.quarter)
    }

    /// How far off a length of time between two stamps may be, in seconds.
    pub(super) fn span_error(&self) -> f64 {
        2.0 * self.stamp_error
    }

    fn own_tempo(&self, note: usize) -> Option<Tempo> {
        Tempo::around(self.part, self.onsets, note)
    }

    /// Where the release of a note that began at `onset` is due.
    pub(super) fn release_due(&self, note: usize, onset: f64) -> Option<Due> {
        let it = &self.part.notes[note];
        let value = it.duration.to_f64();
        if let Some(click) = self.at_click(it.end()) {
            let click = click + self.displaced(note, onset);
            let own = onset + self.quarter(note)? * value;
            return Some(Due::new((click, self.click_error), (own, self.span_error()), true));
        }
        let tempo = self.own_tempo(note)?;
        let held = tempo.quarter * value;
        let own = (onset + held, self.span_error() + tempo.error * held);
        let next =
            (note + 1..self.part.notes.len().min(note + 1 + NEXT_WITHIN)).find(|&next| self.onsets[next].is_some());
        let between = next.and_then(|next| {
            let quarters = (self.part.notes[next].onset - it.onset).to_f64().max(1e-6);
            self.onsets[next].map(|began| onset + (began - onset) * value / quarters)
        });
        // A rest counted short says nothing about the note.
        let between = between.filter(|&between| between > onset && self.counted_short(note + 1).is_none());
        let between = between.map(|between| (between, self.span_error()));
        let is_last = note + 1 == self.part.notes.len();
        let due = Due::new(own, between.unwrap_or(own), between.is_some() || is_last);
        // With nothing after it to measure by, a player who is slowing down or hurrying may be holding it just right.
        if between.is_some() {
            return Some(due);
        }
        let (least, most) = tempo.before;
        let (earliest, latest) = (own.0.min(onset + least * value), own.0.max(onset + most * value));
        let change = tempo.trend * held;
        let error = own.1 + UNMEASURED * held;
        Some(Due {
            earliest,
            latest,
            surely_earliest: earliest - error + change.min(0.0),
            surely_latest: latest + error + change.max(0.0),
            ..due
        })
    }

    /// How late (positive) or early a note began, in seconds, and how far off that may be: against the click; without
    /// one against the player's own beat before and after it, and only where both say so.
    pub(super) fn entrance_off(&self, note: usize, onset: f64) -> Option<(f64, f64)> {
        if let Some(click) = self.at_click(self.part.notes[note].onset) {
            return Some((onset - click - self.displaced(note, onset), self.click_error));
        }
        if let Some(Counted { given, due }) = self.counted_short(note) {
            return Some(((given - due) * self.beat(note)?, self.span_error()));
        }
        let Tempo { quarter, error, .. } = self.own_tempo(note)?;
        let here = self.part.notes[note].onset.to_f64();
        let off = |other: usize| -> Option<f64> {
            let began = self.onsets.get(other).copied().flatten()?;
            Some(onset - (began + (here - self.part.notes[other].onset.to_f64()) * quarter))
        };
        // Two neighbours on either side that agree among themselves.
        let offs = [off(note.checked_sub(2)?)?, off(note - 1)?, off(note + 1)?, off(note + 2)?];
        let least = offs.iter().copied().fold(f64::INFINITY, f64::min);
        let most = offs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let agree = most - least < 0.25 * self.part.beat_unit(&self.part.notes[note]).to_f64() * quarter;
        agree.then_some((offs.iter().sum::<f64>() / 4.0, self.span_error() + error * quarter))
    }

    /// A player who plays on somewhere else by a measure or more, a line too soon for example, is told so at the first
    /// note; the others are measured against the click from there. By how many seconds it is moved for a note
    /// that began at `onset`: whole beats, zero where the click stands.
    pub(super) fn displaced(&self, note: usize, onset: f64) -> f64 {
        let moved = || {
            let before = note.checked_sub(1)?;
            let off = |note: usize, onset: f64| Some(onset - self.at_click(self.part.notes[note].onset)?);
            let (here, last) = (off(note, onset)?, off(before, self.onsets[before]?)?);
            let measure = self.part.measure_of(&self.part.notes[before])?.duration.to_f64() * self.quarter(before)?;
            let beat = self.beat(before)?;
            let goes_on = last.abs() > measure - 0.5 * beat && (here - last).abs() < 0.5 * beat;
            goes_on.then(|| (last / beat).round() * beat)
        };
        moved().unwrap_or(0.0)
    }

    /// What the note before this one got, if the player, without a click, counted it short.
    pub(super) fn counted_short(&self, note: usize) -> Option<Counted> {
        if self.grid.is_some() { None } else { counted::short(self.part, self.onsets, note.checked_sub(1)?) }
    }

    /// The least offset that is a fault of entrance: the tolerance with a click, without one half a beat.
    pub(super) fn entrance_limit(&self, beat: f64) -> f64 {
        if self.grid.is_some() { self.tolerance(beat) } else { self.tolerance(beat).max(0.5 * beat) }
    }

    /// When the note after this one of the part began.
    pub(super) fn next_onset(&self, note: usize) -> Option<f64> {
        self.onsets.get(note + 1).copied().flatten()
    }
}
