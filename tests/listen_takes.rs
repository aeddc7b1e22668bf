//! The simulated takes of `tests/data/takes`, whose notes are known, and take files of all kinds.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use restward::exercise::{Micros, Quarters};
use restward::listen::take::{self, TakeProblem, read_take};
use restward::listen::{Cleaner, NoteEvent, Restrikes, What, clean_notes};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// A note of a take: pitch as sent, seconds.
#[derive(Debug, Clone, Copy)]
struct Played {
    midi: i64,
    on: f64,
    off: f64,
}

impl Played {
    fn of(value: &Value) -> Option<Played> {
        let field = |name: &str| value[name].as_f64();
        Some(Played { midi: value["midi"].as_i64()?, on: field("onset_s")?, off: field("release_s")? })
    }
}

/// Every take with its truth.
fn takes() -> Vec<(PathBuf, Value)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/takes");
    let mut takes: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "mid"))
        .map(|path| {
            let truth = std::fs::read_to_string(path.with_extension("truth.json")).unwrap();
            (path, serde_json::from_str(&truth).unwrap())
        })
        .collect();
    takes.sort_by(|a: &(PathBuf, Value), b| a.0.cmp(&b.0));
    assert!(takes.len() >= 3, "only {} takes", takes.len());
    takes
}

/// What the simulated student meant to play, right or wrong; and what may be heard or not.
fn meant(truth: &Value) -> (Vec<Played>, Vec<f64>) {
    let list = |name: &str| truth[name].as_array().unwrap().clone();
    let notes = list("notes").iter().filter_map(|note| Played::of(&note["played"])).collect::<Vec<_>>();
    let extra = list("extra").iter().filter_map(Played::of).collect::<Vec<_>>();
    let optional = [list("ignore_extra"), list("abandoned")].concat();
    let optional = optional.iter().filter_map(|note| note["onset_s"].as_f64()).collect();
    ([notes, extra].concat(), optional)
}

/// With repetitions kept apart, every note is heard at its time and ends when it was let go, and what
/// is heard besides are the notes struck again by a dip of breath: no glitch.
#[test]
fn every_note_of_the_simulated_takes_is_heard_and_no_glitch() {
    for (path, truth) in takes() {
        let take = take::read_file(&path).unwrap();
        let mut cleaner = Cleaner::new(Restrikes::Kept);
        let mut events = Vec::new();
        take.inputs.iter().for_each(|input| cleaner.push(input, &mut events));
        cleaner.finish(take.end, &mut events);
        let mut heard: Vec<Played> = Vec::new();
        for event in &events {
            match *event {
                NoteEvent::On { at, midi, .. } => {
                    heard.push(Played { midi: midi.into(), on: at.seconds(), off: f64::NAN })
                }
                NoteEvent::Off { id, at, .. } => heard[id as usize].off = at.seconds(),
            }
        }
        let (meant, optional) = meant(&truth);
        for note in &meant {
            let is_it = |heard: &Played| heard.midi == note.midi && (heard.on - note.on).abs() < 0.006;
            let place =
                heard.iter().position(is_it).unwrap_or_else(|| panic!("{}: {note:?} is missing", path.display()));
            let mut found = heard.remove(place);
            // A dip of under 40 ms, and the same note goes on.
            while let Some(again) = heard.iter().position(|again| {
                again.midi == note.midi
                    && again.on > found.on
                    && again.on - found.off < 0.04
                    && again.off <= note.off + 0.04
            }) {
                found.off = heard.remove(again).off;
            }
            // Slurs overlap by up to 30 ms; the first note then ends where the second begins.
            assert!((found.off - note.off).abs() < 0.035, "{}: {note:?} was heard as {found:?}", path.display());
        }
        // Strikes of attempts given up and grace notes, also these with a dip of breath.
        let known = heard.clone();
        heard.retain(|note| {
            let is_optional = |note: &Played| optional.iter().any(|onset| (note.on - onset).abs() < 0.05);
            let is_dip = |before: &Played| before.midi == note.midi && (0.0..0.04).contains(&(note.on - before.off));
            !is_optional(note) && !known.iter().any(|before| is_optional(before) && is_dip(before))
        });
        assert!(heard.is_empty(), "{}: nobody meant {heard:?}", path.display());
    }
}

