//! A drill as a file: it reads the same notes, its parts are known by their names, and the judge takes it.

use restward::exercise::{Micros, Note};
use restward::instrument::{Instrument, catalogue};
use restward::judge::{Engine, FlagKind, Grid, Level, Report, Sends, Settings};
use restward::listen::{Input, Timed, What};
use restward::prepare::drill::{Brief, Drill, Kind, compose};
use restward::read::{Choice, read_exercise};
use restward::session::Student;
use restward::theory::{Key, default_family};
use restward::write::{MarkedPart, musicxml};
use std::sync::Arc;

use super::rules::METERS;

const KINDS: [Kind; 3] = [Kind::Changed(None), Kind::Hold, Kind::TwoKeys(Key::major(-3))];

fn drill(kind: Kind, instruments: &[&Instrument], meter: usize, measures: usize, seed: u64) -> Drill {
    let (family, key) = (default_family(), Key::major(-1));
    let (level, meter) = (Level::SecondYear, METERS[meter % METERS.len()]);
    compose(&Brief { kind, key, family: &family, instruments, level, meter, measures, seed }).unwrap()
}

fn file(drill: &Drill) -> String {
    let parts = drill.parts.iter().zip(&drill.courtesy);
    let marked: Vec<MarkedPart<'_>> =
        parts.map(|(part, courtesy)| MarkedPart { courtesy: courtesy.clone(), ..MarkedPart::new(part) }).collect();
    musicxml(Some(&drill.title), &marked).unwrap()
}

/// What a reader must find again of a note.
fn essence(note: &Note) -> String {
    let place = (note.measure, note.onset, note.duration, note.alteration, note.followed_by);
    format!("{} {} {} {place:?}", note.written.ascii(), note.sounding, note.key.ascii())
}

#[test]
fn files_read_the_same_notes() {
    let all: Vec<&Instrument> = catalogue().instruments().collect();
    for seed in 0..120_usize {
        let section: Vec<&Instrument> = all.iter().copied().skip(seed % 15).take(1 + seed % 4).collect();
        let drill = drill(KINDS[seed % 3], &section, seed / 3, 4 + seed % 17, seed as u64);
        let text = file(&drill);
        for (part, instrument) in drill.parts.iter().zip(section) {
            let choice = Choice { part: Some(part.name.id.clone()), ..Choice::default() };
            let read = read_exercise(text.as_bytes(), &choice).unwrap();
            assert_eq!(read.title.as_deref(), Some(drill.title.as_str()));
            let notes = |notes: &[Note]| notes.iter().map(essence).collect::<Vec<_>>();
            assert_eq!(notes(&read.part.notes), notes(&part.notes), "seed {seed}, {}", instrument.id);
            let measures = |part: &restward::exercise::Part| {
                part.measures.iter().map(|measure| (measure.meter, measure.key, measure.onset)).collect::<Vec<_>>()
            };
            assert_eq!(measures(&read.part), measures(part));
            let tempo = |part: &restward::exercise::Part| part.tempo.micros_at(part.notes[part.notes.len() - 1].end());
            assert!((tempo(&read.part) - tempo(part)).0.abs() < 1_000, "a tempo that a page can print");
            let known = catalogue().recognise_printed(&[&read.part.name.name], read.part.transposition).unwrap();
            assert_eq!(known.id, instrument.id, "the part's name says the instrument");
        }
    }
}

/// A simulated player's take of a drill, judged with the click.
fn judged(drill: &Drill, instrument: &Instrument, short_holds: usize) -> Report {
    let part = drill.parts[0].clone();
    let zero = Micros(2_000_000);
    let student = Student { number: 3, sends_written: true, short_holds, ..Student::default() };
    let played = student.play(&part, &part.tempo, zero);
    let end = played.last().unwrap().0 + Micros(2_000_000);
    let settings = Settings {
        level: Level::FirstYear,
        sends: Sends::Written,
        grid: Some(Grid::new(zero, part.tempo.clone())),
        delay: None,
        instrument: Some(instrument.clone()),
        family: default_family(),
        stamp_error: Settings::stamp_error(Micros(0)),
    };
    let mut engine = Engine::new(Arc::new(part), settings);
    for (at, bytes) in played {
        engine.push(&Timed { at, what: Input { port: 0, what: What::Bytes(bytes) } });
    }
    engine.finish(end).0
}

/// A player without faults gets no flag; two holds let go at six tenths are two early releases.
#[test]
fn the_judge_takes_drills() {
    let trumpet = catalogue().get("trumpet").unwrap();
    for (seed, kind) in (0..).zip(KINDS) {
        let drill = drill(kind, &[trumpet], 0, 16, seed);
        let flags = |report: &Report| -> Vec<FlagKind> {
            report.notes.iter().flat_map(|note| note.flags.iter().copied()).collect()
        };
        assert_eq!(flags(&judged(&drill, trumpet, 0)), [], "{kind:?}");
        assert_eq!(flags(&judged(&drill, trumpet, 2)), [FlagKind::EarlyRelease; 2], "{kind:?}");
    }
}
