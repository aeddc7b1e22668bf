//! The constant delay of a controller and a click: how much later than the click a player's notes arrive who plays
//! exactly with it. It moves the whole take, entrances and releases alike, so it is taken off by starting the grid so
//! much later; nothing else in the judge knows of it.
//!
//! A delay that was measured is in the [`Settings`]. Where none was, the middle of the take's own entrances shows it,
//! if it is constant. What is too large to be a delay, or not constant, is playing and stays.
//!
//! The spread of a sample's middle value, for what normal errors give: its standard error is 1.2533 σ/√n (Kendall and
//! Stuart, "The Advanced Theory of Statistics", vol. 1, the sampling variance of the median is π/2 σ²/n; from memory),
//! and a normal sample's middle half is 1.349 σ wide.

use super::findings::Sounded;
use super::{Grid, Settings};
use crate::exercise::{Micros, Part, Quarters};
use crate::follow::{Heard, Line, Passes, Place};

/// Fewer entrances than this show no delay.
const FEWEST: usize = 8;
/// So many entrances show it well enough while the take runs; later ones are not looked at before its end.
const ENOUGH: usize = 64;
/// A smaller offset is left alone: it is less than half of the least tolerance, and nobody hears it.
const LEAST: Micros = Micros(20_000);
/// A larger one is playing: no controller with its click is so slow (from memory: MIDI takes 1 to 10 ms, a computer's sound
/// 10 to 100), only wireless loudspeakers are, and those can be measured.
const MOST: Micros = Micros(120_000);
/// Nor is a delay as long as this share of a beat, in which a player may well be behind.
const MOST_BEATS: f64 = 1.0 / 3.0;
/// The middle half of a steady player's entrances lies within this share of a beat; more is no constant.
const STEADY_BEATS: f64 = 0.15;
/// An entrance further from the click than this share of a beat belongs to no beat of it.
const NEAR_BEATS: f64 = 0.5;
/// The middle must be so many of its standard errors from zero (by chance it is in 3 takes of 1,000).
const SURE: f64 = 3.0;
/// It may be off by so many.
const DOUBT: f64 = 2.0;
/// The middles of both halves of a take may be so many standard errors apart: more is a tempo that drifts.
const ALIKE: f64 = 2.5;
/// No clock of a take is finer than this: two halves that differ by less are alike.
const FINEST: f64 = 1_000.0;
/// The standard error of the middle from the width of the middle half of n values: 1.2533 / 1.349 / √n.
const ERROR_OF_WIDTH: f64 = 0.929;
/// While a take runs, an entrance is not called off the beat before so many show whether a delay explains it.
const FIRST: usize = 3;

/// A constant delay that was taken off before judging.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Delay {
    /// Milliseconds after the click; negative is before it.
    pub ms: f64,
    /// Where it is known from.
    pub from: DelayFrom,
}

/// Where a delay is known from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum DelayFrom {
    /// It was measured beforehand, and given in the settings.
    Measured,
    /// The entrances of the take show it.
    Take,
}

impl Delay {
    /// What is said once about a take that shows its delay itself.
    pub(super) fn remark(self) -> Option<String> {
        let side = if self.ms > 0.0 { "behind" } else { "ahead of" };
        (self.from == DelayFrom::Take).then(|| {
            format!(
                "the whole take runs {} ms {side} the click: taken off before judging (measure it once with \
                 restward latency)",
                self.ms.abs()
            )
        })
    }
}

/// The settings with a known delay taken off: from here on the click is where the player hears it.
pub(super) fn known(mut settings: Settings) -> Settings {
    if let (Some(grid), Some(delay)) = (&mut settings.grid, settings.delay) {
        grid.start = grid.start + delay;
    }
    settings
}

/// The settings, as [`known`] left them, with the delay taken off that a whole take shows; and what was taken off in all.
pub(super) fn of_take(
    part: &Part,
    settings: &Settings,
    line: &Line,
    heard: &[Heard],
    places: &[Place],
) -> (Settings, Option<Delay>) {
    let mut settings = settings.clone();
    let measured = settings.delay.filter(|_| settings.grid.is_some());
    if let Some(delay) = measured {
        return (settings, Some(Delay { ms: delay.0 as f64 / 1e3, from: DelayFrom::Measured }));
    }
    let entrances = Entrances::new(part, &settings).map(|mut entrances| {
        let passes = Passes::new(places, part.notes.len());
        for (index, note) in part.notes.iter().enumerate() {
            let Some(played) = passes.played[index] else { continue };
            let sounded = Sounded::new(line, heard, index, played, played);
            if sounded.off_pitch == 0 {
                entrances.hear(note.onset, sounded.onset);
            }
        }
        entrances
    });
    let shown = entrances.and_then(|entrances| entrances.take_off(&mut settings));
    (settings, shown.map(|delay| Delay { ms: delay.0 as f64 / 1e3, from: DelayFrom::Take }))
}

/// How large a delay may be in a part at a tempo, in microseconds.
struct Limits {
    nearest: i64,
    most: i64,
    widest: i64,
}

/// The entrances of a take against its click, in order, in microseconds.
pub(super) struct Entrances {
    click: Grid,
    limits: Limits,
    offsets: Vec<i64>,
}

