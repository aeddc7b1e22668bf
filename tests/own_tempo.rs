//! Without a click the player's own beat is the measure: feeling is no fault, and a note counted short is told with the
//! beats it got (DESIGN.md §3, §4). Common practice, no source: rubato, a slow start, a ritardando at the end and a
//! fermata belong to music.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

mod support;

use proptest::prelude::*;
use restward::exercise::{FollowedBy, Micros, Part};
use restward::judge::{Engine, FlagKind, Report, Sends, Settings};
use restward::listen::{Input, Timed, What};
use std::sync::Arc;
use support::{Case, cases};

/// How much longer than at the base tempo a quarter is, at a point of the score in quarters.
type Feeling<'a> = &'a dyn Fn(f64) -> f64;

/// Seconds of each sixteenth of a quarter.
fn clock(base: f64, feeling: Feeling, quarters: f64) -> Vec<f64> {
    let mut times = vec![1.0];
    for step in 0..(quarters * 16.0) as usize + 64 {
        times.push(times[step] + base / 16.0 * feeling(step as f64 / 16.0));
    }
    times
}

fn at(clock: &[f64], point: f64) -> f64 {
    let low = ((point * 16.0) as usize).min(clock.len() - 2);
    clock[low] + (point * 16.0 - low as f64) * (clock[low + 1] - clock[low])
}

/// A careful player: every note right, connected notes a little apart, held notes to the end of their value. `waits`
/// adds seconds before a note and all that follow it.
fn play(part: &Part, base: f64, feeling: Feeling, jitter: &[f64], waits: &[(usize, f64)]) -> Vec<Timed<Input>> {
    let last = part.notes.last().unwrap();
    let clock = clock(base, feeling, last.end().to_f64());
    let wait = |index: usize| waits.iter().filter(|(from, _)| *from <= index).map(|(_, seconds)| seconds).sum::<f64>();
    let off = |index: usize| jitter[index % jitter.len()];
    let onset = |index: usize| at(&clock, part.notes[index].onset.to_f64()) + wait(index) + off(index);
    let mut bytes = Vec::new();
    for (index, note) in part.notes.iter().enumerate() {
        let end = if note.followed_by == FollowedBy::Note {
            onset(index) + 0.92 * (onset(index + 1) - onset(index))
        } else if note.fermata && index + 1 < part.notes.len() {
            at(&clock, note.end().to_f64()) + wait(index + 1) - 0.02
        } else {
            at(&clock, note.end().to_f64()) + wait(index) - 0.02
        };
        bytes.push((onset(index), vec![0x90, note.sounding, 80]));
        bytes.push((end, vec![0x80, note.sounding, 64]));
    }
    bytes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let timed = |(at, bytes): (f64, Vec<u8>)| Timed {
        at: Micros((at * 1e6) as i64),
        what: Input { port: 0, what: What::Bytes(bytes) },
    };
    bytes.into_iter().map(timed).collect()
}

fn judged(part: &Arc<Part>, case: &Case, inputs: &[Timed<Input>]) -> Report {
    let settings = Settings { grid: None, sends: Sends::Concert, ..case.settings.clone() };
    let mut engine = Engine::new(Arc::clone(part), settings);
    inputs.iter().for_each(|input| engine.push(input));
    engine.finish(inputs.last().unwrap().at + Micros(1_000_000)).0
}

fn told(report: &Report) -> Vec<(usize, FlagKind, &str)> {
    report.flags.iter().map(|flag| (flag.index, flag.kind, flag.sentence.as_str())).collect()
}

/// Beats from a note to the next.
fn beats(part: &Part, index: usize) -> f64 {
    let note = &part.notes[index];
    (part.notes[index + 1].onset - note.onset).in_beats(part.beat_unit(note)).to_f64()
}

