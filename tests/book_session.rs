//! A session that keeps its takes in a book: kept as judged, thrown away when asked, safe from a killed program (POSIX
//! signal 9 cannot be caught) and from a book that cannot be written for a while.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

#[path = "support/band.rs"]
mod band;

use band::{EXERCISE, PLAYERS, plan};
use crossbeam_channel::{Sender, bounded};
use restward::book::{Book, Keeping};
use restward::exercise::Micros;
use restward::listen::{Input, MidiSource, Pace, PortError, Replay, Timed, What};
use restward::session::{Command, Outcome, Plan, Session, Silent, Stage, Student, Told};
use restward::theory;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::Stdio;
use std::sync::Arc;
use std::time::SystemTime;

/// Players with faults: three changed notes, two holds. Without a click they begin half a second after the cue.
fn source(plan: &Plan, pace: Pace) -> Replay {
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
    Replay::new(names, pace, Box::new(performance))
}

fn keeping(path: &Path) -> Keeping {
    let mut book = Book::open_or_begin(path).unwrap();
    let players = PLAYERS.map(|(player, ..)| book.player_or_new(player).unwrap().id);
    let exercise = book.keep_exercise("Lantern Walk", "lantern-walk.musicxml", EXERCISE, 1).unwrap();
    Keeping::new(book, exercise, players.into())
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
        let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast), &path, |_, _| ());
        assert_eq!((outcomes.len(), troubles.len()), (6, 0), "{troubles:?}");
        assert!(outcomes.iter().all(|outcome| outcome.is_kept && outcome.saved.is_none()));
        let flags: Vec<i64> = outcomes.iter().map(|outcome| outcome.report.flags.len() as i64).collect();
        assert!(flags.iter().sum::<i64>() > 0);
        let question = "SELECT (SELECT count(*) FROM flag WHERE take = take.id AND counts) FROM take ORDER BY id";
        assert_eq!(numbers(&path, question), flags);
        assert_eq!(numbers(&path, "SELECT count(*) FROM take WHERE record IS NULL"), [0]);
        assert_eq!(numbers(&path, "SELECT count(*) FROM arrival"), [0]);
        let again = Book::open(&path).unwrap().judge_again(None, false, &mut |_, _| ()).unwrap();
        assert_eq!((again.takes, again.differences, again.troubles), (6, vec![], vec![]));
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
    let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast), &path, steer);
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
    let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast), &path, steer);
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
        let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast), &path, |_, _| ());
        assert!(outcomes.iter().all(|outcome| outcome.played && outcome.is_kept == kept));
        assert!(outcomes.iter().all(|outcome| !outcome.report.notes.is_empty()));
        assert!(troubles.iter().all(|trouble| trouble.contains("band.db: no room")), "{troubles:?}");
        // One sentence for all that arrives; or one for each player as the take begins, and one at its end.
        assert_eq!(troubles.len(), if kept { 1 } else { 6 }, "{troubles:?}");
    }
}

/// Says on stdout what is handed to the session, and when.
struct Loud(Replay);

impl MidiSource for Loud {
    fn list(&mut self) -> Result<Vec<String>, PortError> {
        self.0.list()
    }
    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError> {
        self.0.open(wanted)
    }
    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>> {
        let arrival = self.0.next(deadline)?;
        let What::Bytes(bytes) = &arrival.what.what else { return Some(arrival) };
        let wall = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap().as_micros();
        let mut out = std::io::stdout().lock();
        writeln!(out, "ARRIVED {wall} {} {bytes:?}", arrival.what.port).unwrap();
        Some(arrival)
    }
    fn now(&self) -> Micros {
        self.0.now()
    }
    fn cue(&mut self, take: usize, score_zero: Option<Micros>) {
        self.0.cue(take, score_zero);
    }
    fn backend(&self) -> &'static str {
        self.0.backend()
    }
}

const BOOK: &str = "RESTWARD_TEST_BOOK";

#[test]
#[ignore = "played by the test that kills it"]
fn to_be_killed() {
    let Some(path) = std::env::var_os(BOOK) else { return };
    let plan = plan(false, 1);
    let mut source = Loud(source(&plan, Pace::Real));
    run(&plan, &mut source, Path::new(&path), |_, _| ());
}

/// The session is killed after so many arrivals; what it was handed 50 ms before its last breath is in the book.
#[test]
fn a_killed_session_loses_at_most_the_last_fifty_milliseconds() {
    let mut children: Vec<_> = [40, 333, 1_000]
        .into_iter()
        .map(|arrivals| {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("band.db");
            let child = std::process::Command::new(std::env::current_exe().unwrap())
                .args(["--exact", "to_be_killed", "--ignored", "--nocapture"])
                .env(BOOK, &path)
                .stdout(Stdio::piped())
                .spawn()
                .unwrap();
            (arrivals, folder, path, child)
        })
        .collect();
    for (arrivals, _folder, path, child) in &mut children {
        let mut handed: Vec<(u64, i64, String)> = Vec::new();
        for line in BufReader::new(child.stdout.take().unwrap()).lines() {
            let line = line.unwrap();
            let Some(rest) = line.split("ARRIVED ").nth(1) else { continue };
            let mut words = rest.splitn(3, ' ');
            // A line may have been cut off with its writer.
            let (Some(wall), Some(lane), Some(bytes)) = (words.next(), words.next(), words.next()) else { continue };
            handed.push((wall.parse().unwrap(), lane.parse().unwrap(), bytes.into()));
            if handed.len() == *arrivals {
                // POSIX: Child::kill sends SIGKILL.
                child.kill().unwrap();
            }
        }
        child.wait().unwrap();
        assert!(handed.len() >= *arrivals && handed.len() < 5_000, "killed in the middle: {}", handed.len());
        let last = handed.last().unwrap().0;
        let mut book = Book::open(path).unwrap();
        let unfinished = book.unfinished().unwrap();
        assert_eq!(unfinished.len(), 3);
        for (lane, unfinished) in (0..).zip(&unfinished) {
            let kept: Vec<String> = unfinished
                .record
                .iter()
                .map(|arrival| match &arrival.what.what {
                    What::Bytes(bytes) => format!("{bytes:?}"),
                    other => format!("{other:?}"),
                })
                .collect();
            let of_lane: Vec<_> = handed.iter().filter(|(_, of, _)| *of == lane).collect();
            let due = of_lane.iter().filter(|(wall, ..)| wall + 50_000 <= last).count();
            assert!(kept.len() >= due, "lane {lane}: {} of {due} due, {} handed", kept.len(), of_lane.len());
            let all: Vec<&String> = of_lane.iter().map(|(.., bytes)| bytes).collect();
            assert!(kept.iter().zip(&all).all(|(kept, handed)| kept == *handed), "in order, unchanged");
        }
        // At the next start the takes are finished; whoever had not played yet has none.
        let played = unfinished.iter().filter(|take| !restward::listen::clean_notes(&take.record).is_empty()).count();
        let told = book.finish_cut_off().unwrap();
        assert_eq!(told.len(), played);
        assert!(told.iter().all(|cut_off| cut_off.notes > 0 && cut_off.trouble.is_none()), "{told:?}");
        assert!(book.unfinished().unwrap().is_empty());
        let question = "SELECT notes FROM take WHERE record IS NOT NULL AND engine IS NOT NULL";
        assert_eq!(numbers(path, question).len(), played);
    }
}
