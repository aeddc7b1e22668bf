//! An exercise and a player for the benches, of any length.

use restward::exercise::{Micros, Part, TempoMap};
use restward::judge::{Grid, Level, Sends, Settings};
use restward::listen::{Input, Timed, What};
use restward::read::{Choice, read_exercise};
use restward::theory::default_family;
use std::fmt::Write;

/// Quarter notes at this tempo.
const MICROS_PER_QUARTER: i64 = 500_000;
/// Breath controller messages a second.
const BREATH_PER_SECOND: i64 = 100;

/// Numbers without any pattern that matters, the same each time.
pub(crate) struct Numbers(u64);

impl Numbers {
    pub(crate) fn new(variant: u64) -> Numbers {
        Numbers(variant.wrapping_mul(2_862_933_555_777_941_757).wrapping_add(3_037_000_493))
    }

    /// The next, below `limit`.
    pub(crate) fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// MusicXML with so many notes: quarters that walk up and down the scale, every eighth place a rest.
pub(crate) fn music_xml(notes: usize) -> String {
    let mut numbers = Numbers::new(1);
    let mut text = String::from(
        r#"<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Flute</part-name></score-part></part-list><part id="P1">"#,
    );
    let (mut step, mut written, mut place) = (3_i64, 0, 0);
    while written < notes {
        if place % 4 == 0 {
            let _ = write!(text, r#"<measure number="{}">"#, place / 4 + 1);
        }
        if place == 0 {
            text += "<attributes><divisions>1</divisions><key><fifths>-3</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
        }
        if place % 8 == 7 {
            text += "<note><rest/><duration>1</duration></note>";
        } else {
            step = (step + numbers.below(5) as i64 - 2).clamp(0, 10);
            let (name, alter) =
                [("E", -1), ("F", 0), ("G", 0), ("A", -1), ("B", -1), ("C", 0), ("D", 0)][step as usize % 7];
            let octave = if step % 7 >= 5 { 5 } else { 4 } + step / 7;
            let _ = write!(
                text,
                "<note><pitch><step>{name}</step><alter>{alter}</alter><octave>{octave}</octave></pitch><duration>1</duration></note>"
            );
            written += 1;
        }
        place += 1;
        if place % 4 == 0 {
            text += "</measure>";
        }
    }
    if place % 4 != 0 {
        text += "</measure>";
    }
    text + "</part></score-partwise>"
}

/// The exercise, read as any other.
pub(crate) fn part(notes: usize) -> Part {
    let part = read_exercise(music_xml(notes).as_bytes(), &Choice::default()).unwrap().part;
    assert_eq!(part.notes.len(), notes);
    part
}

/// With a click from two seconds on, or without.
pub(crate) fn settings(click: bool) -> Settings {
    Settings {
        level: Level::FirstYear,
        sends: Sends::Concert,
        grid: click.then(|| Grid::new(Micros(2_000_000), TempoMap::constant(MICROS_PER_QUARTER as f64))),
        delay: None,
        instrument: None,
        family: default_family(),
        stamp_error: Settings::stamp_error(Micros(0)),
    }
}

/// A player: some jitter, of a hundred notes three wrong, two left out and two with a spurious note before them, and
/// breath data all the time.
pub(crate) fn performance(part: &Part, variant: u64) -> Vec<Timed<Input>> {
    let mut numbers = Numbers::new(variant + 100);
    let mut events: Vec<(i64, Vec<u8>)> = Vec::new();
    for note in &part.notes {
        let begin = 2_000_000 + (note.onset.to_f64() * MICROS_PER_QUARTER as f64) as i64;
        let length = (note.duration.to_f64() * MICROS_PER_QUARTER as f64) as i64;
        let begin = begin + numbers.below(60_000) as i64 - 30_000;
        let chance = numbers.below(100);
        if chance < 2 {
            continue;
        }
        let midi = if chance < 5 { note.sounding + 1 } else { note.sounding };
        if chance > 97 {
            events.push((begin - 15_000, vec![0x90, midi + 2, 60]));
            events.push((begin - 1_000, vec![0x80, midi + 2, 0]));
        }
        events.push((begin, vec![0x90, midi, 90]));
        let mut at = begin + 5_000;
        let end = begin + length - 50_000;
        while at < end {
            events.push((at, vec![0xB0, 2, numbers.below(128) as u8]));
            at += 1_000_000 / BREATH_PER_SECOND;
        }
        events.push((end, vec![0x80, midi, 0]));
    }
    events.sort_by_key(|&(at, _)| at);
    let timed = |(at, bytes)| Timed { at: Micros(at), what: Input { port: 0, what: What::Bytes(bytes) } };
    events.into_iter().map(timed).collect()
}
