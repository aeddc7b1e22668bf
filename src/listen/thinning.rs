//! Clock and active sensing run all day: which of their bytes a take must keep.
//!
//! In: all that arrives on one port. Out: the same without the real-time bytes on which no note depends, so that what is kept
//! does not grow while nobody plays, and gives the same notes.

use super::cleaner::DEAD;
use super::{Input, Timed, What};
use crate::exercise::Micros;

/// MIDI 1.0: clock (the first of the real-time bytes), active sensing, reset.
const CLOCK: u8 = 0xF8;
const ACTIVE_SENSING: u8 = 0xFE;
const RESET: u8 = 0xFF;

/// What was seen of one port.
///
/// Real-time bytes tell only that the line lives, and only once active sensing was seen. Without one of them the line is
/// still alive if the bytes before and after it are no further apart than a living line is silent.
#[derive(Debug, Default)]
pub(crate) struct Thinning {
    has_sensing: bool,
    /// When a byte came last, and when the last that was kept.
    last_byte: Micros,
    last_kept: Micros,
    /// Kept if the next byte comes too late to do without it.
    waiting: Option<Timed<Input>>,
}

impl Thinning {
    /// Takes in an arrival; `keep` gets what must be kept, in order.
    pub(crate) fn push(&mut self, arrival: &Timed<Input>, mut keep: impl FnMut(Timed<Input>)) {
        let at = arrival.at;
        self.has_sensing &= at - self.last_byte <= Micros(DEAD);
        let kept = self.last_kept;
        if let Some(waiting) = self.waiting.take().filter(|_| at - kept > Micros(DEAD)) {
            self.last_kept = waiting.at;
            keep(waiting);
        }
        match &arrival.what.what {
            What::Bytes(bytes) if bytes.iter().all(|byte| (CLOCK..RESET).contains(byte)) => {
                if bytes.is_empty() || !self.has_sensing && !bytes.contains(&ACTIVE_SENSING) {
                    return;
                }
                self.last_byte = at;
                if self.has_sensing {
                    self.waiting = Some(arrival.clone());
                    return;
                }
                self.has_sensing = true;
            }
            What::Bytes(bytes) => {
                let last = bytes.iter().rfind(|byte| matches!(**byte, ACTIVE_SENSING | RESET));
                self.has_sensing = last.map_or(self.has_sensing, |&last| last == ACTIVE_SENSING);
                self.last_byte = at;
            }
            What::Disconnect | What::Connect => self.has_sensing = false,
        }
        self.last_kept = self.last_byte;
        keep(arrival.clone());
    }

    /// The end: whether the line lived to the last.
    pub(crate) fn finish(&mut self, keep: impl FnMut(Timed<Input>)) {
        self.waiting.take().into_iter().for_each(keep);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Cleaner, NoteEvent, Restrikes};
    use super::*;
    use proptest::prelude::*;

    fn arrival(ms: i64, bytes: &[u8]) -> Timed<Input> {
        Timed { at: Micros(1_000 * ms), what: Input { port: 0, what: What::Bytes(bytes.to_vec()) } }
    }

    fn thinned(all: &[Timed<Input>]) -> Vec<Timed<Input>> {
        let mut kept = Vec::new();
        let mut thinning = Thinning::default();
        all.iter().for_each(|arrival| thinning.push(arrival, |arrival| kept.push(arrival)));
        thinning.finish(|arrival| kept.push(arrival));
        kept
    }

    fn notes(inputs: &[Timed<Input>], end: Micros) -> Vec<NoteEvent> {
        let mut cleaner = Cleaner::new(Restrikes::Kept);
        let mut events = Vec::new();
        inputs.iter().for_each(|input| cleaner.push(input, &mut events));
        cleaner.finish(end, &mut events);
        events
    }

    #[test]
    fn a_clock_alone_leaves_nothing() {
        let all: Vec<_> = (0..5_000).map(|tick| arrival(20 * tick, &[CLOCK])).collect();
        assert_eq!(thinned(&all), []);
    }

    /// An hour of active sensing at its slowest (MIDI 1.0: 300 ms): all but one in two are needed to know that the line
    /// lives; of one that comes each 50 ms one in six.
    #[test]
    fn an_hour_of_active_sensing_is_short() {
        for (pause, most) in [(300, 12_001), (50, 12_001)] {
            let all: Vec<_> = (0..3_600_000 / pause).map(|place| arrival(pause * place, &[ACTIVE_SENSING])).collect();
            let kept = thinned(&all);
            assert!(kept.len() <= most, "{} of {}", kept.len(), all.len());
            assert_eq!(kept.last(), all.last());
        }
    }

    proptest! {
        /// Pauses around the longest silence, and every byte that bears on it.
        #[test]
        fn the_notes_are_the_same(steps in prop::collection::vec((0_i64..700, 0_usize..9), 0..80)) {
            let mut now = 0;
            let all: Vec<_> = steps.iter().map(|&(pause, kind)| {
                now += if pause < 350 { pause / 5 } else { pause - 350 };
                match kind {
                    0..3 => arrival(now, &[ACTIVE_SENSING]),
                    3 => arrival(now, &[CLOCK]),
                    4 => arrival(now, &[0x90, 60 + (pause % 3) as u8, 90]),
                    5 => arrival(now, &[0x80, 60 + (pause % 3) as u8, 0]),
                    6 => arrival(now, &[0xB0, ACTIVE_SENSING, 2, 80]),
                    7 => arrival(now, &[RESET]),
                    _ => Timed { at: Micros(1_000 * now), what: Input { port: 0, what: What::Disconnect } },
                }
            }).collect();
            let end = Micros(1_000 * (now + 500));
            let kept = thinned(&all);
            prop_assert_eq!(notes(&kept, end), notes(&all, end));
            prop_assert!(kept.iter().all(|arrival| all.contains(arrival)));
        }
    }
}
