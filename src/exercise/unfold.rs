//! From the page to the performance: repeats taken, ties merged, what follows each note.
//!
//! In: a [`WrittenPart`]. Out: the [`Part`] that is judged.

use super::order;
use super::ties::{self, Tone};
use super::{
    Flow, FollowedBy, Measure, Note, Part, Quarters, Role, TempoMap, WrittenMeasure, WrittenNote, WrittenPart,
};
use std::collections::HashMap;
use std::ops::Range;

/// More sounding notes than any exercise has: seven hours of sixteenths at 120.
pub(crate) const MOST_NOTES: usize = 200_000;

/// The repeats, played out, are longer than [`super::MOST_MEASURES`] or [`MOST_NOTES`], or than exact time reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TooLong;

/// Plays a part out. Durations and sums of durations must be in range ([`Quarters::is_in_range`]).
pub(crate) fn perform(written: WrittenPart) -> Result<Part, TooLong> {
    let flows: Vec<_> = written.measures.iter().map(|measure| &measure.flow).collect();
    let order = played(&flows, &written.passages)?;
    let mut measures = Vec::with_capacity(order.len());
    let mut pieces: Vec<Piece<'_>> = Vec::new();
    let mut onset = Quarters::ZERO;
    for (visit, &page_index) in order.iter().enumerate() {
        let page = &written.measures[page_index];
        let came_from_elsewhere = visit > 0 && order[visit - 1] + 1 != page_index;
        measures.push(performed_measure(page, page_index, onset, came_from_elsewhere || visit == 0));
        for note in page.notes.iter().filter(|note| !note.duration.is_zero()) {
            let start = onset.checked_add(note.onset).ok_or(TooLong)?;
            let end = start.checked_add(note.duration).ok_or(TooLong)?;
            pieces.push(Piece { note, visit, start, end });
        }
        if pieces.len() > MOST_NOTES {
            return Err(TooLong);
        }
        onset = onset.checked_add(page.duration).ok_or(TooLong)?;
    }
    let tempo = performed_tempo(&written.measures, &order, &measures);
    let trailing = |visit: usize| written.measures[order[visit]].trailing_graces.as_slice();
    Ok(Part {
        notes: performed_notes(&pieces, onset, trailing),
        tempo_given: tempo.is_some(),
        tempo: tempo.unwrap_or_default(),
        name: written.name,
        transposition: written.transposition,
        measures,
    })
}

/// The measures in performed order: of the page as a whole, or of its passages one after the other.
fn played(flows: &[&Flow], passages: &[Range<usize>]) -> Result<Vec<usize>, TooLong> {
    if passages.is_empty() {
        return order::performed(flows);
    }
    let mut played = Vec::new();
    for passage in passages {
        let order = order::performed(flows.get(passage.clone()).unwrap_or_default())?;
        played.extend(order.into_iter().map(|index| passage.start + index));
        if played.len() > order::MOST_MEASURES {
            return Err(TooLong);
        }
    }
    Ok(played)
}

/// One tone of the page at one of the times that it is played.
struct Piece<'a> {
    note: &'a WrittenNote,
    visit: usize,
    start: Quarters,
    end: Quarters,
}

fn performed_measure(page: &WrittenMeasure, page_index: usize, onset: Quarters, phrase_start: bool) -> Measure {
    Measure {
        label: page.label.clone(),
        page_index,
        onset,
        duration: page.duration,
        meter: page.meter,
        key: page.key,
        implicit: page.implicit,
        phrase_start: page.phrase_start || phrase_start,
        flow: page.flow.clone(),
    }
}

/// The tempo along the performance; a jump also goes back to the tempo of its target. `None`: none is given.
fn performed_tempo(pages: &[WrittenMeasure], order: &[usize], measures: &[Measure]) -> Option<TempoMap> {
    let mut in_force = Vec::with_capacity(pages.len());
    let mut tempo = None;
    for page in pages {
        in_force.push(tempo);
        tempo = page.tempos.last().map(|&(_, tempo)| tempo).or(tempo);
    }
    let mut changes = Vec::new();
    for (visit, (&page_index, measure)) in order.iter().zip(measures).enumerate() {
        if visit > 0 && order[visit - 1] + 1 != page_index {
            changes.extend(in_force[page_index].map(|tempo| (measure.onset, tempo)));
        }
        changes.extend(pages[page_index].tempos.iter().map(|&(offset, tempo)| (measure.onset + offset, tempo)));
    }
    (!changes.is_empty()).then(|| TempoMap::new(changes))
}

