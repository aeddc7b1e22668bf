//! `restward book` as a director types it.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot go on fails

mod support;

use assert_cmd::Command;
use restward::book::{Book, TakeStart};
use restward::exercise::Micros;
use restward::judge::{Engine, Grid, Settings};
use restward::listen::Timed;
use restward::listen::take::Clock;
use std::path::Path;
use support::cases;

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
    assert!(out.contains("0 players entered; 2 known already, 2 of them changed."), "{out}");
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
    let (status, _, errors) = output(folder, &["book", "players", "--book", "."]);
    assert!(status == 1 && errors.starts_with("restward: .: this file is no book"), "{errors}");
}

/// A book of takes as a session leaves it, of the exercises and takes in tests/data/takes.
fn book_of_takes(path: &Path) -> Vec<usize> {
    let mut book = Book::open_or_begin(path).unwrap();
    let mut flags = Vec::new();
    for (case, name) in cases().iter().zip((1..=60).step_by(5)) {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/takes/v{name:03}.musicxml"));
        let clock = Clock::new(case.settings.grid.as_ref().map(|grid| (grid.start, &grid.tempo)));
        let inputs: Vec<_> =
            case.inputs.iter().cloned().map(|input| Timed { at: clock.snap(input.at), ..input }).collect();
        let settings = Settings {
            grid: clock.click().map(|(start, tempo)| Grid::new(start, tempo)),
            stamp_error: Settings::stamp_error(Micros(0)),
            ..case.settings.clone()
        };
        let start = TakeStart {
            player: book.player_or_new(["Ines Novak", "Olek"][name % 2]).unwrap().id,
            exercise: book.keep_exercise("Scales", "scales.musicxml", &std::fs::read(file).unwrap(), 1).unwrap(),
            begun_us: 1_700_000_000_000_000,
            part: case.part.name.id.clone(),
            instrument: settings.instrument.as_ref().map(|instrument| instrument.id.clone()),
            level: settings.level,
            sends: settings.sends,
            family: settings.family.clone(),
            click: settings.grid.clone(),
            delay: None,
        };
        let take = book.begin_take(&start).unwrap();
        book.arrived(&[(take, 0, &inputs)]).unwrap();
        let mut engine = Engine::new(case.part.clone(), settings);
        inputs.iter().for_each(|input| engine.push(input));
        let report = engine.finish(case.end).0;
        book.finish_take(take, &inputs, &start, case.end, &case.part, &report).unwrap();
        flags.push(report.flags.len());
    }
    flags
}

#[test]
fn a_book_that_is_listened_into_or_is_none_is_refused_before_any_port_is_opened() {
    let folder = folder_with(b"name\nInes\n");
    let (folder, path) = (folder.path(), folder.path().join("band.db"));
    let exercise = concat!(env!("CARGO_MANIFEST_DIR"), "/config/exercises/lantern-walk.musicxml");
    let book = Book::open_or_begin(&path).unwrap();
    let listening = book.listening().unwrap();
    let newer = folder.join("newer.db");
    drop(Book::open_or_begin(&newer).unwrap());
    rusqlite::Connection::open(&newer).unwrap().pragma_update(None, "user_version", 99).unwrap();
    for (name, says) in [
        ("band.db", "another restward is listening into this book"),
        ("players.csv", "no book of restward"),
        ("newer.db", "the book is of version 99"),
    ] {
        let (status, out, errors) = output(folder, &["listen", exercise, "--book", name, "--player", "Mia=#1"]);
        assert_eq!((status, out.as_str()), (1, ""), "{errors}");
        assert!(errors.starts_with(&format!("restward: {name}: ")) && errors.contains(says), "{errors}");
    }
    let (status, _, errors) = output(folder, &["listen", exercise, "--book", "band.db"]);
    assert!(status == 2 && errors.contains("say who plays, as in --player Mia=#1"), "{errors}");
    drop(listening);
    assert!(book.listening().is_ok(), "and then it is free");
}

#[test]
fn verify_finds_what_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let (folder, path) = (folder.path(), folder.path().join("band.db"));
    book_of_takes(&path);
    let verify = ["book", "verify", "--book", "band.db"];
    let (status, out, errors) = output(folder, &verify);
    assert_eq!((status, errors.as_str()), (0, ""), "{out}");
    assert!(out.contains("2 players, 12 exercises, 12 takes; 12 judged again.\nNothing is wrong."), "{out}");

    let sql = rusqlite::Connection::open(&path).unwrap();
    let lost: i64 = sql.query_row("SELECT min(take) FROM flag WHERE counts", [], |row| row.get(0)).unwrap();
    sql.execute("DELETE FROM flag WHERE take = ?1", [lost]).unwrap();
    let (status, out, errors) = output(folder, &verify);
    assert!(status == 1 && errors.contains("1 takes are not judged as the book says"), "{errors}");
    assert!(out.contains("  new        m"), "{out}");
    let (status, out, _) = output(folder, &["book", "rejudge", "--book", "band.db"]);
    assert!(status == 0 && out.contains("12 takes judged again; 1 with other findings."), "{out}");
    assert_eq!(output(folder, &verify).0, 0, "and now it is right again");

    sql.pragma_update(None, "foreign_keys", false).unwrap();
    sql.execute("DELETE FROM player WHERE name = 'Olek'", []).unwrap();
    sql.execute("UPDATE exercise SET content = x'78' WHERE id = 1", []).unwrap();
    let (status, out, errors) = output(folder, &verify);
    assert!(status == 1 && errors.contains("2 things are wrong"), "{errors}");
    assert!(out.contains("6 rows of take belong to a player that is not in the book"), "{out}");
    assert!(out.contains("the exercise Scales is not what was kept"), "{out}");
}

