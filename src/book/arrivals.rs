//! Raw arrivals as bytes, written as they come: `time (i64), length (u32), bytes`, little-endian; two lengths that no
//! message has stand for a cable pulled and put back.

use crate::exercise::Micros;
use crate::listen::{Input, Timed, What};

const DISCONNECT: u32 = u32::MAX;
const CONNECT: u32 = u32::MAX - 1;

pub(super) fn encode(arrivals: &[Timed<Input>]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(arrivals.len() * 16);
    for Timed { at, what } in arrivals {
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
    bytes
}

/// The arrivals of one or more pieces in order; ends where a piece is cut off.
pub(super) fn decode(mut bytes: &[u8]) -> Vec<Timed<Input>> {
    let mut arrivals = Vec::new();
    while let Some((arrival, rest)) = first(bytes) {
        arrivals.push(arrival);
        bytes = rest;
    }
    arrivals
}

fn first(bytes: &[u8]) -> Option<(Timed<Input>, &[u8])> {
    let (at, rest) = bytes.split_first_chunk::<8>()?;
    let (length, rest) = rest.split_first_chunk::<4>()?;
    let (what, rest) = match u32::from_le_bytes(*length) {
        DISCONNECT => (What::Disconnect, rest),
        CONNECT => (What::Connect, rest),
        length => {
            let (message, rest) = rest.split_at_checked(length as usize)?;
            (What::Bytes(message.to_vec()), rest)
        }
    };
    Some((Timed { at: Micros(i64::from_le_bytes(*at)), what: Input { port: 0, what } }, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back_up_to_a_cut() {
        let arrival = |at, what| Timed { at: Micros(at), what: Input { port: 0, what } };
        let all = vec![
            arrival(5, What::Bytes(vec![0x90, 60, 64])),
            arrival(6, What::Disconnect),
            arrival(7, What::Connect),
            arrival(8, What::Bytes(vec![0xF0; 300])),
        ];
        let bytes = encode(&all);
        assert_eq!(decode(&bytes), all);
        assert_eq!(decode(&bytes[..bytes.len() - 1]), all[..3]);
    }
}
