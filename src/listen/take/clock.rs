//! The clock of a take that will be written: which times a MIDI file can hold.
//!
//! In: the click, if there is one. Out: times snapped to the ticks of the file, so that what the judge hears live
//! is to the microsecond what it will read in the file.

use crate::exercise::{Micros, Quarters, TempoMap};
use crate::smf::{Clock as FileClock, Division, Event, File, Message};

/// Ticks to the quarter with a click: below the format's limit of 32,767, and a multiple of all note values from 1/32 of
/// a quarter, of triplets to the third order, quintuplets and septuplets, so that tempo changes fall on ticks.
const TICKS_WITH_CLICK: u16 = 30_240;
/// Without a click: at 120 quarters a minute a tick is exactly 16 microseconds.
const TICKS_WITHOUT_CLICK: u16 = 31_250;
const TEMPO_WITHOUT_CLICK: u32 = 500_000;
/// The longest quarter that a MIDI file can name: three bytes of microseconds.
const SLOWEST: f64 = 16_777_215.0;
/// No take goes beyond this tick (the reader's limit).
const LAST_TICK: u64 = 1 << 38;

/// Which times a take can hold.
#[derive(Debug, Clone)]
pub struct Clock {
    pub(super) division: u16,
    /// (tick, microseconds a quarter), the first at 0.
    pub(super) tempos: Vec<(u64, u32)>,
    /// The tick of score time zero, with a click.
    pub(super) marker: Option<u64>,
    file: FileClock,
}

impl Clock {
    /// The clock of a take: with a click, score time zero and the tempo from there. Score time zero before the
    /// start of the take counts as its start.
    pub fn new(click: Option<(Micros, &TempoMap)>) -> Clock {
        let Some((start, tempo)) = click else {
            return Clock::of(TICKS_WITHOUT_CLICK, vec![(0, TEMPO_WITHOUT_CLICK)], None);
        };
        let first = whole(tempo.micros_per_quarter(Quarters::ZERO));
        // Before score time zero the count-in has the first tempo.
        let marker = nearest(start.0.max(0) as f64 * f64::from(TICKS_WITH_CLICK) / f64::from(first));
        let mut tempos = vec![(0, first)];
        for &(point, micros) in tempo.steps().iter().filter(|(point, _)| *point > Quarters::ZERO) {
            let tick = nearest(marker as f64 + point.to_f64() * f64::from(TICKS_WITH_CLICK));
            tempos.push((tick, whole(micros)));
        }
        Clock::of(TICKS_WITH_CLICK, tempos, Some(marker))
    }

    fn of(division: u16, tempos: Vec<(u64, u32)>, marker: Option<u64>) -> Clock {
        let event = |&(tick, tempo): &(u64, u32)| {
            let [_, data @ ..] = tempo.to_be_bytes();
            Event { tick, message: Message::Meta { kind: 0x51, data: data.to_vec() } }
        };
        let track = tempos.iter().map(event).collect();
        let file =
            File { division: Division::PerQuarter(division), tracks: vec![track], ends: vec![], notices: vec![] };
        Clock { division, tempos, marker, file: FileClock::new(&file) }
    }

    /// The nearest time that the take can hold: within 8 microseconds without a click, within half a 30,240th of
    /// a quarter with one (10 microseconds at 100 quarters a minute). Times before zero give zero.
    pub fn snap(&self, at: Micros) -> Micros {
        self.file.micros(self.tick(at))
    }

    /// The click as the take will hold it: to be judged by, so that the take gives the same flags.
    pub fn click(&self) -> Option<(Micros, TempoMap)> {
        self.marker.map(|tick| (self.file.micros(tick), click_from(&self.file, tick)))
    }

    /// The tick nearest to a time.
    pub(super) fn tick(&self, at: Micros) -> u64 {
        // The first tick not before it, by halving.
        let (mut low, mut high) = (0, LAST_TICK);
        while low < high {
            let middle = low + (high - low) / 2;
            if self.file.micros(middle) < at {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        let before = low.saturating_sub(1);
        if self.file.micros(low) - at < at - self.file.micros(before) { low } else { before }
    }
}

/// The tempo of a file's clock counted from a tick.
pub(super) fn click_from(clock: &FileClock, marker: u64) -> TempoMap {
    let zero = clock.quarters(marker).unwrap_or(Quarters::ZERO);
    let mut tempos = Vec::new();
    let mut in_force = None;
    for (tick, tempo) in clock.tempos() {
        if tick <= marker {
            in_force = Some((Quarters::ZERO, f64::from(tempo)));
        } else if let Some(point) = clock.quarters(tick).filter(|point| point.is_in_range()) {
            tempos.push((point - zero, f64::from(tempo)));
        }
    }
    tempos.extend(in_force);
    TempoMap::new(tempos)
}

fn whole(micros_per_quarter: f64) -> u32 {
    micros_per_quarter.round().clamp(1.0, SLOWEST) as u32
}

fn nearest(tick: f64) -> u64 {
    (tick.round().max(0.0) as u64).min(LAST_TICK)
}
