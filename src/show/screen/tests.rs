//! The screen of a session with simulated players, as rows.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use super::*;
use crate::exercise::Micros;
use crate::instrument::catalogue;
use crate::judge::{Count, Level, Sends};
use crate::listen::{Input, Pace, Replay, Seats, Timed, What};
use crate::read::{Choice, read_exercise};
use crate::session::{Command, LanePlan, PlayerPlan, Plays, Session, Silent, Stage, Student};
use crate::theory::{Letter, default_family};
use crossbeam_channel::bounded;
use std::sync::Arc;

const EXERCISE: &[u8] = include_bytes!("../../../config/exercises/lantern-walk.musicxml");
const PLAYERS: [(&str, &str); 4] = [("Ada", "P1"), ("Zo\u{eb}", "P1"), ("Ines Berg", "P2"), ("Tom", "P2")];

fn player((name, part): (&str, &str)) -> PlayerPlan {
    let choice = Choice { part: Some(part.into()), ..Choice::default() };
    let instrument = if part == "P1" { "flute" } else { "trumpet" };
    PlayerPlan {
        player: name.into(),
        part: Arc::new(read_exercise(EXERCISE, &choice).unwrap().part),
        instrument: Some(catalogue().get(instrument).unwrap().clone()),
        sends: Sends::Written,
        level: Level::FirstYear,
    }
}

/// Two controllers with two players each.
fn plan(click: bool) -> Plan {
    let players: Vec<PlayerPlan> = PLAYERS.map(player).into();
    let lane = |(port, queue): (&str, usize)| LanePlan { port: port.into(), plays: Plays::Queue(queue), delay: None };
    Plan {
        exercise: "Lantern Walk".into(),
        click: click.then(|| players[0].part.tempo.clone()),
        players,
        lanes: [("Wind 24:0", 0), ("Pad 28:0", 1)].map(lane).into(),
        queues: vec![vec![0, 1], vec![2, 3]],
        count_in: 1,
        takes: None,
        pause: Micros(0),
        handover: Micros(0),
        lingers: false,
        family: default_family(),
        save: None,
    }
}

/// Runs a session of players with faults; `see` looks at the screen after each thing told, and may quit.
fn run(plan: &Plan, number: u64, mut see: impl FnMut(&mut Screen, &Told) -> bool) -> Screen {
    let seats = Seats::default();
    let seated = Arc::clone(&seats);
    let (parts, tempo): (Vec<_>, _) =
        (plan.players.iter().map(|player| Arc::clone(&player.part)).collect(), plan.players[0].part.tempo.clone());
    let wait = if plan.click.is_some() { Micros(0) } else { Micros(1_000_000) };
    let performance = move |_: usize, zero: Micros| {
        let mut all = Vec::new();
        for (port, player) in (0..).zip(seated.lock().unwrap().iter()) {
            let Some(player) = *player else { continue };
            let changed = vec![(Letter::A, -1), (Letter::B, -1)];
            let (number, channel) = (number + 100 * player as u64, port as u8);
            let student = Student {
                number,
                channel,
                sends_written: true,
                changed,
                missed_changes: 1,
                short_holds: 1,
                ..Student::default()
            };
            let bytes = student.play(&parts[player], &tempo, zero + wait);
            all.extend(
                bytes.into_iter().map(|(at, bytes)| Timed { at, what: Input { port, what: What::Bytes(bytes) } }),
            );
        }
        all
    };
    let names = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
    let mut source = Replay::new(names, Pace::Fast, Box::new(performance)).with_seats(seats);
    let faces = PLAYERS.map(|(name, part)| Face {
        player: name.into(),
        instrument: Some(if part == "P1" { "flute" } else { "trumpet" }.into()),
        changed: vec![(Letter::A, -1)],
    });
    let mut screen = Screen::new(plan.clone(), faces.into(), Some("band.db".into()), false);
    let (commands, asked) = bounded(4);
    let mut tell = |told: Told| {
        screen.tell(&told).unwrap();
        if see(&mut screen, &told) {
            let _ = commands.try_send(Command::Quit);
        }
    };
    let stage =
        Stage { source: &mut source, commands: &asked, click: &mut Silent, thru: None, keeper: None, tell: &mut tell };
    Session::open(plan.clone(), stage).unwrap().run();
    screen
}

fn text(rows: &[draw::Row]) -> String {
    rows.iter().map(|row| format!("{}\n", row.text)).collect()
}

