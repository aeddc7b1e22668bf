//! `demo`, `ports` and `listen` as a user runs them, on a machine with or without MIDI.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::time::Instant;

fn restward() -> Command {
    Command::new(env!("CARGO_BIN_EXE_restward"))
}

fn output(arguments: &[&str]) -> (i32, String, String) {
    let output = restward().args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap_or(-1), text(output.stdout), text(output.stderr))
}

/// The sequencer of ALSA; without it no port can be opened on Linux.
fn has_midi() -> bool {
    !cfg!(target_os = "linux") || std::path::Path::new("/dev/snd/seq").exists()
}

#[test]
fn the_demo_needs_no_hardware_and_no_time() {
    let began = Instant::now();
    let (status, out, errors) = output(&["demo", "--fast"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert!(began.elapsed().as_secs_f64() < 2.0, "{:?}", began.elapsed());
    for line in out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
        assert!(!line.contains(['\x1b', '\r']), "no colour in a pipe: {line:?}");
    }
    // What the scenario is about: a missed changed note, a short hold, what to type next.
    for expected in ["the key signature makes every", "let go after", "restward ports", "restward listen"] {
        assert!(out.contains(expected), "{expected}: {out}");
    }
    assert_eq!(output(&["demo", "--fast"]).1, out, "the same number plays the same take");
}

#[test]
fn the_demo_reads_well() {
    insta::assert_snapshot!("demo", output(&["demo", "--fast"]).1);
}

#[test]
fn the_demo_speaks_to_programs() {
    let (status, out, _) = output(&["demo", "--fast", "--report", "jsonl"]);
    assert_eq!(status, 0);
    let events: Vec<serde_json::Value> = out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(events[0]["event"], "listening");
    assert_eq!(events[0]["lanes"][2]["player"], "Cleo");
    assert_eq!(events[1]["event"], "take");
    assert!(events[1]["score_zero_s"].as_f64().unwrap() > 2.0, "a measure of count-in at 112: {}", events[1]);
    let flags: Vec<_> = events.iter().filter(|event| event["event"] == "flag").collect();
    assert!(!flags.is_empty() && flags.iter().all(|flag| flag["player"].is_string() && flag["sentence"].is_string()));
    assert_eq!(events.iter().filter(|event| event["event"] == "summary").count(), 3);
    // In the order decided, for each player.
    for player in ["Ada", "Ben", "Cleo"] {
        let times: Vec<f64> = events
            .iter()
            .filter(|event| event["player"] == player)
            .filter_map(|event| event["at_s"].as_f64())
            .collect();
        assert!(times.is_sorted(), "{player}");
    }
}

const EXERCISE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/config/exercises/lantern-walk.musicxml");

#[test]
fn without_midi_each_command_says_so() {
    if has_midi() {
        return;
    }
    for arguments in [&["ports"][..], &["listen", EXERCISE], &["listen", EXERCISE, "--player", "Mia=wind:flute"]] {
        let (status, out, errors) = output(arguments);
        assert_eq!((status, out.as_str()), (3, ""), "{arguments:?}");
        assert!(errors.starts_with("restward: no MIDI"), "{errors}");
        assert!(errors.contains("restward demo") || errors.contains("restward ports"), "what to do: {errors}");
    }
}

#[test]
fn bad_requests_are_refused_before_any_port_is_opened() {
    let cases: [(&[&str], i32, &str); 8] = [
        (&["listen", "no-such-file.musicxml"], 1, "no-such-file.musicxml"),
        (&["listen", EXERCISE, "--part", "Tuba"], 1, "Trumpet"),
        (&["listen", EXERCISE, "--instrument", "trumpt"], 1, "trumpet"),
        (&["listen", EXERCISE, "--player", "Mia"], 2, "NAME=PORT"),
        (&["listen", EXERCISE, "--summary", "grades.txt"], 2, ".csv"),
        (&["listen", EXERCISE, "--bpm", "2000"], 2, "between 20 and 300"),
        (&["listen", EXERCISE, "--bpm", "90", "--no-click"], 2, "--no-click"),
        (&["listen", EXERCISE, "--takes", "0"], 2, "--takes"),
    ];
    for (arguments, expected, says) in cases {
        let (status, out, errors) = output(arguments);
        assert_eq!((status, out.as_str()), (expected, ""), "{arguments:?}: {errors}");
        assert!(errors.contains(says), "{arguments:?}: {errors}");
    }
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    use std::io::Read;
    use std::process::{Command, Stdio};
    let mut demo =
        Command::new(env!("CARGO_BIN_EXE_restward")).args(["demo", "--fast"]).stdout(Stdio::piped()).spawn().unwrap();
    let mut first = [0; 10];
    demo.stdout.take().unwrap().read_exact(&mut first).unwrap();
    // The pipe is closed here.
    assert!(demo.wait().unwrap().success());
}
