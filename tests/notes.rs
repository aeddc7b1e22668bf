//! `restward notes` as a user runs it: the table for people, the JSON for programs, its errors.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::path::PathBuf;

fn data(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(path)
}

/// Exit status, standard output, standard error.
fn notes(path: &str, options: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("restward").unwrap().arg("notes").arg(data(path)).args(options).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

#[test]
fn a_table_for_people() {
    let (status, table, _) = notes("cases/tempo-dotted-unit/in.musicxml", &[]);
    assert_eq!(status, Some(0));
    assert!(table.lines().all(|line| line.chars().count() <= 80));
    insta::assert_snapshot!(table);
}

#[test]
fn a_table_with_voices_and_staves() {
    let (_, table, _) = notes("cases/voices-two-staves/in.musicxml", &[]);
    assert!(table.lines().all(|line| line.chars().count() <= 80));
    insta::assert_snapshot!(table);
}

/// DESIGN.md §6: the names, plain ASCII.
#[test]
fn json_for_programs() {
    let (_, json, _) = notes("takes/v003.musicxml", &["--json"]);
    let read: serde_json::Value = serde_json::from_str(&json).unwrap();
    let first = &read["notes"][0];
    assert_eq!(first["written"], "D#4");
    assert_eq!(first["key"], "D major");
    assert_eq!((first["written_midi"].as_i64(), first["sounding_midi"].as_i64()), (Some(63), Some(61)));
    assert_eq!((first["onset_quarters"].as_str(), first["duration_quarters"].as_str()), (Some("0/1"), Some("2/1")));
    assert_eq!((first["alteration"].as_str(), first["followed_by"].as_str()), (Some("printed"), Some("note")));
}

#[test]
fn an_instrument_for_a_file_at_concert_pitch() {
    let written = |options: &[&str]| {
        let (_, json, _) = notes("cases/utf8-bom/in.musicxml", &[options, &["--json"]].concat());
        serde_json::from_str::<serde_json::Value>(&json).unwrap()["notes"][0]["written"].as_str().unwrap().to_owned()
    };
    assert_eq!((written(&[]).as_str(), written(&["--instrument", "alto-sax"]).as_str()), ("G4", "E5"));
}

#[test]
fn errors_name_the_file_and_what_to_do() {
    let (status, out, error) = notes("cases/none.musicxml", &[]);
    assert_eq!((status, out.as_str()), (Some(1), ""));
    assert!(error.contains("none.musicxml: could not be opened"), "{error}");
    let (status, _, error) = notes("cases/utf8-bom/in.musicxml", &["--instrument", "alto-sxa"]);
    assert!(status == Some(1) && error.contains("alto-sax"), "{error}");
    let (status, _, error) = notes("cases/utf8-bom/in.musicxml", &["--staff", "3"]);
    assert!(status == Some(1) && error.contains("staff 3"), "{error}");
}
