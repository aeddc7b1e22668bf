//! `restward sheet` as a user runs it.

use super::score;
use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};

const LANTERNS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/config/exercises/lantern-walk.musicxml");

fn command(exercise: &str, arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("restward").unwrap();
    command.arg("sheet").arg(exercise).args(arguments);
    // No engraver, whatever is built here: pages look the same everywhere.
    command.env("RESTWARD_ENGRAVE", "/nowhere/restward-engrave");
    command
}

fn stdout(exercise: &str, arguments: &[&str]) -> String {
    let done = command(exercise, arguments).assert().success();
    String::from_utf8(done.get_output().stdout.clone()).unwrap()
}

fn json(exercise: &str, arguments: &[&str]) -> Value {
    serde_json::from_str(&stdout(exercise, &[arguments, &["--format", "json"]].concat())).unwrap()
}

/// A file of our own in a folder that goes away.
struct File {
    folder: tempfile::TempDir,
    path: PathBuf,
}

impl File {
    fn new(xml: &str) -> File {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("line.musicxml");
        std::fs::write(&path, xml).unwrap();
        File { folder, path }
    }

    fn name(&self) -> &str {
        self.path.to_str().unwrap()
    }

    fn beside(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

fn flute(keys: &[(usize, i8)], measures: &[&str]) -> File {
    File::new(&score::xml("Flute", None, keys, (4, 4), measures))
}

#[test]
fn text_for_one_part() {
    insta::assert_snapshot!(stdout(LANTERNS, &["--part", "P3"]));
}

#[test]
fn text_for_both_sides_of_the_horn_and_a_slide() {
    insta::assert_snapshot!(stdout(LANTERNS, &["--instrument", "horn", "--instrument", "trombone"]));
}

#[test]
fn a_card_for_the_room() {
    insta::assert_snapshot!(stdout(LANTERNS, &["--all", "--card"]));
}

#[test]
fn a_page_for_one_part() {
    let page = stdout(LANTERNS, &["--part", "P3", "--format", "html"]);
    let body = &page[page.find("<body>").unwrap()..];
    insta::assert_snapshot!(body);
}

/// Every instrument, in every key, two meters: nothing is wider than a console, and pages hold together.
#[test]
fn eighty_columns_and_whole_pages() {
    for fifths in [-5, 0, 2, 5] {
        let file = flute(
            &[(0, fifths), (2, fifths + 1)],
            &["C5:1/2 D5:1/2 E5:1/4 F5:1/4 G5:1/2 A5:1 B5:1", "C6:3 r:1", "C4:4", "r:4", "r:4"],
        );
        for arguments in [&["--all"][..], &["--all", "--card"], &[]] {
            for line in stdout(file.name(), arguments).lines() {
                assert!(line.chars().count() <= 80, "{line}");
            }
        }
        for arguments in [&["--all", "--format", "html"][..], &["--all", "--card", "--format", "html"]] {
            let page = stdout(file.name(), arguments);
            for tag in ["section", "div", "table", "svg", "p", "tr", "td", "th", "b", "span"] {
                let opened = page.matches(&format!("<{tag}>")).count() + page.matches(&format!("<{tag} ")).count();
                assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "<{tag}>");
            }
            assert!(!page.contains("http"), "nothing is fetched");
        }
        let sheets = stdout(file.name(), &["--all", "--format", "html"]);
        assert_eq!(sheets.matches("<section class=\"sheet\">").count(), 19);
    }
}

/// The shape of the JSON: key, changed notes, fingerings side by side, count, release (by hand, config/exercises).
#[test]
fn json_for_programs() {
    let answer = json(LANTERNS, &["--instrument", "alto-sax"]);
    assert_eq!(answer["title"], "Lantern Walk");
    let sheet = &answer["sheets"][0];
    assert_eq!(sheet["instrument"], "alto-sax");
    assert_eq!(sheet["moved_octaves"], Value::Null, "its own part");
    let key = &sheet["keys"][0];
    assert_eq!((&key["written_key"], &key["concert_key"]), (&"C major".into(), &"Eb major".into()));
    let changed = &key["changed"][0];
    assert_eq!(
        (&changed["written"], &changed["sign"], &changed["rank"]),
        (&"F".into(), &"natural".into(), &"primary".into())
    );
    assert_eq!((&changed["occurrences"], &changed["measures"]), (&4.into(), &serde_json::json!(["2", "5", "7"])));
    let fingered = &changed["fingered"][0];
    assert_eq!((&fingered["written"], &fingered["mistaken_for"]), (&"F5".into(), &"F#5".into()));
    assert_eq!(fingered["fingerings"][0]["short"], "8ve 123 | 1--");
    assert_eq!(fingered["mistaken_fingerings"][0]["short"], "8ve 123 | -2-");
    let second = &sheet["measures"][1];
    let says: Vec<&str> = second["counts"].as_array().unwrap().iter().map(|it| it["say"].as_str().unwrap()).collect();
    assert_eq!(says, ["1", "2", "3", "4"]);
    assert_eq!((&second["counts"][0]["state"], &second["counts"][3]["releases"]), (&"begins".into(), &3.into()));
    assert_eq!(sheet["releases"][0]["off_on"], serde_json::json!({"measure": "2", "say": "4"}));
    assert_eq!(sheet["range"]["beginner"], serde_json::json!(["D4", "A5"]));
    let trumpet = &json(LANTERNS, &["--instrument", "trombone"])["sheets"][0];
    assert_eq!(trumpet["moved_octaves"], -2);
}

/// Names from a file do not become markup.
#[test]
fn html_is_escaped() {
    let xml = score::xml("Flute", None, &[(0, -3)], (4, 4), &["Ab4:4"])
        .replace("Four Lanterns", "&lt;script&gt;alert(1)&lt;/script&gt; &amp; more")
        .replace("number=\"1\"", "number=\"&lt;b&gt;\"")
        .replace("<part-name>Flute", "<part-name>&lt;i&gt;Solo");
    let file = File::new(&xml);
    for arguments in [&["--format", "html"][..], &["--card", "--format", "html"]] {
        let page = stdout(file.name(), arguments);
        for markup in ["<script>", "<b>\"", "<i>Solo", "m<b>"] {
            assert!(!page.contains(markup), "{markup}");
        }
        assert!(page.contains("&#60;script&#62;"));
    }
}

/// The engraved systems stand on their instrument's page, above its count. The engraver is a script that answers with
/// two parts; `tests/engraving.rs` has the real one.
#[cfg(unix)]
#[test]
fn staves_stand_on_their_pages() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let engraver = folder.path().join("engraver");
    let answer = r#"{"svg":[["<svg id=\"a1\"/>","<svg id=\"a2\"/>"],["<svg id=\"b1\"/>"]]}"#;
    let script = folder.path().join("script");
    std::fs::write(&script, format!("#!/bin/sh\nread -r line\necho '{answer}'\n")).unwrap();
    std::fs::set_permissions(&script, std::fs::Permissions::from_mode(0o755)).unwrap();
    // What this process writes a test beside this one may hold open when it is run (execve(2), ETXTBSY); a copy it does not.
    assert!(std::process::Command::new("cp").arg(&script).arg(&engraver).status().unwrap().success());
    let mut asked = command(LANTERNS, &["--instrument", "flute", "--instrument", "horn", "--format", "html"]);
    let done = asked.env("RESTWARD_ENGRAVE", &engraver).assert().success();
    let page = String::from_utf8(done.get_output().stdout.clone()).unwrap();
    let at = |what: &str| page.find(what).unwrap_or_else(|| panic!("{what} is not there"));
    let order = ["<h1>Flute", "id=\"a1\"", "id=\"a2\"", "<h2>Count", "<h1>Horn in F", "id=\"b1\"", "</html>"].map(at);
    assert!(order.is_sorted(), "{order:?}");
    assert!(!page.contains("No staff here"));
}

