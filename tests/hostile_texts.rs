//! Names, titles, lyrics, file names and messages that try to command the terminal or the browser: every command over such
//! files, and no control sign reaches stdout or stderr. ISO 6429 (C0, C1); Unicode UAX #9 (direction of writing).

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use restward::book::{Book, Entry};
use std::fs;
use std::path::Path;
use std::process::Output;

/// Clears the screen, sets the window's title, turns the writing around, in C0, C1 and UAX #9; then HTML, then a formula.
const EVIL: &str =
    "=1+1 \u{1b}[2J\u{1b}]0;gone\u{7}\u{9b}31m\u{9d}0;x\u{9c}\u{202e}\u{2066}\u{200f}\u{2028}\r\u{8}<script>\"'&end";
/// The same without what XML 1.0 forbids (2.2).
const IN_XML: &str =
    "=1+1 &#x9b;31m&#x9d;0;x&#x9c;&#x202e;&#x2066;&#x200f;&#x2028;&#13;&#x7f;&lt;script&gt;&quot;'&amp;end";

fn run(folder: &Path, arguments: &[&str]) -> Output {
    assert_cmd::cargo::cargo_bin_cmd!("restward")
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .args(arguments)
        .output()
        .unwrap()
}

/// Nothing but text, spaces and line ends, on both streams; and it did not end by a panic.
fn shown(folder: &Path, arguments: &[&str]) -> String {
    let output = run(folder, arguments);
    assert!(output.status.code().is_some_and(|code| code <= 3), "{arguments:?}: {output:?}");
    let mut both = String::from_utf8(output.stdout).unwrap();
    both.push_str(&String::from_utf8(output.stderr).unwrap());
    let bidi = "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}\u{2028}\u{2029}";
    let bad = both.chars().find(|&letter| (letter.is_control() && letter != '\n') || bidi.contains(letter));
    assert_eq!(bad, None, "{arguments:?}: {both:?}");
    both
}

fn score() -> String {
    let (name, label) = (format!("Flute {IN_XML}"), "1&#x9b;2J&#x202e;");
    let note = |step: &str| {
        format!(
            "<note id=\"n&#x9b;{step}\"><pitch><step>{step}</step><octave>4</octave></pitch><duration>4</duration>\
             <lyric><text>{IN_XML}</text></lyric></note>"
        )
    };
    format!(
        "<score-partwise><work><work-title>{IN_XML}</work-title></work><movement-title>{IN_XML}</movement-title>\
         <part-list><score-part id=\"P&#x9b;1\"><part-name>{name}</part-name><part-abbreviation>{IN_XML}</part-abbreviation>\
         </score-part><score-part id=\"P2\"><part-name>{IN_XML}</part-name></score-part></part-list>\
         <part id=\"P&#x9b;1\"><measure number=\"{label}\"><attributes><divisions>4</divisions><key><fifths>-3</fifths></key>\
         <time><beats>4</beats><beat-type>4</beat-type></time></attributes><direction><direction-type><words>{IN_XML}</words>\
         </direction-type></direction><direction><direction-type><words>D.S. {IN_XML}</words></direction-type>\
         <sound tempo=\"{IN_XML}\"/></direction>{}{}</measure></part><part id=\"P2\"><measure number=\"{label}\"/></part>\
         </score-partwise>",
        note("A"),
        note("B")
    )
}

fn tune() -> String {
    let line = EVIL.replace(['\r', '\u{2028}', '"'], " ");
    format!(
        "X:1\nT:{line}\nC:{line}\nI:{line}\n%%{line}\nM:4/4\nL:1/4\nK:Eb\nV:1 name=\"{line}\"\n\"{line}\"ABcd|\nw:{line}\n"
    )
}

