//! The time that a take is measured against: the click, or the player's own beat.

use super::{Grid, Level, Settings};
use crate::exercise::{Part, Quarters};

/// How far around a note (quarters) its player's own tempo is looked for.
const REACH: f64 = 8.0;
/// Distance (quarters) at which an interval counts half.
const NEARBY: f64 = 4.0;
/// Intervals further than this (ratio to the middle one) are waits and slips, not tempo.
const OUTLYING: f64 = 1.25;
/// Fewest quarters of played music from which a tempo is believed.
const LEAST_MUSIC: f64 = 1.5;

/// Of so many following notes one must have been played to measure a release between two onsets.
const NEXT_WITHIN: usize = 8;

/// Due times and tolerances for one take. Seconds of stream time throughout.
pub(super) struct Frame<'a> {
    part: &'a Part,
    grid: Option<&'a Grid>,
    tolerance_beats: f64,
    /// When each note of the part began, in the attempt that counts.
    onsets: &'a [Option<f64>],
}

/// Where a release is due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Due {
    /// The earliest and the latest answer of all sound ways of measuring.
    pub(super) earliest: f64,
    pub(super) latest: f64,
    /// Whether every way of measuring could be asked: without a click one of them needs the next note.
    pub(super) complete: bool,
}

impl<'a> Frame<'a> {
    pub(super) fn new(part: &'a Part, settings: &'a Settings, onsets: &'a [Option<f64>]) -> Frame<'a> {
        Frame { part, grid: settings.grid.as_ref(), tolerance_beats: settings.level.tolerance_beats(), onsets }
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
        self.own_quarter(note)
    }

    /// The player's own tempo around a note: the middle of the intervals played nearby, those far from
    /// the middle left out.
    fn own_quarter(&self, note: usize) -> Option<f64> {
        const MOST: usize = 24;
        let center = self.part.notes[note].onset.to_f64();
        // (seconds a quarter, quarters, weight) of each interval between neighbours that both were played.
        let mut intervals = [(0.0, 0.0, 0.0); 2 * MOST];
        let mut count = 0;
        for step in [-1_isize, 1] {
            let mut at = note as isize + if step < 0 { -1 } else { 0 };
            let mut taken = 0;
            while taken < MOST && at >= 0 && (at as usize) + 1 < self.part.notes.len() {
                let (from, to) = (at as usize, at as usize + 1);
                at += step;
                let (a, b) = (self.part.notes[from].onset.to_f64(), self.part.notes[to].onset.to_f64());
                let away = ((a + b) / 2.0 - center).abs();
                if away > REACH {
                    break;
                }
                let (Some(began), Some(ended)) = (self.onsets[from], self.onsets[to]) else { continue };
                if ended > began && b > a {
                    intervals[count] = ((ended - began) / (b - a), b - a, (b - a) / (1.0 + away / NEARBY));
                    count += 1;
                    taken += 1;
                }
            }
        }
        let intervals = &mut intervals[..count];
        if intervals.iter().map(|&(_, quarters, _)| quarters).sum::<f64>() < LEAST_MUSIC {
            return None;
        }
        intervals.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let half = intervals.iter().map(|&(_, _, weight)| weight).sum::<f64>() / 2.0;
        let mut passed = 0.0;
        let middle = intervals.iter().find(|&&(_, _, weight)| {
            passed += weight;
            passed >= half
        })?;
        let middle = middle.0;
        let (mut seconds, mut weights) = (0.0, 0.0);
        for &(quarter, _, weight) in intervals.iter() {
            if quarter < middle * OUTLYING && quarter > middle / OUTLYING {
                seconds += quarter * weight;
                weights += weight;
            }
        }
        if weights > 0.0 { Some(seconds / weights) } else { Some(middle) }
    }

    /// Where the release of a note that began at `onset` is due.
    pub(super) fn release_due(&self, note: usize, onset: f64) -> Option<Due> {
        let it = &self.part.notes[note];
        let value = it.duration.to_f64();
        if let Some(click) = self.at_click(it.end()) {
            let own = onset + self.quarter(note)? * value;
            return Some(Due { earliest: click.min(own), latest: click.max(own), complete: true });
        }
        let own = onset + self.own_quarter(note)? * value;
        let next =
            (note + 1..self.part.notes.len().min(note + 1 + NEXT_WITHIN)).find(|&next| self.onsets[next].is_some());
        let between = next.and_then(|next| {
            let quarters = (self.part.notes[next].onset - it.onset).to_f64().max(1e-6);
            self.onsets[next].map(|began| onset + (began - onset) * value / quarters)
        });
        let between = between.filter(|&between| between > onset);
        let other = between.unwrap_or(own);
        let is_last = note + 1 == self.part.notes.len();
        Some(Due { earliest: own.min(other), latest: own.max(other), complete: between.is_some() || is_last })
    }

    /// How late (positive) or early a note began, in seconds, against the click; without one against the
    /// player's own beat before and after it, and only where both say so.
    pub(super) fn entrance_off(&self, note: usize, onset: f64) -> Option<f64> {
        if let Some(click) = self.at_click(self.part.notes[note].onset) {
            return Some(onset - click);
        }
        let quarter = self.own_quarter(note)?;
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
        agree.then_some(offs.iter().sum::<f64>() / 4.0)
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
