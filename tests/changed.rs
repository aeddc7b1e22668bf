//! `restward changed` as a user runs it.

#![allow(clippy::unwrap_used, clippy::panic)] // a test that cannot go on has failed

use assert_cmd::Command;
use serde_json::Value;

fn changed(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("restward").unwrap();
    command.arg("changed").args(arguments);
    command
}

fn json(arguments: &[&str]) -> Value {
    let output = changed(arguments).arg("--json").assert().success();
    serde_json::from_slice(&output.get_output().stdout).unwrap()
}

fn message(arguments: &[&str]) -> String {
    let output = changed(arguments).assert().failure().code(1).stdout("");
    String::from_utf8(output.get_output().stderr.clone()).unwrap()
}

/// The example of DESIGN.md §6.
#[test]
fn the_json_of_the_design() {
    let answer = json(&["--key", "Eb", "--instrument", "alto-sax"]);
    assert_eq!(answer["concert_key"], "Eb major");
    assert_eq!(answer["family"], serde_json::json!(["F major", "Bb major", "Eb major", "Ab major"]));
    let alto = &answer["instruments"][0];
    assert_eq!(alto["instrument"], "alto-sax");
    assert_eq!(alto["written_key"], "C major");
    let first = &alto["changed"][0];
    let fields = ["written", "sign", "concert", "rank", "degree"].map(|field| first[field].to_string());
    assert_eq!(fields.join(" "), r#""F" "natural" "Ab" "primary" 4"#);
}

/// A part whose key is respelled still names the concert note as the concert key has it: the clarinet's
/// D♭ major sounds B major, so its A♭ is the band's F♯ (by hand).
#[test]
fn a_respelled_part_sounds_in_the_concert_key() {
    let answer = json(&["--key", "B", "--instrument", "clarinet"]);
    let clarinet = &answer["instruments"][0];
    assert_eq!(clarinet["written_key"], "Db major");
    assert_eq!(clarinet["changed"][0]["written"], "A");
    assert_eq!(clarinet["changed"][0]["sign"], "flat");
    assert_eq!(clarinet["changed"][0]["concert"], "F#");
}

/// Harmonic minor, common practice: in concert G minor the alto reads E minor and its leading tone is D♯.
#[test]
fn minor_keys_tell_the_printed_leading_tone() {
    let answer = json(&["--key", "g", "--instrument", "alto-sax"]);
    let printed = &answer["instruments"][0]["printed"];
    assert_eq!(printed["written"], "D");
    assert_eq!(printed["sign"], "sharp");
    assert_eq!(printed["concert"], "F#");
    assert_eq!(json(&["--key", "G", "--instrument", "alto-sax"])["instruments"][0].get("printed"), None);
}

#[test]
fn a_table_to_read_to_the_class() {
    let output = changed(&["--key", "Eb"]).assert().success();
    let table = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
    insta::assert_snapshot!(table);
}

#[test]
fn a_table_in_minor() {
    let output = changed(&["--key", "g", "--instrument", "alto-sax", "--instrument", "Horn in F"]).assert().success();
    insta::assert_snapshot!(String::from_utf8(output.get_output().stdout.clone()).unwrap());
}

#[test]
fn without_another_key_nothing_is_changed() {
    let answer = json(&["--key", "Bb", "--family", "Bb,g", "--instrument", "tuba"]);
    assert_eq!(answer["instruments"][0]["changed"], serde_json::json!([]));
    changed(&["--key", "Bb", "--family", "Bb"]).assert().success();
}

#[test]
fn what_cannot_be_done_is_said() {
    assert!(message(&["--key", "H"]).contains("--key: 'H' is no key"));
    assert!(message(&["--key", "G#"]).contains("write A♭ major"));
    assert!(message(&["--key", "Bb", "--family", "F,Q"]).contains("--family: 'Q' is no key"));
    assert!(message(&["--key", "Bb", "--instrument", "trumpit"]).contains("did you mean trumpet?"));
    changed(&["--instrument", "tuba"]).assert().failure().code(2);
}