/// Notes of three or four beats with the next right after them, in the midst of playing.
fn long_notes() -> Vec<(&'static Case, usize)> {
    let of = |case: &'static Case| {
        let part = &case.part;
        let is_long = |index: &usize| {
            let note = &part.notes[*index];
            let around = index - 3..index + 5;
            (3.0..=4.0).contains(&beats(part, *index))
                && note.followed_by == FollowedBy::Note
                && !note.fermata
                && around.into_iter().all(|index| beats(part, index) <= 4.0)
        };
        (3..part.notes.len().saturating_sub(5)).filter(is_long).map(|index| (case, index)).collect::<Vec<_>>()
    };
    cases().iter().flat_map(of).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// A tempo that swings by up to 10 per cent within six measures or more, a start at two thirds of the tempo, an end at two thirds.
    #[test]
    fn feeling_is_no_fault(
        which in 0_usize..12,
        swing in 0.0..0.1_f64,
        period in 24.0..64.0_f64,
        phase in 0.0..6.3_f64,
        slow_start in 0.0..0.5_f64,
        slow_end in 0.0..0.5_f64,
        beats in 60.0..112.0_f64,
        jitter in proptest::collection::vec(-0.012..0.012_f64, 8..32),
    ) {
        let case = &cases()[which % cases().len()];
        let last = case.part.notes.last().unwrap().onset.to_f64();
        let feeling = |at: f64| {
            (1.0 + swing * (at * std::f64::consts::TAU / period + phase).sin())
                * (1.0 + slow_start * (1.0 - at / 6.0).max(0.0))
                * (1.0 + slow_end * (1.0 - (last - at) / 6.0).clamp(0.0, 1.0))
        };
        let report = judged(&case.part, case, &play(&case.part, 60.0 / beats, &feeling, &jitter, &[]));
        prop_assert!(report.flags.is_empty(), "{:?}", told(&report));
        prop_assert_eq!(report.totals.right_pitches.good, case.part.notes.len());
    }

    /// A fermata, printed over any note, is held as long as somebody likes; all the rest is judged as ever.
    #[test]
    fn a_fermata_is_no_fault(which in 0_usize..12, place in 0_usize..64, longer in 0.5..4.0_f64) {
        let case = &cases()[which % cases().len()];
        let mut part = (*case.part).clone();
        let place = place % (part.notes.len() - 1);
        part.notes[place].fermata = true;
        let waits = [(place + 1, longer * 0.6)];
        let report = judged(&Arc::new(part.clone()), case, &play(&part, 0.6, &|_| 1.0, &[0.0], &waits));
        prop_assert!(report.flags.is_empty(), "{:?}", told(&report));
    }

    /// A long note that gets a beat too few, then on: one finding, with the beats.
    #[test]
    fn a_note_counted_short_is_told(
        which in 0_usize..1000,
        swing in 0.0..0.04_f64,
        jitter in proptest::collection::vec(-0.012..0.012_f64, 8..32),
    ) {
        let long = long_notes();
        let (case, place) = long[which % long.len()];
        let part = &case.part;
        let unit = part.beat_unit(&part.notes[place]).to_f64();
        let feeling = |at: f64| 1.0 + swing * (at / 5.0).sin();
        let clock = clock(0.6, &feeling, part.notes[place].end().to_f64());
        let end = part.notes[place].end().to_f64();
        let a_beat = at(&clock, end) - at(&clock, end - unit);
        let inputs = play(part, 0.6, &feeling, &jitter, &[(place + 1, -a_beat)]);
        let report = judged(part, case, &inputs);
        let flag = report.flags.iter().find(|flag| flag.index == place + 1);
        prop_assert!(flag.is_some() && report.flags.len() == 1, "{place} of {:?}: {:?}", beats(part, place), told(&report));
        let flag = flag.unwrap();
        prop_assert_eq!(flag.kind, FlagKind::EarlyEntrance);
        prop_assert_eq!(flag.beats_due, Some(beats(part, place)));
        prop_assert!((flag.beats_given.unwrap() - (beats(part, place) - 1.0)).abs() < 0.25, "{:?}", flag);
    }
}
