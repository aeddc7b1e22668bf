//! The rules of a drill, checked on the parts as they would be printed, without a look at how they were made.

use restward::exercise::{Meter, Note, Part, Quarters};
use restward::instrument::Instrument;
use restward::prepare::drill::{Brief, Drill, Kind};
use restward::theory::{Key, Letter, changed_notes};
use std::collections::BTreeSet;

/// Everything that every drill keeps.
pub(crate) fn check(brief: &Brief<'_>, drill: &Drill) {
    assert_eq!(drill.parts.len(), brief.instruments.len(), "a part each");
    for (part, instrument) in drill.parts.iter().zip(brief.instruments) {
        page(brief, part, instrument);
        ending(part);
        intervals(brief, part);
        repetition(brief, part);
    }
    unison(drill);
    let (Some(part), Some(instrument)) = (drill.parts.first(), brief.instruments.first()) else { return };
    match brief.kind {
        Kind::Changed(_) => changed(brief, part, instrument),
        Kind::Hold => holds(brief, part),
        Kind::TwoKeys(to) => two_keys(brief, part, instrument, to),
    }
}

/// Meter, measures, keys, and nothing outside the beginner range.
fn page(brief: &Brief<'_>, part: &Part, instrument: &Instrument) {
    assert_eq!(part.measures.len(), brief.measures);
    assert_eq!(part.transposition, Some(instrument.transposition));
    assert!(part.tempo_given);
    let length = brief.meter.measure();
    for (number, measure) in (0..).zip(&part.measures) {
        assert_eq!((measure.meter, measure.duration), (brief.meter, length));
        assert_eq!(measure.onset, length.times(number, 1));
    }
    let (low, high) = instrument.beginner_range;
    let mut end = Quarters::ZERO;
    for note in &part.notes {
        assert!(note.onset >= end && note.duration > Quarters::ZERO, "notes follow each other");
        assert!((low.midi()..=high.midi()).contains(&note.written.midi()), "{} beyond {}", note.written, instrument.id);
        assert_eq!(instrument.transposition.to_concert(note.written).midi(), i16::from(note.sounding));
        assert!(note.written.alter.abs() <= 1 || is_leading_tone(note), "{}", note.written);
        end = note.end();
    }
    assert_eq!(end, length.times(brief.measures as i64, 1), "the values fill the measures to the end");
}

fn is_leading_tone(note: &Note) -> bool {
    note.key.printed_leading_tone() == Some((note.written.letter, note.written.alter))
}

/// The tonic, held for the whole last measure.
fn ending(part: &Part) {
    let (last, measure) = (part.notes.last().unwrap(), part.measures.last().unwrap());
    assert_eq!((last.onset, last.duration), (measure.onset, measure.duration));
    assert_eq!((last.written.letter, last.written.alter), measure.key.tonic());
}

/// No wider than the level's leap; no augmented seconds, no sevenths.
fn intervals(brief: &Brief<'_>, part: &Part) {
    let widest = match brief.level {
        restward::judge::Level::FirstYear => 7,
        restward::judge::Level::SecondYear => 9,
        restward::judge::Level::ThirdYear => 12,
    };
    for pair in part.notes.windows(2) {
        let semitones = (pair[1].written.midi() - pair[0].written.midi()).abs();
        let letters = (pair[1].written.diatonic() - pair[0].written.diatonic()).abs();
        assert!(semitones <= widest && !matches!(semitones, 10 | 11), "{} {}", pair[0].written, pair[1].written);
        assert!(widest > 7 || semitones != 6, "a tritone in the first year");
        assert!(letters != 1 || semitones <= 2, "an augmented second: {} {}", pair[0].written, pair[1].written);
    }
}

/// No two equal measures in a row; outside hold drills no three equal notes.
fn repetition(brief: &Brief<'_>, part: &Part) {
    let contents: Vec<Vec<(Quarters, Quarters, i16)>> = (0..part.measures.len())
        .map(|measure| {
            let notes = part.notes.iter().filter(|note| note.measure == measure);
            let onset = part.measures[measure].onset;
            notes.map(|note| (note.onset - onset, note.duration, note.written.midi())).collect()
        })
        .collect();
    assert!(contents.windows(2).all(|pair| pair[0].is_empty() || pair[0] != pair[1]), "a measure stands twice");
    if brief.kind != Kind::Hold {
        let three = part.notes.windows(3).any(|three| three.iter().all(|note| note.written == three[0].written));
        assert!(!three, "three equal notes");
    }
}

/// All parts sound in unison or octaves.
fn unison(drill: &Drill) {
    let first = &drill.parts[0];
    for part in &drill.parts {
        let apart = |(a, b): (&Note, &Note)| i16::from(a.sounding) - i16::from(b.sounding);
        let octaves: BTreeSet<i16> = part.notes.iter().zip(&first.notes).map(apart).collect();
        assert!(octaves.len() == 1 && octaves.iter().all(|semitones| semitones % 12 == 0), "{octaves:?}");
        let times = |part: &Part| part.notes.iter().map(|note| (note.onset, note.duration)).collect::<Vec<_>>();
        assert_eq!(times(part), times(first));
    }
}

