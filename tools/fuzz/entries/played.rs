//! What was played: files, streams, and bytes as they come from a port.

use super::marked;
use restward::exercise::Micros;
use restward::listen::take::{Clock, read_take, write_take};
use restward::listen::{Cleaner, Input, NoteEvent, Restrikes, Timed, What, clean_notes};
use std::collections::BTreeMap;

/// A Standard MIDI File as a take.
pub(crate) fn take(bytes: &[u8]) {
    read(&marked(b"MThd", &[b"MThd", b"RIFF"], bytes));
}

/// A timed stream in JSON, or whatever the bytes are.
pub(crate) fn stream(bytes: &[u8]) {
    read(bytes);
}

fn read(bytes: &[u8]) {
    let Ok(take) = read_take(bytes) else { return };
    assert!(take.inputs.windows(2).all(|pair| pair[0].at <= pair[1].at));
    for note in clean_notes(&take.inputs) {
        assert!(note.on <= note.off && note.midi < 128);
    }
    let written = write_take(&take.inputs, take.start.map(|start| (start, &take.tempo)), take.delay, take.end);
    read_take(&written).unwrap();
}

/// Bytes of a port: in pieces or one by one, looked at often or never, the notes are the same; kept as a file they are too.
pub(crate) fn midi(bytes: &[u8]) {
    let clock = Clock::new(None);
    let arrivals = arrivals(bytes, &clock);
    let end = arrivals.last().map_or(Micros(0), |last| last.at);
    let whole = cleaned(&arrivals, Restrikes::Kept, false, end);
    sound(&whole);
    assert_eq!(whole, cleaned(&arrivals, Restrikes::Kept, true, end), "looked at often");
    assert_eq!(whole, cleaned(&one_by_one(&arrivals), Restrikes::Kept, false, end), "byte by byte");
    sound(&cleaned(&arrivals, Restrikes::Merged, true, end));
    // Bytes that become no message, and system common messages, are not in a file; with active sensing they are signs of life.
    if bytes.contains(&0xFE) {
        return;
    }
    // A take is what one port heard.
    let one: Vec<Timed<Input>> = arrivals.into_iter().filter(|arrival| arrival.what.port == 0).collect();
    let file = read_take(&write_take(&one, None, None, end)).unwrap();
    assert_eq!(file.end, end);
    let heard = cleaned(&one, Restrikes::Kept, false, end);
    assert_eq!(cleaned(&file.inputs, Restrikes::Kept, false, end), heard, "as a file");
}

/// Arrivals of some hundred milliseconds: a pause, a head that says how many bytes on which port, the bytes.
pub(crate) fn arrivals(mut bytes: &[u8], clock: &Clock) -> Vec<Timed<Input>> {
    let mut arrivals = Vec::new();
    let mut now = 0;
    while let [pause, head, rest @ ..] = bytes {
        // From nothing to a second, most of them short.
        now += i64::from(*pause).pow(2) * 16;
        let (port, what, rest) = match head >> 5 {
            6 => (0, What::Disconnect, rest),
            7 => (0, What::Connect, rest),
            kind => {
                let (message, rest) = rest.split_at(rest.len().min(usize::from(head & 0x1F)));
                (u32::from(kind & 1), What::Bytes(message.to_vec()), rest)
            }
        };
        arrivals.push(Timed { at: clock.snap(Micros(now)), what: Input { port, what } });
        bytes = rest;
    }
    arrivals
}

/// The same with every byte on its own.
pub(crate) fn one_by_one(arrivals: &[Timed<Input>]) -> Vec<Timed<Input>> {
    let mut cut = Vec::new();
    for Timed { at, what: Input { port, what } } in arrivals {
        let single = |what| Timed { at: *at, what: Input { port: *port, what } };
        match what {
            What::Bytes(bytes) => cut.extend(bytes.iter().map(|&byte| single(What::Bytes(vec![byte])))),
            other => cut.push(single(other.clone())),
        }
    }
    cut
}

fn cleaned(arrivals: &[Timed<Input>], restrikes: Restrikes, often: bool, end: Micros) -> Vec<NoteEvent> {
    let mut cleaner = Cleaner::new(restrikes);
    let mut events = Vec::new();
    let mut now = Micros(0);
    for arrival in arrivals {
        let step = Micros(1 + (arrival.at - now).0 / 48);
        while often && now + step < arrival.at {
            now = now + step;
            cleaner.advance(now, &mut events);
        }
        cleaner.push(arrival, &mut events);
        now = arrival.at;
    }
    cleaner.finish(end, &mut events);
    events
}

/// Every note begins once and ends once, not before it began.
fn sound(events: &[NoteEvent]) {
    let mut sounding = BTreeMap::new();
    for event in events {
        match *event {
            NoteEvent::On { id, at, midi, velocity } => {
                assert!(midi < 128 && (1..128).contains(&velocity));
                assert_eq!(sounding.insert(id, at), None);
            }
            NoteEvent::Off { id, at, .. } => assert!(sounding.remove(&id).is_some_and(|on| on <= at)),
        }
    }
    assert!(sounding.is_empty(), "never ended: {sounding:?}");
}
