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

/// Cuts what the system delivers on one connection into pieces. Clock and active sensing alone in a packet are left
/// out (they run all day and no note depends on them), and so is a system exclusive message that is longer than a piece or
/// comes in several packets, however long it is.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Cutter {
    /// Inside a system exclusive message whose end is still to come.
    is_exclusive: bool,
}

impl Cutter {
    /// Hands each piece of a packet to `send`.
    pub(super) fn pieces(&mut self, message: &[u8], mut send: impl FnMut(Kind)) {
        if matches!(message, [CLOCK] | [ACTIVE_SENSING]) {
            return;
        }
        let mut rest = message;
        while let Some(&first) = rest.first() {
            let length = if self.is_exclusive || first == SYSTEM_EXCLUSIVE {
                self.exclusive(rest, &mut send)
            } else {
                let length = rest.iter().position(|&byte| byte == SYSTEM_EXCLUSIVE).unwrap_or(rest.len());
                rest.get(..length).unwrap_or_default().chunks(PIECE).for_each(|piece| send(bytes(piece)));
                length
            };
            rest = rest.get(length..).unwrap_or_default();
        }
    }

    /// A system exclusive message, or what goes on of one; how many bytes belong to it.
    fn exclusive(&mut self, rest: &[u8], send: &mut impl FnMut(Kind)) -> usize {
        let begins_here = !std::mem::replace(&mut self.is_exclusive, false);
        let begun = usize::from(begins_here);
        let Some(end) = rest.iter().skip(begun).position(|&byte| ends_exclusive(byte)).map(|place| begun + place)
        else {
            self.is_exclusive = true;
            return rest.len();
        };
        let length = end + usize::from(rest.get(end) == Some(&END_OF_EXCLUSIVE));
        if let Some(whole) = rest.get(..length).filter(|whole| begins_here && whole.len() <= PIECE) {
            send(bytes(whole));
        }
        length
    }
}

/// MIDI 1.0 Detailed Specification, "System Exclusive": any status ends it but real-time, of which a reset does.
fn ends_exclusive(byte: u8) -> bool {
    matches!(byte, 0x80..CLOCK | 0xFF)
}

/// A piece; of more bytes the first.
fn bytes(piece: &[u8]) -> Kind {
    let mut bytes = [0; PIECE];
    for (to, from) in bytes.iter_mut().zip(piece) {
        *to = *from;
    }
    Kind::Bytes { length: piece.len().min(PIECE) as u8, bytes }
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

    fn cut_all(packets: &[&[u8]]) -> Vec<Vec<u8>> {
        let mut all = Vec::new();
        let mut cutter = Cutter::default();
        for packet in packets {
            cutter.pieces(packet, |kind| {
                if let Kind::Bytes { length, bytes } = kind {
                    all.push(bytes[..length as usize].to_vec());
                }
            });
        }
        all
    }

    fn cut(message: &[u8]) -> Vec<Vec<u8>> {
        cut_all(&[message])
    }

    #[test]
    fn notes_around_a_long_exclusive_message_are_kept() {
        let mut message = vec![0x80, 60, 64, 0xF0];
        message.extend([0x11; 40]);
        message.extend([0xF7, 0x90, 60, 100]);
        assert_eq!(cut(&message), [[0x80, 60, 64], [0x90, 60, 100]]);
        assert_eq!(cut(&message[3..]), [[0x90, 60, 100]]);
    }

    /// What goes on of it in the next packet must not be taken for data of the note before, nor fill the queue.
    #[test]
    fn a_megabyte_of_exclusive_in_packets_is_no_note() {
        let (begin, middle) = ([&[0xF0][..], &[0x11; 299]].concat(), [0x42; 256]);
        let end = [0x42, 0xF8, 0x42, 0xF7, 0x90, 62, 100];
        let mut packets: Vec<&[u8]> = vec![&[0x90, 60, 100], &begin];
        packets.extend(std::iter::repeat_n(&middle[..], 4096));
        packets.push(&end);
        assert_eq!(cut_all(&packets), [[0x90, 60, 100], [0x90, 62, 100]]);
        // Any status ends one that never ends itself.
        assert_eq!(cut_all(&[&begin, &middle, &[0x80, 60, 64]]), [[0x80, 60, 64]]);
        assert_eq!(cut_all(&[&begin, &middle, &[0xFF]]), [[0xFF]]);
    }

    #[test]
    fn a_short_exclusive_message_is_kept_whole() {
        let message = [0xF0, 0x7E, 0x7F, 9, 1, 0xF7];
        assert_eq!(cut(&message), [message]);
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
