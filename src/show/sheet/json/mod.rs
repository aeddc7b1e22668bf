//! Sheets for programs. Names are plain ASCII (`Bb4`, `Eb major`), sentences as people read them; places and values are
//! exact fractions of a quarter note, beats fractions of the beat in force.

mod shape;

use super::remarks::remarks;
use super::words;
use super::{SheetOrWhy, who};
use crate::exercise::{Note, Part};
use crate::instrument::Way;
use crate::prepare::{
    ChangedNote, Fingered, KeySection, MeasureCount, RangeCheck, Reason, Release, Sheet, Spot, State,
};
use crate::theory::{Pitch, sign};
use shape::{
    Entry, JsonChanged, JsonCount, JsonFingered, JsonKey, JsonMeasure, JsonNote, JsonOutside, JsonRange, JsonRelease,
    JsonSheet, JsonSpot, JsonStretch, JsonWay, JsonWord, Listing,
};

pub(super) fn of<'a>(title: &'a str, sheets: &'a [SheetOrWhy]) -> Listing<'a> {
    let entry = |sheet: &'a SheetOrWhy| match sheet {
        SheetOrWhy::Sheet(sheet) => Entry::Sheet(Box::new(json_sheet(sheet))),
        SheetOrWhy::Why { name, sentence } => Entry::Why { name, remarks: [sentence] },
    };
    Listing { title, sheets: sheets.iter().map(entry).collect() }
}

fn json_sheet(sheet: &Sheet) -> JsonSheet<'_> {
    let part = &sheet.part;
    JsonSheet {
        name: who(sheet),
        instrument: sheet.instrument.as_ref().map(|instrument| instrument.id.as_str()),
        part: &part.name.id,
        moved_octaves: sheet.moved.as_ref().map(|moved| moved.octaves),
        remarks: remarks(sheet),
        keys: sheet.sections.iter().map(|section| json_key(part, section)).collect(),
        fingering_remark: sheet.instrument.as_ref().and_then(|instrument| instrument.fingering_remark()),
        measures: json_measures(part, &sheet.counts),
        releases: sheet.releases.iter().map(|release| json_release(part, release)).collect(),
        hardest: sheet.hard_spots.iter().map(|spot| json_spot(part, spot)).collect(),
        longest_hold: sheet.longest.map(|note| json_note(part, &part.notes[note])),
        no_breath: sheet
            .breathless
            .iter()
            .map(|stretch| JsonStretch { first: label(part, stretch.first), last: label(part, stretch.last) })
            .collect(),
        range: sheet.range.as_ref().and_then(|range| json_range(sheet, range)),
    }
}

fn json_key<'a>(part: &'a Part, section: &'a KeySection) -> JsonKey<'a> {
    let key = section.written;
    let accidental = |letter| format!("{letter}{}", sign::ascii(key.alter(letter)));
    JsonKey {
        from_measure: label(part, section.measure),
        written_key: key.ascii(),
        concert_key: section.concert.ascii(),
        accidentals: key.signature_letters().into_iter().map(accidental).collect(),
        respelled: section.respelled,
        shared_by: &section.shared_by,
        printed: section.printed.map(|(letter, alter)| format!("{letter}{}", sign::ascii(alter))),
        changed: section.changed.iter().map(|changed| json_changed(part, changed)).collect(),
    }
}

fn json_changed<'a>(part: &'a Part, note: &'a ChangedNote) -> JsonChanged<'a> {
    let mut measures: Vec<&str> = note.notes.iter().map(|&index| label(part, part.notes[index].measure)).collect();
    measures.dedup();
    JsonChanged {
        written: note.changed.letter.to_string(),
        sign: sign::word(note.changed.alter),
        rank: note.changed.rank,
        differing: note.changed.differing,
        occurrences: note.notes.len(),
        indices: &note.notes,
        measures,
        fingered: note.fingered.iter().map(json_fingered).collect(),
    }
}

