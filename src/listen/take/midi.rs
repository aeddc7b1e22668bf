//! Takes in Standard MIDI Files: any division, the tempo map exact, formats 0 and 1.
//!
//! In: the bytes of a file. Out: a [`Take`]; each track is a port of its own (of very many tracks the last share one).

use super::clock::click_from;
use super::{CONNECTED, DISCONNECTED, Input, MOST_PORTS, Micros, START_MARKER, Take, TakeProblem, Timed, What, delay};
use crate::exercise::TempoMap;
use crate::smf::{Clock, Event, File, Message};

/// Kinds of meta events (SMF 1.0 specification, "Meta-Events").
const TEXT: u8 = 0x01;
const MARKER: u8 = 0x06;

pub(super) fn read(bytes: &[u8]) -> Result<Take, TakeProblem> {
    let file = File::parse(bytes)?;
    let clock = Clock::new(&file);
    let mut arrivals: Vec<(u64, Input)> = Vec::new();
    let mut marker = None;
    let mut kept = None;
    let mut notices = file.notices;
    for (number, track) in file.tracks.into_iter().enumerate() {
        let port = number.min(MOST_PORTS - 1) as u32;
        for Event { tick, message } in track {
            if is_start(&message) && marker.is_none_or(|first| tick < first) {
                marker = Some(tick);
            }
            if let Message::Meta { kind: TEXT, data } = &message {
                match delay::parse(data) {
                    Some(Ok(delay)) => kept = kept.or(Some(delay)),
                    Some(Err(notice)) => notices.push(notice),
                    None => {}
                }
            }
            arrivals.extend(arrival(&message).map(|what| (tick, Input { port, what })));
        }
    }
    // Stable: within a track, and from track to track, events of one tick keep their order.
    arrivals.sort_by_key(|&(tick, _)| tick);
    let inputs = arrivals.into_iter().map(|(tick, what)| Timed { at: clock.micros(tick), what }).collect();
    let end = file.ends.iter().max().map_or(Micros(0), |&tick| clock.micros(tick));
    Ok(Take {
        inputs,
        start: marker.map(|tick| clock.micros(tick)),
        tempo: marker.map_or_else(TempoMap::default, |tick| click_from(&clock, tick)),
        delay: kept,
        end,
        resolution: clock.longest_tick(),
        notices,
    })
}

fn is_start(message: &Message) -> bool {
    matches!(message, Message::Meta { kind: MARKER, data } if data.trim_ascii() == START_MARKER.as_bytes())
}

/// What arrived at the port when this was recorded.
fn arrival(message: &Message) -> Option<What> {
    match message {
        Message::Channel { .. } => message.wire().map(What::Bytes),
        Message::Exclusive { is_start: true, data } => Some(What::Bytes([&[0xF0], data.as_slice()].concat())),
        // A further packet, or any bytes at all (SMF 1.0 specification, "Sysex Events": escapes).
        Message::Exclusive { is_start: false, data } => Some(What::Bytes(data.clone())),
        Message::Meta { kind: TEXT, data } if data == DISCONNECTED.as_bytes() => Some(What::Disconnect),
        Message::Meta { kind: TEXT, data } if data == CONNECTED.as_bytes() => Some(What::Connect),
        Message::Meta { .. } => None,
    }
}
