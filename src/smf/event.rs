//! The events of one track.

use super::SmfError;

/// Something at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Event {
    /// Ticks from the start of the file.
    pub(crate) tick: u64,
    /// What happens.
    pub(crate) message: Message,
}

/// What a track can hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Message {
    /// A channel message, whole: status 0x80..=0xEF and its one or two data bytes.
    Channel {
        /// With the channel in its lower half.
        status: u8,
        /// The second is 0 for messages of one data byte.
        data: [u8; 2],
    },
    /// A system exclusive message or a packet of one, without its F0 or F7; `is_start` for F0.
    Exclusive {
        /// F0, not F7.
        is_start: bool,
        /// What follows, usually up to an F7.
        data: Vec<u8>,
    },
    /// A meta event; its length need not be what its kind demands.
    Meta {
        /// 0x51 is a tempo, 0x58 a time signature, 0x59 a key signature, 0x06 a marker.
        kind: u8,
        /// As in the file.
        data: Vec<u8>,
    },
}

impl Message {
    /// A channel message as bytes on the wire.
    pub(crate) fn wire(&self) -> Option<Vec<u8>> {
        match self {
            Message::Channel { status, data } => Some([&[*status], &data[..data_bytes(*status)]].concat()),
            _ => None,
        }
    }
}

/// How many data bytes a channel message has: program change (C) and channel pressure (D) one, the others two.
fn data_bytes(status: u8) -> usize {
    if matches!(status & 0xF0, 0xC0 | 0xD0) { 1 } else { 2 }
}

/// A track as far as it was read.
pub(super) struct Track {
    pub(super) events: Vec<Event>,
    /// The tick of its end: its end-of-track event, else its last event.
    pub(super) end: u64,
    pub(super) has_end: bool,
}

/// Latest tick; keeps every sum of times within 64 bits.
const LAST_TICK: u64 = 1 << 38;

/// Reads the events of a chunk that stands at `start` of the file, at most so many.
///
/// Running status goes on across meta and system exclusive events: the specification ends it there, but
/// many writers go on, and a data byte cannot mean anything else.
pub(super) fn track(chunk: &[u8], start: usize, most: usize) -> Result<Track, SmfError> {
    let mut bytes = Bytes { chunk, at: 0, start };
    let mut track = Track { events: Vec::new(), end: 0, has_end: false };
    let mut running = None;
    while !bytes.is_at_end() {
        track.end += u64::from(bytes.variable_length("a pause")?);
        if track.end > LAST_TICK {
            return Err(SmfError::TooLong { byte: bytes.place() });
        }
        let byte = bytes.place();
        let first = bytes.next("an event")?;
        let message = match first {
            0xFF => {
                let kind = bytes.next("a meta event")?;
                let length = bytes.variable_length("a meta event")?;
                let data = bytes.take(length, "a meta event")?.to_vec();
                if kind == 0x2F {
                    track.has_end = true;
                    return Ok(track);
                }
                Message::Meta { kind, data }
            }
            0xF0 | 0xF7 => {
                let length = bytes.variable_length("a system exclusive message")?;
                let data = bytes.take(length, "a system exclusive message")?.to_vec();
                Message::Exclusive { is_start: first == 0xF0, data }
            }
            0xF1..=0xFE => return Err(SmfError::Damaged { byte, what: "a message that no MIDI file may hold" }),
            0x80..=0xEF => {
                running = Some(first);
                channel(&mut bytes, first, None)?
            }
            data => {
                let what = "a data byte without a status before it";
                channel(&mut bytes, running.ok_or(SmfError::Damaged { byte, what })?, Some(data))?
            }
        };
        if track.events.len() == most {
            return Err(SmfError::TooManyEvents { byte });
        }
        track.events.push(Event { tick: track.end, message });
    }
    Ok(track)
}

fn channel(bytes: &mut Bytes<'_>, status: u8, first: Option<u8>) -> Result<Message, SmfError> {
    let mut data = [0; 2];
    for (index, slot) in data.iter_mut().take(data_bytes(status)).enumerate() {
        let byte = bytes.place();
        *slot = match first.filter(|_| index == 0) {
            Some(first) => first,
            None => bytes.next("a channel message")?,
        };
        if *slot > 0x7F {
            return Err(SmfError::Damaged { byte, what: "a status byte inside a channel message" });
        }
    }
    Ok(Message::Channel { status, data })
}

/// A chunk being read.
struct Bytes<'a> {
    chunk: &'a [u8],
    at: usize,
    start: usize,
}

impl<'a> Bytes<'a> {
    fn is_at_end(&self) -> bool {
        self.at >= self.chunk.len()
    }

    fn place(&self) -> usize {
        self.start + self.at
    }

    fn next(&mut self, what: &'static str) -> Result<u8, SmfError> {
        let byte = self.chunk.get(self.at).copied().ok_or(SmfError::CutOff { byte: self.place(), what })?;
        self.at += 1;
        Ok(byte)
    }

    fn take(&mut self, length: u32, what: &'static str) -> Result<&'a [u8], SmfError> {
        let end = self.at.saturating_add(length as usize);
        let cut_off = SmfError::CutOff { byte: self.start + self.chunk.len(), what };
        let taken = self.chunk.get(self.at..end).ok_or(cut_off)?;
        self.at = end;
        Ok(taken)
    }

    /// Seven bits a byte, at most four bytes (specification, "Variable-length quantities").
    fn variable_length(&mut self, what: &'static str) -> Result<u32, SmfError> {
        let byte = self.place();
        let mut value = 0;
        for _ in 0..4 {
            let next = self.next(what)?;
            value = value << 7 | u32::from(next & 0x7F);
            if next < 0x80 {
                return Ok(value);
            }
        }
        Err(SmfError::Damaged { byte, what: "a number of more than four bytes" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of variable-length quantities in the SMF 1.0 specification.
    #[test]
    fn variable_length_quantities_of_the_specification() {
        for (bytes, value) in [
            (&[0x00][..], 0x00),
            (&[0x40], 0x40),
            (&[0x7F], 0x7F),
            (&[0x81, 0x00], 0x80),
            (&[0xC0, 0x00], 0x2000),
            (&[0xFF, 0x7F], 0x3FFF),
            (&[0x81, 0x80, 0x00], 0x4000),
            (&[0xC0, 0x80, 0x00], 0x10_0000),
            (&[0xFF, 0xFF, 0x7F], 0x1F_FFFF),
            (&[0x81, 0x80, 0x80, 0x00], 0x20_0000),
            (&[0xC0, 0x80, 0x80, 0x00], 0x800_0000),
            (&[0xFF, 0xFF, 0xFF, 0x7F], 0xFFF_FFFF),
        ] {
            let mut reader = Bytes { chunk: bytes, at: 0, start: 0 };
            assert_eq!(reader.variable_length("a test"), Ok(value));
        }
    }

    #[test]
    fn running_status_goes_on_across_other_events() {
        let bytes = [0, 0x90, 60, 80, 10, 0xFF, 1, 1, b'x', 0, 60, 0, 0, 0xF0, 1, 0xF7, 0, 62, 80, 0, 0xFF, 0x2F, 0];
        let track = track(&bytes, 0, 5).unwrap();
        let wires: Vec<_> = track.events.iter().filter_map(|event| event.message.wire()).collect();
        assert_eq!(wires, [[0x90, 60, 80], [0x90, 60, 0], [0x90, 62, 80]]);
        assert!(track.has_end && track.end == 10);
    }
}
