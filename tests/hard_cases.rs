//! Lines on which a follower loses its place, and takes that belong elsewhere: each is met in a band room.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

use restward::exercise::{Micros, Part, TempoMap};
use restward::judge::{Decision, Engine, FlagKind, Grid, Level, Report, Sends, Settings};
use restward::listen::{Input, Timed, What};
use restward::read::{Choice, read_exercise};
use restward::theory::{self, Key};
use std::fmt::Write;
use std::sync::Arc;

/// Twelfths of a quarter: triplets and sixteenths are whole.
const DIVISIONS: u32 = 12;
/// A quarter in seconds.
const QUARTER: f64 = 0.6;

/// An exercise in 4/4 from notes such as `C4` or `r` for a rest, each with its length in twelfths of a quarter; `shift`
/// prints all of it an octave lower under an 8va line.
fn exercise(tune: &[(&str, u32)], fifths: i8, shift: bool) -> Arc<Part> {
    let mut xml =
        String::from("<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Flute</part-name>");
    xml.push_str("</score-part></part-list><part id='P1'>");
    let mut filled = 0;
    for (place, (name, length)) in tune.iter().enumerate() {
        if filled % (4 * DIVISIONS) == 0 {
            let number = filled / (4 * DIVISIONS) + 1;
            let close = if place > 0 { "</measure>" } else { "" };
            write!(xml, "{close}<measure number='{number}'>").unwrap();
        }
        if place == 0 {
            write!(xml, "<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>").unwrap();
            xml.push_str("<time><beats>4</beats><beat-type>4</beat-type></time></attributes>");
            if shift {
                xml.push_str(
                    "<direction><direction-type><octave-shift type='down' size='8'/></direction-type></direction>",
                );
            }
        }
        let what = match name.chars().collect::<Vec<_>>()[..] {
            ['r'] => "<rest/>".to_owned(),
            [step, octave] => format!("<pitch><step>{step}</step><octave>{octave}</octave></pitch>"),
            [step, sign, octave] => {
                let alter = if sign == '#' { 1 } else { -1 };
                format!("<pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>")
            }
            _ => unreachable!("a note of the test: {name}"),
        };
        write!(xml, "<note>{what}<duration>{length}</duration></note>").unwrap();
        filled += length;
    }
    assert_eq!(filled % (4 * DIVISIONS), 0, "whole measures");
    xml.push_str("</measure></part></score-partwise>");
    Arc::new(read_exercise(xml.as_bytes(), &Choice::default()).expect("the exercise reads").part)
}

/// Some twelve milliseconds either way, always the same.
fn jitter(place: usize) -> f64 {
    ((place * 7919 % 25) as f64 - 12.0) / 1000.0
}

/// Plays these notes of the part one after the other, each as long as it should be: (seconds, bytes) from `start`.
/// Where the line jumps, the next note comes after the value of the last and `pause` quarters.
fn played(part: &Part, order: impl IntoIterator<Item = usize>, start: f64, pause: f64) -> Vec<(f64, [u8; 3])> {
    let mut bytes = Vec::new();
    let mut now = start;
    let mut last: Option<usize> = None;
    for (place, index) in order.into_iter().enumerate() {
        let note = &part.notes[index];
        if let Some(last) = last {
            let before = &part.notes[last];
            let quarters =
                if index == last + 1 { (note.onset - before.onset).to_f64() } else { before.duration.to_f64() + pause };
            now += quarters * QUARTER;
        }
        let onset = now + jitter(place);
        bytes.push((onset, [0x90, note.sounding, 80]));
        bytes.push((onset + 0.94 * note.duration.to_f64() * QUARTER, [0x80, note.sounding, 64]));
        last = Some(index);
    }
    bytes.sort_by(|a, b| a.0.total_cmp(&b.0));
    bytes
}

fn engine(part: &Arc<Part>, click: Option<f64>) -> Engine {
    let settings = Settings {
        level: Level::FirstYear,
        sends: Sends::Concert,
        grid: click.map(|start| Grid::new(Micros((start * 1e6) as i64), TempoMap::constant(QUARTER * 1e6))),
        delay: None,
        instrument: None,
        family: theory::default_family(),
        stamp_error: Settings::stamp_error(Micros(0)),
    };
    Engine::new(Arc::clone(part), settings)
}

