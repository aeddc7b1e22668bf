//! Players who take turns on one or two controllers: who plays when, what the director's keys do to takes on disk and in
//! the book, and that nothing is lost when the bell rings.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

#[path = "support/band.rs"]
mod band;
#[path = "support/kept.rs"]
mod kept;

use crossbeam_channel::bounded;
use kept::keeping;
use restward::book::{Absence, Book, Entry};
use restward::exercise::Micros;
use restward::judge::Decision;
use restward::listen::{Input, Pace, Replay, Seats, Timed, What};
use restward::session::{Command, Keeper, LanePlan, Outcome, Plan, Plays, Session, Silent, Stage, Step, Student, Told};
use restward::theory::Letter;
use std::path::Path;
use std::sync::Arc;

/// Ada, Ben and Cleo, one after the other, on so many controllers.
fn plan(lanes: usize, click: bool) -> Plan {
    let lane = |number: usize| LanePlan { port: format!("wind {number}"), plays: Plays::Queue(0), delay: None };
    let plan = Plan { takes: None, queues: vec![vec![0, 1, 2]], ..band::plan(click, 1) };
    Plan { lanes: (1..=lanes).map(lane).collect(), ..plan }
}

/// Simulated players with a changed note missed and a hold let go; those of `silent` play nothing.
fn source(plan: &Plan, silent: &'static [usize]) -> Replay {
    let seats = Seats::default();
    let seated = Arc::clone(&seats);
    let names = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
    let wait = if plan.click.is_some() { Micros(0) } else { Micros(1_000_000) };
    let players = plan.players.clone();
    let performance = move |_: usize, zero: Micros| {
        let mut all = Vec::new();
        for (port, player) in (0..).zip(seated.lock().unwrap().iter()) {
            let Some(player) = player.filter(|player| !silent.contains(player)) else { continue };
            let student = Student {
                number: player as u64 + 3,
                channel: 0,
                sends_written: true,
                changed: vec![(Letter::B, -1), (Letter::F, 1), (Letter::A, -1)],
                missed_changes: 1,
                short_holds: 1,
                ..Student::default()
            };
            let part = &players[player].part;
            let bytes = student.play(part, &part.tempo, zero + wait);
            all.extend(
                bytes.into_iter().map(|(at, bytes)| Timed { at, what: Input { port, what: What::Bytes(bytes) } }),
            );
        }
        all
    };
    Replay::new(names, Pace::Fast, Box::new(performance)).with_seats(seats)
}

/// Runs a session; `steer` sees all that is told and answers with keys.
fn run(
    plan: &Plan,
    silent: &'static [usize],
    keeper: Option<Box<dyn Keeper>>,
    steer: impl FnMut(&Told) -> Vec<Command>,
) -> (Vec<Arc<Outcome>>, Vec<Told>) {
    run_with(plan, source(plan, silent), keeper, steer)
}

fn run_with(
    plan: &Plan,
    mut source: Replay,
    keeper: Option<Box<dyn Keeper>>,
    mut steer: impl FnMut(&Told) -> Vec<Command>,
) -> (Vec<Arc<Outcome>>, Vec<Told>) {
    let (commands, asked) = bounded(16);
    let mut log = Vec::new();
    let mut tell = |told: Told| {
        steer(&told).into_iter().for_each(|command| commands.send(command).unwrap());
        log.push(told);
    };
    let stage =
        Stage { source: &mut source, commands: &asked, click: &mut Silent, thru: None, keeper, tell: &mut tell };
    let outcomes = Session::open(plan.clone(), stage).unwrap().run();
    (outcomes, log)
}

/// Player and number of each take.
fn takes(outcomes: &[Arc<Outcome>]) -> Vec<(usize, usize)> {
    outcomes.iter().map(|outcome| (outcome.turn.player, outcome.turn.take)).collect()
}

/// Who has not played, as told at the end.
fn unplayed(log: &[Told]) -> Vec<usize> {
    let end = log.last().and_then(|told| if let Told::End { unplayed } = told { Some(unplayed) } else { None });
    end.unwrap().clone() // the end is told last
}

/// What is waited for, and the command then.
type Answer = (fn(&Told) -> bool, Command);

/// Gives commands the first time that something is told, one after the other.
fn once(mut answers: Vec<Answer>) -> impl FnMut(&Told) -> Vec<Command> {
    move |told| match answers.first() {
        Some((when, _)) if when(told) => vec![answers.remove(0).1],
        _ => Vec::new(),
    }
}

fn ahead_of(told: &Told, player: usize) -> bool {
    matches!(told, Told::Ahead { turns, .. } if turns[0].player == player)
}

