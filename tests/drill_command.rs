//! `restward drill` as a user runs it.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::path::Path;

/// Exit status, standard output, standard error.
fn run(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("restward").unwrap().args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

fn drill(arguments: &str, file: &Path) -> (Option<i32>, String, String) {
    let arguments: Vec<&str> = ["drill"].into_iter().chain(arguments.split(' ')).collect();
    run(&[&arguments[..], &["-o", file.to_str().unwrap()]].concat())
}

#[test]
fn a_file_that_notes_reads_and_a_few_sentences() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("friday.musicxml");
    for (arguments, says) in [
        ("--kind changed --key Eb --instrument alto-sax", "Changed note F♮ in C major, drill 1: 8 measures of 4/4"),
        ("--kind changed --key Eb --section flute,alto-sax", "It is A♭ for flute, F♮ for alto saxophone."),
        ("--kind changed --key Ab --instrument flute --changed-note a", "Changed note A♭ in A♭ major"),
        (
            "--kind hold --key Bb --section tuba,bells",
            "Held for 1, 2, 3, 4, 5, 6, 7 and 8 beats, let go on count 1, 2, 3",
        ),
        ("--kind two-keys --key F --to g --instrument horn --seed 9", "From C major to D minor, drill 9"),
        ("--kind two-keys --key F --to Bb --instrument tuba --measures 12", "The key turns at measure 5;"),
    ] {
        let (status, out, error) = drill(arguments, &file);
        assert_eq!((status, error.as_str()), (Some(0), ""), "{arguments}");
        assert!(out.lines().any(|line| line.starts_with(says)), "{out}");
        assert!(out.lines().all(|line| line.chars().count() <= 80 || line.contains("friday.musicxml")), "{out}");
        let (status, table, _) = run(&["notes", file.to_str().unwrap()]);
        assert!(status == Some(0) && table.contains("whole") && table.contains("end"), "{table}");
    }
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "nothing is left beside the drill");
}

/// What the changed note is come to by adds up to how often it comes.
#[test]
fn the_ways_to_the_changed_note_add_up() {
    let folder = tempfile::tempdir().unwrap();
    let mut has_rest = false;
    for (seed, key) in [1, 2, 3, 4, 5, 6].into_iter().zip(["Eb", "Ab", "Bb"].into_iter().cycle()) {
        let file = folder.path().join(format!("{seed}.musicxml"));
        let (status, said, error) =
            drill(&format!("--kind changed --key {key} --instrument flute --seed {seed}"), &file);
        assert_eq!((status, error.as_str()), (Some(0), ""));
        let said = said.replace("\n  ", " ");
        let (_, counted) = said.split_once("The changed note comes ").unwrap();
        let (all, ways) = counted.split_once('.').unwrap().0.split_once(" times: ").unwrap();
        let parts = ways.split(", ").map(|way| way.split(' ').next().unwrap().parse::<usize>().unwrap());
        assert_eq!(parts.sum::<usize>().to_string(), all, "{said}");
        has_rest |= ways.contains("first or after a rest") || ways.contains("repeated");
    }
    assert!(has_rest, "none of these drills needs what this test is for");
}

#[test]
fn without_a_file_the_console_gets_the_page_alone() {
    let arguments = ["drill", "--kind", "hold", "--key", "F", "--instrument", "flute"];
    let (status, page, error) = run(&arguments);
    assert_eq!((status, error.as_str()), (Some(0), ""));
    assert!(page.starts_with("<?xml") && page.trim_end().ends_with("</score-partwise>"));
    assert_eq!(run(&arguments).1, page, "the same seed, the same drill");
    assert_ne!(run(&[&arguments[..], &["--seed", "2"]].concat()).1, page);
}

#[test]
fn a_family_is_a_section() {
    let folder = tempfile::tempdir().unwrap();
    for (family, says) in [
        ("saxophones", "for alto saxophone, tenor saxophone and baritone saxophone."),
        ("flute,Low Brass", "for flute, trombone, euphonium (bass clef) and tuba."),
        (
            "brass,tuba",
            "for trumpet or cornet, horn in F, trombone, euphonium (bass clef), euphonium (treble clef) and tuba.",
        ),
    ] {
        let file = folder.path().join("family.musicxml");
        let file = file.to_str().unwrap();
        let (status, said, error) =
            run(&["drill", "--kind", "changed", "--key", "Eb", "--section", family, "-o", file]);
        assert_eq!((status, error.as_str()), (Some(0), ""), "{family}");
        assert!(said.replace("\n  ", " ").contains(says), "{said}");
    }
}