fn json_fingered(fingered: &Fingered) -> JsonFingered {
    let ways = |ways: &[Way]| ways.iter().map(json_way).collect();
    JsonFingered {
        written: fingered.written.ascii(),
        fingerings: ways(&fingered.ways),
        mistaken_for: fingered.mistaken_for.ascii(),
        mistaken_fingerings: ways(&fingered.mistaken_ways),
    }
}

fn json_way(way: &Way) -> JsonWay {
    JsonWay {
        name: way.name.as_deref().map(ascii),
        usual: way.usual,
        short: ascii(&way.press.short()),
        words: ascii(&way.press.words()),
    }
}

fn json_measures<'a>(part: &'a Part, counts: &[MeasureCount]) -> Vec<JsonMeasure<'a>> {
    let mut measures: Vec<JsonMeasure<'_>> = Vec::new();
    for counted in counts {
        if !counted.is_silent() {
            measures.push(json_measure(part, counted));
            continue;
        }
        match measures.last_mut().and_then(|measure| measure.rest_measures.as_mut()) {
            Some(count) => *count += 1,
            None => {
                let measure = label(part, counted.measure);
                measures.push(JsonMeasure { measure, rest_measures: Some(1), counts: Vec::new() });
            }
        }
    }
    measures
}

fn json_measure<'a>(part: &'a Part, counted: &MeasureCount) -> JsonMeasure<'a> {
    let counts = counted.counts.iter().map(|count| {
        let (state, index) = match count.state {
            State::Begins(note) => ("begins", Some(note)),
            State::Sounds(note) => ("sounds", Some(note)),
            State::Rest => ("rest", None),
        };
        JsonCount {
            say: count.spoken.clone(),
            at_quarters: count.at.to_string(),
            state,
            index,
            releases: count.releases,
        }
    });
    JsonMeasure { measure: label(part, counted.measure), rest_measures: None, counts: counts.collect() }
}

fn json_release<'a>(part: &'a Part, release: &'a Release) -> JsonRelease<'a> {
    let word = |(measure, say): &'a (usize, String)| JsonWord { measure: label(part, *measure), say };
    JsonRelease {
        note: json_note(part, &part.notes[release.note]),
        off_on: release.on.as_ref().map(word),
        fermata: release.fermata,
    }
}

fn json_spot<'a>(part: &'a Part, spot: &Spot) -> JsonSpot<'a> {
    let name = |reason: &Reason| match reason {
        Reason::Leap(_) => "leap",
        Reason::OtherForm(_) => "other-form",
        Reason::Break => "break",
        Reason::Held(_) => "held",
    };
    JsonSpot {
        note: json_note(part, &part.notes[spot.note]),
        reasons: spot.reasons.iter().map(name).collect(),
        sentence: words::spot(part, spot),
    }
}

fn json_note<'a>(part: &'a Part, note: &Note) -> JsonNote<'a> {
    JsonNote {
        index: note.index,
        measure: label(part, note.measure),
        beat: part.beat_of(note).to_string(),
        written: note.written.ascii(),
        value_beats: note.duration.in_beats(part.beat_unit(note)).to_string(),
    }
}

fn json_range<'a>(sheet: &'a Sheet, range: &RangeCheck) -> Option<JsonRange<'a>> {
    let instrument = sheet.instrument.as_ref()?;
    let part = &sheet.part;
    let ends = |(low, high): (Pitch, Pitch)| [low.ascii(), high.ascii()];
    Some(JsonRange {
        lowest: range.lowest.ascii(),
        highest: range.highest.ascii(),
        beginner: ends(instrument.beginner_range),
        full: ends(instrument.full_range),
        outside: range
            .outside
            .iter()
            .map(|&(pitch, note)| JsonOutside {
                written: pitch.ascii(),
                first_measure: label(part, part.notes[note].measure),
            })
            .collect(),
        notes_outside: range.notes_outside,
        playable: range.playable,
        suggested_octaves: range.octaves,
    })
}

fn label(part: &Part, measure: usize) -> &str {
    part.measures.get(measure).map_or("", |measure| measure.label.as_str())
}

fn ascii(text: &str) -> String {
    text.replace('♭', "b").replace('♯', "#").replace('½', "h")
}