#[test]
fn another_level_gives_other_findings_and_back() {
    let folder = tempfile::tempdir().unwrap();
    let (folder, path) = (folder.path(), folder.path().join("band.db"));
    let before: usize = book_of_takes(&path).iter().sum();
    let count = || -> i64 {
        let sql = rusqlite::Connection::open(&path).unwrap();
        sql.query_row("SELECT count(*) FROM flag WHERE counts", [], |row| row.get(0)).unwrap()
    };
    assert_eq!(count(), before as i64);
    let as_played = || output(folder, &["book", "rejudge", "--book", "band.db"]);
    let rejudge = |level| output(folder, &["book", "rejudge", "--book", "band.db", "--level", level]);
    let levels = || -> Vec<String> {
        let sql = rusqlite::Connection::open(&path).unwrap();
        let mut query = sql.prepare("SELECT level FROM take ORDER BY id").unwrap();
        query.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
    };
    let played = levels();
    let (status, _, errors) = rejudge("first-year");
    assert_eq!((status, errors.as_str()), (0, ""));
    let lenient = count();
    let (_, out, _) = rejudge("third-year");
    assert!(count() > lenient, "{} of {lenient}", count());
    assert!(out.contains("  new        m"), "{out}");
    rejudge("first-year");
    assert_eq!(count(), lenient, "the same takes at the same level give the same findings");
    assert_eq!(rejudge("fourth-year").0, 2);
    rejudge("third-year");
    assert!(levels() != played && levels().iter().all(|level| level == "third-year"));
    assert_eq!(output(folder, &["book", "verify", "--book", "band.db"]).0, 0, "what is kept is at the level it says");
    assert_eq!(as_played().0, 0);
    assert_eq!((levels(), count()), (played, before as i64), "the level of play is not lost");
}

#[test]
fn a_backup_is_whole_while_somebody_writes() {
    let folder = tempfile::tempdir().unwrap();
    let (folder, path) = (folder.path(), folder.path().join("band.db"));
    book_of_takes(&path);
    let book = Book::open(&path).unwrap();
    let _listening = book.listening().unwrap();
    // A transaction that is open, as while arrivals are written.
    let sql = rusqlite::Connection::open(&path).unwrap();
    sql.execute_batch("BEGIN IMMEDIATE; DELETE FROM take").unwrap();
    let backup = ["book", "backup", "--book", "band.db", "copy.db"];
    let (status, out, errors) = output(folder, &backup);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert_eq!(out, "copy.db: 2 players, 12 exercises, 12 takes.\n");
    #[cfg(unix)]
    assert_eq!(
        std::os::unix::fs::PermissionsExt::mode(&std::fs::metadata(folder.join("copy.db")).unwrap().permissions())
            & 0o777,
        0o600
    );
    assert_eq!(output(folder, &["book", "verify", "--book", "copy.db"]).0, 0);
    // What is there is not written over, the book least of all.
    for to in ["copy.db", "band.db"] {
        let (status, _, errors) = output(folder, &["book", "backup", "--book", "band.db", to]);
        assert!(status == 1 && errors.starts_with(&format!("restward: {to}: there is a file already")), "{errors}");
    }
    assert!(!folder.join("copy.db.new").exists());
    let (status, _, errors) = output(folder, &["book", "backup", "--book", "band.db", "no-such-folder/copy.db"]);
    assert!(status == 3 && errors.contains("no-such-folder/copy.db"), "{status} {errors}");
}

#[test]
fn a_forgotten_player_leaves_no_trace() {
    let folder = tempfile::tempdir().unwrap();
    let (folder, path) = (folder.path(), folder.path().join("band.db"));
    book_of_takes(&path);
    let forget = ["book", "forget", "--book", "band.db", "ines novak"];
    let traces = || {
        let files = std::fs::read_dir(folder).unwrap().map(|entry| std::fs::read(entry.unwrap().path()).unwrap());
        files.filter(|bytes| bytes.windows(10).any(|window| window == b"Ines Novak")).count()
    };
    let (status, out, _) = output(folder, &forget);
    assert!(status == 0 && out.contains("To be erased") && out.contains("--yes"), "{out}");
    assert!(traces() > 0 && players(folder)["players"].as_array().unwrap().len() == 2);
    // Not while a session listens.
    let listened = Book::open(&path).unwrap();
    let listening = listened.listening().unwrap();
    let (status, _, errors) = output(folder, &[&forget[..], &["--yes"]].concat());
    assert!(status == 1 && errors.contains("another restward is listening into this book"), "{errors}");
    drop((listening, listened));
    let (status, out, errors) = output(folder, &[&forget[..], &["--yes"]].concat());
    assert_eq!((status, errors.as_str()), (0, ""));
    let said = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.starts_with("Erased from band.db: Ines Novak, 6 takes from 2023-11-14 22:13 UTC"), "{out}");
    assert_eq!(traces(), 0);
    assert_eq!(players(folder)["players"].as_array().unwrap().len(), 1);
    assert_eq!(output(folder, &["book", "verify", "--book", "band.db"]).0, 0);
    let (status, _, errors) = output(folder, &forget);
    assert!(status == 1 && errors.contains("band.db: nobody is called ines novak"), "{errors}");
}
