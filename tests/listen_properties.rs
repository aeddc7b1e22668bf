//! What holds for every stream of bytes, whatever they are.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use proptest::prelude::*;
use restward::exercise::{Micros, Quarters, TempoMap};
use restward::listen::take::{Clock, read_take, write_take};
use restward::listen::{Cleaner, Input, NoteEvent, Restrikes, Timed, What, clean_notes};
use std::collections::BTreeMap;

fn at(micros: i64, port: u32, what: What) -> Timed<Input> {
    Timed { at: Micros(micros), what: Input { port, what } }
}

/// All events of a stream that ends 10 ms after its last arrival.
fn events(restrikes: Restrikes, inputs: &[Timed<Input>]) -> Vec<NoteEvent> {
    events_until(restrikes, inputs, end(inputs))
}

fn events_until(restrikes: Restrikes, inputs: &[Timed<Input>], end: Micros) -> Vec<NoteEvent> {
    let mut cleaner = Cleaner::new(restrikes);
    let mut events = Vec::new();
    inputs.iter().for_each(|input| cleaner.push(input, &mut events));
    cleaner.finish(end, &mut events);
    events
}

fn end(inputs: &[Timed<Input>]) -> Micros {
    inputs.last().map_or(Micros(0), |last| last.at + Micros(10_000))
}

const BOTH: [Restrikes; 2] = [Restrikes::Merged, Restrikes::Kept];

/// Bytes that make notes, and everything that disturbs them, more often than chance would.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    let pitch = 60u8..64;
    let message = prop_oneof![
        12 => (pitch.clone(), 0u8..2).prop_map(|(pitch, on)| vec![0x90, pitch, on * 80]),
        8 => pitch.clone().prop_map(|pitch| vec![0x80, pitch, 64]),
        2 => (pitch, 0u8..2).prop_map(|(pitch, on)| vec![pitch, on * 80]),
        2 => (0u8..3).prop_map(|channel| vec![0x90 | channel, 61, 80]),
        1 => (120u8..128).prop_map(|mode| vec![0xB0, mode, 0]),
        1 => Just(vec![0xFE]),
        1 => Just(vec![0xFF]),
        1 => Just(vec![0xF8]),
        1 => prop::collection::vec(0u8..128, 0..4).prop_map(|data| [&[0xF0], data.as_slice(), &[0xF7]].concat()),
        2 => prop::collection::vec(any::<u8>(), 0..4),
    ];
    prop::collection::vec(message, 1..3).prop_map(|messages| messages.concat())
}

/// Streams with pauses around all limits: 0 to 70 ms, now and then up to 0.4 s.
fn stream(ports: u32) -> impl Strategy<Value = Vec<Timed<Input>>> {
    let pause = prop_oneof![6 => 0i64..70, 1 => 300i64..400].prop_map(|ms| ms * 1000);
    let what = prop_oneof![
        30 => bytes().prop_map(What::Bytes),
        1 => Just(What::Disconnect),
        1 => Just(What::Connect),
    ];
    prop::collection::vec((pause, 0..ports, what), 0..60).prop_map(|entries| {
        let mut now = 0;
        let mut inputs = Vec::new();
        for (pause, port, what) in entries {
            now += pause;
            inputs.push(at(now, port, what));
        }
        inputs
    })
}

/// Each note-on has one note-off, not before it; identifiers count up from 0.
fn check_pairs(events: &[NoteEvent]) -> Result<(), TestCaseError> {
    let mut sounding = BTreeMap::new();
    let mut next = 0;
    for event in events {
        match *event {
            NoteEvent::On { id, at, velocity, .. } => {
                prop_assert_eq!(id, next);
                prop_assert!(velocity > 0);
                next += 1;
                sounding.insert(id, at);
            }
            NoteEvent::Off { id, at, .. } => {
                let on = sounding.remove(&id);
                prop_assert!(on.is_some_and(|on| on <= at), "{id}: {on:?} to {at:?}");
            }
        }
    }
    prop_assert!(sounding.is_empty(), "never ended: {sounding:?}");
    Ok(())
}

