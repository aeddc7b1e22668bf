//! The constant delay of a controller and a click: taken off where it was measured, found where it was not, and never
//! taken for playing.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

mod support;

use proptest::prelude::*;
use restward::exercise::{Micros, Part, TempoMap};
use restward::judge::{Decision, DelayFrom, Engine, FlagKind, Grid, Level, Report, Sends, Settings};
use restward::listen::{Input, Timed, What};
use restward::read::{Choice, read_exercise};
use restward::theory::default_family;
use std::sync::Arc;
use support::{Case, cases};

/// At 120 a minute. The third-year tolerance is 0.15 of it: 75 ms.
const BEAT_MS: i64 = 500;
const START_MS: i64 = 2_000;

/// Quarter notes in common time, a scale up and down again and again.
fn part(notes: usize) -> Part {
    let mut measures = String::new();
    for (place, step) in "CDEFGAGFED".chars().cycle().take(notes).enumerate() {
        if place % 4 == 0 {
            let end = if place > 0 { "</measure>" } else { "" };
            measures += &format!("{end}<measure number=\"{}\">", place / 4 + 1);
        }
        if place == 0 {
            measures += "<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats>\
                         <beat-type>4</beat-type></time></attributes>";
        }
        measures += &format!(
            "<note><pitch><step>{step}</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type></note>"
        );
    }
    let text = format!(
        "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Flute</part-name></score-part>\
         </part-list><part id=\"P1\">{measures}</measure></part></score-partwise>"
    );
    read_exercise(text.as_bytes(), &Choice::default()).unwrap().part
}

fn settings(beat_ms: i64, delay: Option<i64>) -> Settings {
    Settings {
        level: Level::ThirdYear,
        sends: Sends::Concert,
        grid: Some(Grid::new(Micros(1_000 * START_MS), TempoMap::constant(1e3 * beat_ms as f64))),
        delay: delay.map(|ms| Micros(1_000 * ms)),
        // Times are exact here.
        stamp_error: Micros(0),
        instrument: None,
        family: default_family(),
    }
}

/// A take in which each note begins and ends so many milliseconds after its time.
fn take(part: &Part, beat_ms: i64, late_ms: impl Fn(usize) -> i64) -> Vec<Timed<Input>> {
    let mut inputs = Vec::new();
    for note in &part.notes {
        let at = |quarters: f64| Micros(1_000 * (START_MS + (quarters * beat_ms as f64) as i64 + late_ms(note.index)));
        let begin = at(note.onset.to_f64());
        // Tongued: a gap of 40 ms.
        let end = at(note.end().to_f64()) - Micros(40_000);
        for (at, bytes) in [(begin, vec![0x90, note.sounding, 90]), (end, vec![0x80, note.sounding, 64])] {
            inputs.push(Timed { at, what: Input { port: 0, what: What::Bytes(bytes) } });
        }
    }
    inputs.sort_by_key(|input| input.at);
    inputs
}

fn judged(part: &Part, settings: Settings, inputs: &[Timed<Input>]) -> (Report, Vec<Decision>) {
    let mut engine = Engine::new(Arc::new(part.clone()), settings);
    let mut decisions = Vec::new();
    for input in inputs {
        engine.push(input);
        decisions.extend(engine.take_decisions());
    }
    let (report, last) = engine.finish(inputs.last().unwrap().at + Micros(1_000_000));
    decisions.extend(last);
    (report, decisions)
}

fn flags(report: &Report) -> Vec<(usize, FlagKind)> {
    report.flags.iter().map(|flag| (flag.index, flag.kind)).collect()
}

/// Flags told and flags taken back, each with its time.
fn told(decisions: &[Decision]) -> (Vec<(usize, f64)>, usize) {
    let flags = decisions.iter().filter_map(|decision| match decision {
        Decision::Flag { at_s, flag } => Some((flag.index, *at_s)),
        _ => None,
    });
    let withdrawn = decisions.iter().filter(|decision| matches!(decision, Decision::Withdrawn { .. })).count();
    (flags.collect(), withdrawn)
}

/// A player's scatter, between -12 and 12 ms, always the same.
fn scatter(note: usize) -> i64 {
    (note as i64 * 7) % 25 - 12
}

#[test]
fn a_constant_delay_is_found_taken_off_and_said() {
    let part = part(25);
    for (delay, said) in [(90, "90 ms behind the click"), (-90, "90 ms ahead of the click")] {
        let inputs = take(&part, BEAT_MS, |note| delay + scatter(note));
        // Known to be none: every note is off by more than 75 ms.
        let (report, _) = judged(&part, settings(BEAT_MS, Some(0)), &inputs);
        assert_eq!(report.totals.entrances.good, 0, "{delay}");
        assert!(report.remarks.is_empty());

        let (report, decisions) = judged(&part, settings(BEAT_MS, None), &inputs);
        assert_eq!(flags(&report), [], "{delay}");
        assert_eq!(told(&decisions), (vec![], 0), "nothing is told live that is taken back");
        let [remark] = &report.remarks[..] else { panic!("{:?}", report.remarks) };
        assert!(remark.contains(said) && remark.contains("restward latency"), "{remark}");
        let found = report.totals.delay.unwrap();
        // The scatter is every number from -12 to 12 once: its middle is 0.
        assert_eq!((found.ms, found.from), (delay as f64, DelayFrom::Take));
    }
}

