//! Thousands of drills, each checked note by note.

use super::rules::{METERS, check};
use restward::instrument::{Instrument, catalogue};
use restward::judge::Level;
use restward::prepare::drill::{Brief, Drill, DrillError, Kind, compose};
use restward::theory::{Key, default_family};
use std::panic::{AssertUnwindSafe, catch_unwind};

const LEVELS: [Level; 3] = [Level::FirstYear, Level::SecondYear, Level::ThirdYear];

/// The keys of the family, their relative minors, and some from further away.
fn keys() -> Vec<Key> {
    let mut keys: Vec<Key> = default_family();
    keys.extend([-1, -2, -3, -4].map(Key::minor));
    keys.extend([0, 2, -5].map(Key::major));
    keys
}

/// Everything that was asked for, in one line, for the message of a test that fails.
fn said(brief: &Brief<'_>) -> String {
    let ids: Vec<&str> = brief.instruments.iter().map(|instrument| instrument.id.as_str()).collect();
    format!(
        "{:?} in {} for {} at {:?}, {}/{}, {} measures, seed {}",
        brief.kind,
        brief.key,
        ids.join(","),
        brief.level,
        brief.meter.count,
        brief.meter.unit,
        brief.measures,
        brief.seed
    )
}

fn must_keep_all_rules(brief: &Brief<'_>) -> Drill {
    let drill = compose(brief).unwrap_or_else(|error| panic!("{}: {error}", said(brief)));
    if let Err(cause) = catch_unwind(AssertUnwindSafe(|| check(brief, &drill))) {
        let text = cause.downcast_ref::<String>().cloned();
        let text = text.or_else(|| cause.downcast_ref::<&str>().map(|text| (*text).to_owned()));
        panic!("{}: {}", said(brief), text.unwrap_or_default());
    }
    drill
}

/// Counts up through all combinations in steps that share no factor with their number, so that few drills meet all.
struct Turns(usize);

impl Turns {
    fn of(&mut self, choices: usize) -> usize {
        let turn = self.0 % choices;
        self.0 /= choices;
        turn
    }
}

fn kind(key: Key, turn: usize, keys: &[Key]) -> Kind {
    match turn {
        0 | 1 => Kind::Changed(None),
        2 => Kind::Hold,
        other => {
            let unlike: Vec<Key> = keys.iter().copied().filter(|other| other.fifths != key.fifths).collect();
            Kind::TwoKeys(unlike[other % unlike.len()])
        }
    }
}

#[test]
fn every_instrument_key_kind_level_meter_and_length() {
    let (keys, family) = (keys(), default_family());
    let instruments: Vec<&Instrument> = catalogue().instruments().collect();
    let combinations = instruments.len() * keys.len() * 6 * LEVELS.len() * METERS.len() * 61;
    // 7919 is a prime that none of the numbers above is a multiple of.
    for number in 0..6_000 {
        let mut turns = Turns((number * 7919 * 101) % combinations);
        let instrument = instruments[turns.of(instruments.len())];
        let key = keys[turns.of(keys.len())];
        let kind = kind(key, turns.of(6), &keys);
        let (level, meter) = (LEVELS[turns.of(3)], METERS[turns.of(METERS.len())]);
        let measures = 4 + turns.of(61);
        let seed = number as u64;
        must_keep_all_rules(&Brief {
            kind,
            key,
            family: &family,
            instruments: &[instrument],
            level,
            meter,
            measures,
            seed,
        });
    }
}

#[test]
fn every_letter_that_changes() {
    let family = default_family();
    for key in [-1, -2, -3, -4].map(Key::major) {
        for instrument in catalogue().instruments() {
            for (seed, changed) in (0..).zip(instrument.changed_notes(key, &family).1) {
                let kind = Kind::Changed(Some(changed.letter));
                let (level, meter) = (LEVELS[seed as usize % 3], METERS[seed as usize % 2]);
                let instruments = [instrument];
                must_keep_all_rules(&Brief {
                    kind,
                    key,
                    family: &family,
                    instruments: &instruments,
                    level,
                    meter,
                    measures: 8,
                    seed,
                });
            }
        }
    }
}

