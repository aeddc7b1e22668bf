//! An exercise typed in ABC, as a user has it read and judged.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};
use std::path::{Path, PathBuf};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/abc").join(name)
}

fn restward(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("restward").unwrap().args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

#[test]
fn what_was_typed_is_shown() {
    let (status, table, _) = restward(&["notes", data("band.abc").to_str().unwrap(), "--part", "Clarinet"]);
    assert_eq!(status, Some(0));
    assert!(table.lines().all(|line| line.chars().count() <= 80));
    insta::assert_snapshot!(table);
}

#[test]
fn tunes_of_a_book_are_offered_and_chosen() {
    let book = data("book.abc");
    let book = book.to_str().unwrap();
    let (_, first, _) = restward(&["notes", book]);
    assert!(first.starts_with("Up and down") && first.contains("Please note: The file has 3 tunes"), "{first}");
    let (_, waltz, _) = restward(&["notes", book, "--tune", "waltz"]);
    assert!(waltz.starts_with("Café waltz") && !waltz.contains("Please note"), "{waltz}");
    let (status, _, error) = restward(&["notes", book, "--tune", "9"]);
    assert!(status == Some(1) && error.contains("book.abc: no tune \"9\""), "{error}");
}

#[test]
fn a_mistake_is_named_with_file_line_and_column() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.abc");
    std::fs::write(&path, "X:1\nT:Mine\nM:4/4\nL:1/4\nK:F\nFGAB|c3 2|\n").unwrap();
    let (status, out, error) = restward(&["notes", path.to_str().unwrap()]);
    assert_eq!((status, out.as_str()), (Some(1), ""));
    assert!(error.contains("mine.abc: line 6, column 9: a number stands by itself"), "{error}");
}

/// Eight notes to a click at 84, which is what the tune says; A♮ for the A♭ of the key, and the dotted half let go a beat early.
#[test]
fn a_take_is_judged_against_it() {
    const BEAT: u32 = 480;
    let played = [(63, 4), (65, 4), (67, 4), (69, 4), (70, 8), (72, 8), (68, 8), (63, 16)];
    let held = |quarters_of_a_beat: u32| BEAT * quarters_of_a_beat / 4 - 10;
    let mut track = vec![
        (0, TrackEventKind::Meta(MetaMessage::Tempo(u24::new(60_000_000 / 84)))),
        (4 * BEAT, TrackEventKind::Meta(MetaMessage::Marker(b"exercise-start"))),
    ];
    let starts = [0, 1, 2, 3, 4, 8, 10, 12];
    for ((key, quarters), start) in played.into_iter().zip(starts) {
        let message = |velocity| MidiMessage::NoteOn { key: u7::new(key), vel: u7::new(velocity) };
        let event = |velocity| TrackEventKind::Midi { channel: u4::new(0), message: message(velocity) };
        track.push((4 * BEAT + start * BEAT, event(90)));
        track.push((4 * BEAT + start * BEAT + held(quarters), event(0)));
    }
    track.sort_by_key(|&(tick, _)| tick);
    let mut now = 0;
    let mut events: Vec<TrackEvent> = track
        .into_iter()
        .map(|(tick, kind)| TrackEvent { delta: u28::new(tick - std::mem::replace(&mut now, tick)), kind })
        .collect();
    events.push(TrackEvent { delta: u28::new(0), kind: TrackEventKind::Meta(MetaMessage::EndOfTrack) });
    let header = Header::new(Format::SingleTrack, Timing::Metrical(u15::new(BEAT as u16)));
    let folder = tempfile::tempdir().unwrap();
    let take = folder.path().join("take.mid");
    Smf { header, tracks: vec![events] }.save(&take).unwrap();

    let exercise = data("typed.abc");
    let (status, report, error) = restward(&[
        "check",
        exercise.to_str().unwrap(),
        take.to_str().unwrap(),
        "--sends",
        "concert",
        "--report",
        "json",
    ]);
    assert_eq!(status, Some(0), "{error}");
    let report: serde_json::Value = serde_json::from_str(&report).unwrap();
    let flags: Vec<String> = report["notes"].as_array().unwrap().iter().map(|note| note["flags"].to_string()).collect();
    let mut expected = vec!["[]"; 8];
    expected[3] = "[\"wrong-accidental\"]";
    expected[4] = "[\"early-release\"]";
    assert_eq!(flags, expected);
}
