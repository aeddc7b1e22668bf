//! Standard MIDI Files. Byte layouts from the Standard MIDI Files 1.0 specification (RP-001) and RP-029 (RMID).

use crate::score::{notes, read, smf};
use restward::exercise::FollowedBy;
use restward::read::{Choice, read_exercise};
use restward::theory::{Key, Mode, Transposition};

const TICKS_96: [u8; 2] = [0, 96];
const END: [u8; 4] = [0, 0xFF, 0x2F, 0];

fn track(events: &[u8]) -> Vec<u8> {
    [events, &END].concat()
}

fn one_track(events: &[u8]) -> Vec<u8> {
    smf(0, TICKS_96, &[&track(events)])
}

const C_QUARTER: [u8; 8] = [0, 0x90, 60, 80, 96, 0x80, 60, 0];

/// The worked example of the specification (format 0): C4 and the others in 4/4 at 120, 96 ticks.
const EXAMPLE: [u8; 59] = [
    0x00, 0xFF, 0x58, 0x04, 0x04, 0x02, 0x18, 0x08, // time signature
    0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20, // tempo
    0x00, 0xC0, 0x05, 0x00, 0xC1, 0x2E, 0x00, 0xC2, 0x46, // programs
    0x00, 0x92, 0x30, 0x60, 0x00, 0x3C, 0x60, // channel 3, running status
    0x60, 0x91, 0x43, 0x40, 0x60, 0x90, 0x4C, 0x20, // channels 2 and 1
    0x81, 0x40, 0x82, 0x30, 0x40, 0x00, 0x3C, 0x40, // note-offs
    0x00, 0x81, 0x43, 0x40, 0x00, 0x80, 0x4C, 0x40, 0x00, 0xFF, 0x2F, 0x00,
];

#[test]
fn the_worked_example_of_the_specification() {
    let file = smf(0, TICKS_96, &[&EXAMPLE]);
    // Without a choice all channels; of channel 3's two tones the upper is the line.
    assert_eq!(notes(&file), "C4@0+4 G4@1+3 E5@2+2");
    let third = Choice { part: Some("channel 3".into()), ..Choice::default() };
    let part = read_exercise(&file, &third).unwrap().part;
    assert_eq!((part.notes[0].sounding, &part.notes[0].chord), (60, &vec![48]));
    let error = read_exercise(&file, &Choice { part: Some("channel 7".into()), ..Choice::default() }).unwrap_err();
    assert!(error.to_string().contains("channel 1, channel 2, channel 3"), "{error}");
}

#[test]
fn keys_meters_and_tempo_make_measures() {
    let events = [
        &[0, 0xFF, 0x58, 4, 3, 2, 24, 8, 0, 0xFF, 0x59, 2, 0xFD, 0, 0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40][..],
        &[0, 0x90, 63, 80, 96, 0x80, 63, 0, 0, 0x90, 61, 80, 0x81, 0x40, 0x80, 61, 0],
        &[0, 0xFF, 0x58, 4, 6, 3, 24, 8, 0, 0xFF, 0x59, 2, 1, 1, 0, 0x90, 63, 80, 96, 0x80, 63, 0],
    ];
    let part = read(one_track(&events.concat())).unwrap().part;
    let names: Vec<String> = part.notes.iter().map(|note| note.written.ascii()).collect();
    assert_eq!(names, ["Eb4", "Db4", "D#4"]);
    assert_eq!(part.notes[2].key, Key { fifths: 1, mode: Mode::Minor });
    let meters: Vec<_> = part.measures.iter().map(|m| (m.label.as_str(), m.meter.count, m.meter.unit)).collect();
    assert_eq!(meters, [("1", 3, 4), ("2", 6, 8)]);
    assert!(part.tempo_given && part.tempo.micros_per_quarter(part.notes[2].onset) == 1e6);
}

#[test]
fn a_transposing_player_sees_the_written_part() {
    let key = [0, 0xFF, 0x59, 2, 0xFE, 0];
    let choice = Choice { instrument: Some(Transposition { diatonic: -1, chromatic: -2 }), ..Choice::default() };
    let bytes = one_track(&[&key[..], &[0, 0x90, 70, 80, 96, 0x80, 70, 0]].concat());
    let note = &read_exercise(&bytes, &choice).unwrap().part.notes[0];
    assert_eq!((note.written.ascii().as_str(), note.sounding, note.key), ("C5", 70, Key::major(0)));
}