fn is_flag(told: &Told) -> bool {
    matches!(told, Told::Decided { decision: Decision::Flag { .. }, .. })
}

#[test]
fn the_next_comes_by_itself() {
    for (lanes, click) in [(1, true), (1, false), (2, true), (2, false)] {
        let (outcomes, log) = run(&plan(lanes, click), &[], None, |_| vec![]);
        assert_eq!(takes(&outcomes), [(0, 1), (1, 1), (2, 1)], "{lanes} {click}");
        assert!(unplayed(&log).is_empty());
        // Each played the own part: nothing but the faults that the simulation makes.
        assert!(outcomes.iter().all(|outcome| outcome.report.flags.len() <= 2 && outcome.report.totals.fits));
        // Who is next is told before the count-in.
        let waiting = log.iter().find_map(|told| match told {
            Told::Ahead { waiting, .. } => Some(waiting[0].clone()),
            _ => None,
        });
        assert_eq!(waiting.unwrap(), (lanes..3).collect::<Vec<_>>());
    }
    let (outcomes, _) = run(&Plan { takes: Some(2), ..plan(1, true) }, &[], None, |_| vec![]);
    assert_eq!(takes(&outcomes), [(0, 1), (0, 2), (1, 1), (1, 2), (2, 1), (2, 2)]);
}

#[test]
fn who_was_not_ready_while_others_played_has_missed_no_note() {
    // Ben has a controller and plays nothing while Ada and Cleo play on the other one.
    for click in [true, false] {
        let mut overs = 0;
        let (outcomes, log) = run(&plan(2, click), &[1], None, |told| match told {
            Told::Over(_) => {
                overs += 1;
                if overs == 4 { vec![Command::Quit] } else { vec![] }
            }
            _ => vec![],
        });
        assert_eq!(takes(&outcomes), [(0, 1), (2, 1)]);
        let of_ben = log.iter().filter(|told| matches!(told, Told::Decided { turn, .. } if turn.player == 1));
        let missed = of_ben.filter(|told| is_flag(told)).count();
        // A click does not wait: then the notes are told as they pass.
        assert_eq!(missed > 0, click);
    }
}

/// Without a click the first note begins a take, whoever plays it and why.
#[test]
fn a_few_notes_to_try_the_controller_are_no_take() {
    let plan = plan(1, false);
    let (folder, path) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let plan = Plan { save: Some(folder.path().into()), ..plan };
    let part = Arc::clone(&plan.players[0].part);
    let performance = move |round: usize, zero: Micros| {
        let student = Student { number: 3, sends_written: true, ..Student::default() };
        let tried = [61, 66, 70].into_iter().zip(1_i64..).flat_map(|(pitch, place)| {
            let at = |more: i64| zero + Micros(300_000 * place + more);
            [(at(0), vec![0x90, pitch, 80]), (at(200_000), vec![0x80, pitch, 64])]
        });
        let bytes: Vec<_> = match round {
            1 => tried.collect(),
            _ => student.play(&part, &part.tempo, zero + Micros(1_000_000)),
        };
        bytes.into_iter().map(|(at, bytes)| Timed { at, what: Input { port: 0, what: What::Bytes(bytes) } }).collect()
    };
    let names = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
    let source = Replay::new(names, Pace::Fast, Box::new(performance));
    let book = path.path().join("band.db");
    let mut overs = 0;
    let (outcomes, log) = run_with(&plan, source, Some(Box::new(keeping(&book))), |told| {
        overs += usize::from(matches!(told, Told::Over(_)));
        if overs == 2 { vec![Command::Quit] } else { vec![] }
    });
    assert_eq!(takes(&outcomes), [(0, 1)], "Ada keeps the turn");
    assert!(log.iter().any(|told| matches!(told, Told::Trouble(said) if said.contains("not taken for a take"))));
    assert!(!log.iter().any(|told| matches!(told, Told::Waiting)), "somebody was there");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing of it is kept");
    assert_eq!(Book::open(&book).unwrap().contents().unwrap().takes, 1);
}

#[test]
fn absent_players_are_passed_over_and_those_skipped_come_later() {
    let steer =
        once(vec![(|told| ahead_of(told, 0), Command::Skip(None)), (|told| ahead_of(told, 1), Command::Absent(None))]);
    let (outcomes, log) = run(&plan(1, true), &[], None, steer);
    assert_eq!(takes(&outcomes), [(2, 1), (0, 1)]);
    assert_eq!(unplayed(&log), [1]);
}

