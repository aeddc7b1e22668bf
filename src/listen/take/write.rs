//! Takes as Standard MIDI Files of format 0.
//!
//! In: all that arrived on one player's port. Out: the bytes of a file that [`super::read_take`] reads back to the
//! same microsecond, if the times were snapped to its [`Clock`].

use super::{CONNECTED, Clock, DISCONNECTED, Input, Micros, START_MARKER, Timed, What, delay};
use crate::exercise::TempoMap;
use crate::listen::splitter::Splitter;
use midly::live::LiveEvent;
use midly::num::{u15, u24, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEvent, TrackEventKind};
use std::borrow::Borrow;
use std::ops::Range;

/// The longest pause between two events of a MIDI file (28 bits); a longer one is cut by empty texts.
const LONGEST_PAUSE: u64 = 0x0FFF_FFFF;
const ACTIVE_SENSING: u8 = 0xFE;
const RESET: u8 = 0xFF;

/// Something to write, at its tick.
enum Item {
    /// A whole message as it came: where it stands among the bytes of all.
    Message(Range<usize>),
    Meta(MetaMessage<'static>),
    Text(String),
}

/// A take as a file: with a click its tempo map and the marker `exercise-start` at score time zero, and the delay of the
/// controller with it where it was measured; then all that arrived, message by message.
///
/// Real-time bytes are kept as escapes as far as notes depend on them: resets always, others once active sensing was
/// seen. Clock bytes without active sensing, system common messages and what never became a whole message
/// are left out. A pulled cable is a text event. All of `record` counts as one port.
pub fn write_take(
    record: impl IntoIterator<Item = impl Borrow<Timed<Input>>>,
    click: Option<(Micros, &TempoMap)>,
    delay: Option<Micros>,
    end: Micros,
) -> Vec<u8> {
    let clock = Clock::new(click);
    let mut items: Vec<(u64, Item)> = Vec::new();
    for &(tick, tempo) in &clock.tempos {
        items.push((tick, Item::Meta(MetaMessage::Tempo(u24::new(tempo)))));
    }
    items.extend(delay.filter(|_| click.is_some()).map(|delay| (0, Item::Text(delay::text(delay)))));
    if let Some(tick) = clock.marker {
        items.push((tick, Item::Meta(MetaMessage::Marker(START_MARKER.as_bytes()))));
    }
    let mut messages = Vec::new();
    let last = arrivals(record, &clock, &mut items, &mut messages);
    // Stable: what came in one tick keeps its order.
    items.sort_by_key(|&(tick, _)| tick);
    let end = clock.tick(end).max(last).max(items.last().map_or(0, |&(tick, _)| tick));
    file(&clock, &items, &messages, end)
}

/// Adds what arrived, its bytes to `messages`; returns its last tick.
fn arrivals(
    record: impl IntoIterator<Item = impl Borrow<Timed<Input>>>,
    clock: &Clock,
    items: &mut Vec<(u64, Item)>,
    messages: &mut Vec<u8>,
) -> u64 {
    let mut splitter = Splitter::default();
    let mut has_sensing = false;
    let mut tick = 0;
    for input in record {
        let input: &Timed<Input> = input.borrow();
        tick = clock.tick(input.at).max(tick);
        let text = |text: &'static str| Item::Meta(MetaMessage::Text(text.as_bytes()));
        match &input.what.what {
            What::Bytes(bytes) => splitter.push(bytes, |message| {
                has_sensing |= message == [ACTIVE_SENSING];
                let is_kept = match message {
                    [RESET] => true,
                    [0xF8..=0xFF] => has_sensing,
                    [status, ..] => *status <= 0xF0,
                    [] => false,
                };
                if is_kept {
                    let start = messages.len();
                    messages.extend_from_slice(message);
                    items.push((tick, Item::Message(start..messages.len())));
                }
            }),
            What::Disconnect => items.push((tick, text(DISCONNECTED))),
            What::Connect => items.push((tick, text(CONNECTED))),
        }
        if !matches!(input.what.what, What::Bytes(_)) {
            splitter.forget();
        }
    }
    tick
}

fn file(clock: &Clock, items: &[(u64, Item)], messages: &[u8], end: u64) -> Vec<u8> {
    let mut track = Track { events: Vec::with_capacity(items.len() + 1), now: 0 };
    for (tick, item) in items {
        let kind = match item {
            Item::Meta(meta) => Some(TrackEventKind::Meta(*meta)),
            Item::Text(text) => Some(TrackEventKind::Meta(MetaMessage::Text(text.as_bytes()))),
            Item::Message(place) => messages.get(place.clone()).and_then(kind),
        };
        if let Some(kind) = kind {
            track.push(*tick, kind);
        }
    }
    track.push(end, TrackEventKind::Meta(MetaMessage::EndOfTrack));
    let timing = Timing::Metrical(u15::new(clock.division));
    let smf = Smf { header: Header { format: Format::SingleTrack, timing }, tracks: vec![track.events] };
    let mut bytes = Vec::new();
    // Writing to memory cannot fail; a track of four gigabytes, which could, does not fit the queue before.
    let _ = smf.write(&mut bytes);
    bytes
}

struct Track<'a> {
    events: Vec<TrackEvent<'a>>,
    now: u64,
}

impl<'a> Track<'a> {
    fn push(&mut self, tick: u64, kind: TrackEventKind<'a>) {
        while tick - self.now > LONGEST_PAUSE {
            let kind = TrackEventKind::Meta(MetaMessage::Text(b""));
            self.events.push(TrackEvent { delta: u28::max_value(), kind });
            self.now += LONGEST_PAUSE;
        }
        // Within 28 bits, as seen above.
        self.events.push(TrackEvent { delta: u28::new((tick - self.now) as u32), kind });
        self.now = tick;
    }
}

/// A whole message as an event of a file.
fn kind(message: &[u8]) -> Option<TrackEventKind<'_>> {
    match message {
        [0xF0, data @ ..] => Some(TrackEventKind::SysEx(data)),
        [0xF8..=0xFF, ..] => Some(TrackEventKind::Escape(message)),
        _ => match LiveEvent::parse(message) {
            Ok(LiveEvent::Midi { channel, message }) => Some(TrackEventKind::Midi { channel, message }),
            _ => None,
        },
    }
}
