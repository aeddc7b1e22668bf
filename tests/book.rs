//! The book keeps what was played, whatever happens (SQLite, "Write-Ahead Logging"; POSIX file modes).

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

mod support;

use restward::book::{Book, BookProblem, Entry, TakeStart};
use restward::exercise::Micros;
use restward::judge::{Engine, Grid, Report, Settings};
use restward::listen::take::{Clock, read_take};
use restward::listen::{Input, Timed};
use restward::theory;
use std::path::Path;
use support::{Case, cases};

fn judged(case: &Case, inputs: &[Timed<Input>], grid: Option<Grid>, end: Micros) -> Report {
    let mut engine = Engine::new(case.part.clone(), Settings { grid, ..case.settings.clone() });
    inputs.iter().for_each(|input| engine.push(input));
    engine.finish(end).0
}

/// A take as a session would keep it: times and click as a take file can hold them.
fn kept(case: &Case) -> (Vec<Timed<Input>>, Option<Grid>) {
    let clock = Clock::new(case.settings.grid.as_ref().map(|grid| (grid.start, &grid.tempo)));
    let snapped = case.inputs.iter().cloned().map(|input| Timed { at: clock.snap(input.at), ..input });
    (snapped.collect(), clock.click().map(|(start, tempo)| Grid::new(start, tempo)))
}

fn begun(book: &mut Book, case: &Case) -> (i64, TakeStart) {
    let player = book.player_or_new("Otto").unwrap().id;
    let exercise = book.keep_exercise("Scales", "scales.musicxml", b"<score/>", 1).unwrap();
    let start = TakeStart {
        player,
        exercise,
        begun_us: 1_700_000_000_000_000,
        part: case.part.name.id.clone(),
        instrument: case.settings.instrument.as_ref().map(|instrument| instrument.id.clone()),
        level: case.settings.level,
        sends: case.settings.sends,
        family: theory::default_family(),
        click: kept(case).1,
        delay: None,
    };
    (book.begin_take(&start).unwrap(), start)
}

#[test]
#[cfg(unix)]
fn only_its_owner_can_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let _book = Book::open_or_begin(&path).unwrap();
    for entry in std::fs::read_dir(folder.path()).unwrap() {
        let entry = entry.unwrap();
        assert_eq!(
            std::os::unix::fs::PermissionsExt::mode(&entry.metadata().unwrap().permissions()) & 0o777,
            0o600,
            "{entry:?}"
        );
    }
}

#[test]
fn what_arrived_before_a_crash_is_there_after_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let case = &cases()[0];
    let (inputs, click) = kept(case);
    let mut book = Book::open_or_begin(&path).unwrap();
    let (take, start) = begun(&mut book, case);
    for (number, piece) in inputs.chunks(7).enumerate() {
        book.arrived(&[(take, number as i64, piece)]).unwrap();
    }
    // Nobody closes anything: what a killed program leaves behind.
    std::mem::forget(book);
    let found = Book::open(&path).unwrap().unfinished().unwrap();
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].take, found[0].player.as_str(), found[0].title.as_str()), (take, "Otto", "Scales"));
    let ports_aside =
        |inputs: &[Timed<Input>]| inputs.iter().map(|it| (it.at, it.what.what.clone())).collect::<Vec<_>>();
    assert_eq!(ports_aside(&found[0].record), ports_aside(&inputs));
    assert_eq!((found[0].start.level, found[0].start.sends), (start.level, start.sends));
    assert_eq!(found[0].start.click, click);
}

#[test]
fn a_finished_take_is_judged_again_to_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    for case in cases() {
        let (inputs, click) = kept(case);
        let (take, start) = begun(&mut book, case);
        book.arrived(&[(take, 0, &inputs)]).unwrap();
        let report = judged(case, &inputs, click.clone(), case.end);
        book.finish_take(take, &inputs, &start, case.end, &case.part, &report).unwrap();
        let kept = book.take(take).unwrap().unwrap();
        let record = read_take(&kept.record.unwrap()).unwrap();
        assert_eq!(kept.start.click, click);
        let grid = record.start.map(|start| Grid::new(start, record.tempo.clone()));
        let again = judged(case, &record.inputs, grid, record.end);
        assert_eq!(again.flags, report.flags);
    }
    assert!(book.unfinished().unwrap().is_empty());
}

fn problem(path: &Path) -> BookProblem {
    Book::open(path).err().expect("it is refused").problem
}

#[test]
fn other_files_and_newer_books_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    assert!(matches!(problem(&path), BookProblem::Missing));
    std::fs::write(
        &path,
        "a letter to the parents, longer than a hundred bytes so that it could be taken for pages of \
                           a data base by somebody careless",
    )
    .unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(problem(&path), BookProblem::NoBook));
    assert_eq!(std::fs::read(&path).unwrap(), before);

    let path = folder.path().join("other.db");
    let sql = rusqlite::Connection::open(&path).unwrap();
    sql.execute_batch("CREATE TABLE recipe (name TEXT)").unwrap();
    drop(sql);
    assert!(matches!(problem(&path), BookProblem::NoBook));

    let path = folder.path().join("newer.db");
    drop(Book::open_or_begin(&path).unwrap());
    let sql = rusqlite::Connection::open(&path).unwrap();
    sql.pragma_update(None, "user_version", 99).unwrap();
    drop(sql);
    assert!(matches!(problem(&path), BookProblem::Newer { found: 99, .. }));
}

#[test]
fn a_roster_takes_nothing_away() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    let entry = |name: &str, instrument: Option<&str>, id: Option<&str>| Entry {
        name: name.into(),
        instrument: instrument.map(Into::into),
        outside_id: id.map(Into::into),
        ..Entry::default()
    };
    assert_eq!(book.enter(&[entry("Ines", Some("flute"), None), entry("Olek", None, Some("7"))]).unwrap(), 2);
    assert_eq!(book.enter(&[entry("INES", Some("oboe"), Some("4"))]).unwrap(), 0);
    let ines = book.player("ines").unwrap().unwrap();
    assert_eq!((ines.instrument.as_deref(), ines.outside_id.as_deref()), (Some("flute"), Some("4")));
    // An id that belongs to somebody else: all of the roster is refused.
    assert!(book.enter(&[entry("Nils", None, None), entry("Mara", None, Some("7"))]).is_err());
    assert_eq!(book.players().unwrap().len(), 2);
}

#[test]
fn one_session_listens_at_a_time() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let book = Book::open_or_begin(&path).unwrap();
    let held = book.listening().unwrap();
    let other = Book::open(&path).unwrap();
    assert!(matches!(other.listening().unwrap_err().problem, BookProblem::Listening));
    drop(held);
    assert!(other.listening().is_ok());
}