/// Sections of two to the whole band, in the keys of the family and their minors.
#[test]
fn sections_in_unison_and_octaves() {
    let (keys, family) = (keys(), default_family());
    let all: Vec<&Instrument> = catalogue().instruments().collect();
    for number in 0..1_500_usize {
        let mut turns = Turns(number * 7919);
        let from = turns.of(all.len());
        let instruments: Vec<&Instrument> = match number % 4 {
            0 => all.clone(),
            some => (0..=some).map(|place| all[(from + place * 5) % all.len()]).collect(),
        };
        let key = keys[turns.of(8)];
        let kind = kind(key, turns.of(6), &keys[..8]);
        let (level, meter) = (LEVELS[turns.of(3)], METERS[turns.of(METERS.len())]);
        let measures = 4 + number % 61;
        let seed = number as u64;
        must_keep_all_rules(&Brief {
            kind,
            key,
            family: &family,
            instruments: &instruments,
            level,
            meter,
            measures,
            seed,
        });
    }
}

/// All thirty keys: respelled parts, and sections that have too little in common say so.
#[test]
fn every_key_there_is() {
    let family = default_family();
    let all: Vec<&Instrument> = catalogue().instruments().collect();
    let mut made = 0;
    for fifths in -7..=7 {
        for key in [Key::major(fifths), Key::minor(fifths)] {
            for (seed, section) in (0..).zip(all.chunks(3).chain(all.windows(1))) {
                let brief = Brief {
                    kind: Kind::Changed(None),
                    key,
                    family: &family,
                    instruments: section,
                    level: LEVELS[seed as usize % 3],
                    meter: METERS[seed as usize % 2],
                    measures: 8,
                    seed,
                };
                match compose(&brief) {
                    Err(DrillError::NoCommonRange { .. }) if section.len() > 1 => {}
                    _ => {
                        must_keep_all_rules(&brief);
                        made += 1;
                    }
                }
            }
        }
    }
    assert!(made >= 30 * all.len(), "{made}");
}

#[test]
fn long_hold_drills_have_every_case() {
    let family = default_family();
    let instruments = [catalogue().get("trombone").unwrap()];
    for seed in 0..40 {
        let meter = METERS[seed as usize % METERS.len()];
        let key = Key::major(-2);
        let level = Level::FirstYear;
        let kind = Kind::Hold;
        must_keep_all_rules(&Brief {
            kind,
            key,
            family: &family,
            instruments: &instruments,
            level,
            meter,
            measures: 56,
            seed,
        });
    }
}

/// What is printed for a seed today is printed for it for ever; other seeds give other drills.
#[test]
fn a_seed_gives_the_same_drill() {
    let family = default_family();
    let instruments = [catalogue().get("flute").unwrap()];
    let notes = |kind: Kind, seed: u64| {
        let (key, level, meter) = (Key::major(-3), Level::FirstYear, METERS[0]);
        let brief = Brief { kind, key, family: &family, instruments: &instruments, level, meter, measures: 8, seed };
        let notes = must_keep_all_rules(&brief).parts[0].notes.clone();
        let said = notes.iter().map(|note| format!("{}:{}", note.written.ascii(), note.duration));
        said.collect::<Vec<_>>().join(" ")
    };
    insta::assert_snapshot!(
        [Kind::Changed(None), Kind::Hold, Kind::TwoKeys(Key::major(-1))].map(|kind| notes(kind, 7)).join("\n")
    );
    let drills: std::collections::BTreeSet<String> = (0..200).map(|seed| notes(Kind::Changed(None), seed)).collect();
    assert_eq!(drills.len(), 200);
}