#[test]
fn an_absence_that_was_a_slip_is_taken_back_also_in_the_next_take() {
    let steer = once(vec![(|told| ahead_of(told, 0), Command::Absent(None)), (is_flag, Command::Undo)]);
    let (outcomes, log) = run(&plan(1, true), &[], None, steer);
    assert_eq!(takes(&outcomes), [(1, 1), (0, 1), (2, 1)], "Ada is next");
    assert!(log.iter().any(|told| matches!(told, Told::Undone(Step::Absent(0)))));
}

/// The key comes in the count-in: the next player comes without a word more.
#[test]
fn who_is_called_and_does_not_come_is_passed_over() {
    let steer = once(vec![(|told| matches!(told, Told::Cued { .. }), Command::Absent(None))]);
    let (outcomes, log) = run(&plan(1, true), &[0], None, steer);
    assert_eq!(takes(&outcomes), [(1, 1), (2, 1)]);
    assert!(!log.iter().any(|told| matches!(told, Told::Waiting)));
}

#[test]
fn who_plays_nothing_keeps_the_turn() {
    let mut waits = 0;
    let (outcomes, log) = run(&plan(1, true), &[1], None, |told| {
        waits += usize::from(matches!(told, Told::Waiting));
        match told {
            Told::Waiting if waits == 1 => vec![Command::Skip(None)],
            Told::Waiting => vec![Command::Quit],
            _ => vec![],
        }
    });
    // Ben plays nothing: once, and again when all others have played.
    assert_eq!(takes(&outcomes), [(0, 1), (2, 1)]);
    assert_eq!((waits, unplayed(&log)), (2, vec![1]));
}

#[test]
fn while_somebody_plays_a_key_does_not_lose_the_take() {
    let steer = once(vec![(is_flag, Command::Absent(None)), (|told| matches!(told, Told::Trouble(_)), Command::Next)]);
    let (outcomes, log) = run(&plan(1, true), &[], None, steer);
    assert_eq!(takes(&outcomes), [(0, 1), (1, 1), (2, 1)]);
    let trouble = log.iter().find_map(|told| if let Told::Trouble(sentence) = told { Some(sentence) } else { None });
    assert!(trouble.unwrap().starts_with("Ada is playing"), "{trouble:?}");
}

#[test]
fn the_same_player_once_more() {
    for when in [is_flag as fn(&Told) -> bool, |told| ahead_of(told, 1)] {
        let (outcomes, _) = run(&plan(1, true), &[], None, once(vec![(when, Command::Retake(None))]));
        assert_eq!(takes(&outcomes), [(0, 1), (0, 2), (1, 1), (2, 1)]);
    }
}

/// The names of the takes in a folder.
fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        folder.read_dir().unwrap().map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

const ALL: [&str; 3] = ["Ada-Lantern-Walk-take1.mid", "Ben-Lantern-Walk-take1.mid", "Cleo-Lantern-Walk-take1.mid"];

#[test]
fn a_take_thrown_away_is_played_again_and_gone() {
    for (when, discard) in
        [(is_flag as fn(&Told) -> bool, Command::Discard(Some(0))), (|told| ahead_of(told, 1), Command::Discard(None))]
    {
        let folder = tempfile::tempdir().unwrap();
        let plan = Plan { save: Some(folder.path().into()), ..plan(1, true) };
        let (outcomes, log) = run(&plan, &[], None, once(vec![(when, discard)]));
        assert_eq!(takes(&outcomes), [(0, 1), (1, 1), (2, 1)]);
        assert_eq!(files(folder.path()), ALL);
        assert_eq!(log.iter().filter(|told| matches!(told, Told::Cued { .. })).count(), 4, "Ada played twice");
    }
}

/// Thrown away, while it was played and after, and brought back: in the folder, in the book and in the summary.
#[test]
fn a_take_thrown_away_comes_back() {
    for when in [is_flag as fn(&Told) -> bool, |told| ahead_of(told, 1)] {
        let folder = tempfile::tempdir().unwrap();
        let (saved, path) = (folder.path().join("takes"), folder.path().join("band.db"));
        let plan = Plan { save: Some(saved.clone()), ..plan(1, true) };
        let steer =
            once(vec![(when, Command::Discard(None)), (|told| matches!(told, Told::Discarded { .. }), Command::Undo)]);
        let (mut outcomes, log) = run(&plan, &[], Some(Box::new(keeping(&path))), steer);
        outcomes.sort_by_key(|outcome| outcome.turn.player);
        assert_eq!(takes(&outcomes), [(0, 1), (1, 1), (2, 1)]);
        assert_eq!(files(&saved), ALL);
        assert_eq!(log.iter().filter(|told| matches!(told, Told::Cued { .. })).count(), 3, "nobody played twice");
        let again = Book::open(&path).unwrap().judge_again(restward::book::At::Judged, false, &mut |_| ()).unwrap();
        assert_eq!((again.takes, again.different, again.not_judged), (3, 0, 0));
    }
}

