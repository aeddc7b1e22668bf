//! Raw arrivals as bytes: `time (i64), length (u32), bytes`, little-endian; two lengths that no message has stand for a
//! cable pulled and put back. So the book writes them as they come, and a take keeps them while it is played.

use super::{Input, Micros, Timed, What};

const DISCONNECT: u32 = u32::MAX;
const CONNECT: u32 = u32::MAX - 1;
/// Of a take, the file that it becomes must not be larger than is read again: an hour of breath data at 270 messages a second.
const MOST_FILE_BYTES: usize = 7 << 20;

/// All that arrived in a take, some 15 bytes a message.
#[derive(Debug, Clone, Default)]
pub struct Record {
    bytes: Vec<u8>,
    file_bytes: usize,
}

impl Record {
    /// Adds an arrival.
    pub(crate) fn push(&mut self, arrival: &Timed<Input>) {
        self.file_bytes += file_bytes(&arrival.what.what);
        put(&mut self.bytes, arrival);
    }

    /// The arrivals, in order.
    pub fn iter(&self) -> impl Iterator<Item = Timed<Input>> {
        Arrivals(&self.bytes)
    }

    /// Whether it holds as much as a take may; the next arrival would be one too many.
    pub(crate) fn is_full(&self) -> bool {
        self.file_bytes >= MOST_FILE_BYTES
    }
}

/// At most so many bytes of a MIDI file: a message and the pause before it; of several messages under one status each has
/// its own in a file.
fn file_bytes(what: &What) -> usize {
    match what {
        What::Bytes(bytes) if bytes.len() <= 3 => 4 + bytes.len(),
        What::Bytes(bytes) => 4 + 2 * bytes.len(),
        What::Disconnect | What::Connect => 24,
    }
}

/// Arrivals as bytes.
pub(crate) fn encode(arrivals: &[Timed<Input>]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(arrivals.len() * 16);
    arrivals.iter().for_each(|arrival| put(&mut bytes, arrival));
    bytes
}

/// The arrivals of one or more pieces in order; ends where a piece is cut off.
pub(crate) fn decode(bytes: &[u8]) -> Vec<Timed<Input>> {
    Arrivals(bytes).collect()
}

fn put(bytes: &mut Vec<u8>, Timed { at, what }: &Timed<Input>) {
    bytes.extend(at.0.to_le_bytes());
    match &what.what {
        What::Bytes(message) => {
            // A message as long as four gigabytes was refused long before.
            let length = u32::try_from(message.len()).unwrap_or(0);
            bytes.extend(length.to_le_bytes());
            bytes.extend(&message[..length as usize]);
        }
        What::Disconnect => bytes.extend(DISCONNECT.to_le_bytes()),
        What::Connect => bytes.extend(CONNECT.to_le_bytes()),
    }
}

/// What is still to be read.
struct Arrivals<'a>(&'a [u8]);

impl Iterator for Arrivals<'_> {
    type Item = Timed<Input>;

    fn next(&mut self) -> Option<Timed<Input>> {
        let (at, rest) = self.0.split_first_chunk::<8>()?;
        let (length, rest) = rest.split_first_chunk::<4>()?;
        let (what, rest) = match u32::from_le_bytes(*length) {
            DISCONNECT => (What::Disconnect, rest),
            CONNECT => (What::Connect, rest),
            length => {
                let (message, rest) = rest.split_at_checked(length as usize)?;
                (What::Bytes(message.to_vec()), rest)
            }
        };
        self.0 = rest;
        Some(Timed { at: Micros(i64::from_le_bytes(*at)), what: Input { port: 0, what } })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arrival(at: i64, what: What) -> Timed<Input> {
        Timed { at: Micros(at), what: Input { port: 0, what } }
    }

    #[test]
    fn what_is_written_is_read_back_up_to_a_cut() {
        let all = vec![
            arrival(5, What::Bytes(vec![0x90, 60, 64])),
            arrival(6, What::Disconnect),
            arrival(7, What::Connect),
            arrival(8, What::Bytes(vec![0xF0; 300])),
        ];
        let bytes = encode(&all);
        assert_eq!(decode(&bytes), all);
        assert_eq!(decode(&bytes[..bytes.len() - 1]), all[..3]);
        let mut record = Record::default();
        all.iter().for_each(|arrival| record.push(arrival));
        assert_eq!(record.iter().collect::<Vec<_>>(), all);
    }

    /// A record that is full becomes a file that is read again, whatever it is full of: messages as they come, many under
    /// one status, cables.
    #[test]
    fn a_full_record_is_a_file_that_is_read() {
        let running: Vec<u8> = [&[0x90][..], &[60, 0].repeat(50)].concat();
        for what in [What::Bytes(vec![0xB0, 2, 90]), What::Bytes(running), What::Disconnect] {
            let mut record = Record::default();
            let mut now = 0;
            while !record.is_full() {
                record.push(&arrival(now, what.clone()));
                // Pauses of three bytes in the file.
                now += 300_000;
            }
            let file = super::super::write_take(record.iter(), None, None, Micros(now));
            assert!(file.len() > MOST_FILE_BYTES / 2, "{}", file.len());
            assert!(!super::super::read_take(&file).unwrap().inputs.is_empty());
        }
    }
}
