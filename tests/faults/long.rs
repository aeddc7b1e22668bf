//! Takes of hours, on a made-up clock.

use crate::band::plan;
use crate::memory::{alone, most_megabytes};
use crate::playing::{bytes, flags, flags_of_file, is_sound, is_whole, played, run};
use restward::exercise::Micros;
use restward::listen::{Pace, Replay, Timed, take};
use restward::read::{Choice, read_exercise};
use restward::session::Plan;
use std::sync::Arc;

const SECOND: i64 = 1_000_000;
const HOUR: i64 = 3_600 * SECOND;

/// Only Ada.
fn ada(click: bool) -> Plan {
    let mut plan = plan(click, 1);
    plan.lanes.truncate(1);
    plan.players.truncate(1);
    plan
}

/// A source of one take, known beforehand.
fn source_of(arrivals: impl Fn(Micros) -> Vec<Timed<restward::listen::Input>> + Send + 'static) -> Replay {
    Replay::new(vec!["Ada".into()], Pace::Fast, Box::new(move |_, zero| arrivals(zero)))
}

/// Ada plays the tune again and again for three hours without a pause, with breath data at 50 messages a second.
#[test]
fn a_take_of_three_hours() {
    alone("long::a_take_of_three_hours", || {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let plan = Plan { save: Some(folder.path().join("takes")), ..ada(false) };
        let players = plan.clone();
        let part = &plan.players[0].part;
        let pass = part.tempo.micros_at(part.notes.last().unwrap().end());
        let passes = 3 * HOUR / pass.0;
        let mut source = source_of(move |zero| {
            let mut all = Vec::new();
            for number in 0..passes {
                let one = played(&players, number as u64, zero + Micros(SECOND + number * pass.0));
                let notes = one.into_iter().enumerate().filter(|(place, arrival)| {
                    let is_breath =
                        matches!(&arrival.what.what, restward::listen::What::Bytes(bytes) if bytes[0] == 0xB0);
                    !is_breath || place % 3 == 0
                });
                all.extend(notes.map(|(_, arrival)| arrival));
            }
            all
        });
        let (outcomes, troubles) = run(&plan, &mut source, Some(&path), |_, _| ());
        assert_eq!((outcomes.len(), troubles.len()), (1, 0), "{troubles:?}");
        let file = outcomes[0].saved.as_ref().unwrap();
        let kept = take::read_file(file).unwrap();
        assert!(kept.end > Micros(3 * HOUR - 20 * SECOND), "{:?}", kept.end);
        assert_eq!(flags_of_file(file, &plan, 0), flags(&outcomes[0]));
        is_sound(&path, 1);
        eprintln!("three hours, {} messages: {} MB", kept.inputs.len(), most_megabytes());
        assert!(most_megabytes() < 300);
    });
}

/// Two notes with an hour of rest between them, while the controller says all the time that it is there: active sensing each
/// 250 ms (MIDI 1.0: at least each 300), a clock of 24 to the quarter at 120.
#[test]
fn an_hour_of_active_sensing_and_clock() {
    alone("long::an_hour_of_active_sensing_and_clock", || {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let tune = format!("X:1\nM:4/4\nL:1/4\nQ:1/4=240\nK:C\nC4|{}C4|\n", "Z60|".repeat(60));
        let exercise = read_exercise(tune.as_bytes(), &Choice::default()).unwrap();
        let mut plan = Plan { save: Some(folder.path().join("takes")), ..ada(true) };
        plan.players[0].part = Arc::new(exercise.part);
        plan.click = Some(plan.players[0].part.tempo.clone());
        // Four quarters a second: a measure is a second, 60 times 60 measures an hour.
        let with_notes = |sensing: bool| {
            move |zero: Micros| {
                let mut all = Vec::new();
                for from in [0, HOUR + SECOND] {
                    all.push(bytes(zero + Micros(from), 0, vec![0x90, 60, 90]));
                    all.push(bytes(zero + Micros(from + SECOND - 20_000), 0, vec![0x80, 60, 64]));
                }
                let ticks = if sensing { HOUR / 20_833 } else { 0 };
                for tick in 0..ticks {
                    all.push(bytes(zero + Micros(tick * 20_833), 0, vec![0xF8]));
                    if tick % 12 == 0 {
                        all.push(bytes(zero + Micros(tick * 20_833 + 5_000), 0, vec![0xFE]));
                    }
                }
                all
            }
        };
        let calm = run(&plan, &mut source_of(with_notes(false)), None, |_, _| ()).0;
        let before = most_megabytes();
        let (outcomes, troubles) = run(&plan, &mut source_of(with_notes(true)), Some(&path), |_, _| ());
        assert_eq!((outcomes.len(), troubles.len()), (1, 0), "{troubles:?}");
        assert_eq!(outcomes[0].report.totals, calm[0].report.totals);
        assert_eq!(flags(&outcomes[0]), Default::default());
        let file = outcomes[0].saved.as_ref().unwrap();
        assert_eq!(flags_of_file(file, &plan, 0), flags(&outcomes[0]));
        // 187,200 messages arrived; one in 330 ms tells that the line lives.
        let kept = take::read_file(file).unwrap().inputs.len();
        assert!(kept <= 4 + 3_600_000 / 250, "{kept}");
        is_whole(&path, 1);
        eprintln!(
            "an hour of sensing and clock: {kept} messages kept, {} MB more than before",
            most_megabytes() - before
        );
        // What the simulated player's list of messages itself takes, some 80 bytes each, is most of it.
        assert!(most_megabytes() - before < 60);
    });
}