#[test]
fn the_marker_of_the_simulated_takes_is_where_the_exercise_starts() {
    for (path, truth) in takes() {
        let take = take::read_file(&path).unwrap();
        let start = take.start.map(Micros::seconds);
        let expected = truth["exercise_start_s"].as_f64();
        assert_eq!(start.is_some(), expected.is_some(), "{}", path.display());
        assert!(start.zip(expected).is_none_or(|(found, expected)| (found - expected).abs() < 0.001));
    }
}

/// A file of one track, format 0.
fn file(division: [u8; 2], track: &[u8]) -> Vec<u8> {
    let length = (track.len() as u32).to_be_bytes();
    [b"MThd\0\0\0\x06\0\0\0\x01".as_slice(), &division, b"MTrk", &length, track].concat()
}

/// The example file of the Standard MIDI Files 1.0 specification (RP-001, its last section) in format 0: three
/// channels, running status, a delta time of two bytes.
const EXAMPLE: &[u8] = &[
    0x00, 0xFF, 0x58, 0x04, 0x04, 0x02, 0x18, 0x08, 0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20, 0x00, 0xC0, 0x05, 0x00,
    0xC1, 0x2E, 0x00, 0xC2, 0x46, 0x00, 0x92, 0x30, 0x60, 0x00, 0x3C, 0x60, 0x60, 0x91, 0x43, 0x40, 0x60, 0x90, 0x4C,
    0x20, 0x81, 0x40, 0x82, 0x30, 0x40, 0x00, 0x3C, 0x40, 0x00, 0x81, 0x43, 0x40, 0x00, 0x80, 0x4C, 0x40, 0x00, 0xFF,
    0x2F, 0x00,
];

/// The same music in format 1, as the specification has it: time signature and tempo, then a track for each channel,
/// note-ons of velocity 0 for note-offs.
const EXAMPLE_TRACKS: [&[u8]; 4] = [
    &[
        0x00, 0xFF, 0x58, 0x04, 0x04, 0x02, 0x18, 0x08, 0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20, 0x83, 0x00, 0xFF,
        0x2F, 0x00,
    ],
    &[0x00, 0xC0, 0x05, 0x81, 0x40, 0x90, 0x4C, 0x20, 0x81, 0x40, 0x4C, 0x00, 0x00, 0xFF, 0x2F, 0x00],
    &[0x00, 0xC1, 0x2E, 0x60, 0x91, 0x43, 0x40, 0x82, 0x20, 0x43, 0x00, 0x00, 0xFF, 0x2F, 0x00],
    &[
        0x00, 0xC2, 0x46, 0x00, 0x92, 0x30, 0x60, 0x00, 0x3C, 0x60, 0x83, 0x00, 0x30, 0x00, 0x00, 0x3C, 0x00, 0x00,
        0xFF, 0x2F, 0x00,
    ],
];

/// C3 and C4 for four beats of half a second, G4 from the second beat, E5 from the third, says the specification.
#[test]
fn the_example_of_the_file_specification() {
    let mut tracks = b"MThd\0\0\0\x06\0\x01\0\x04\0\x60".to_vec();
    for track in EXAMPLE_TRACKS {
        tracks.extend(b"MTrk\0\0\0");
        tracks.push(track.len() as u8);
        tracks.extend(track);
    }
    for bytes in [file([0, 96], EXAMPLE), tracks] {
        let take = read_take(&bytes).unwrap();
        let notes: Vec<_> = clean_notes(&take.inputs).iter().map(|note| (note.midi, note.on.0, note.off.0)).collect();
        assert_eq!(
            notes,
            [(48, 0, 2_000_000), (60, 0, 2_000_000), (67, 500_000, 2_000_000), (76, 1_000_000, 2_000_000)]
        );
        assert_eq!((take.start, take.end), (None, Micros(2_000_000)));
    }
}

