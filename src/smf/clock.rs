//! From ticks to clock time and to score time, exact.

use super::{Division, File};
use crate::exercise::{Micros, Quarters};

/// 120 quarters a minute, until the file says otherwise (specification, "Set Tempo").
const DEFAULT_TEMPO: u32 = 500_000;

/// The clock of a file: its division and tempo map.
#[derive(Debug, Clone)]
pub(crate) struct Clock {
    division: Division,
    /// From each tick on, in order; the first at 0.
    steps: Vec<Step>,
}

#[derive(Debug, Clone, Copy)]
struct Step {
    tick: u64,
    /// Microseconds a quarter.
    tempo: u32,
    /// Time at `tick`: ticks times tempo summed, in parts of a microsecond of which the division holds so many.
    elapsed: u128,
    /// Score time at `tick`, for a time code; `None` out of range.
    quarters: Option<Quarters>,
}

impl Clock {
    /// The clock of a file, tempo changes of all tracks taken together.
    pub(crate) fn new(file: &File) -> Clock {
        let mut steps = vec![Step { tick: 0, tempo: DEFAULT_TEMPO, elapsed: 0, quarters: Some(Quarters::ZERO) }];
        for (tick, tempo) in file.tempos() {
            let last = steps[steps.len() - 1];
            let elapsed = last.elapsed + u128::from(tick - last.tick) * u128::from(last.tempo);
            let quarters = last.quarters_at(file.division, tick);
            if last.tick == tick {
                steps.pop();
            }
            steps.push(Step { tick, tempo, elapsed, quarters });
        }
        Clock { division: file.division, steps }
    }

    /// Clock time of a tick, from tick 0, to the nearest microsecond; not summed from rounded pieces.
    pub(crate) fn micros(&self, tick: u64) -> Micros {
        let (top, bottom) = match self.division {
            Division::PerQuarter(ticks) => {
                let step = self.step(tick);
                (step.elapsed + u128::from(tick - step.tick) * u128::from(step.tempo), u128::from(ticks))
            }
            Division::TimeCode { frames, ticks } => {
                let (second, per_second) = seconds(frames, ticks);
                (u128::from(tick) * u128::from(second) * 1_000_000, u128::from(per_second))
            }
        };
        Micros(i64::try_from((top + bottom / 2) / bottom).unwrap_or(i64::MAX))
    }

    /// Score time of a tick in quarters. With a time code the quarters come from the tempo. `None` where
    /// it leaves the range of exact score time.
    pub(crate) fn quarters(&self, tick: u64) -> Option<Quarters> {
        match self.division {
            Division::PerQuarter(ticks) => in_range(i128::from(tick), i128::from(ticks)),
            Division::TimeCode { .. } => self.step(tick).quarters_at(self.division, tick),
        }
    }

    /// The longest tick of the file, rounded up to the microsecond.
    pub(crate) fn longest_tick(&self) -> Micros {
        let micros = match self.division {
            Division::PerQuarter(ticks) => {
                let slowest = self.steps.iter().map(|step| step.tempo).max().unwrap_or(DEFAULT_TEMPO);
                u64::from(slowest).div_ceil(u64::from(ticks))
            }
            Division::TimeCode { frames, ticks } => {
                let (second, per_second) = seconds(frames, ticks);
                (second * 1_000_000).div_ceil(per_second)
            }
        };
        Micros(i64::try_from(micros).unwrap_or(i64::MAX))
    }

    /// The tempo changes: (tick, microseconds a quarter), the first at 0.
    pub(crate) fn tempos(&self) -> impl Iterator<Item = (u64, u32)> {
        self.steps.iter().map(|step| (step.tick, step.tempo))
    }

    fn step(&self, tick: u64) -> Step {
        let next = self.steps.partition_point(|step| step.tick <= tick);
        self.steps[next.saturating_sub(1)]
    }
}

impl Step {
    /// Score time of a tick at or after this step, as far as its tempo holds; only for a time code.
    fn quarters_at(&self, division: Division, tick: u64) -> Option<Quarters> {
        let Division::TimeCode { frames, ticks } = division else { return None };
        let (second, per_second) = seconds(frames, ticks);
        let micros = i128::from(tick - self.tick) * i128::from(second) * 1_000_000;
        self.quarters?.checked_add(in_range(micros, i128::from(per_second) * i128::from(self.tempo))?)
    }
}

/// How many seconds so many ticks of a time code take. 29 means 30 drop-frame: 30000/1001 frames a second (SMPTE 12M).
fn seconds(frames: u8, ticks: u8) -> (u64, u64) {
    let per_frame = u64::from(ticks);
    if frames == 29 { (1001, 30_000 * per_frame) } else { (1, u64::from(frames) * per_frame) }
}

fn in_range(top: i128, bottom: i128) -> Option<Quarters> {
    let (mut a, mut b) = (top, bottom);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    let a = a.max(1);
    let value = Quarters::new(i64::try_from(top / a).ok()?, i64::try_from(bottom / a).ok()?);
    value.is_in_range().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(division: Division, tempos: &[(u64, u32)]) -> Clock {
        let meta = |&(tick, tempo): &(u64, u32)| super::super::Event {
            tick,
            message: super::super::Message::Meta { kind: 0x51, data: tempo.to_be_bytes()[1..].to_vec() },
        };
        let track = tempos.iter().map(meta).collect();
        Clock::new(&File { division, tracks: vec![track], ends: vec![0], notices: vec![] })
    }

    /// 96 ticks at 120, then 48 at 60 quarters a minute: 0.5 s + 0.5 s, by hand.
    #[test]
    fn tempo_map_by_hand() {
        let clock = clock(Division::PerQuarter(96), &[(96, 1_000_000)]);
        assert_eq!(clock.micros(96), Micros(500_000));
        assert_eq!(clock.micros(144), Micros(1_000_000));
        assert_eq!(clock.quarters(144), Some(Quarters::new(3, 2)));
    }

    /// A third of a microsecond a tick does not add up: 3 million ticks are one second.
    #[test]
    fn rounding_does_not_add_up() {
        let mut tempos: Vec<(u64, u32)> = (0..1000).map(|i| (i * 3, 1)).collect();
        tempos.push((3000, 1_000_000));
        let clock = clock(Division::PerQuarter(3), &tempos);
        assert_eq!(clock.micros(3000), Micros(1000));
    }

    /// Frames a second of SMPTE 12M; 25 frames of 40 ticks are milliseconds (SMF 1.0, "division").
    #[test]
    fn time_codes() {
        for (frames, ticks, tick, micros) in [
            (25, 40, 1000, 1_000_000),
            (24, 80, 1920, 1_000_000),
            (30, 100, 3000, 1_000_000),
            (29, 100, 3000, 1_001_000),
        ] {
            assert_eq!(clock(Division::TimeCode { frames, ticks }, &[]).micros(tick), Micros(micros));
            let tick = clock(Division::TimeCode { frames, ticks }, &[]).longest_tick();
            assert!((1_000_000 / i64::from(frames) / i64::from(ticks) - tick.0).abs() <= 40, "{frames} {tick:?}");
        }
        let changing = clock(Division::TimeCode { frames: 25, ticks: 40 }, &[(1000, 1_000_000)]);
        assert_eq!(changing.quarters(1000), Some(Quarters::new(2, 1)));
        assert_eq!(changing.quarters(2000), Some(Quarters::new(3, 1)));
    }
}