#[test]
fn one_late_note_is_late_in_a_take_on_time_and_in_a_late_take() {
    let part = part(24);
    for delay in [0, 80] {
        let inputs = take(&part, BEAT_MS, |note| delay + scatter(note) + if note == 13 { 110 } else { 0 });
        let (report, decisions) = judged(&part, settings(BEAT_MS, None), &inputs);
        assert_eq!(flags(&report), [(13, FlagKind::LateEntrance)], "{delay}");
        let (flags, withdrawn) = told(&decisions);
        let [(13, at_s)] = flags[..] else { panic!("{flags:?}") };
        assert_eq!(withdrawn, 0);
        // Due at 2 + 13 * 0.5 s; told at the latest when the note after the next has come.
        assert!(at_s < 8.5 + 1.2, "{at_s}");
    }
}

/// 120 ms count as a delay, more is playing.
#[test]
fn being_late_beyond_the_limit_is_not_forgiven() {
    let part = part(24);
    let late = |ms: i64| judged(&part, settings(BEAT_MS, None), &take(&part, BEAT_MS, |_| ms)).0;
    assert_eq!(flags(&late(120)), []);
    let beyond = late(121);
    assert_eq!(beyond.totals.entrances.good, 0);
    assert_eq!(beyond.totals.flags.get(&FlagKind::LateEntrance), Some(&24));
    assert!(beyond.remarks.is_empty() && beyond.totals.delay.is_none());
}

/// At 240 a minute a third of a beat is 83 ms; the tolerance is the least one, 50 ms.
#[test]
fn a_third_of_a_beat_is_no_delay() {
    let part = part(24);
    let late = |ms: i64| flags(&judged(&part, settings(250, None), &take(&part, 250, |_| ms)).0).len();
    assert_eq!((late(83), late(84)), (0, 24));
}

/// 20 ms are taken off, less is left alone.
#[test]
fn a_small_offset_is_left_alone() {
    let part = part(24);
    let delay = |ms: i64| judged(&part, settings(BEAT_MS, None), &take(&part, BEAT_MS, |_| ms)).0.totals.delay;
    assert_eq!(delay(20).map(|delay| delay.ms), Some(20.0));
    assert_eq!(delay(19), None);
}

#[test]
fn what_is_not_constant_is_playing() {
    let part = part(24);
    let whole = |late: &dyn Fn(usize) -> i64| judged(&part, settings(BEAT_MS, None), &take(&part, BEAT_MS, late)).0;
    // Half of the notes late, half on time.
    let half = whole(&|note| if note % 2 == 0 { 110 } else { 0 });
    assert_eq!(half.totals.delay, None);
    assert_eq!(half.totals.flags.get(&FlagKind::LateEntrance), Some(&12));
    // Faster and faster: 6 ms more with each note.
    let rushing = whole(&|note| -6 * note as i64);
    assert_eq!(rushing.totals.delay, None);
    // Note 13 is 78 ms early, and so are the ten after it by more.
    assert_eq!(rushing.totals.flags.get(&FlagKind::EarlyEntrance), Some(&11));
    // The second half is late.
    let slack = whole(&|note| if note < 12 { 5 } else { 90 });
    assert_eq!(slack.totals.flags.get(&FlagKind::LateEntrance), Some(&12));
}

/// Eight entrances are evidence, seven are not.
#[test]
fn few_notes_show_no_delay() {
    let delay = |notes: usize| {
        let part = part(notes);
        let (report, decisions) = judged(&part, settings(BEAT_MS, None), &take(&part, BEAT_MS, |_| 90));
        (report.totals.delay.is_some(), told(&decisions).0.len())
    };
    assert_eq!(delay(8), (true, 0));
    assert_eq!(delay(7), (false, 7));
}

/// Nothing is measured against a click that does not run.
#[test]
fn without_a_click_a_delay_means_nothing() {
    let part = part(24);
    let inputs = take(&part, BEAT_MS, scatter);
    let report = |delay| judged(&part, Settings { grid: None, ..settings(BEAT_MS, delay) }, &inputs).0;
    assert_eq!(report(Some(300)), report(None));
    assert_eq!(report(Some(300)).totals.delay, None);
}

fn later(case: &Case, delay: Micros) -> Vec<Timed<Input>> {
    case.inputs.iter().map(|input| Timed { at: input.at + delay, what: input.what.clone() }).collect()
}

/// Flags told live and those that stand at the end.
fn outcome(case: &Case, delay: Micros) -> [Vec<(usize, FlagKind)>; 2] {
    let settings = Settings { delay: Some(delay), ..case.settings.clone() };
    let mut engine = Engine::new(case.part.clone(), settings);
    later(case, delay).iter().for_each(|input| engine.push(input));
    let (report, decisions) = engine.finish(case.end + delay);
    let live = decisions.iter().filter_map(|decision| match decision {
        Decision::Flag { flag, .. } => Some((flag.index, flag.kind)),
        _ => None,
    });
    [live.collect(), flags(&report)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// A take that comes later as a whole, by what was measured, is the same take.
    #[test]
    fn a_measured_delay_is_taken_off_entrances_and_releases(which in 0_usize..12, delay in 0_i64..150_000) {
        let with_click: Vec<&Case> = cases().iter().filter(|case| case.settings.grid.is_some()).collect();
        let case = with_click[which % with_click.len()];
        prop_assert_eq!(outcome(case, Micros(0)), outcome(case, Micros(delay)));
    }
}