/// A MIDI file (Standard MIDI Files 1.0): the name of a track, a text, a lyric, a marker, a program, one note.
fn midi() -> Vec<u8> {
    let mut events = Vec::new();
    for kind in [0x03, 0x04, 0x01, 0x05, 0x06, 0x07] {
        events.extend([0, 0xff, kind, EVIL.len() as u8]);
        events.extend(EVIL.bytes());
    }
    let delay = "click delay 9\u{1b}[2J9 us";
    events.extend([0, 0xff, 0x01, delay.len() as u8]);
    events.extend(delay.bytes());
    events.extend([0, 0x90, 68, 80, 96, 0x80, 68, 0, 0, 0xff, 0x2f, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk".to_vec();
    file.extend((events.len() as u32).to_be_bytes());
    file.extend(events);
    file
}

#[test]
fn what_files_say_commands_no_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("score.musicxml"), score()).unwrap();
    fs::write(at.join("tune.abc"), tune()).unwrap();
    fs::write(at.join("take.mid"), midi()).unwrap();
    let stream =
        format!(r#"[[0.5, [144, 68, 80], {{"port": 0, "name": {}}}], [1.0, [128, 68, 0]]]"#, serde_json::json!(EVIL));
    fs::write(at.join("stream.json"), stream).unwrap();
    let broken =
        format!("<score-partwise><part id=\"P1\"><measure number=\"{IN_XML}\"><note><pitch><step>{IN_XML}</step>");
    fs::write(at.join("broken.musicxml"), &broken).unwrap();
    fs::write(at.join("step.musicxml"), score().replace("<step>A</step>", &format!("<step>{IN_XML}</step>"))).unwrap();
    fs::write(at.join("other.xml"), "<a\u{9b}2J/>").unwrap();
    fs::write(at.join("word.abc"), format!("X:1\nT:a\nK:{EVIL}\nABc\n")).unwrap();
    fs::write(at.join("sign.abc"), format!("X:1\nT:a\nK:C\nAB{EVIL}c\n")).unwrap();
    fs::write(at.join("broken.json"), format!("[[0.5, [{EVIL}")).unwrap();
    fs::write(at.join("broken.mid"), [b"MThd", EVIL.as_bytes()].concat()).unwrap();
    for exercise in [
        "score.musicxml",
        "tune.abc",
        "take.mid",
        "broken.musicxml",
        "step.musicxml",
        "other.xml",
        "word.abc",
        "sign.abc",
    ] {
        shown(at, &["notes", exercise]);
        shown(at, &["notes", exercise, "--json"]);
        shown(at, &["notes", exercise, "--part", EVIL]);
        shown(at, &["sheet", exercise]);
        shown(at, &["sheet", exercise, "--format", "json"]);
        shown(at, &["write", exercise]);
        shown(at, &["write", exercise, "--format", "abc"]);
        for take in ["take.mid", "stream.json", "broken.json", "broken.mid"] {
            for form in ["text", "json", "jsonl"] {
                shown(at, &["check", exercise, take, "--report", form]);
            }
        }
        shown(at, &["listen", exercise, "--player", &format!("{EVIL}=no such {EVIL}")]);
    }
    assert!(shown(at, &["notes", "score.musicxml"]).contains("2 notes"), "the score itself is read");
    assert!(shown(at, &["notes", "tune.abc"]).contains("4 notes"), "the tune itself is read");
    assert!(shown(at, &["check", "score.musicxml", "take.mid"]).contains("2J"), "the names are shown");
    shown(at, &["clean", "stream.json", "--json"]);
    shown(at, &["clean", "broken.json", "--json"]);
    shown(at, &["changed", "--key", EVIL]);
    shown(at, &["drill", "--kind", "changed", "--key", "Eb", "--instrument", EVIL]);
    shown(at, &[EVIL]);
    shown(at, &["notes", "tune.abc", EVIL]);
}

/// Names of files come from others, too: unpacked archives, sticks, mail.
#[cfg(unix)]
#[test]
fn names_of_files_command_no_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let name = |ending: &str| format!("{}.{ending}", EVIL.replace('/', ""));
    let (good, bad, take, book) = (name("musicxml"), name("abc"), name("mid"), name("book"));
    fs::write(at.join(&good), score()).unwrap();
    fs::write(at.join(&bad), "no music").unwrap();
    fs::write(at.join(&take), midi()).unwrap();
    fs::write(at.join("roster.csv"), "name\nAda\n").unwrap();
    for exercise in [&*good, &bad, &name("missing")] {
        shown(at, &["notes", exercise]);
        shown(at, &["sheet", exercise]);
        shown(at, &["check", exercise, &take]);
        shown(at, &["check", exercise, &bad]);
        shown(at, &["write", exercise, "-o", &name("out.abc")]);
        shown(at, &["write", exercise, "-o", &good]);
        shown(at, &["listen", exercise, "--save", &name("folder")]);
    }
    shown(at, &["clean", &bad, "--json"]);
    shown(at, &["book", "players", "--book", &book]);
    shown(at, &["book", "roster", "--book", &book, &bad]);
    shown(at, &["book", "roster", "--book", &book, "roster.csv", "--yes"]);
    shown(at, &["book", "verify", "--book", &book]);
    shown(at, &["book", "backup", "--book", &book, &name("copy")]);
    shown(at, &["book", "forget", "--book", &book, EVIL]);
    shown(at, &["book", "forget", "--book", &book, "Ada", "--yes"]);
}

#[test]
fn a_roster_and_a_book_command_no_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let cell = EVIL.replace('"', "\"\"");
    fs::write(at.join("roster.csv"), format!("name,instrument,section,{cell}\n\"{cell}\",\"{cell}\",\"{cell}\",x\n"))
        .unwrap();
    shown(at, &["book", "roster", "--book", "a.book", "roster.csv", "--yes"]);
    shown(at, &["book", "players", "--book", "a.book"]);
    // A book that somebody else wrote.
    let path = at.join("a.book");
    let entry =
        Entry { name: "Ada".into(), section: Some(EVIL.into()), outside_id: Some(EVIL.into()), ..Entry::default() };
    Book::open_or_begin(&path).unwrap().enter(&[entry]).unwrap();
    let sql = rusqlite::Connection::open(&path).unwrap();
    sql.execute("UPDATE player SET name = name || ?1, instrument = ?1", [EVIL]).unwrap();
    for what in ["players", "verify"] {
        shown(at, &["book", what, "--book", "a.book"]);
    }
    shown(at, &["book", "players", "--book", "a.book", "--json"]);
    shown(at, &["book", "forget", "--book", "a.book", &format!("Ada{EVIL}")]);
}

#[test]
fn what_files_say_is_no_html() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("score.musicxml"), score()).unwrap();
    fs::write(at.join("tune.abc"), tune()).unwrap();
    for exercise in ["score.musicxml", "tune.abc"] {
        let output = run(at, &["sheet", exercise, "--format", "html"]);
        let page = String::from_utf8(output.stdout).unwrap();
        // Askama writes the five signs as numbers; `<script` is nowhere in our own pages.
        assert!(page.contains("&#60;script&#62;") && page.contains("&#39;&#38;end"), "{exercise}: {page}");
        assert!(!page.contains("<script"), "{exercise}");
    }
}
