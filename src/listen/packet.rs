//! What crosses from the system's MIDI thread to ours: small pieces of fixed size, so that the callback
//! allocates nothing.

use crate::exercise::Micros;

/// Bytes of one piece. Channel messages have three at most; longer packets are cut into several pieces,
/// which the reader of bytes puts together again.
pub(super) const PIECE: usize = 12;

/// One arrival, or a piece of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Packet {
    /// Lane of the port.
    pub(super) lane: u32,
    /// When it arrived, on our clock.
    pub(super) at: Micros,
    /// What it is.
    pub(super) kind: Kind,
}

/// What a packet is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// The first `length` of these bytes.
    Bytes { length: u8, bytes: [u8; PIECE] },
    /// The port went away.
    Gone,
    /// The port came back and is connected again.
    Back,
}

/// MIDI 1.0: system exclusive begin and end, clock, active sensing.
const SYSTEM_EXCLUSIVE: u8 = 0xF0;
const END_OF_EXCLUSIVE: u8 = 0xF7;
const CLOCK: u8 = 0xF8;
const ACTIVE_SENSING: u8 = 0xFE;

/// Cuts what the system delivered into pieces and hands each to `send`. Clock and active sensing alone in a
/// packet are left out (they run all day and no note depends on them), and so is a system exclusive message
/// longer than a piece; what follows its end is kept.
pub(super) fn pieces(message: &[u8], mut send: impl FnMut(Kind)) {
    let mut rest = message;
    if matches!(rest, [CLOCK] | [ACTIVE_SENSING]) {
        return;
    }
    if rest.len() > PIECE && rest.first() == Some(&SYSTEM_EXCLUSIVE) {
        let end = rest.iter().position(|&byte| byte == END_OF_EXCLUSIVE).map_or(rest.len(), |place| place + 1);
        rest = rest.get(end..).unwrap_or_default();
    }
    for piece in rest.chunks(PIECE) {
        let mut bytes = [0; PIECE];
        for (to, from) in bytes.iter_mut().zip(piece) {
            *to = *from;
        }
        send(Kind::Bytes { length: piece.len() as u8, bytes });
    }
}

/// Maps the stamps of one connection, microseconds from an unspecified start, to our clock.
///
/// An arrival is never seen before it happens, so the smallest difference between our time and the stamp is
/// the best guess at the distance of the two zeros. A stamp that would lie more than [`TRUSTED`] in the past is
/// not believed: then our own time counts, as it does where a system gives no stamps (zero). Two clocks drift
/// apart, so the smallest difference is let grow by [`DRIFT`].
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stamps {
    /// Our time minus the stamp, the smallest so far, and when that was.
    distance: Option<(i64, Micros)>,
    /// The last time given: time never runs backward.
    last: i64,
}

/// How old an arrival may be when we first see it: a second.
const TRUSTED: i64 = 1_000_000;
/// One part in 20,000: what cheap quartz clocks differ by (from memory: some 50 ppm).
const DRIFT: i64 = 20_000;

impl Stamps {
    /// Our time of a stamp that is seen `now`.
    pub(super) fn time(&mut self, stamp: u64, now: Micros) -> Micros {
        let mut late = 0;
        if let Ok(stamp @ 1..) = i64::try_from(stamp) {
            let distance = now.0 - stamp;
            let grown = self.distance.map_or(distance, |(smallest, then)| smallest + (now.0 - then.0) / DRIFT);
            late = distance - grown.min(distance);
            if late > TRUSTED {
                late = 0;
            }
            self.distance = Some((distance - late, now));
        }
        self.last = (now.0 - late).max(self.last);
        Micros(self.last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(message: &[u8]) -> Vec<Vec<u8>> {
        let mut all = Vec::new();
        pieces(message, |kind| {
            if let Kind::Bytes { length, bytes } = kind {
                all.push(bytes[..length as usize].to_vec());
            }
        });
        all
    }

    #[test]
    fn notes_behind_a_long_exclusive_message_are_kept() {
        let mut message = vec![0xF0];
        message.extend([0x11; 40]);
        message.extend([0xF7, 0x90, 60, 100]);
        assert_eq!(cut(&message), [vec![0x90, 60, 100]]);
    }

    #[test]
    fn long_packets_arrive_whole() {
        let message: Vec<u8> = (0..10u8).flat_map(|note| [0x90, 60 + note, 100]).collect();
        assert_eq!(cut(&message).concat(), message);
        assert!(cut(&message).len() > 1);
    }

    #[test]
    fn clock_and_active_sensing_are_left_out() {
        assert!(cut(&[0xF8]).is_empty() && cut(&[0xFE]).is_empty());
        assert_eq!(cut(&[0xFF]).len(), 1, "a reset is told");
    }

    // Hand calculation: zeros 1,000,000 µs apart; the second arrival is seen 300 µs late, the first 500 µs.
    #[test]
    fn stamps_are_believed_but_never_the_future() {
        let mut stamps = Stamps::default();
        assert_eq!(stamps.time(1_000, Micros(1_001_500)), Micros(1_001_500));
        assert_eq!(stamps.time(11_000, Micros(1_011_300)), Micros(1_011_300), "less delay: a better guess");
        assert_eq!(stamps.time(21_000, Micros(1_029_300)), Micros(1_021_300), "seen 8 ms late");
    }

    #[test]
    fn a_stamp_that_jumps_back_is_replaced_by_our_own_time() {
        let mut stamps = Stamps::default();
        assert_eq!(stamps.time(10_000_000, Micros(20_000_000)), Micros(20_000_000));
        assert_eq!(stamps.time(500_000, Micros(21_000_000)), Micros(21_000_000));
        assert_eq!(stamps.time(600_000, Micros(21_100_000)), Micros(21_100_000), "and goes on from there");
    }
}