/// Without an engraver the page says so, once for each instrument, and has the count.
#[test]
fn a_page_without_staff_says_why() {
    let page = stdout(LANTERNS, &["--instrument", "flute", "--instrument", "horn", "--format", "html"]);
    assert_eq!(page.matches("No staff here: ").count(), 2);
    assert_eq!(page.matches("<h2>Count</h2>").count(), 2);
}

/// Marked MusicXML reads as the sheet: courtesy accidentals at the changed notes, the count below the releases.
#[test]
fn marked_musicxml() {
    let text = stdout(LANTERNS, &["--part", "P3", "--format", "musicxml"]);
    assert_eq!(text.matches("parentheses=\"yes\"").count(), 4, "F♮ four times");
    assert_eq!(text.matches("→4").count(), 3, "measures 2, 4 and 8");
    let file = File::new(&text);
    let notes = |name: &str| {
        let done =
            Command::cargo_bin("restward").unwrap().args(["notes", name, "--part", "Alto", "--json"]).output().unwrap();
        let listing: Value = serde_json::from_slice(&done.stdout).unwrap();
        let notes = listing["notes"].as_array().unwrap().iter();
        notes
            .map(|note| {
                ["written", "sounding_midi", "onset_quarters", "duration_quarters"].map(|field| note[field].to_string())
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(notes(LANTERNS), notes(file.name()));
}

#[test]
fn the_name_of_the_file_says_how_to_write_it() {
    let file = flute(&[(0, -3)], &["Ab4:3 r:1"]);
    for (name, begins) in
        [("a.html", "<!DOCTYPE html>"), ("a.json", "{\"title\""), ("a.musicxml", "<?xml"), ("a.txt", "Four Lanterns")]
    {
        let output = file.beside(name);
        command(file.name(), &["-o", output.to_str().unwrap()]).assert().success().stdout("");
        assert!(std::fs::read_to_string(&output).unwrap().starts_with(begins), "{name}");
    }
    let left: Vec<_> = std::fs::read_dir(file.folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left.len(), 5, "nothing is left aside: {left:?}");
    // Never over the exercise.
    let refused = command(file.name(), &["--format", "json", "-o", file.name()]).assert().failure().code(1);
    assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("line.musicxml"));
    assert!(Path::new(file.name()).metadata().unwrap().len() > 100);
}

fn remarks(file: &File, arguments: &[&str]) -> String {
    let answer = json(file.name(), arguments);
    let remarks = answer["sheets"][0]["remarks"].as_array().unwrap().clone();
    remarks.iter().map(|remark| remark.as_str().unwrap().to_owned()).collect::<Vec<_>>().join(" | ")
}

#[test]
fn odd_parts_get_a_sheet_that_says_so() {
    // No notes with a pitch, alone and beside others, and asked for an instrument.
    let drums = File::new(&score::xml("Snare Drum", None, &[(0, 0)], (4, 4), &["x:1 x:1 x:2"]));
    for arguments in [&[][..], &["--part", "P1"], &["--instrument", "flute"]] {
        assert!(remarks(&drums, arguments).contains("no notes with a pitch"), "{arguments:?}");
        assert!(stdout(drums.name(), arguments).contains("no notes with a pitch"));
        assert!(stdout(drums.name(), &[arguments, &["--format", "html"]].concat()).contains("no notes with a pitch"));
        assert!(stdout(drums.name(), &[arguments, &["--card"]].concat()).contains("no notes with a pitch"));
    }
    let no_rests = flute(&[(0, -3)], &["Ab4:2 G4:2", "Eb4:4"]);
    assert!(remarks(&no_rests, &[]).contains("There is no rest after any note"));
    assert!(stdout(no_rests.name(), &["--card"]).contains("No note is held up to a rest."));
    let no_changed = flute(&[(0, -3)], &["G4:3 r:1"]);
    assert!(remarks(&no_changed, &[]).contains("No changed note occurs"));
    assert!(remarks(&no_changed, &["--family", "Eb"]).contains("The band has no other key"));
    let nobody = File::new(&score::xml("Serpent", None, &[(0, -3)], (4, 4), &["G4:3 r:1"]));
    assert!(remarks(&nobody, &[]).contains("does not say which instrument"));
    let high = flute(&[(0, -3)], &["G4:2 C6:2"]);
    assert!(remarks(&high, &[]).contains("Beyond the beginner range D4 to B♭5: C6 (m1 beat 3). No octave"));
    let low = flute(&[(0, -3)], &["G3:2 Ab3:1 r:1"]);
    assert!(
        remarks(&low, &[]).contains("cannot be played on this instrument, which goes from C4 to C7. An octave higher")
    );
    let nowhere = flute(&[(0, -3)], &["C1:2 C8:2"]);
    assert!(remarks(&nowhere, &[]).contains("in no octave"));
    let bells = flute(&[(0, -3)], &["Ab4:3 r:1"]);
    assert!(remarks(&bells, &["--instrument", "bells"]).contains("rings by itself"));
}

#[test]
fn refusals() {
    let says = |arguments: &[&str], status: i32| {
        let done = command(LANTERNS, arguments).assert().failure().code(status).stdout("");
        String::from_utf8(done.get_output().stderr.clone()).unwrap()
    };
    assert!(says(&["--instrument", "trumpit"], 1).contains("did you mean trumpet"));
    assert!(says(&["--part", "Kazoo"], 1).contains("P1 (Flute)"));
    assert!(says(&["--family", "Q"], 1).contains("--family"));
    assert!(says(&["--card", "--format", "json"], 2).contains("--card"));
    assert!(says(&["--all", "--instrument", "flute"], 2).contains("cannot be used with"));
    assert!(says(&["-o", "/no/such/folder/a.html"], 3).contains("/no/such/folder/a.html"));
    let gone = command("nowhere.musicxml", &[]).assert().failure().code(1);
    assert!(String::from_utf8_lossy(&gone.get_output().stderr).contains("nowhere.musicxml"));
}
