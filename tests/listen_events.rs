//! What the judge hears while a player plays: which event, with which times, and when it is certain.
//!
//! Times in milliseconds. The limits are those of DESIGN.md §5, the bytes those of MIDI 1.0.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use restward::exercise::Micros;
use restward::listen::{Cleaner, Input, NoteEvent, Restrikes, Timed, What};

/// (decided at, what): `+60@500` is a note-on of pitch 60 that began at 500 ms, `-60@900` its end.
type Told = (i64, String);

/// Bytes at a time on port 0, in milliseconds.
type Arrival = (i64, &'static [u8]);

/// Plays and listens from deadline to deadline; ends two seconds after the last arrival.
fn told_by(mut cleaner: Cleaner, arrivals: &[Arrival]) -> Vec<Told> {
    let mut told = Vec::new();
    let mut pitches = Vec::new();
    let mut note_down = |now: Micros, events: &mut Vec<NoteEvent>| {
        for event in events.drain(..) {
            let what = match event {
                NoteEvent::On { at, midi, .. } => {
                    pitches.push(midi);
                    format!("+{midi}@{}", at.0 / 1000)
                }
                NoteEvent::Off { id, at, .. } => format!("-{}@{}", pitches[id as usize], at.0 / 1000),
            };
            told.push((now.0 / 1000, what));
        }
    };
    let mut events = Vec::new();
    let end = arrivals.last().unwrap().0 + 2000;
    for &(ms, bytes) in arrivals.iter().chain(&[(end, &[] as &[u8])]) {
        let at = Micros(ms * 1000);
        while let Some(due) = cleaner.next_deadline().filter(|&due| due <= at) {
            cleaner.advance(due, &mut events);
            note_down(due, &mut events);
        }
        cleaner.push(&Timed { at, what: Input { port: 0, what: What::Bytes(bytes.to_vec()) } }, &mut events);
        note_down(at, &mut events);
    }
    cleaner.finish(Micros(end * 1000), &mut events);
    note_down(Micros(end * 1000), &mut events);
    told
}

#[track_caller]
fn check(arrivals: &[Arrival], expected: &[(i64, &str)]) {
    let told = told_by(Cleaner::new(Restrikes::Kept), arrivals);
    let expected: Vec<Told> = expected.iter().map(|&(at, what)| (at, what.to_owned())).collect();
    assert_eq!(told, expected);
}

/// A note-on is told once it has outlived a glitch, its note-off at once.
#[test]
fn a_note() {
    check(&[(500, &[0x90, 60, 80]), (900, &[0x80, 60, 64])], &[(530, "+60@500"), (900, "-60@900")]);
    check(&[(500, &[0x90, 60, 80]), (530, &[0x80, 60, 64])], &[(530, "+60@500"), (530, "-60@530")]);
}

/// Slurred: the old note is told to end, where the new one begins, before that one is told.
#[test]
fn a_slur() {
    check(
        &[(0, &[0x90, 60, 80]), (500, &[0x90, 62, 80]), (512, &[0x80, 60, 64]), (900, &[0x80, 62, 64])],
        &[(30, "+60@0"), (512, "-60@500"), (530, "+62@500"), (900, "-62@900")],
    );
    // Its note-off comes late, or never.
    check(
        &[(0, &[0x90, 60, 80]), (500, &[0x90, 62, 80]), (535, &[0x80, 60, 64]), (900, &[0x80, 62, 64])],
        &[(30, "+60@0"), (530, "-60@500"), (530, "+62@500"), (900, "-62@900")],
    );
}

/// The outer notes of a glitch keep their own times, slurred or tongued; so does a note around one.
#[test]
fn a_glitch() {
    check(
        &[
            (0, &[0x90, 60, 80]),
            (500, &[0x90, 70, 80]),
            (501, &[0x80, 60, 64]),
            (512, &[0x90, 62, 80]),
            (513, &[0x80, 70, 64]),
            (900, &[0x80, 62, 64]),
        ],
        &[(30, "+60@0"), (501, "-60@500"), (542, "+62@512"), (900, "-62@900")],
    );
    check(
        &[
            (0, &[0x90, 60, 80]),
            (480, &[0x80, 60, 64]),
            (490, &[0x90, 70, 80]),
            (505, &[0x80, 70, 64]),
            (510, &[0x90, 62, 80]),
            (900, &[0x80, 62, 64]),
        ],
        &[(30, "+60@0"), (480, "-60@480"), (540, "+62@510"), (900, "-62@900")],
    );
    check(
        &[(0, &[0x90, 60, 80]), (300, &[0x90, 61, 80]), (329, &[0x80, 61, 64]), (900, &[0x80, 60, 64])],
        &[(30, "+60@0"), (900, "-60@900")],
    );
}

/// A glitch to a neighbour and back: the note is struck again, the glitch is not told.
#[test]
fn a_glitch_between_two_of_a_pitch() {
    check(
        &[
            (0, &[0x90, 60, 80]),
            (500, &[0x90, 70, 80]),
            (501, &[0x80, 60, 64]),
            (512, &[0x90, 60, 80]),
            (513, &[0x80, 70, 64]),
            (900, &[0x80, 60, 64]),
        ],
        &[(30, "+60@0"), (501, "-60@500"), (542, "+60@512"), (900, "-60@900")],
    );
}

/// A dip of breath and a repetition look alike: both are told, the part decides.
#[test]
fn struck_again() {
    check(
        &[(0, &[0x90, 60, 80]), (500, &[0x90, 60, 0]), (525, &[0x90, 60, 80]), (900, &[0x90, 60, 0])],
        &[(30, "+60@0"), (500, "-60@500"), (555, "+60@525"), (900, "-60@900")],
    );
    // A bounce at the end is nothing.
    check(
        &[(0, &[0x90, 60, 80]), (500, &[0x90, 60, 0]), (503, &[0x90, 60, 80]), (506, &[0x90, 60, 0])],
        &[(30, "+60@0"), (500, "-60@500")],
    );
    // A bounce at the start is one note from its first contact.
    check(
        &[(0, &[0x90, 60, 80]), (3, &[0x90, 60, 0]), (5, &[0x90, 60, 80]), (500, &[0x90, 60, 0])],
        &[(30, "+60@0"), (500, "-60@500")],
    );
}

/// Chords and held notes pass through as they are, once it is known that several notes sound.
#[test]
fn several_notes_at_once() {
    check(
        &[
            (0, &[0x90, 60, 80]),
            (10, &[0x90, 64, 80]),
            (15, &[0x90, 67, 80]),
            (400, &[0x80, 64, 64]),
            (500, &[0x90, 72, 80]),
            (800, &[0x80, 72, 64]),
            (900, &[0x80, 60, 64]),
            (901, &[0x80, 67, 64]),
        ],
        &[
            (40, "+60@0"),
            (45, "+64@10"),
            (45, "+67@15"),
            (400, "-64@400"),
            (530, "+72@500"),
            (800, "-72@800"),
            (900, "-60@900"),
            (901, "-67@901"),
        ],
    );
}

/// On a struck instrument every short stroke is meant, and a note that rings is not ended by the next.
#[test]
fn a_struck_instrument() {
    let arrivals: &[Arrival] = &[
        (0, &[0x90, 60, 80]),
        (500, &[0x90, 62, 80]),
        (510, &[0x80, 62, 64]),
        (600, &[0x90, 64, 80]),
        (620, &[0x80, 64, 64]),
        (900, &[0x80, 60, 64]),
    ];
    let told = told_by(Cleaner::new(Restrikes::Kept).of_struck_instrument(), arrivals);
    let what: Vec<&str> = told.iter().map(|(_, what)| what.as_str()).collect();
    assert_eq!(what, ["+60@0", "+62@500", "-62@510", "+64@600", "-64@620", "-60@900"]);
    assert_eq!(told[1].0, 530, "not bounced within 20 ms");
}

/// A line with active sensing that falls silent: told 330 ms after the last byte, ended 300 ms after it (MIDI 1.0
/// Detailed Specification, "Active Sensing": 300 ms).
#[test]
fn a_dead_line() {
    check(&[(0, &[0xFE]), (100, &[0x90, 60, 80]), (300, &[0xFE])], &[(130, "+60@100"), (630, "-60@600")]);
    check(
        &[(0, &[0xFE]), (100, &[0x90, 60, 80]), (430, &[0xF8]), (500, &[0x80, 60, 0])],
        &[(130, "+60@100"), (500, "-60@500")],
    );
}

/// A message counts at the time of its last byte.
#[test]
fn half_a_message() {
    check(
        &[(0, &[0x90]), (100, &[60]), (200, &[80]), (700, &[60]), (800, &[0])],
        &[(230, "+60@200"), (800, "-60@800")],
    );
}

/// Struck, and not told yet: an early release must wait for it.
#[test]
fn whether_a_note_has_just_been_struck() {
    let mut cleaner = Cleaner::new(Restrikes::Kept);
    let mut events = Vec::new();
    let push = |cleaner: &mut Cleaner, ms: i64, bytes: &[u8], events: &mut Vec<NoteEvent>| {
        let what = Input { port: 0, what: What::Bytes(bytes.to_vec()) };
        cleaner.push(&Timed { at: Micros(ms * 1000), what }, events);
    };
    push(&mut cleaner, 0, &[0x90, 60, 80], &mut events);
    assert!(cleaner.is_struck());
    cleaner.advance(Micros(30_000), &mut events);
    assert!(!cleaner.is_struck());
    push(&mut cleaner, 500, &[0x90, 62, 80], &mut events);
    push(&mut cleaner, 510, &[0x80, 62, 0], &mut events);
    assert!(!cleaner.is_struck(), "a glitch, over already");
}