fn judged(part: &Arc<Part>, bytes: &[(f64, [u8; 3])], click: Option<f64>) -> (Report, Vec<Decision>) {
    let mut engine = engine(part, click);
    for &(at, bytes) in bytes {
        let what = Input { port: 0, what: What::Bytes(bytes.to_vec()) };
        engine.push(&Timed { at: Micros((at * 1e6) as i64), what });
    }
    let mut decisions = engine.take_decisions();
    let last = bytes
        .last()
        .map_or(0.0, |(at, _)| *at)
        .max(click.map_or(0.0, |start| start + part.notes.last().map_or(0.0, |note| note.end().to_f64()) * QUARTER));
    let (report, more) = engine.finish(Micros(((last + 2.0) * 1e6) as i64));
    decisions.extend(more);
    (report, decisions)
}

fn flags(report: &Report) -> Vec<(usize, FlagKind)> {
    report.flags.iter().map(|flag| (flag.index, flag.kind)).collect()
}

fn missed(notes: impl IntoIterator<Item = usize>) -> Vec<(usize, FlagKind)> {
    notes.into_iter().map(|note| (note, FlagKind::MissedNote)).collect()
}

/// With the click that the notes were played to, and without.
fn both(part: &Arc<Part>, bytes: &[(f64, [u8; 3])], wanted: &[(usize, FlagKind)]) {
    for click in [Some(2.0), None] {
        let (report, _) = judged(part, bytes, click);
        assert_eq!(flags(&report), wanted, "click {click:?}: {:#?}", report.flags);
        assert!(report.extra.is_empty() && report.restarts.is_empty(), "click {click:?}");
    }
}

const SCALE: [(&str, u32); 16] = [
    ("C4", 12),
    ("D4", 12),
    ("E4", 12),
    ("F4", 12),
    ("G4", 12),
    ("A4", 12),
    ("B4", 12),
    ("C5", 12),
    ("C5", 12),
    ("B4", 12),
    ("A4", 12),
    ("G4", 12),
    ("F4", 12),
    ("E4", 12),
    ("D4", 12),
    ("C4", 12),
];

#[test]
fn all_notes_the_same() {
    let tune: Vec<(&str, u32)> =
        [12, 12, 24, 12, 12, 12, 12, 24, 24, 12, 12, 24, 48].map(|length| ("F4", length)).to_vec();
    let part = exercise(&tune, 0, false);
    both(&part, &played(&part, 0..part.notes.len(), 2.0, 0.0), &[]);
    // A silence in the place of one of them.
    let mut bytes = played(&part, 0..part.notes.len(), 2.0, 0.0);
    bytes.drain(10..12);
    both(&part, &bytes, &missed([5]));
}

#[test]
fn a_scale_up_and_down() {
    let part = exercise(&SCALE, 0, false);
    both(&part, &played(&part, 0..16, 2.0, 0.0), &[]);
    // A semitone flat on the way down only.
    let mut bytes = played(&part, 0..16, 2.0, 0.0);
    for (_, bytes) in &mut bytes[18..20] {
        bytes[1] -= 1;
    }
    both(&part, &bytes, &[(9, FlagKind::WrongAccidental)]);
    // Begun again from the second measure: no fault.
    let (report, _) = judged(&part, &played(&part, (0..11).chain(4..16), 2.0, 1.0), None);
    assert_eq!(flags(&report), []);
    assert_eq!(report.restarts.iter().map(|it| (it.from_index, it.to_index)).collect::<Vec<_>>(), [(10, 4)]);
}

/// A round: the same four measures three times. Resting while the others sing on is missed notes, exactly those.
#[test]
fn a_round() {
    let phrase = [
        ("F4", 12),
        ("G4", 12),
        ("A4", 12),
        ("F4", 12),
        ("A4", 12),
        ("B-4", 12),
        ("C5", 24),
        ("C5", 6),
        ("D5", 6),
        ("C5", 6),
        ("B-4", 6),
        ("A4", 12),
        ("F4", 12),
        ("F4", 12),
        ("C4", 12),
        ("F4", 24),
    ];
    let phrase = phrase.map(|(name, length)| (if name == "B-4" { "Bb4" } else { name }, length));
    let part = exercise(&phrase.repeat(3), -1, false);
    let count = phrase.len();
    both(&part, &played(&part, 0..3 * count, 2.0, 0.0), &[]);
    let mut bytes = played(&part, 0..3 * count, 2.0, 0.0);
    bytes.drain(2 * count..4 * count);
    let (report, _) = judged(&part, &bytes, Some(2.0));
    assert_eq!(flags(&report), missed(count..2 * count));
}

