//! The command as it runs, played by a simulated player on a made-up clock.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use super::*;
use crate::exercise::Micros;
use crate::listen::{Input, Pace, Replay, Timed, What};
use crate::session::Silent;
use std::path::Path;

/// 80 beats a minute.
const BEAT: i64 = 750_000;

/// A player with a wind controller who plays the same note on each click, so many milliseconds after it; those that
/// are `None` are left out. Breath data comes all the time.
fn player(late_ms: &'static [Option<i64>]) -> Replay {
    let performance = move |_: usize, zero: Micros| {
        let mut arrivals = Vec::new();
        let mut send = |at: i64, bytes: Vec<u8>| {
            arrivals.push(Timed { at: zero + Micros(at), what: Input { port: 1, what: What::Bytes(bytes) } });
        };
        (0..600).for_each(|step| send(10_000 * step, vec![0xB0, 2, 90]));
        for (place, late) in (0..).zip(late_ms) {
            if let Some(late) = late {
                send(BEAT * place + 1_000 * late, vec![0x90, 60, 90]);
                send(BEAT * place + 1_000 * late + 200_000, vec![0x90, 60, 0]);
            }
        }
        arrivals
    };
    Replay::new(vec!["Pad 24:0".into(), "Wind Controller 28:0".into()], Pace::Fast, Box::new(performance))
}

const STEADY: &[Option<i64>] = &[Some(40), Some(47), Some(38), Some(43), Some(41), Some(52), Some(39), Some(44)];

/// What the command writes, and how it ends.
fn measured(folder: &Path, source: &mut Replay) -> (String, Result<(), String>) {
    let arguments =
        Arguments { port: Some("wind".into()), bpm: 80.0, measures: 2, click: "speakers".into(), forget: false };
    let request = Request { port: "wind", arguments: &arguments, place: "speakers", beats: false };
    let mut kept = KeptDelays::read(&folder.join("delays.toml")).unwrap();
    let (_commands, asked) = bounded(1);
    let mut out = Vec::new();
    let outcome = measure(&mut out, &request, source, &mut Silent, &asked, &mut kept);
    let outcome = outcome.map_err(|failure| match failure {
        Failure::Input(message) => message,
        other => panic!("{other:?}"),
    });
    (String::from_utf8(out).unwrap(), outcome)
}

#[test]
fn the_console_reads_well() {
    let folder = tempfile::tempdir().unwrap();
    let (text, outcome) = measured(folder.path(), &mut player(STEADY));
    assert_eq!(outcome, Ok(()));
    // In order 38 39 40 41 43 44 47 52: the middle is 42, the inner six span 39 to 47.
    insta::assert_snapshot!(text, @"
    Listening on Wind Controller 28:0.
    Play one short note on each click, always the same, as exactly with it as you
    can. One measure is counted before: 1 2 3 4. Then play 2 measures: 8 notes.
    Count-in, then play.
    8 of 8 clicks had a note. Your notes come 42 ms after the click.
    Most of them lie within 8 ms of one another: steady enough to go by.
    Kept for Wind Controller with the click on speakers: 42 ms.
    From now on 42 ms of delay are taken off before restward listen judges.
    ");
    assert!(text.lines().all(|line| line.chars().count() <= 80));
    // Once more, the next day: ALSA gives other numbers, and the delay is another one.
    let mut again = player(&[Some(30); 8]);
    let (text, _) = measured(folder.path(), &mut again);
    assert!(text.replace('\n', " ").contains("30 ms. It was 42 ms until now."), "{text}");
    let kept = KeptDelays::read(&folder.path().join("delays.toml")).unwrap();
    let mut out = Vec::new();
    list(&mut out, &kept).unwrap();
    let listed = String::from_utf8(out).unwrap();
    assert!(listed.starts_with("Wind Controller, click on speakers: 30 ms (8 notes, most within 0 ms)\n"), "{listed}");
}

#[test]
fn what_cannot_be_measured_is_refused_and_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let scattered: &[Option<i64>] =
        &[Some(-90), Some(80), Some(20), Some(-60), Some(95), Some(10), Some(-80), Some(70)];
    let few: &[Option<i64>] = &[Some(40), None, None, Some(41), Some(44), None, None, Some(39)];
    let cases = [(few, "only 4 of 8 clicks"), (&[], "no note was heard"), (scattered, "do not lie close enough")];
    for (late, says) in cases {
        let (_, outcome) = measured(folder.path(), &mut player(late));
        let message = outcome.unwrap_err();
        assert!(message.contains(says) && message.ends_with("Nothing was kept."), "{message}");
        assert!(message.starts_with("Wind Controller: "), "{message}");
    }
    assert_eq!(folder.path().read_dir().unwrap().count(), 0);
    measured(folder.path(), &mut player(STEADY)).1.unwrap();
    let message = measured(folder.path(), &mut player(few)).1.unwrap_err();
    assert!(message.ends_with("What was kept stays: 42 ms."), "{message}");
}

#[test]
fn a_pulled_cable_ends_it() {
    let folder = tempfile::tempdir().unwrap();
    let performance = |_: usize, zero: Micros| {
        let note =
            |at: i64| Timed { at: zero + Micros(at), what: Input { port: 1, what: What::Bytes(vec![0x90, 60, 90]) } };
        let gone = Timed { at: zero + Micros(BEAT), what: Input { port: 1, what: What::Disconnect } };
        vec![note(30_000), gone]
    };
    let names = vec!["Pad".into(), "Wind".into()];
    let (text, outcome) = measured(folder.path(), &mut Replay::new(names, Pace::Fast, Box::new(performance)));
    assert!(text.contains("the cable is out"), "{text}");
    assert!(outcome.unwrap_err().contains("stopped before the end"));
}

#[test]
fn a_port_is_forgotten_by_part_of_its_name() {
    let folder = tempfile::tempdir().unwrap();
    measured(folder.path(), &mut player(STEADY)).1.unwrap();
    let mut kept = KeptDelays::read(&folder.path().join("delays.toml")).unwrap();
    let Err(Failure::Input(message)) = forget(&mut Vec::new(), &mut kept, Some("horn")) else { panic!("refused") };
    assert!(message.contains("Kept are: Wind Controller"), "{message}");
    let mut out = Vec::new();
    forget(&mut out, &mut kept, Some("WIND")).unwrap();
    assert_eq!(String::from_utf8(out).unwrap(), "Forgotten: Wind Controller, click on speakers, 42 ms.\n");
    assert_eq!(KeptDelays::read(&folder.path().join("delays.toml")).unwrap().all(), []);
}

#[test]
fn beats_are_shown_on_a_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = Arguments { port: None, bpm: 80.0, measures: 2, click: String::new(), forget: false };
    let request = Request { port: "wind", arguments: &arguments, place: "off", beats: true };
    let mut kept = KeptDelays::read(&folder.path().join("delays.toml")).unwrap();
    let mut out = Vec::new();
    measure(&mut out, &request, &mut player(STEADY), &mut Silent, &bounded(1).1, &mut kept).unwrap();
    let text = String::from_utf8(out).unwrap();
    assert!(
        text.contains("\r\x1b[Kcount-in      [1] 2  3  4 ") && text.contains("measure 2      1  2  3 [4]"),
        "{text}"
    );
}
