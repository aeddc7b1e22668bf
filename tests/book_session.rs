//! A session that keeps its takes in a book: kept as judged, thrown away when asked, safe from a book that cannot be written
//! for a while. What happens when the program is killed: `tests/faults`.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

#[path = "support/band.rs"]
mod band;
#[path = "support/disk.rs"]
mod disk;
#[path = "support/kept.rs"]
mod kept;

use band::plan;
use crossbeam_channel::{Sender, bounded};
use kept::keeping;
use restward::book::{Again, Book, Judging};
use restward::exercise::Micros;
use restward::listen::{Input, MidiSource, Pace, Replay, Timed, What};
use restward::session::{Command, Outcome, Plan, Session, Silent, Stage, Student, Told};
use restward::theory;
use std::path::Path;
use std::sync::Arc;

/// Players with faults: three changed notes, two holds. Without a click they begin half a second after the cue.
fn source(plan: &Plan) -> Replay {
    let names = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
    let wait = if plan.click.is_some() { Micros(0) } else { Micros(500_000) };
    let plan = plan.clone();
    let performance = move |take: usize, zero: Micros| {
        let mut all = Vec::new();
        for (port, lane) in (0..).zip(&plan.players) {
            let student = Student {
                number: take as u64 * 10 + u64::from(port),
                channel: port as u8,
                sends_written: true,
                changed: vec![(theory::Letter::B, -1), (theory::Letter::F, 1)],
                missed_changes: 1,
                short_holds: 1,
                ..Student::default()
            };
            let bytes = student.play(&lane.part, &lane.part.tempo, zero + wait);
            all.extend(
                bytes.into_iter().map(|(at, bytes)| Timed { at, what: Input { port, what: What::Bytes(bytes) } }),
            );
        }
        all
    };
    Replay::new(names, Pace::Fast, Box::new(performance))
}

fn run(
    plan: &Plan,
    source: &mut dyn MidiSource,
    book: &Path,
    mut steer: impl FnMut(&Told, &Sender<Command>),
) -> (Vec<Arc<Outcome>>, Vec<String>) {
    let (commands, asked) = bounded(16);
    let mut troubles = Vec::new();
    let mut tell = |told: Told| {
        steer(&told, &commands);
        if let Told::Trouble(sentence) = told {
            troubles.push(sentence);
        }
    };
    let keeper = Some(Box::new(keeping(book)) as _);
    let stage = Stage { source, commands: &asked, click: &mut Silent, thru: None, keeper, tell: &mut tell };
    let outcomes = Session::open(plan.clone(), stage).unwrap().run();
    (outcomes, troubles)
}

/// What a question to the file answers, a number a row.
fn numbers(path: &Path, question: &str) -> Vec<i64> {
    let sql = rusqlite::Connection::open(path).unwrap();
    let mut query = sql.prepare(question).unwrap();
    query.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap()
}

#[test]
fn takes_are_kept_with_their_findings() {
    for click in [true, false] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let mut plan = plan(click, 2);
        // A controller whose delay was measured too high: its entrances are early.
        plan.lanes[1].delay = click.then_some(Micros(200_000));
        let (outcomes, troubles) = run(&plan, &mut source(&plan), &path, |_, _| ());
        assert_eq!((outcomes.len(), troubles.len()), (6, 0), "{troubles:?}");
        assert!(outcomes.iter().all(|outcome| outcome.is_kept && outcome.saved.is_none()));
        let flags: Vec<i64> = outcomes.iter().map(|outcome| outcome.report.flags.len() as i64).collect();
        assert!(flags.iter().sum::<i64>() > 0);
        let question = "SELECT (SELECT count(*) FROM flag WHERE take = take.id AND counts) FROM take ORDER BY id";
        assert_eq!(numbers(&path, question), flags);
        assert_eq!(numbers(&path, "SELECT count(*) FROM take WHERE record IS NULL"), [0]);
        assert_eq!(numbers(&path, "SELECT count(*) FROM arrival"), [0]);
        let mut told = Vec::new();
        let again =
            Book::open(&path).unwrap().judge_again(restward::book::At::Judged, false, &mut |it| told.push(it)).unwrap();
        assert_eq!(again, Again { takes: 6, different: 0, not_judged: 0 });
        assert_eq!(told, [Judging::Done(6, 6)]);
    }
}

#[test]
fn a_take_thrown_away_is_not_in_the_book() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let plan = plan(true, 2);
    let mut discards = 1;
    // After the first take the director throws it away and has it played again.
    let steer = |told: &Told, commands: &Sender<Command>| match told {
        Told::Ahead { turns, .. } if discards > 0 && turns[0].take == 2 => {
            discards -= 1;
            commands.try_send(Command::Discard(None)).unwrap();
        }
        _ => {}
    };
    let (outcomes, troubles) = run(&plan, &mut source(&plan), &path, steer);
    assert_eq!((outcomes.len(), troubles.len()), (6, 0), "{troubles:?}");
    assert_eq!(numbers(&path, "SELECT count(*) FROM take"), [6], "nine were played");
    assert_eq!(numbers(&path, "SELECT count(*) FROM take WHERE record IS NULL"), [0]);
}

