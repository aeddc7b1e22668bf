//! A clock that never runs backward, from time stamps that may.

use crate::exercise::Micros;

/// A step back of up to 50 ms is jitter; after a longer one the clock was started again.
const JITTER: Micros = Micros(50_000);

/// Turns the time stamps of a stream, in order of arrival, into times that never step back.
#[derive(Debug, Default)]
pub(crate) struct Steady {
    last_stamp: Option<Micros>,
    /// What a restarted clock lost.
    offset: Micros,
    now: Micros,
}

impl Steady {
    /// The time of an arrival.
    pub(crate) fn time(&mut self, stamp: Micros) -> Micros {
        match self.last_stamp {
            None => self.now = stamp,
            // Time goes on from where it was.
            Some(last) if last - stamp > JITTER => self.offset = self.now - stamp,
            Some(_) => {}
        }
        self.last_stamp = Some(stamp);
        self.now = self.now.max(stamp + self.offset);
        self.now
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 4 ms back is no step; from 2.0 s back to 0.1 s the clock lost 1.9 s.
    #[test]
    fn jitter_and_restart() {
        let mut steady = Steady::default();
        let times: Vec<i64> = [500_000, 1_000_000, 996_000, 1_500_000, 2_000_000, 100_000, 600_000]
            .map(|stamp| steady.time(Micros(stamp)).0)
            .to_vec();
        assert_eq!(times, [500_000, 1_000_000, 1_000_000, 1_500_000, 2_000_000, 2_000_000, 2_500_000]);
    }

    #[test]
    fn exactly_fifty_milliseconds_are_no_step() {
        let mut steady = Steady::default();
        let times = [1_000_000, 950_000, 1_200_000, 1_149_999, 1_300_000].map(|stamp| steady.time(Micros(stamp)).0);
        assert_eq!(times, [1_000_000, 1_000_000, 1_200_000, 1_200_000, 1_350_001]);
    }

    #[test]
    fn a_stream_may_begin_before_zero() {
        let mut steady = Steady::default();
        assert_eq!([-5, -3].map(|stamp| steady.time(Micros(stamp)).0), [-5, -3]);
    }
}
