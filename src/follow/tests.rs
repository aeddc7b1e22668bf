//! The follower on small tunes of our own, played by hand-written players.

use super::{Heard, Line, Model, Passes, Place, Trellis, Wire};
use crate::exercise::{Alteration, Flow, FollowedBy, Measure, Meter, Note, Part, PartName, Quarters, TempoMap};
use crate::theory::{Key, Letter, Pitch};
use std::sync::Arc;

/// A part in 4/4 from (MIDI number, value in eighths); 0 is a rest.
fn part(tune: &[(u8, i64)]) -> Part {
    let mut at = Quarters::ZERO;
    let mut notes: Vec<Note> = Vec::new();
    for &(midi, eighths) in tune {
        let duration = Quarters::new(eighths, 2);
        if midi > 0 {
            notes.push(Note {
                index: notes.len(),
                measure: (at.to_f64() / 4.0) as usize,
                onset: at,
                duration,
                written: Pitch::new(Letter::C, 0, 4),
                sounding: midi,
                key: Key::major(0),
                alteration: Alteration::Signature,
                followed_by: FollowedBy::Note,
                staccato: false,
                fermata: false,
                slurred: false,
                breath: false,
                chord: vec![],
                graces: vec![],
                id: None,
                ties: vec![],
            });
        } else if let Some(note) = notes.last_mut() {
            note.followed_by = FollowedBy::Rest;
        }
        at += duration;
    }
    let count = (at.to_f64() / 4.0).ceil() as usize;
    let measures = (0..count).map(|index| Measure {
        label: (index + 1).to_string(),
        page_index: index,
        onset: Quarters::new(4 * index as i64, 1),
        duration: Quarters::new(4, 1),
        meter: Meter::COMMON,
        key: Key::major(0),
        implicit: false,
        phrase_start: false,
        flow: Flow::default(),
    });
    let measures = measures.collect();
    let name = PartName::default();
    Part { name, transposition: None, measures, notes, tempo: TempoMap::default(), tempo_given: false }
}

/// Plays notes of the part, each for nine tenths of its value, at 100 quarters a minute.
fn played(part: &Part, notes: impl IntoIterator<Item = usize>) -> Vec<Heard> {
    let mut at = 1.0;
    let mut heard = Vec::new();
    for note in notes {
        let note = &part.notes[note];
        let length = note.duration.to_f64() * 0.6;
        heard.push(Heard { at, released: Some(at + 0.9 * length), is_cut_off: false, midi: note.sounding });
        let next = part.notes.get(note.index + 1).map_or(note.end(), |next| next.onset);
        at += (next - note.onset).to_f64() * 0.6;
    }
    heard
}

fn read(part: &Part, heard: &[Heard]) -> (Vec<Place>, Passes) {
    let line = Arc::new(Line::new(part, Wire { written: false, shift: 0 }, true, None));
    let mut trellis = Trellis::new(line, Model::whole_take());
    heard.iter().for_each(|&heard| trellis.hear(heard));
    let places = trellis.places();
    let passes = Passes::new(&places, part.notes.len());
    (places, passes)
}

const TUNE: [(u8, i64); 20] = [
    (60, 2),
    (62, 2),
    (64, 2),
    (65, 2),
    (67, 4),
    (0, 4),
    (67, 1),
    (69, 1),
    (67, 1),
    (65, 1),
    (64, 2),
    (62, 2),
    (60, 6),
    (0, 2),
    (64, 2),
    (64, 2),
    (64, 2),
    (62, 2),
    (60, 6),
    (0, 2),
];

#[test]
fn all_right_is_all_placed() {
    let part = part(&TUNE);
    let heard = played(&part, 0..part.notes.len());
    let (places, passes) = read(&part, &heard);
    assert!(places.iter().enumerate().all(|(index, &place)| place == Place::Note(index as u32)));
    assert_eq!(passes.restarts().count(), 0);
}

#[test]
fn a_skipped_note_and_an_extra_one_disturb_nobody() {
    let part = part(&TUNE);
    let mut heard = played(&part, 0..part.notes.len());
    heard.remove(3);
    let extra = Heard { at: heard[7].at + 0.11, released: Some(heard[7].at + 0.2), is_cut_off: false, midi: 74 };
    heard.insert(8, extra);
    let (places, passes) = read(&part, &heard);
    assert_eq!(passes.played[3], None);
    assert_eq!(passes.extra, vec![8]);
    assert_eq!(places[9], Place::Note(9));
}

#[test]
fn a_passage_begun_again_counts_as_played_last() {
    let part = part(&TUNE);
    let mut first = played(&part, 0..9);
    let pause = first[8].at + 1.5;
    let again = played(&part, 5..part.notes.len());
    let shift = pause - again[0].at;
    first.extend(again.iter().map(|heard| Heard {
        at: heard.at + shift,
        released: heard.released.map(|released| released + shift),
        ..*heard
    }));
    let (_, passes) = read(&part, &first);
    assert_eq!(passes.restarts().collect::<Vec<_>>(), vec![(8, 5)]);
    assert_eq!(passes.played[5], Some(9), "the second attempt counts");
    assert_eq!(passes.played[4], Some(4), "what was not repeated stays");
}

#[test]
fn a_dip_of_breath_is_no_repeated_note() {
    let part = part(&TUNE);
    let mut heard = played(&part, 0..part.notes.len());
    // The half note is struck again after 20 ms of silence in its middle.
    let dip = heard[4].at + 0.5;
    let rest_of_it = Heard { at: dip + 0.02, ..heard[4] };
    heard[4].released = Some(dip);
    heard.insert(5, rest_of_it);
    let (places, passes) = read(&part, &heard);
    assert_eq!(places[5], Place::Again(4));
    assert_eq!(passes.held_by[4], Some(5));
    assert!(passes.extra.is_empty());
}

#[test]
fn one_repetition_too_few_is_one_missed_note() {
    let part = part(&TUNE);
    // Of three quarters of the same pitch only the first two are played, in time.
    let mut heard = played(&part, 0..part.notes.len());
    heard.remove(14);
    let (_, passes) = read(&part, &heard);
    let missed: Vec<usize> = (0..part.notes.len()).filter(|&note| passes.played[note].is_none()).collect();
    assert_eq!(missed, vec![14]);
}

#[test]
fn starting_midway_and_stopping_early_leave_the_rest_missed() {
    let part = part(&TUNE);
    let heard = played(&part, 5..14);
    let (_, passes) = read(&part, &heard);
    let placed: Vec<usize> = (0..part.notes.len()).filter(|&note| passes.played[note].is_some()).collect();
    assert_eq!(placed, (5..14).collect::<Vec<_>>());
}

#[test]
fn the_tempo_may_drift_far() {
    let part = part(&TUNE);
    let heard: Vec<Heard> = played(&part, 0..part.notes.len())
        .into_iter()
        .map(|heard| {
            // Twice as slow at the end as at the beginning.
            let slowed = |at: f64| at + at * at / 26.0;
            Heard { at: slowed(heard.at), released: heard.released.map(slowed), ..heard }
        })
        .collect();
    let (places, _) = read(&part, &heard);
    assert!(places.iter().enumerate().all(|(index, &place)| place == Place::Note(index as u32)), "{places:?}");
}