#[test]
fn a_book_that_another_writes_in_stops_no_take() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let plan = plan(true, 1);
    let mut other = None;
    let place = path.clone();
    let steer = |told: &Told, _: &Sender<Command>| match told {
        Told::Cued { .. } => {
            let sql = rusqlite::Connection::open(&place).unwrap();
            sql.execute_batch("BEGIN IMMEDIATE").unwrap();
            other = Some(sql);
        }
        Told::Trouble(_) => other = None,
        _ => {}
    };
    let (outcomes, troubles) = run(&plan, &mut source(&plan), &path, steer);
    assert_eq!(troubles.len(), 1, "{troubles:?}");
    assert!(troubles[0].contains("band.db: another program is writing in the book"), "{troubles:?}");
    assert!(outcomes.iter().all(|outcome| outcome.is_kept), "it was whole at its end");
    assert_eq!(numbers(&path, "SELECT count(*) FROM take WHERE record IS NOT NULL"), [3]);
}

#[test]
fn what_cannot_be_written_is_said_once_and_the_take_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    drop(keeping(&path));
    let sql = rusqlite::Connection::open(&path).unwrap();
    for (table, kept) in [("arrival", true), ("take", false)] {
        sql.execute_batch(&format!(
            "CREATE TRIGGER {table}_full BEFORE INSERT ON {table} BEGIN SELECT RAISE(FAIL, 'no room'); END"
        ))
        .unwrap();
        let plan = plan(true, 1);
        let (outcomes, troubles) = run(&plan, &mut source(&plan), &path, |_, _| ());
        assert!(outcomes.iter().all(|outcome| outcome.played && outcome.is_kept == kept));
        assert!(outcomes.iter().all(|outcome| !outcome.report.notes.is_empty()));
        assert!(troubles.iter().all(|trouble| trouble.contains("band.db: no room")), "{troubles:?}");
        // For all whom it concerns, as the take begins, while they play or at its end.
        assert_eq!(troubles.len(), 1, "{troubles:?}");
    }
}

/// A take that could not be finished, because the disk was full for example, is gone when it is thrown away.
#[test]
fn what_could_not_be_finished_can_be_thrown_away() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    drop(keeping(&path));
    let sql = rusqlite::Connection::open(&path).unwrap();
    sql.execute_batch("CREATE TRIGGER full BEFORE UPDATE ON take BEGIN SELECT RAISE(FAIL, 'no room'); END").unwrap();
    let plan = plan(true, 2);
    let mut throws_away = true;
    let (outcomes, troubles) = run(&plan, &mut source(&plan), &path, |told, commands| match told {
        Told::Ahead { turns, .. } if turns[0].take == 2 && std::mem::take(&mut throws_away) => {
            commands.send(Command::Discard(None)).unwrap();
        }
        _ => {}
    });
    assert!(!throws_away && troubles.iter().all(|trouble| trouble.contains("no room")), "{troubles:?}");
    // Three players and two takes; the first three rows are gone, and three came in their place.
    assert_eq!(outcomes.len(), 6);
    let ids = numbers(&path, "SELECT id FROM take ORDER BY id");
    assert_eq!(ids.len(), 6, "{ids:?}");
}

#[test]
fn a_disk_that_fills_up_while_they_play_costs_no_earlier_take() {
    let Some(disk) = disk::Disk::mounted(8) else { return };
    let path = disk.path().join("band.db");
    let plan = plan(true, 2);
    let mut is_filled = false;
    // The first take of all three is in the book; then something else fills the disk.
    let (outcomes, troubles) = run(&plan, &mut source(&plan), &path, |told, _| {
        if matches!(told, Told::Cued { turns, .. } if turns.iter().all(|turn| turn.take == 2))
            && !std::mem::replace(&mut is_filled, true)
        {
            disk.fill(0);
        }
    });
    assert!(is_filled && outcomes.len() == 6, "the session goes on to its end");
    assert!(troubles.iter().any(|trouble| trouble.contains("the disk is full")), "{troubles:?}");
    disk.clear();
    let mut book = Book::open(&path).unwrap();
    assert_eq!(book.faults().unwrap(), Vec::<String>::new());
    book.finish_cut_off().unwrap();
    assert_eq!(book.faults().unwrap(), Vec::<String>::new());
    let again = book.judge_again(restward::book::At::Judged, false, &mut |_| ()).unwrap();
    assert!(again.takes >= 3 && again.different == 0 && again.not_judged == 0, "{again:?}");
}