/// Each measure is the one before a step higher; one is skipped without a click, and the line goes straight on.
#[test]
fn a_sequence_with_a_measure_skipped() {
    let names = ["C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5", "D5", "E5", "F5"];
    let tune: Vec<(&str, u32)> = (0..8)
        .flat_map(|step| [(names[step], 12), (names[step + 2], 12), (names[step + 1], 12), (names[step + 3], 12)])
        .collect();
    let part = exercise(&tune, 0, false);
    both(&part, &played(&part, 0..32, 2.0, 0.0), &[]);
    for skipped in 1..7 {
        let order = (0..4 * skipped).chain(4 * skipped + 4..32);
        let (report, _) = judged(&part, &played(&part, order, 2.0, 0.0), None);
        assert_eq!(flags(&report), missed(4 * skipped..4 * skipped + 4), "measure {skipped}");
    }
}

/// Two lines of four measures; the player begins on the second.
#[test]
fn a_player_one_line_off() {
    let tune: Vec<(&str, u32)> = [
        "F4", "A4", "C5", "A4", "G4", "B4", "D5", "B4", "C5", "A4", "F4", "D4", "E4", "G4", "F4", "C4", "D4", "F4",
        "A4", "F4", "E4", "G4", "C5", "G4", "F4", "D4", "B4", "A4", "G4", "E4", "C4", "F4",
    ]
    .map(|name| (name, 12))
    .to_vec();
    let part = exercise(&tune, 0, false);
    let (report, _) = judged(&part, &played(&part, 16..32, 2.0, 0.0), None);
    assert_eq!(flags(&report), missed(0..16));
    // With a click the first measure may be taken for wrong notes in time; then it is told once where the player is,
    // not note by note.
    let (report, _) = judged(&part, &played(&part, 16..32, 2.0, 0.0), Some(2.0));
    let of = |kind: FlagKind| report.flags.iter().filter(|flag| flag.kind == kind).count();
    let (entrances, wrong, missed) = (of(FlagKind::EarlyEntrance), of(FlagKind::WrongNote), of(FlagKind::MissedNote));
    assert!(entrances == 1 && wrong <= 4 && missed <= 16 && report.flags.len() == entrances + wrong + missed);
    let told = "to 8 were played 4 measures ahead of the click (flagged once)";
    assert!(report.remarks.len() == 1 && report.remarks[0].ends_with(told), "{:?}", report.remarks);
}

#[test]
fn a_take_of_another_exercise() {
    let part = exercise(&SCALE, 0, false);
    let names = ["Eb4", "G4", "Bb4", "Ab4", "F4", "D4", "Eb4", "Bb3"];
    let tune: Vec<(&str, u32)> =
        (0..24).map(|place| (names[place * 5 % 8], if place % 3 == 0 { 24 } else { 12 })).collect();
    let other = exercise(&tune, -3, false);
    for click in [Some(2.0), None] {
        let (report, decisions) = judged(&part, &played(&other, 0..other.notes.len(), 2.0, 0.0), click);
        assert!(!report.totals.fits);
        assert!(report.flags.is_empty() && report.totals.right_pitches.of == 0);
        assert!(report.remarks[0].contains("does not sound like the exercise"), "{:?}", report.remarks);
        // The log goes quiet before the page is full, and what it said does not stand.
        let said = decisions.iter().filter(|decision| matches!(decision, Decision::Flag { .. })).count();
        let withdrawn = decisions.iter().filter(|decision| matches!(decision, Decision::Withdrawn { .. })).count();
        assert!(said < 20 && said == withdrawn, "{said} said, {withdrawn} withdrawn");
    }
}

/// A trill in thirty-seconds and a measured tremolo, as some editions print them.
#[test]
fn trills_and_tremolos_written_out() {
    let mut tune = vec![("G4", 24), ("A4", 12), ("B4", 12)];
    tune.extend([("C5", 3), ("D5", 3)].repeat(8));
    tune.extend([("C5", 24), ("G4", 24)]);
    tune.extend([("E4", 3), ("G4", 3)].repeat(8));
    tune.extend([("C4", 48)]);
    let part = exercise(&tune, 0, false);
    for click in [Some(2.0), None] {
        let (report, _) = judged(&part, &played(&part, 0..part.notes.len(), 2.0, 0.0), click);
        assert_eq!(flags(&report), [], "click {click:?}");
    }
}

