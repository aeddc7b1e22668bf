//! Simulated players and a session for them.

pub(crate) use crate::kept::{flags_of_file, keeping};
use crossbeam_channel::{Sender, bounded};
use restward::book::Book;
use restward::exercise::Micros;
use restward::judge::FlagKind;
use restward::listen::{Input, MidiSource, Pace, Replay, Timed, What};
use restward::session::{Command, Keeper, Outcome, Plan, Session, Silent, Stage, Student, Told};
use restward::theory::Letter;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

/// An arrival of bytes.
pub(crate) fn bytes(at: Micros, port: u32, bytes: Vec<u8>) -> Timed<Input> {
    Timed { at, what: Input { port, what: What::Bytes(bytes) } }
}

/// One pass through the part by each player, with a changed note missed and a note let go too soon.
pub(crate) fn played(plan: &Plan, number: u64, zero: Micros) -> Vec<Timed<Input>> {
    let tempo = |lane| plan.click.clone().unwrap_or_else(|| plan.players[lane as usize].part.tempo.clone());
    let of_lane = |(port, player): (u32, _)| {
        let student = Student {
            number: number * 10 + u64::from(port),
            channel: port as u8,
            sends_written: true,
            changed: vec![(Letter::B, -1), (Letter::F, 1)],
            missed_changes: 1,
            short_holds: 1,
            ..Student::default()
        };
        let player: &restward::session::PlayerPlan = player;
        student.play(&player.part, &tempo(port), zero).into_iter().map(move |(at, message)| bytes(at, port, message))
    };
    (0..).zip(&plan.players).flat_map(of_lane).collect()
}

/// The players as a source; without a click they begin a second after the cue. `change` may change what a take's players
/// send.
pub(crate) fn source(
    plan: &Plan,
    pace: Pace,
    change: impl Fn(&mut Vec<Timed<Input>>, Micros) + Send + 'static,
) -> Replay {
    let names = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
    let wait = if plan.click.is_some() { Micros(0) } else { Micros(1_000_000) };
    let plan = plan.clone();
    let performance = move |take: usize, zero: Micros| {
        let mut arrivals = played(&plan, take as u64, zero + wait);
        change(&mut arrivals, zero + wait);
        arrivals
    };
    Replay::new(names, pace, Box::new(performance))
}

/// Runs a session; `steer` sees all that is told and may give commands. The takes, and what troubled it.
pub(crate) fn run(
    plan: &Plan,
    source: &mut dyn MidiSource,
    book: Option<&Path>,
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
    let keeper = book.map(|book| Box::new(keeping(book)) as Box<dyn Keeper>);
    let stage = Stage { source, commands: &asked, click: &mut Silent, thru: None, keeper, tell: &mut tell };
    let outcomes = Session::open(plan.clone(), stage).unwrap().run();
    (outcomes, troubles)
}

/// Findings of a take.
pub(crate) fn flags(outcome: &Outcome) -> BTreeSet<(usize, FlagKind)> {
    outcome.report.flags.iter().map(|flag| (flag.index, flag.kind)).collect()
}

/// The book is whole and its takes are finished.
pub(crate) fn is_whole(path: &Path, takes: u64) -> Book {
    let mut book = Book::open(path).unwrap();
    assert_eq!(book.faults().unwrap(), Vec::<String>::new());
    let contents = book.contents().unwrap();
    assert_eq!((contents.takes as u64, contents.unfinished), (takes, 0));
    book
}

/// And judged again its takes have the same findings.
pub(crate) fn is_sound(path: &Path, takes: u64) {
    let mut book = is_whole(path, takes);
    let again = book.judge_again(restward::book::At::Judged, false, &mut |_| ()).unwrap();
    assert_eq!((again.takes as u64, again.different, again.not_judged), (takes, 0, 0));
}
