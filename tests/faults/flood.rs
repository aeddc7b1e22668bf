//! More MIDI than anybody plays, on a made-up clock: nothing is dropped, the findings are the same, memory has a bound.

use crate::band::plan;
use crate::memory::{alone, most_megabytes};
use crate::playing::{bytes, flags, flags_of_file, is_sound, run, source};
use restward::exercise::{Meter, Micros};
use restward::listen::{Input, Pace, Timed, What, take};
use restward::session::{Outcome, Plan, steady};
use std::path::Path;
use std::sync::Arc;

/// Ada, Ben and Cleo with a click so slow that the eight measures and the count-in take a minute.
fn slow(save: &Path) -> Plan {
    Plan { save: Some(save.into()), click: Some(steady(36.0, Meter::COMMON)), ..plan(true, 1) }
}

/// Messages of notes, in order.
fn notes(inputs: &[Timed<Input>]) -> Vec<Vec<u8>> {
    let messages = inputs.iter().filter_map(|input| match &input.what.what {
        What::Bytes(bytes) if bytes[0] & 0xE0 == 0x80 => Some(bytes.clone()),
        _ => None,
    });
    messages.collect()
}

/// The same findings, lane by lane, live and in the file.
fn same(plan: &Plan, calm: &[Arc<Outcome>], flooded: &[Arc<Outcome>]) {
    assert_eq!(calm.len(), flooded.len());
    for (calm, flooded) in calm.iter().zip(flooded) {
        assert_eq!(flags(flooded), flags(calm), "lane {}", calm.turn.lane);
        assert_eq!(flooded.report.totals, calm.report.totals);
        assert_eq!(flags_of_file(flooded.saved.as_ref().unwrap(), plan, calm.turn.lane), flags(calm));
        let [calm, flooded] = [calm, flooded].map(|outcome| take::read_file(outcome.saved.as_ref().unwrap()).unwrap());
        assert_eq!(notes(&flooded.inputs), notes(&calm.inputs));
    }
}

/// 10,000 messages a second on Ada's lane for a minute: breath and bend.
#[test]
fn ten_thousand_messages_a_second() {
    alone("flood::ten_thousand_messages_a_second", || {
        let folder = tempfile::tempdir().unwrap();
        let (calm, flooded) = (slow(&folder.path().join("calm")), slow(&folder.path().join("flooded")));
        let path = folder.path().join("band.db");
        let calm = run(&calm, &mut source(&calm, Pace::Fast, |_, _| ()), None, |_, _| ()).0;
        let before = most_megabytes();
        let flood = |arrivals: &mut Vec<Timed<Input>>, zero: Micros| {
            // From the first beat of the count-in.
            let from = zero - Micros(6_600_000);
            arrivals.extend((0..600_000).map(|place| {
                let value = (place / 2 % 128) as u8;
                let message = if place % 2 == 0 { vec![0xB0, 2, value] } else { vec![0xE0, value, 64] };
                bytes(from + Micros(100 * place), 0, message)
            }));
        };
        let (outcomes, troubles) = run(&flooded, &mut source(&flooded, Pace::Fast, flood), Some(&path), |_, _| ());
        assert_eq!(troubles, Vec::<String>::new());
        same(&flooded, &calm, &outcomes);
        let of_ada =
            |outcomes: &[Arc<Outcome>]| take::read_file(outcomes[0].saved.as_ref().unwrap()).unwrap().inputs.len();
        let (kept, quiet) = (of_ada(&outcomes), of_ada(&calm));
        is_sound(&path, 3);
        eprintln!("{} messages of a flood kept, {} MB more than before", kept - quiet, most_megabytes() - before);
        // The take is over when Ada has played, some moments before the flood ends.
        assert!((590_000..=600_000).contains(&(kept - quiet)), "{}", kept - quiet);
        // 48 MB is the simulated player's list, 80 bytes a message; reading the file back takes as much again.
        assert!(most_megabytes() - before < 300);
    });
}

/// A megabyte of system exclusive between and within Ada's notes, in one piece and in pieces of 256.
#[test]
fn a_megabyte_of_system_exclusive() {
    for size in [1 << 20, 256] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let [calm, flooded] =
            ["calm", "flooded"].map(|name| Plan { save: Some(folder.path().join(name)), ..plan(true, 1) });
        let calm = run(&calm, &mut source(&calm, Pace::Fast, |_, _| ()), None, |_, _| ()).0;
        let flood = move |arrivals: &mut Vec<Timed<Input>>, zero: Micros| {
            let dump = [&[0xF0][..], &vec![0x42; (1 << 20) - 2], &[0xF7]].concat();
            for (place, at) in [-1_000_000, 3_000_000].into_iter().enumerate() {
                let at = zero + Micros(at);
                // A message that begins elsewhere ends it: Ada's line is quiet meanwhile.
                arrivals.iter_mut().filter(|arrival| arrival.what.port == 0 && arrival.at == at).for_each(|arrival| {
                    arrival.at = at + Micros(1);
                });
                arrivals.extend(dump.chunks(size).map(|piece| bytes(at, 0, piece.to_vec())));
                assert!(place < 2);
            }
        };
        let (outcomes, troubles) = run(&flooded, &mut source(&flooded, Pace::Fast, flood), Some(&path), |_, _| ());
        assert_eq!(troubles, Vec::<String>::new());
        same(&flooded, &calm, &outcomes);
        is_sound(&path, 3);
    }
}

/// A controller that never stops: the take ends when no file could hold more, and what was played is kept.
#[test]
fn a_flood_without_end_ends_the_take() {
    alone("flood::a_flood_without_end_ends_the_take", || {
        let folder = tempfile::tempdir().unwrap();
        let plan = Plan { save: Some(folder.path().into()), ..slow(folder.path()) };
        let flood = |arrivals: &mut Vec<Timed<Input>>, zero: Micros| {
            arrivals.extend(
                (0..1_500_000).map(|place| bytes(zero + Micros(30 * place), 0, vec![0xB0, 2, (place % 128) as u8])),
            );
        };
        let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast, flood), None, |_, _| ());
        assert_eq!(troubles.len(), 1, "{troubles:?}");
        assert!(
            troubles[0].starts_with("Ada's take holds as much as a take can: it ends here and is kept"),
            "{troubles:?}"
        );
        assert!(outcomes.iter().all(|outcome| outcome.is_kept));
        for outcome in &outcomes {
            assert_eq!(flags_of_file(outcome.saved.as_ref().unwrap(), &plan, outcome.turn.lane), flags(outcome));
        }
        assert!(std::fs::metadata(outcomes[0].saved.as_ref().unwrap()).unwrap().len() > 3 << 20);
        eprintln!("a flood without end: {} MB", most_megabytes());
    });
}