/// The letter of a changed-note drill in the first part, as printed there.
fn letter(brief: &Brief<'_>, part: &Part, instrument: &Instrument) -> Letter {
    let home = |key: Key| if brief.instruments.len() == 1 { instrument.transposition.key_to_written(key) } else { key };
    let family: Vec<Key> = brief.family.iter().map(|&key| home(key)).collect();
    let changed = match brief.kind {
        Kind::Changed(Some(letter)) => letter,
        _ => changed_notes(home(brief.key), &family)[0].letter,
    };
    let degree = i32::from(home(brief.key).degree(changed)) - 1;
    Letter::from_step(i32::from(part.measures[0].key.tonic().0.step()) + degree)
}

/// In every two measures; in eight by step, by leap and after its other form; both forms with their accidentals.
fn changed(brief: &Brief<'_>, part: &Part, instrument: &Instrument) {
    let letter = letter(brief, part, instrument);
    let key = part.measures[0].key;
    let is_changed = |note: &Note| note.written.letter == letter && note.written.alter == key.alter(letter);
    every_two_measures(part, is_changed);
    let (mut by_step, mut by_leap, mut after_other) = (0, 0, 0);
    for index in 1..part.notes.len() {
        let (before, note) = (&part.notes[index - 1], &part.notes[index]);
        if !is_changed(note) {
            continue;
        }
        let letters = (note.written.diatonic() - before.written.diatonic()).abs();
        // The same letter, or where that would need a double accidental the same sound.
        let is_other = |other: &Note| {
            let altered = other.written.alter != key.alter(other.written.letter);
            let same_letter = other.written.letter == letter;
            (other.written.midi() - note.written.midi()).abs() == 1
                && altered
                && (same_letter || !is_leading_tone(other))
        };
        if is_other(before) || (index > 1 && is_other(&part.notes[index - 2])) {
            after_other += 1;
        } else if letters == 1 {
            by_step += 1;
        } else if letters > 1 {
            by_leap += 1;
        }
    }
    let quarters = brief.meter.measure().times(brief.measures as i64, 1);
    let long_enough = quarters >= Quarters::new(24, 1);
    let enough = by_step > 0 && by_leap > 0 && after_other > 0;
    assert!(!long_enough || enough, "by step {by_step}, by leap {by_leap}, after its other form {after_other}");
}

fn every_two_measures(part: &Part, is_changed: impl Fn(&Note) -> bool) {
    for first in (0..part.measures.len() - 1).step_by(2) {
        let met = part.notes.iter().any(|note| note.measure / 2 == first / 2 && is_changed(note));
        assert!(met, "no changed note in measures {} and {}", first + 1, first + 2);
    }
}

/// The two keys stand at phrases, and the letters that they alter otherwise come up in each.
fn two_keys(brief: &Brief<'_>, part: &Part, instrument: &Instrument, to: Key) {
    let written = |key: Key| instrument.transposition.key_to_written(key);
    let turn = part.measures.iter().position(|measure| measure.key != part.measures[0].key).unwrap();
    assert_eq!(part.measures[0].key, written(brief.key));
    assert!(part.measures[turn..].iter().all(|measure| measure.key == written(to)));
    assert!(part.measures[turn].phrase_start);
    assert!(if brief.measures < 8 { turn == brief.measures / 2 } else { turn.is_multiple_of(4) }, "{turn}");
    // The phrase nearest to the middle: not further off than half a phrase of eight.
    assert!(turn.abs_diff(brief.measures / 2) <= 4, "{turn} of {}", brief.measures);
    let before_turn = part.notes.iter().rfind(|note| note.measure < turn).unwrap();
    assert_eq!((before_turn.written.letter, before_turn.written.alter), written(brief.key).tonic());
    every_two_measures(part, |note| {
        let (here, there) = if note.measure < turn { (brief.key, to) } else { (to, brief.key) };
        // By degree, as keys may be respelled: the letter of the concert key.
        let degree = i32::from(written(here).degree(note.written.letter)) - 1;
        let letter = Letter::from_step(i32::from(here.tonic().0.step()) + degree);
        here.alter(letter) != there.alter(letter) && note.written.alter == written(here).alter(note.written.letter)
    });
}

/// Values and counts: all of them where there is room, in every case where there is plenty.
fn holds(brief: &Brief<'_>, part: &Part) {
    let beat = brief.meter.beat();
    let counts = whole(brief.meter.measure(), beat).unwrap();
    let mut cases = BTreeSet::new();
    for pair in part.notes.windows(2) {
        if pair[0].end() < pair[1].onset {
            let value = whole(pair[0].duration, beat).unwrap();
            cases.insert((value, whole(pair[0].end(), beat).unwrap() % counts + 1));
        }
    }
    let values: BTreeSet<usize> = cases.iter().map(|case| case.0).collect();
    let releases: BTreeSet<usize> = cases.iter().map(|case| case.1).collect();
    assert!(values.iter().all(|value| (1..=8).contains(value)));
    if brief.measures * counts >= 56 {
        assert_eq!((values.len(), releases.len()), (8, counts), "{values:?} {releases:?}");
    }
    if brief.measures >= 56 {
        assert_eq!(cases.len(), 8 * counts);
    }
    if brief.measures >= 8 {
        assert_eq!(releases.len(), counts, "a release on each count");
    }
}

fn whole(time: Quarters, beat: Quarters) -> Option<usize> {
    let beats = time.in_beats(beat);
    (beats.denominator() == 1).then_some(beats.numerator() as usize)
}

pub(crate) const METERS: [Meter; 5] = [
    Meter { count: 4, unit: 4 },
    Meter { count: 3, unit: 4 },
    Meter { count: 2, unit: 4 },
    Meter { count: 2, unit: 2 },
    Meter { count: 6, unit: 8 },
];