#[test]
fn time_codes_take_quarters_from_the_tempo() {
    // 30 frames of 10 ticks: a quarter at 120 is 150 ticks; at 60, from there, 300. 24 of 4: 48 ticks. 29 is 30000/1001.
    let on = |delta: &[u8], off: &[u8]| [&[0, 0x90, 60, 80], delta, &[0x80, 60, 0], off].concat();
    let slower = [0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
    let events = [on(&[0x81, 0x16], &slower), on(&[0x82, 0x2C], &[])].concat();
    assert_eq!(notes(smf(0, [0xE2, 10], &[&track(&events)])), "C4@0+1 C4@1+1");
    assert_eq!(notes(smf(0, [0xE8, 4], &[&track(&on(&[48], &[]))])), "C4@0+1");
    assert_eq!(notes(smf(0, [0xE3, 30], &[&track(&on(&[90], &[]))])), "C4@0+1001/5000");
    for division in [[0xE7, 0], [0x80, 40], [0xEA, 40]] {
        assert!(read(smf(0, division, &[&track(&C_QUARTER)])).is_err());
    }
}

#[test]
fn running_status_goes_on_across_a_system_exclusive() {
    let events = [0, 0x90, 60, 80, 48, 0xF0, 3, 1, 2, 0xF7, 48, 60, 0, 0, 62, 80, 96, 62, 0];
    assert_eq!(notes(one_track(&events)), "C4@0+1 D4@1+1");
}

#[test]
fn senseless_meta_events_do_not_matter() {
    let odd: &[&[u8]] = &[
        &[0, 0xFF, 0x51, 2, 1, 2],
        &[0, 0xFF, 0x51, 4, 0, 1, 2, 3],
        &[0, 0xFF, 0x58, 0],
        &[0, 0xFF, 0x58, 4, 0, 2, 24, 8],
        &[0, 0xFF, 0x58, 4, 4, 77, 24, 8],
        &[0, 0xFF, 0x59, 1, 3],
        &[0, 0xFF, 0x59, 2, 2, 9],
        &[0, 0xFF, 0x54, 1, 0],
        &[0, 0xFF, 0x7F, 0],
        &[0, 0xFF, 0x20, 5, 99, 0, 0, 0, 0],
        &[0, 0xFF, 0x03, 0],
    ];
    let part = read(one_track(&[&odd.concat()[..], &C_QUARTER].concat())).unwrap().part;
    assert_eq!((part.notes.len(), part.measures[0].meter.count, part.tempo_given), (1, 4, false));
}

#[test]
fn a_small_gap_is_no_rest() {
    // 90 of 96 ticks sound, then 48 of 96.
    let events =
        [0, 0x90, 60, 80, 90, 0x80, 60, 0, 6, 0x90, 62, 80, 48, 0x80, 62, 0, 48, 0x90, 64, 80, 96, 0x80, 64, 0];
    let notes = read(one_track(&events)).unwrap().part.notes;
    let follows: Vec<_> = notes.iter().map(|note| note.followed_by).collect();
    assert_eq!(follows, [FollowedBy::Note, FollowedBy::Rest, FollowedBy::Rest]);
    assert_eq!(notes[0].duration.to_string(), "15/16");
}

#[test]
fn parts_are_tracks() {
    let named = |name: &[u8], midi: u8| {
        track(&[&[0, 0xFF, 3, name.len() as u8], name, &[0, 0x90, midi, 80, 96, 0x80, midi, 0]].concat())
    };
    let tempo = track(&[0, 0xFF, 3, 4, b'M', b'a', b'r', b'c']);
    let file = smf(1, TICKS_96, &[&tempo, &named(b"Flute", 72), &named(b"Fl\xFCgelhorn", 60)]);
    let exercise = read(&file).unwrap();
    assert_eq!(exercise.title.as_deref(), Some("Marc"));
    assert_eq!(
        exercise.parts.iter().map(|p| format!("{} {}", p.id, p.name)).collect::<Vec<_>>(),
        ["2 Flute", "3 Flügelhorn"]
    );
    assert_eq!(exercise.part.notes.len(), 2);
    for (asked, sounding) in [("2", 72), ("flute", 72), ("Flügelhorn", 60)] {
        let choice = Choice { part: Some(asked.into()), ..Choice::default() };
        assert_eq!(read_exercise(&file, &choice).unwrap().part.notes[0].sounding, sounding);
    }
}

#[test]
fn other_formats_and_damage_are_refused_with_their_byte() {
    let damaged: [(Vec<u8>, &str); 8] = [
        (smf(2, TICKS_96, &[&track(&C_QUARTER)]), "format 2"),
        (smf(0, [0, 0], &[&track(&C_QUARTER)]), "byte 12"),
        (one_track(&[0, 60, 80]), "byte 23"),
        (one_track(&[0, 0x90, 60, 0x90]), "byte 25"),
        (one_track(&[0, 0xF4]), "byte 23"),
        (one_track(&[0x81, 0x82, 0x83, 0x84, 0x05, 0x90, 60, 80]), "byte 22"),
        (smf(1, TICKS_96, &[]), "0 of 1"),
        (b"MThd\0\0\0\x02\0\0".to_vec(), "header"),
    ];
    for (bytes, place) in damaged {
        let error = read(&bytes).unwrap_err().to_string();
        assert!(error.contains("byte ") && error.contains(place), "{error}");
    }
    let empty = read(one_track(&[])).unwrap_err().to_string();
    assert!(empty.contains("no notes"), "{empty}");
}

#[test]
fn a_file_cut_off_anywhere_is_refused() {
    let file = smf(1, TICKS_96, &[&track(&[0, 0xFF, 0x51, 3, 7, 0xA1, 0x20]), &EXAMPLE]);
    for end in 0..file.len() {
        assert!(read(&file[..end]).is_err(), "{end}");
    }
    assert!(read(&file).is_ok());
}

#[test]
fn what_follows_the_last_track_may_be_padding_only() {
    let file = one_track(&C_QUARTER);
    assert!(read([&file[..], &[0, 0, 0]].concat()).is_ok());
    assert!(read([&file[..], b"\x90\x3C\x50more"].concat()).is_err());
}

#[test]
fn a_pause_of_days_is_one_measure() {
    let events = [0xFF, 0xFF, 0xFF, 0x7F, 0x90, 60, 80, 96, 0x80, 60, 0];
    let part = read(one_track(&events)).unwrap().part;
    // 268435455 ticks of 96 to the quarter.
    assert_eq!(part.notes[0].onset.to_string(), "89478485/32");
    assert!(part.measures.len() < 5);
}