#[test]
fn an_octave_line() {
    let part = exercise(&SCALE, 0, true);
    assert_eq!(
        part.notes[0].sounding, 60,
        "the file gives the sounding octave under an octave line (MusicXML 4.0, `octave-shift`)"
    );
    both(&part, &played(&part, 0..16, 2.0, 0.0), &[]);
}

#[test]
fn a_key_without_changed_notes() {
    let part = exercise(&SCALE, 0, false);
    let settings = Settings {
        level: Level::FirstYear,
        sends: Sends::Concert,
        grid: None,
        delay: None,
        instrument: None,
        family: vec![Key::major(0)],
        stamp_error: Micros(2_000),
    };
    let mut engine = Engine::new(Arc::clone(&part), settings);
    for (at, bytes) in played(&part, 0..16, 2.0, 0.0) {
        engine
            .push(&Timed { at: Micros((at * 1e6) as i64), what: Input { port: 0, what: What::Bytes(bytes.to_vec()) } });
    }
    let (report, _) = engine.finish(Micros(20_000_000));
    assert_eq!((flags(&report), report.totals.changed_notes.of, report.totals.right_pitches.good), (vec![], 0, 16));
}

/// Three halves with rests; the second begins at beat 1 of measure 2 and is held for one of its three beats when `ends` happens.
fn held(click: Option<f64>, ends: &What) -> (Report, Vec<Decision>) {
    let part = exercise(&[("C4", 36), ("r", 12), ("D4", 36), ("r", 12), ("E4", 36), ("r", 12)], 0, false);
    let mut engine = engine(&part, click);
    let mut push = |quarters: f64, what: What| {
        let at = Micros(((2.0 + quarters * QUARTER) * 1e6) as i64);
        engine.push(&Timed { at, what: Input { port: 0, what } });
    };
    push(0.0, What::Bytes(vec![0x90, 60, 80]));
    push(2.95, What::Bytes(vec![0x80, 60, 64]));
    push(4.0, What::Bytes(vec![0x90, 62, 80]));
    push(5.0, ends.clone());
    let mut decisions = engine.take_decisions();
    let end = if *ends == What::Bytes(Vec::new()) { 5.0 } else { 5.7 };
    let (report, more) = engine.finish(Micros(((2.0 + end * QUARTER) * 1e6) as i64));
    decisions.extend(more);
    (report, decisions)
}

/// A cable that is pulled and a director who ends the take let no note go: how long it would have been held nobody knows.
#[test]
fn what_still_sounds_at_the_end_is_not_let_go() {
    for click in [Some(2.0), None] {
        let early = |ends: &What| {
            let (report, decisions) = held(click, ends);
            let is_early = |decision: &Decision| matches!(decision, Decision::Flag { flag, .. } | Decision::Close { flag, .. } if flag.kind == FlagKind::EarlyRelease);
            assert_eq!(report.notes[1].played_midi, Some(62));
            let told = decisions.iter().any(is_early);
            assert_eq!(told, report.notes[1].flags.contains(&FlagKind::EarlyRelease));
            (told, report.notes[1].release_judged)
        };
        assert_eq!(early(&What::Disconnect), (false, false), "the cable, {click:?}");
        assert_eq!(early(&What::Bytes(Vec::new())), (false, false), "the end, {click:?}");
    }
    let (report, _) = held(Some(2.0), &What::Bytes(vec![0x80, 62, 64]));
    assert_eq!(report.notes[1].flags, [FlagKind::EarlyRelease], "let go so soon it is early");
}

/// A controller that sends another pitch than the one that is asked for is told of once; the notes stay wrong.
#[test]
fn a_take_that_is_off_by_one_interval_all_through() {
    let part = exercise(&SCALE, 0, false);
    let mut bytes = played(&part, 0..part.notes.len(), 2.0, 0.0);
    let remark = |bytes: &[(f64, [u8; 3])]| judged(&part, bytes, Some(2.0)).0.remarks.join(" ");
    assert!(!remark(&bytes).contains("nearly every note"));
    bytes.iter_mut().for_each(|(_, bytes)| bytes[1] -= 3);
    assert!(remark(&bytes).contains("nearly every note sounds 3 half tones too low"), "{}", remark(&bytes));
    // Half of them only: the player, not the controller.
    let middle = bytes.len() / 2;
    bytes[middle..].iter_mut().for_each(|(_, bytes)| bytes[1] += 3);
    assert!(!remark(&bytes).contains("nearly every note"));
}