/// Failures are shown in full; no file is kept beside the tests.
fn config(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config(400))]

    #[test]
    fn every_note_on_has_one_note_off(inputs in stream(3)) {
        for restrikes in BOTH {
            check_pairs(&events(restrikes, &inputs))?;
        }
    }

    #[test]
    fn notes_of_one_pitch_never_overlap(inputs in stream(1)) {
        // One channel only: those of the others are left out.
        let inputs: Vec<_> = inputs.into_iter().filter(|input| match &input.what.what {
            What::Bytes(bytes) => bytes.iter().all(|byte| !(0x81..0x90).contains(byte) && !(0x91..0xA0).contains(byte)),
            _ => true,
        }).collect();
        for restrikes in BOTH {
            let mut pitches: BTreeMap<u8, u32> = BTreeMap::new();
            let mut last_off: BTreeMap<u8, Micros> = BTreeMap::new();
            for event in events(restrikes, &inputs) {
                match event {
                    NoteEvent::On { id, midi, at, .. } => {
                        prop_assert!(pitches.insert(midi, id).is_none(), "{midi} begins twice");
                        prop_assert!(last_off.get(&midi).is_none_or(|&off| off <= at), "{midi} begins before it has ended");
                    }
                    NoteEvent::Off { id, at, .. } => {
                        let midi = pitches.iter().find(|&(_, &sounding)| sounding == id).map(|(&midi, _)| midi).unwrap();
                        pitches.remove(&midi);
                        last_off.insert(midi, at);
                    }
                }
            }
        }
    }

    #[test]
    fn any_bytes_at_any_time(entries in prop::collection::vec((any::<i32>(), any::<u32>(), prop::collection::vec(any::<u8>(), 0..40)), 0..40)) {
        let inputs: Vec<_> = entries.into_iter().map(|(time, port, bytes)| at(time.into(), port, What::Bytes(bytes))).collect();
        for restrikes in BOTH {
            check_pairs(&events(restrikes, &inputs))?;
        }
        clean_notes(&inputs);
    }

    #[test]
    fn events_do_not_depend_on_how_often_time_is_told(inputs in stream(2), step in 1i64..40_000) {
        for restrikes in BOTH {
            let whole = events(restrikes, &inputs);
            let mut cleaner = Cleaner::new(restrikes);
            let mut stepped = Vec::new();
            let mut now = Micros(0);
            for input in &inputs {
                while now < input.at {
                    cleaner.advance(now, &mut stepped);
                    now = now + Micros(step);
                }
                cleaner.push(input, &mut stepped);
            }
            while now < end(&inputs) {
                cleaner.advance(now, &mut stepped);
                now = now + Micros(step);
            }
            cleaner.finish(end(&inputs), &mut stepped);
            prop_assert_eq!(&whole, &stepped);
        }
    }

    /// A decision that time brings is told exactly at the deadline that was announced, not before.
    #[test]
    fn deadlines_are_announced(inputs in stream(2)) {
        for restrikes in BOTH {
            let mut cleaner = Cleaner::new(restrikes);
            let mut told = Vec::new();
            for input in &inputs {
                while let Some(due) = cleaner.next_deadline().filter(|&due| due <= input.at) {
                    let before = told.len();
                    cleaner.advance(due - Micros(1), &mut told);
                    prop_assert_eq!(told.len(), before);
                    cleaner.advance(due, &mut told);
                    prop_assert!(cleaner.next_deadline().is_none_or(|next| next > due));
                }
                cleaner.push(input, &mut told);
            }
            cleaner.finish(end(&inputs), &mut told);
            prop_assert_eq!(&told, &events(restrikes, &inputs));
        }
    }

    #[test]
    fn pieces_of_a_packet_are_the_packet(inputs in stream(1), cut in 1usize..4) {
        let mut pieces = Vec::new();
        for input in &inputs {
            match &input.what.what {
                What::Bytes(bytes) => pieces.extend(bytes.chunks(cut).map(|piece| at(input.at.0, 0, What::Bytes(piece.to_vec())))),
                what => pieces.push(at(input.at.0, 0, what.clone())),
            }
        }
        for restrikes in BOTH {
            prop_assert_eq!(events(restrikes, &inputs), events_until(restrikes, &pieces, end(&inputs)));
        }
    }

    #[test]
    fn ports_are_independent(inputs in stream(2)) {
        // Port 1 plays two octaves higher, to tell its notes.
        let inputs: Vec<_> = inputs.into_iter().map(|mut input| {
            if let (1, What::Bytes(bytes)) = (input.what.port, &mut input.what.what) {
                bytes.iter_mut().filter(|byte| (60..64).contains(*byte)).for_each(|byte| *byte += 24);
            }
            input
        }).collect();
        for restrikes in BOTH {
            let alone = |port: u32| {
                let mut cleaner = Cleaner::new(restrikes);
                let mut events = Vec::new();
                inputs.iter().filter(|input| input.what.port == port).for_each(|input| cleaner.push(input, &mut events));
                cleaner.finish(end(&inputs), &mut events);
                notes(&events)
            };
            let mut apart = [alone(0), alone(1)].concat();
            apart.sort();
            let mut together = notes(&events(restrikes, &inputs));
            together.sort();
            prop_assert_eq!(together, apart);
        }
    }

    #[test]
    fn a_flood_of_controllers_changes_nothing(inputs in stream(1)) {
        // Whole messages only: a flood cannot come between the bytes of another message.
        let messages: Vec<_> = inputs.iter().filter(|input| match &input.what.what {
            What::Bytes(bytes) => matches!(bytes.as_slice(), [0x80..=0x9F, ..=0x7F, ..=0x7F]),
            _ => false,
        }).cloned().collect();
        let mut flooded = Vec::new();
        for input in &messages {
            for message in [vec![0xB0, 2, 64], vec![0xE0, 0, 64], vec![0xD0, 3], vec![0xA0, 60, 1]] {
                flooded.push(at(input.at.0, 0, What::Bytes(message)));
            }
            flooded.push(input.clone());
        }
        for restrikes in BOTH {
            prop_assert_eq!(events(restrikes, &messages), events(restrikes, &flooded));
        }
    }

    #[test]
    fn any_file_is_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = read_take(&bytes);
        let _ = read_take(&[b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\0\x40".as_slice(), &bytes].concat());
    }

    #[test]
    fn any_text_is_read_or_refused(text in "[\\[\\]{},.:\"a-z0-9 -]{0,80}") {
        let _ = read_take(text.as_bytes());
    }
}