/// 25 frames of 40 ticks are milliseconds (SMF 1.0 specification, "division"); a tempo changes nothing then.
#[test]
fn time_code() {
    let track = [0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40, 0x64, 0x90, 60, 80, 0x83, 0x74, 60, 0, 0, 0xFF, 0x2F, 0];
    let take = read_take(&file([0xE7, 40], &track)).unwrap();
    let note = clean_notes(&take.inputs)[0];
    assert_eq!((note.on, note.off), (Micros(100_000), Micros(600_000)));
}

/// The marker counts whatever stands beside it in its tick; the click is what comes from there.
#[test]
fn marker_and_click() {
    // 120 a minute for 2 quarters, then at the marker 60; after 1 quarter more 90.
    let track = [
        &[0x00, 0xFF, 0x51, 3, 0x07, 0xA1, 0x20][..],
        &[0x81, 0x40, 0xFF, 0x06, 14],
        b"exercise-start",
        &[0x00, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40],
        &[0x60, 0xFF, 0x51, 3, 0x0A, 0x2C, 0x2A],
        &[0x00, 0x90, 60, 80, 0x60, 60, 0, 0x00, 0xFF, 0x2F, 0x00],
    ]
    .concat();
    let take = read_take(&file([0, 96], &track)).unwrap();
    assert_eq!(take.start, Some(Micros(1_000_000)));
    assert_eq!(take.tempo.steps(), [(Quarters::ZERO, 1_000_000.0), (Quarters::new(1, 1), 666_666.0)]);
    assert_eq!(take.inputs[0].at, Micros(2_000_000));
}

/// A system exclusive message in packets, and escapes of any bytes (SMF 1.0 specification, "Sysex Events").
#[test]
fn packets_and_escapes() {
    let track = [
        &[0x00, 0x90, 60, 80][..],
        &[0x10, 0xF0, 3, 0x43, 60, 0],
        &[0x10, 0xF7, 2, 60, 0xF7],
        &[0x60, 0xF7, 1, 0xFF],
        &[0x00, 0xFF, 0x2F, 0x00],
    ]
    .concat();
    let take = read_take(&file([0, 96], &track)).unwrap();
    assert_eq!(take.inputs[3].what.what, What::Bytes(vec![0xFF]));
    let notes = clean_notes(&take.inputs);
    assert_eq!((notes.len(), notes[0].off), (1, take.inputs[3].at), "the reset ends the note, the dump is none");
}

#[test]
fn what_is_no_take_is_refused_with_its_reason() {
    for (bytes, reason) in [
        (&b""[..], "the file is empty"),
        (b" \n ", "the file is empty"),
        (b"<?xml version='1.0'?><score-partwise/>", "neither a Standard MIDI File nor"),
        (b"PK\x03\x04", "neither a Standard MIDI File nor"),
        (b"\x00\x01\x02", "neither a Standard MIDI File nor"),
        (b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\0\x04\x00\x90\x3C", "byte 25: the file ends in the middle of"),
        (b"hello", "line 1, column 1"),
    ] {
        let error = read_take(bytes).unwrap_err().to_string();
        assert!(error.contains(reason), "{error}");
    }
}

#[test]
fn a_take_without_notes_has_its_own_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("silent.mid");
    std::fs::write(&path, file([0, 96], &[0, 0xB0, 2, 64, 0, 0xFF, 0x2F, 0])).unwrap();
    let error = take::read_file(&path).unwrap_err();
    assert!(matches!(error.problem, TakeProblem::NoNotes));
    assert!(error.to_string().contains("silent.mid: there are no notes in this take"), "{error}");
    assert!(take::read_any_file(&path).is_ok());
    let missing = take::read_file(&folder.path().join("missing.mid")).unwrap_err().to_string();
    assert!(missing.contains("missing.mid: could not be opened"), "{missing}");
}