/// In measure 5 of the first round, by the click's beat.
fn in_measure_5(told: &Told) -> bool {
    matches!(told, Told::Beat(beat) if beat.measure == "5" && beat.number == 2)
}

#[test]
fn the_screen_in_the_middle_of_a_take() {
    let mut seen = None;
    run(&plan(true), 3, |screen, told| {
        let is_now = in_measure_5(told) && seen.is_none();
        if is_now {
            seen = Some(text(&screen.draw(80, 24)));
        }
        is_now
    });
    insta::assert_snapshot!(seen.unwrap());
}

#[test]
fn every_size_is_filled_and_no_row_is_too_wide() {
    for (width, height) in [(80, 24), (100, 30), (60, 20), (80, 10), (40, 8), (20, 3), (200, 60)] {
        let mut seen = false;
        run(&plan(true), 3, |screen, told| {
            let rows = screen.draw(width, height);
            assert_eq!(rows.len(), height, "{width} x {height}");
            let widest = rows.iter().map(|row| unicode_width::UnicodeWidthStr::width(row.text.as_str())).max();
            assert!(widest.unwrap() <= width.min(80), "{width} x {height}: {}", text(&rows));
            // Whoever plays is named at any size that has room for two lanes.
            seen |= in_measure_5(told) && (height < 10 || text(&rows).contains("Ines"));
            in_measure_5(told)
        });
        assert!(seen, "{width} x {height}");
    }
}

#[test]
fn without_utf8_all_is_ascii() {
    let mut screen = run(&plan(true), 3, |_, _| false);
    screen.ascii = true;
    assert!(text(&screen.draw(80, 24)).is_ascii());
    assert!(screen.log().iter().all(|line| line.is_ascii()));
}

#[test]
fn the_log_can_be_read_back_and_stays_where_it_is() {
    let mut screen = run(&plan(true), 3, |_, _| false);
    let all = screen.log();
    let shown = |screen: &mut Screen| {
        let rows = screen.draw(80, 24);
        let heading = rows.iter().position(|row| row.text.starts_with("log")).unwrap();
        rows[heading + 1..23].iter().map(|row| row.text.clone()).collect::<Vec<_>>()
    };
    assert_eq!(shown(&mut screen).last(), all.last());
    screen.look(View::First);
    let first = shown(&mut screen);
    assert_eq!(first[..], all[..first.len()], "from the beginning");
    screen.line("one more").unwrap();
    assert_eq!(shown(&mut screen), first, "who reads back is not pushed on");
    screen.look(View::Forward);
    assert_ne!(shown(&mut screen), first);
    screen.look(View::Last);
    assert_eq!(shown(&mut screen).last().unwrap(), "one more");
}

/// The log behind the screen is the plain one.
#[test]
fn the_log_is_the_plain_one() {
    let mut plain = Vec::new();
    let faces = run(&plan(true), 3, |_, _| false).faces;
    let look = Look { keys: true, kept_in: Some("band.db".into()), ..Look::default() };
    let mut console = Console::new(StripStream::new(&mut plain), look, plan(true), faces);
    let screen = run(&plan(true), 3, |_, told| {
        console.tell(told).unwrap();
        false
    });
    drop(console);
    let plain = String::from_utf8(plain).unwrap();
    assert_eq!(screen.log(), plain.lines().map(|line| line.trim_end_matches('\r')).collect::<Vec<_>>());
}

/// What is counted while a take is played is what the report counts at its end; the last release is judged at the end.
#[test]
fn the_tally_ends_as_the_report_begins() {
    for (number, click) in (1..6).flat_map(|number| [(number, true), (number, false)]) {
        let mut compared = 0;
        let mut tallies: Vec<Option<Counts>> = vec![None; 2];
        run(&plan(click), number, |screen, told| {
            if let Told::Over(outcome) = told {
                let counts = tallies[outcome.turn.lane].take().unwrap();
                let report = Counts::from(&outcome.report.totals);
                assert_eq!((counts.pitches, counts.changed), (report.pitches, report.changed), "{number} {click}");
                assert_eq!(counts.entrances, if click { report.entrances } else { Count::default() }, "{number}");
                let Count { good, of } = counts.releases;
                let last = Count { good: good + 1, of: of + 1 };
                assert!([counts.releases, last].contains(&report.releases), "{counts:?} {report:?}");
                compared += 1;
            }
            if let Told::Decided { turn, .. } = told {
                let take = screen.lanes[turn.lane].take.as_ref().unwrap();
                tallies[turn.lane] = Some(take.tally.counts());
            }
            false
        });
        assert_eq!(compared, 4);
    }
}