/// (pitch, velocity, on, off) of each note.
fn notes(events: &[NoteEvent]) -> Vec<(u8, u8, Micros, Micros)> {
    let off = |note| {
        let end = events.iter().find_map(|event| match event {
            NoteEvent::Off { id, at, .. } if *id == note => Some(*at),
            _ => None,
        });
        end.unwrap()
    };
    let note = |event: &NoteEvent| match *event {
        NoteEvent::On { id, at, midi, velocity } => Some((midi, velocity, at, off(id))),
        NoteEvent::Off { .. } => None,
    };
    events.iter().filter_map(note).collect()
}

/// Clicks of 30 to 300 quarters a minute that change up to three times.
fn click() -> impl Strategy<Value = Option<(Micros, TempoMap)>> {
    let tempo = (0i64..40, 1i64..25, 30.0f64..300.0);
    prop::option::of((0i64..8_000_000, prop::collection::vec(tempo, 1..4))).prop_map(|click| {
        click.map(|(start, tempos)| {
            let steps =
                tempos.iter().map(|&(top, bottom, qpm)| (Quarters::new(top, bottom), 60_000_000.0 / qpm)).collect();
            (Micros(start), TempoMap::new(steps))
        })
    })
}

/// Whole messages, as a controller sends them.
fn messages() -> impl Strategy<Value = Vec<Timed<Input>>> {
    let message = prop_oneof![
        (0x80u8..0xC0, 0u8..128, 0u8..128).prop_map(|(status, a, b)| What::Bytes(vec![status, a, b])),
        (0xC0u8..0xE0, 0u8..128).prop_map(|(status, a)| What::Bytes(vec![status, a])),
        (0xE0u8..0xF0, 0u8..128, 0u8..128).prop_map(|(status, a, b)| What::Bytes(vec![status, a, b])),
        prop::collection::vec(0u8..128, 0..9)
            .prop_map(|data| What::Bytes([&[0xF0], data.as_slice(), &[0xF7]].concat())),
        Just(What::Bytes(vec![0xFE])),
        Just(What::Bytes(vec![0xFF])),
        Just(What::Disconnect),
        Just(What::Connect),
    ];
    prop::collection::vec((0i64..900_000, message), 0..80).prop_map(|entries| {
        let mut now = 0;
        let place = |(pause, what)| {
            now += pause;
            at(now, 0, what)
        };
        entries.into_iter().map(place).collect()
    })
}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn what_was_snapped_is_read_back_to_the_microsecond(
        mut record in messages(),
        click in click(),
        delay in prop::option::of((-500_000i64..=500_000).prop_map(Micros)),
    ) {
        let click = click.as_ref().map(|(start, tempo)| (*start, tempo));
        let clock = Clock::new(click);
        for input in &mut record {
            let snapped = clock.snap(input.at);
            prop_assert!((snapped.0 - input.at.0).abs() <= 34, "half a tick at 30 quarters a minute");
            prop_assert_eq!(clock.snap(snapped), snapped);
            input.at = snapped;
        }
        let end = clock.snap(end(&record));
        let take = read_take(&write_take(&record, click, delay, end)).unwrap();
        prop_assert_eq!(&take.inputs, &record);
        prop_assert_eq!(take.start.map(|start| (start, take.tempo.clone())), clock.click());
        prop_assert_eq!(take.delay, delay.filter(|_| click.is_some()));
        // Snapped already, a click is written as it is: a take of a take is the same take.
        let snapped = clock.click();
        let again = write_take(&record, snapped.as_ref().map(|(start, tempo)| (*start, tempo)), delay, end);
        prop_assert_eq!(read_take(&again).unwrap(), take);
    }

    /// Packets of all shapes are written as messages: the same notes come out.
    #[test]
    fn packets_written_and_read_give_the_same_notes(mut inputs in stream(1)) {
        let clock = Clock::new(None);
        for input in &mut inputs {
            input.at = clock.snap(input.at);
            if let What::Bytes(bytes) = &mut input.what.what {
                // Bytes that are no message hold the line open, but no file keeps them.
                bytes.retain(|&byte| byte != 0xFE);
            }
        }
        let take = read_take(&write_take(&inputs, None, None, end(&inputs))).unwrap();
        for restrikes in BOTH {
            prop_assert_eq!(notes(&events_until(restrikes, &take.inputs, end(&inputs))), notes(&events(restrikes, &inputs)));
        }
    }
}