#[test]
fn what_cannot_be_done_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("none.musicxml");
    for (arguments, status, says) in [
        ("--kind changed --key H --instrument tuba", 1, "--key: 'H' is no key"),
        ("--kind two-keys --key F --to X --instrument tuba", 1, "--to: 'X' is no key"),
        ("--kind two-keys --key F --to d --instrument tuba", 1, "--to D minor: it has the signature of F major"),
        ("--kind changed --key F --instrument tubba", 1, "did you mean tuba?"),
        ("--kind changed --key F --section flute,tubba", 1, "did you mean tuba?"),
        ("--kind changed --key F --section reeds", 1, "or a family as brass or saxophones, not a section of the book"),
        ("--kind changed --key F --instrument sax", 1, "of its family restward knows alto-sax, tenor-sax and bari-sax"),
        ("--kind changed --key F --instrument flute --family F,x", 1, "--family: 'x' is no key"),
        ("--kind changed --key F --instrument flute --family F,d", 1, "no other key of the band changes a note"),
        ("--kind changed --key F --instrument flute --changed-note C", 1, "the changed notes are E♮, A♮, D♮"),
        ("--kind changed --key F --instrument flute --meter 7/8", 1, "--meter 7/8: drills are made in 2/2, 2/4"),
        ("--kind changed --key F --instrument flute --meter four", 2, "--meter four: write 4/4"),
        ("--kind two-keys --key F --instrument tuba", 2, "name it with --to"),
        ("--kind hold --key F --to Bb --instrument tuba", 2, "--to is the second key of --kind two-keys"),
        ("--kind hold --key F --changed-note E --instrument tuba", 2, "--changed-note is for --kind changed"),
        ("--kind changed --key F --changed-note Eb --instrument tuba", 2, "write its letter, A to G"),
        ("--kind changed --key F --instrument tuba --measures 3", 2, "3 is not in 4..=64"),
        ("--kind changed --key F --instrument tuba --measures 65", 2, "65 is not in 4..=64"),
        ("--kind changed --key F --instrument tuba --seed x", 2, "--seed"),
        ("--kind changed --key F", 2, "--instrument <ID>|--section <ID,ID,..>"),
        ("--kind changed --key F --instrument tuba --section flute", 2, "cannot be used with"),
        ("--kind scales --key F --instrument tuba", 2, "changed, hold, two-keys"),
        ("--kind hold --instrument tuba", 2, "--key <KEY>"),
    ] {
        let (code, out, error) = drill(arguments, &file);
        assert_eq!((code, out.as_str()), (Some(status), ""), "{arguments}: {error}");
        assert!(error.contains(says), "{arguments}: {error}");
        assert!(!file.exists());
    }
    let (status, _, error) = drill("--kind hold --key F --instrument tuba", &folder.path().join("no/folder.musicxml"));
    assert!(status == Some(3) && error.contains("folder.musicxml: could not be written"), "{error}");
}

#[test]
fn help_has_examples_that_work() {
    let folder = tempfile::tempdir().unwrap();
    let (status, help, _) = run(&["drill", "--help"]);
    assert_eq!(status, Some(0));
    assert!(help.lines().all(|line| line.chars().count() <= 80), "{help}");
    let examples: Vec<&str> =
        help.lines().filter_map(|line| line.trim().strip_prefix("restward drill --kind ")).collect();
    let examples: Vec<&str> = examples.into_iter().filter(|example| !example.starts_with("KIND")).collect();
    assert_eq!(examples.len(), 4, "{help}");
    for example in examples {
        let mut arguments: Vec<String> = ["drill".to_owned(), "--kind".to_owned()].into();
        arguments.extend(example.split(' ').map(String::from));
        let file = folder.path().join(arguments.pop().unwrap());
        let (status, _, error) =
            run(&[arguments.iter().map(String::as_str).collect(), vec![file.to_str().unwrap()]].concat());
        assert_eq!((status, error.as_str()), (Some(0), ""), "{example}");
    }
}