impl Entrances {
    /// Of a take with a click whose delay is not known.
    pub(super) fn new(part: &Part, settings: &Settings) -> Option<Entrances> {
        let click = settings.grid.clone().filter(|_| settings.delay.is_none())?;
        let beat = part.notes.iter().map(|note| part.beat_unit(note)).min()?;
        let quarter = click.tempo.steps().iter().map(|&(_, micros)| micros).fold(f64::INFINITY, f64::min);
        let share = |of: f64| (of * quarter * beat.to_f64()) as i64;
        let limits =
            Limits { nearest: share(NEAR_BEATS), most: MOST.0.min(share(MOST_BEATS)), widest: share(STEADY_BEATS) };
        Some(Entrances { click, limits, offsets: Vec::new() })
    }

    /// A note of the right pitch, due at a point, began at `onset` (seconds).
    fn hear(&mut self, due: Quarters, onset: f64) {
        let off = Micros::from_seconds(onset - self.click.seconds_at(due)).0;
        if off.abs() < self.limits.nearest {
            self.offsets.push(off);
        }
    }

    /// Takes the delay that they show off the click of the settings.
    fn take_off(&self, settings: &mut Settings) -> Option<Micros> {
        let shown = self.delay();
        let (delay, error) = shown.unwrap_or_default();
        if let Some(grid) = &mut settings.grid {
            (grid.start, grid.error) = (self.click.start + delay, error);
        }
        shown.map(|_| delay)
    }

    /// The delay that they show, in whole milliseconds, late is positive; and how far off it may be.
    fn delay(&self) -> Option<(Micros, Micros)> {
        if self.offsets.len() < FEWEST {
            return None;
        }
        let whole = Middle::of(&self.offsets)?;
        let (first, second) = self.offsets.split_at(self.offsets.len() / 2);
        let (first, second) = (Middle::of(first)?, Middle::of(second)?);
        let apart = (first.at - second.at).abs() as f64;
        let is_constant =
            whole.width <= self.limits.widest && apart <= ALIKE * first.error.hypot(second.error).max(FINEST);
        let size = whole.at.abs();
        let is_delay = (LEAST.0..=self.limits.most).contains(&size) && size as f64 >= SURE * whole.error;
        let delay = Micros((whole.at + whole.at.signum() * 500) / 1_000 * 1_000);
        (is_constant && is_delay).then_some((delay, Micros((DOUBT * whole.error) as i64)))
    }
}

/// The delay of a take while it is played.
pub(super) struct Running {
    entrances: Option<Entrances>,
    /// What they show so far.
    shown: Option<Micros>,
}

impl Running {
    pub(super) fn new(part: &Part, settings: &Settings) -> Running {
        Running { entrances: Entrances::new(part, settings), shown: None }
    }

    /// A note due at a point began; `settings` follow what the entrances show now.
    pub(super) fn hear(&mut self, due: Quarters, sounded: &Sounded, settings: &mut Settings) {
        let Some(entrances) = &mut self.entrances else { return };
        if sounded.off_pitch == 0 && entrances.offsets.len() < ENOUGH {
            entrances.hear(due, sounded.onset);
            self.shown = entrances.take_off(settings);
        }
    }

    /// Whether a delay that is not sure yet may be all that makes a note begin `off` seconds late, more than the tolerance
    /// of `limit`.
    pub(super) fn may_explain(&self, off: f64, limit: f64) -> bool {
        let Some(entrances) = self.entrances.as_ref().filter(|_| self.shown.is_none()) else { return false };
        let (off, limit) = (Micros::from_seconds(off).0, Micros::from_seconds(limit).0);
        match entrances.offsets.len() {
            0..FIRST => off.abs() - limit <= entrances.limits.most,
            FIRST..ENOUGH => Middle::of(&entrances.offsets).is_some_and(|middle| {
                let is_steady = middle.width <= entrances.limits.widest;
                let nearest = middle.at.abs() - (DOUBT * middle.error) as i64;
                let may_be = middle.at.abs() >= LEAST.0 && nearest <= entrances.limits.most;
                is_steady && may_be && (off - middle.at).abs() <= limit
            }),
            _ => false,
        }
    }
}

/// The middle of some offsets, how wide their middle half is, and the standard error of the middle, in microseconds. Of
/// few offsets rather more than half count as the middle half, so that few do not look too sure.
pub(crate) struct Middle {
    pub(crate) at: i64,
    pub(crate) width: i64,
    pub(crate) error: f64,
}

impl Middle {
    /// Of these microseconds, in any order; none of none.
    pub(crate) fn of(offsets: &[i64]) -> Option<Middle> {
        let mut sorted = offsets.to_vec();
        sorted.sort_unstable();
        let last = sorted.len().checked_sub(1)?;
        let width = sorted.get(last - last / 4)? - sorted.get(last / 4)?;
        let at = (sorted.get(last / 2)? + sorted.get(last - last / 2)?) / 2;
        Some(Middle { at, width, error: ERROR_OF_WIDTH * width as f64 / (sorted.len() as f64).sqrt() })
    }
}