/// Two hours of silence are more than a pause of a MIDI file can hold (28 bits of 16 microseconds: 71 minutes).
#[test]
fn long_silences_are_kept() {
    let two_hours = 7_200_000_000;
    let record = [at(0, 0, What::Bytes(vec![0x90, 60, 80])), at(two_hours, 0, What::Bytes(vec![0x80, 60, 64]))];
    let take = read_take(&write_take(&record, None, None, Micros(two_hours))).unwrap();
    assert_eq!(take.inputs, record);
    assert_eq!(take.end, Micros(two_hours));
}

/// Where the tempo changes, the written click has it: 60 then 90 quarters a minute, by hand.
#[test]
fn a_click_that_changes_is_kept() {
    let tempo = TempoMap::new(vec![(Quarters::ZERO, 1_000_000.0), (Quarters::new(7, 3), 60_000_000.0 / 90.0)]);
    let take = read_take(&write_take(
        &[] as &[Timed<Input>],
        Some((Micros(2_000_000), &tempo)),
        Some(Micros(-3)),
        Micros(9_000_000),
    ))
    .unwrap();
    assert_eq!(take.start, Some(Micros(2_000_000)));
    assert_eq!(take.delay, Some(Micros(-3)));
    assert_eq!(take.tempo.steps(), [(Quarters::ZERO, 1_000_000.0), (Quarters::new(7, 3), 666_667.0)]);
    assert!(!take.has_notes());
}
