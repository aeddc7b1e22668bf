//! `restward book` as a director types it.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::path::Path;

fn output(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_restward"));
    let output = command.current_dir(folder).args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap_or(-1), text(output.stdout), text(output.stderr))
}

fn folder_with(roster: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("players.csv"), roster).unwrap();
    folder
}

const ROSTER: [&str; 5] = ["book", "roster", "--book", "band.db", "players.csv"];

fn players(folder: &Path) -> serde_json::Value {
    let (status, out, errors) = output(folder, &["book", "players", "--book", "band.db", "--json"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

#[test]
fn a_roster_is_shown_first_and_entered_when_told() {
    let folder = folder_with(b"Name;Instrument;Section\nRen\xE9e;Fl\xF6te;Woodwinds\n\nOlek;kazoo;\n");
    let folder = folder.path();
    let (status, out, errors) = output(folder, &ROSTER);
    assert_eq!((status, errors.as_str()), (0, ""));
    for expected in ["Renée", "flute", "Latin-1", "Line 4: Olek plays \"kazoo\"", "--yes"] {
        assert!(out.contains(expected), "{expected}: {out}");
    }
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    assert!(!folder.join("band.db").exists(), "nothing is made without --yes");
    let (status, out, _) = output(folder, &[&ROSTER[..], &["--yes"]].concat());
    assert!(status == 0 && out.contains("2 players entered; 0 known already."), "{out}");
    let found = players(folder);
    assert_eq!(found["players"][1]["name"], "Renée");
    assert_eq!(found["players"][1]["instrument"], "flute");
    // The next roster: fills a gap, takes nothing away.
    std::fs::write(folder.join("players.csv"), "name,instrument,id\nren\u{e9}e,oboe,7\nOlek,tuba,8\n").unwrap();
    let (status, out, _) = output(folder, &[&ROSTER[..], &["--yes"]].concat());
    assert_eq!(status, 0);
    assert!(out.contains("instrument is oboe here and flute in the book; the book's"), "{out}");
    assert!(out.contains("0 players entered; 2 known already."), "{out}");
    let found = players(folder);
    assert_eq!(
        (&found["players"][0]["instrument"], &found["players"][1]["instrument"]),
        (&"tuba".into(), &"flute".into())
    );
    assert_eq!(found["players"][1]["outside_id"], "7");
    let (_, out, _) = output(folder, &["book", "players", "--book", "band.db"]);
    assert!(out.starts_with("player  instrument") && out.contains("Renée   flute"), "{out}");
}

#[test]
fn a_roster_that_cannot_be_right_changes_nothing() {
    let folder = folder_with(b"name,instrument\nInes,flute\nINES,oboe\n");
    let folder = folder.path();
    let (status, _, errors) = output(folder, &[&ROSTER[..], &["--yes"]].concat());
    assert_eq!(status, 1);
    assert!(errors.starts_with("restward: players.csv: line 3: INES stands in line 2 already"), "{errors}");
    assert!(!folder.join("band.db").exists());
    for (content, says) in
        [(&b""[..], "empty"), (b"PK\x03\x04\0\0\0\0\0\0", "CSV"), (b"Ines,flute\n", "line 1: no column is headed name")]
    {
        std::fs::write(folder.join("players.csv"), content).unwrap();
        let (status, out, errors) = output(folder, &[&ROSTER[..], &["--yes"]].concat());
        assert_eq!((status, out.as_str()), (1, ""), "{errors}");
        assert!(errors.contains(says) && errors.contains("players.csv"), "{errors}");
    }
    let (status, _, errors) = output(folder, &["book", "roster", "--book", "band.db", "gone.csv"]);
    assert!(status == 1 && errors.contains("gone.csv"), "{errors}");
    // Somebody else's id.
    std::fs::write(folder.join("players.csv"), "name,id\nInes,7\n").unwrap();
    assert_eq!(output(folder, &[&ROSTER[..], &["--yes"]].concat()).0, 0);
    std::fs::write(folder.join("players.csv"), "name,id\nNils,\nMara,7\n").unwrap();
    let (status, _, errors) = output(folder, &[&ROSTER[..], &["--yes"]].concat());
    assert!(status == 1 && errors.contains("line 3: Mara has the id 7, which Ines has in the book"), "{errors}");
    assert_eq!(players(folder)["players"].as_array().unwrap().len(), 1);
}

#[test]
fn a_file_that_is_no_book_is_refused() {
    let folder = folder_with(b"name\nInes\n");
    let folder = folder.path();
    let (status, _, errors) = output(folder, &["book", "players", "--book", "band.db"]);
    assert!(status == 1 && errors.starts_with("restward: band.db: there is no book here"), "{errors}");
    let (status, _, errors) = output(folder, &["book", "players", "--book", "players.csv"]);
    assert!(status == 1 && errors.contains("no book of restward"), "{errors}");
    assert_eq!(std::fs::read(folder.join("players.csv")).unwrap(), b"name\nInes\n");
}
