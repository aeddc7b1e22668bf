//! `restward write` as a user runs it.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::path::{Path, PathBuf};

fn exercise() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("config/exercises/lantern-walk.musicxml")
}

/// Exit status, stdout, stderr.
fn write(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("restward").unwrap().arg("write").args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn the_name_of_the_file_says_what_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let exercise = exercise();
    let exercise = exercise.to_str().unwrap();
    for (name, arguments, begins) in [
        ("a.abc", vec![], "%abc-2.1\n"),
        ("a.musicxml", vec![], "<?xml"),
        ("a.XML", vec![], "<?xml"),
        ("a.txt", vec!["--format", "abc"], "%abc-2.1\n"),
        ("a.abc", vec!["--format", "musicxml"], "<?xml"),
    ] {
        let file = folder.path().join(name);
        let mut all = vec![exercise, "-o", file.to_str().unwrap()];
        all.extend(arguments);
        assert_eq!(write(&all), (0, String::new(), String::new()), "{name}");
        assert!(std::fs::read_to_string(&file).unwrap().starts_with(begins), "{name}");
    }
    let (status, out, _) = write(&[exercise]);
    assert_eq!((status, out.matches("<score-part ").count()), (0, 3));
    let (status, out, _) = write(&[exercise, "--part", "Flute", "--part", "P3"]);
    assert_eq!((status, out.matches("<score-part ").count()), (0, 2));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 4, "nothing else is left");
}

/// The file's own part for an instrument is taken as it is, and others are printed from the line.
#[test]
fn each_instrument_gets_its_part() {
    let exercise = exercise();
    let exercise = exercise.to_str().unwrap();
    let (status, out, err) = write(&[exercise, "--instrument", "alto-sax", "--instrument", "horn", "--format", "abc"]);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("K:C\nV:1 name=\"Alto Saxophone\" clef=treble transpose=-9\nc4 d2 e2 |"), "{out}");
    // Concert E♭ is B♭ for the horn; its beginner range begins at the B♭ below middle C.
    assert!(out.contains("V:2 name=\"Horn in F\" clef=treble transpose=-7\nK:Bb\nB,4 C2 D2 |"), "{out}");
    assert!(err.contains("this is P1"), "which line was taken is said: {err}");
    let (status, out, _) = write(&[exercise, "--instrument", "tuba", "--part", "P3", "--format", "abc"]);
    assert_eq!(status, 0);
    assert!(out.contains("name=\"Tuba\" clef=bass\n"), "{out}");
}

#[test]
fn what_cannot_be_done_is_said_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.musicxml");
    std::fs::copy(exercise(), &copy).unwrap();
    let before = std::fs::read(&copy).unwrap();
    let copy = copy.to_str().unwrap();
    let nowhere = folder.path().join("nowhere/out.abc");
    for (arguments, status, told) in [
        (vec![copy, "-o", copy], 1, "this is the file that it is made from"),
        (vec![copy, "--part", "Kazoo"], 1, "no part \"Kazoo\""),
        (vec![copy, "--instrument", "trumpit"], 1, "did you mean trumpet"),
        (vec![copy, "--instrument", "tuba", "--part", "P1", "--part", "P2"], 2, "--part only once"),
        (vec![copy, "-o", nowhere.to_str().unwrap()], 3, "could not be written"),
        (vec!["missing.musicxml"], 1, "missing.musicxml"),
    ] {
        let (found, out, err) = write(&arguments);
        assert_eq!((found, out.as_str()), (status, ""), "{arguments:?}: {err}");
        assert!(err.contains(told), "{arguments:?}: {err}");
    }
    assert_eq!(std::fs::read(copy).unwrap(), before);
}

/// Drums have no pitches to write: the rest of the score is written, and the part is named.
#[test]
fn parts_without_pitches_are_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("score.musicxml");
    let note = |what: &str| format!("<note>{what}<duration>4</duration></note>");
    let part = |id: &str, what: &str| {
        format!(
            "<part id='{id}'><measure number='1'><attributes><divisions>1</divisions></attributes>{}</measure></part>",
            note(what)
        )
    };
    let drum = "<unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>";
    let text = format!(
        "<score-partwise><part-list><score-part id='P1'><part-name>Drums</part-name></score-part>\
         <score-part id='P2'><part-name>Flute</part-name></score-part></part-list>{}{}</score-partwise>",
        part("P1", drum),
        part("P2", "<pitch><step>C</step><octave>5</octave></pitch>")
    );
    std::fs::write(&file, text).unwrap();
    let (status, out, err) = write(&[file.to_str().unwrap()]);
    assert_eq!((status, out.matches("<score-part ").count()), (0, 1));
    assert!(out.contains("Flute") && !out.contains("Drums"));
    assert!(err.contains("Part P1 has no notes with a pitch"), "{err}");
    let (status, _, err) = write(&[file.to_str().unwrap(), "--part", "Drums"]);
    assert_eq!(status, 1, "{err}");
}