/// The judged line with its ties merged.
fn performed_notes<'a>(pieces: &[Piece<'a>], end: Quarters, trailing: impl Fn(usize) -> &'a [u8]) -> Vec<Note> {
    let tones: Vec<Tone> = pieces
        .iter()
        .map(|piece| Tone {
            onset: piece.start,
            end: piece.end,
            sounding: piece.note.sounding,
            voice: piece.note.voice,
            tie_start: piece.note.tie_start,
            tie_stop: piece.note.tie_stop,
        })
        .collect();
    let roots = ties::roots(&tones);
    let mut notes: Vec<Note> = Vec::new();
    // Where in `notes` a piece of the line went, and where the chord of a line note went.
    let mut place_of: HashMap<usize, usize> = HashMap::new();
    let mut chord_of: HashMap<(usize, u32), usize> = HashMap::new();
    let mut graces: Vec<u8> = Vec::new();
    let mut visit = 0;
    for (index, piece) in pieces.iter().enumerate() {
        while visit < piece.visit {
            graces.extend_from_slice(trailing(visit));
            visit += 1;
        }
        let is_line = piece.note.role == Role::Line;
        let place = if roots[index] != index {
            // Tied to a tone that is not of the line: that tone goes on, and nothing begins here. A tone of the line may go
            // on as a lower tone of a chord or in another voice.
            let Some(&place) = place_of.get(&roots[index]) else { continue };
            if let Some(note) = notes.get_mut(place) {
                extend(note, piece);
            }
            place
        } else if is_line {
            graces.extend_from_slice(&piece.note.graces);
            notes.push(single(piece, notes.len(), std::mem::take(&mut graces)));
            place_of.insert(index, notes.len() - 1);
            notes.len() - 1
        } else {
            continue;
        };
        if is_line {
            chord_of.insert((piece.visit, piece.note.chord), place);
        }
    }
    let struck = pieces.iter().enumerate().filter(|&(index, _)| roots[index] == index);
    for (_, piece) in struck.filter(|(_, piece)| piece.note.role == Role::ChordTone) {
        let note = chord_of.get(&(piece.visit, piece.note.chord)).and_then(|&place| notes.get_mut(place));
        if let Some(note) = note.filter(|note| !note.chord.contains(&piece.note.sounding)) {
            note.chord.push(piece.note.sounding);
        }
    }
    say_what_follows(&mut notes, end);
    notes
}

fn single(piece: &Piece<'_>, index: usize, graces: Vec<u8>) -> Note {
    let note = piece.note;
    Note {
        index,
        measure: piece.visit,
        onset: piece.start,
        duration: note.duration,
        written: note.written,
        sounding: note.sounding,
        key: note.key,
        alteration: note.alteration,
        followed_by: FollowedBy::End,
        staccato: note.staccato,
        fermata: note.fermata,
        slurred: note.slurred,
        breath: note.breath,
        chord: Vec::new(),
        graces,
        id: note.id.clone(),
        ties: Vec::new(),
    }
}

/// A tie goes on: the value grows; what stands at its end is the last tone's.
fn extend(note: &mut Note, piece: &Piece<'_>) {
    note.ties.push(piece.start - note.onset);
    note.duration = piece.end - note.onset;
    note.fermata |= piece.note.fermata;
    note.staccato |= piece.note.staccato;
    if piece.note.role == Role::Line {
        note.slurred = piece.note.slurred;
        note.breath = piece.note.breath;
    }
}

/// After the last note comes the end, or a rest if the last measure goes on.
fn say_what_follows(notes: &mut [Note], end: Quarters) {
    for index in 1..notes.len() {
        let begins = notes[index].onset;
        let before = &mut notes[index - 1];
        before.followed_by = if begins > before.end() { FollowedBy::Rest } else { FollowedBy::Note };
    }
    if let Some(last) = notes.last_mut().filter(|last| last.end() < end) {
        last.followed_by = FollowedBy::Rest;
    }
}