#[test]
fn one_of_two_is_thrown_away_and_the_other_plays_on() {
    let folder = tempfile::tempdir().unwrap();
    let plan = Plan { save: Some(folder.path().into()), ..plan(2, true) };
    let (outcomes, log) = run(&plan, &[], None, once(vec![(is_flag, Command::Discard(Some(1)))]));
    assert_eq!(takes(&outcomes), [(0, 1), (2, 1), (1, 1)], "Ben again, with Cleo");
    assert_eq!(log.iter().filter(|told| matches!(told, Told::Cued { .. })).count(), 2);
    assert_eq!(files(folder.path()), ALL);
}

#[test]
fn which_of_two_controllers_is_asked_for() {
    let steer = once(vec![(|told| ahead_of(told, 0), Command::Absent(None))]);
    let (outcomes, log) = run(&plan(2, true), &[], None, steer);
    assert_eq!(outcomes.len(), 3, "nobody was passed over");
    assert!(
        log.iter().any(|told| matches!(told, Told::Trouble(sentence) if sentence.contains("number first, 1 to 2")))
    );
}

#[test]
fn the_bell_rings() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let mut flags = 0;
    let (outcomes, log) = run(&plan(1, true), &[], Some(Box::new(keeping(&path))), |told| {
        // In the middle of Ben's take.
        let is_bens = matches!(told, Told::Decided { turn, .. } if turn.player == 1);
        flags += usize::from(is_bens && is_flag(told));
        if is_bens && is_flag(told) && flags == 1 { vec![Command::Quit] } else { vec![] }
    });
    assert_eq!(takes(&outcomes), [(0, 1), (1, 1)], "what Ben played is kept");
    assert!(outcomes.iter().all(|outcome| outcome.is_kept));
    assert_eq!(unplayed(&log), [2]);
    assert!(Book::open(&path).unwrap().unfinished().unwrap().is_empty());
}

#[test]
fn when_all_have_played_the_session_waits_for_a_word() {
    let lingering = Plan { lingers: true, ..plan(1, true) };
    let mut through = 0;
    let (outcomes, _) = run(&lingering, &[], None, |told| {
        through += usize::from(matches!(told, Told::Through));
        match told {
            Told::Through if through == 1 => vec![Command::Retake(None)],
            Told::Through => vec![Command::Quit],
            _ => vec![],
        }
    });
    assert_eq!(takes(&outcomes), [(0, 1), (1, 1), (2, 1), (2, 2)]);
}

fn book(names: &[&str]) -> (tempfile::TempDir, Book) {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    let entries: Vec<Entry> = names.iter().map(|name| Entry { name: (*name).into(), ..Entry::default() }).collect();
    book.enter(&entries).unwrap();
    (folder, book)
}

#[test]
fn a_first_name_is_enough_if_it_is_one_players() {
    let (_folder, mut book) = book(&["Ines Berg", "Ines Toth", "Tom Ash", "Tom", "\u{c9}va Kov\u{e1}cs"]);
    let mut called = |typed: &str| book.player_called(typed).map(|player| player.map(|player| player.name));
    assert_eq!(called("ines b").unwrap().as_deref(), Some("Ines Berg"));
    assert_eq!(called("Tom").unwrap().as_deref(), Some("Tom"), "a whole name before part of another");
    assert_eq!(called("\u{e9}VA").unwrap().as_deref(), Some("\u{c9}va Kov\u{e1}cs"));
    assert_eq!(called("Ine").unwrap(), None);
    let refused = called("Ines").unwrap_err().to_string();
    assert!(refused.contains("Ines Berg, Ines Toth"), "{refused}");
}

#[test]
fn absences_are_remembered_by_time_and_taken_back() {
    let (_folder, mut book) = book(&["Ines", "Tom"]);
    let id = |book: &mut Book, name| book.player(name).unwrap().unwrap().id;
    let (ines, tom) = (id(&mut book, "Ines"), id(&mut book, "Tom"));
    let absence = |player, marked_us| Absence { player, marked_us };
    for marked in [absence(tom, 100), absence(ines, 200), absence(tom, 300), absence(tom, 300)] {
        book.mark_absent(marked).unwrap();
    }
    assert_eq!(book.absences(150).unwrap(), [absence(ines, 200), absence(tom, 300)]);
    book.has_come(tom, 150).unwrap();
    assert_eq!(book.absences(0).unwrap(), [absence(tom, 100), absence(ines, 200)], "last week's stays");
    let player = book.player("Ines").unwrap().unwrap();
    book.forget(&player).unwrap();
    assert_eq!(book.absences(0).unwrap(), [absence(tom, 100)]);
}
