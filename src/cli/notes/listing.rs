//! What `notes --json` prints (DESIGN.md §6); names are plain ASCII.

use crate::exercise::{Alteration, Exercise, FollowedBy, Measure, Note, Part, Quarters, TempoMap};
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Listing<'a> {
    title: Option<&'a str>,
    part: ListedPart<'a>,
    parts: Vec<ListedPart<'a>>,
    tempo_given: bool,
    notices: &'a [String],
    /// In performed order; a note names its own by `measure_index`.
    measures: Vec<ListedMeasure<'a>>,
    notes: Vec<ListedNote<'a>>,
}

#[derive(Serialize)]
struct ListedPart<'a> {
    id: &'a str,
    name: &'a str,
}

#[derive(Serialize)]
struct ListedMeasure<'a> {
    label: &'a str,
    /// Which measure of the page, from 0; a repeat plays it again.
    page_index: usize,
    onset_quarters: String,
    duration_quarters: String,
    meter: String,
    key: String,
}

#[derive(Serialize)]
struct ListedNote<'a> {
    index: usize,
    measure: &'a str,
    measure_index: usize,
    beat: f64,
    written: String,
    written_midi: i16,
    sounding_midi: u8,
    onset_quarters: String,
    duration_quarters: String,
    key: String,
    /// Quarters a minute in force at the note, as a fraction.
    tempo_qpm: String,
    alteration: Alteration,
    followed_by: &'static str,
    staccato: bool,
    fermata: bool,
    slurred: bool,
    breath: bool,
    /// Other chord notes and grace notes, sounding.
    chord: &'a [u8],
    graces: &'a [u8],
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<&'a str>,
}

pub(super) fn of(exercise: &Exercise) -> Listing<'_> {
    let part = &exercise.part;
    Listing {
        title: exercise.title.as_deref(),
        part: ListedPart { id: &part.name.id, name: &part.name.name },
        parts: exercise.parts.iter().map(|part| ListedPart { id: &part.id, name: &part.name }).collect(),
        tempo_given: part.tempo_given,
        notices: &exercise.notices,
        measures: part.measures.iter().map(listed_measure).collect(),
        notes: part.notes.iter().map(|note| listed(part, note)).collect(),
    }
}

fn listed_measure(measure: &Measure) -> ListedMeasure<'_> {
    ListedMeasure {
        label: &measure.label,
        page_index: measure.page_index,
        onset_quarters: measure.onset.to_string(),
        duration_quarters: measure.duration.to_string(),
        meter: format!("{}/{}", measure.meter.count, measure.meter.unit),
        key: measure.key.ascii(),
    }
}

fn listed<'a>(part: &'a Part, note: &'a Note) -> ListedNote<'a> {
    ListedNote {
        index: note.index,
        measure: part.measure_of(note).map_or("", |measure| &measure.label),
        measure_index: note.measure,
        beat: part.beat_of(note).to_f64(),
        written: note.written.ascii(),
        written_midi: note.written.midi(),
        sounding_midi: note.sounding,
        onset_quarters: note.onset.to_string(),
        duration_quarters: note.duration.to_string(),
        key: note.key.ascii(),
        tempo_qpm: tempo(&part.tempo, note),
        alteration: note.alteration,
        followed_by: match note.followed_by {
            FollowedBy::Note => "note",
            FollowedBy::Rest => "rest",
            FollowedBy::End => "end",
        },
        staccato: note.staccato,
        fermata: note.fermata,
        slurred: note.slurred,
        breath: note.breath,
        chord: &note.chord,
        graces: &note.graces,
        id: note.id.as_deref(),
    }
}

/// The map keeps microseconds a quarter. Whole ones come from a MIDI file and give their exact fraction; others from a
/// printed tempo, which has no more than a few decimals.
fn tempo(map: &TempoMap, note: &Note) -> String {
    const MINUTE: i64 = 60_000_000;
    let micros = map.micros_per_quarter(note.onset);
    let fraction = if micros.fract() == 0.0 {
        Quarters::new(MINUTE, micros as i64)
    } else {
        Quarters::new((MINUTE as f64 / micros * 1000.0).round() as i64, 1000)
    };
    fraction.to_string()
}
