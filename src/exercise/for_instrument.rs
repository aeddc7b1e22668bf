//! One line, printed for another instrument.
//!
//! In: a part and an instrument. Out: the part as that instrument reads it, in the octave that fits a beginner best.

use super::{Note, Part, PartName};
use crate::instrument::Instrument;
use crate::theory::{Printed, Transposition};

/// What [`for_instrument`] made.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The part as printed for the instrument: written and sounding pitch, keys, transposition and name are its own.
    pub part: Part,
    /// Octaves that it now sounds above (negative: below) the line it was made from.
    pub octaves: i8,
    /// Notes that still lie outside the instrument's beginner range.
    pub outside: usize,
}

/// Octaves that are tried in both directions: a tuba line goes to the bells in five.
const MOST_OCTAVES: i8 = 6;

/// Prints a line for an instrument: the same concert notes, keys beyond six accidentals respelled with their notes, and
/// all of it moved by whole octaves to where it lies least outside the instrument's beginner range (semitones, summed over
/// the notes); of equal octaves the nearest to the line as it sounded, then the lower. `None` only if no octave is left
/// in which every note is a MIDI number.
///
/// For a part that is the instrument's own already this changes nothing but the octave.
pub fn for_instrument(part: &Part, instrument: &Instrument) -> Option<Fitted> {
    let from = part.transposition.unwrap_or_default();
    let written = |note: &Note| {
        let printed = Printed::new(note.key, difference(instrument.transposition, transposition_of(note, from)));
        (printed.key, printed.pitch(note.written))
    };
    let lines: Vec<_> = part.notes.iter().map(written).collect();
    let (low, high) = instrument.beginner_range;
    // Semitones that each note lies outside.
    let beyond = |octaves: i8| {
        let moved = lines.iter().map(move |(_, pitch)| pitch.midi() + 12 * i16::from(octaves));
        moved.map(|midi| i32::from((low.midi() - midi).max(midi - high.midi()).max(0)))
    };
    let is_heard = |octaves: &i8| part.notes.iter().flat_map(heard).all(|midi| moved(midi, *octaves).is_some());
    let octaves = (-MOST_OCTAVES..=MOST_OCTAVES)
        .filter(is_heard)
        .min_by_key(|&octaves| (beyond(octaves).sum::<i32>(), octaves.unsigned_abs(), octaves))?;
    let notes = part.notes.iter().zip(&lines).map(|(note, &(key, mut pitch))| {
        pitch.octave += octaves;
        let sounding = moved(note.sounding, octaves)?;
        let all = |numbers: &[u8]| numbers.iter().map(|&midi| moved(midi, octaves)).collect::<Option<Vec<u8>>>();
        Some(Note {
            written: pitch,
            sounding,
            key,
            chord: all(&note.chord)?,
            graces: all(&note.graces)?,
            ..note.clone()
        })
    });
    let mut measures = part.measures.clone();
    let mut old = vec![from; measures.len()];
    for note in part.notes.iter().rev() {
        if let Some(old) = old.get_mut(note.measure) {
            *old = transposition_of(note, from);
        }
    }
    for (measure, old) in measures.iter_mut().zip(old) {
        measure.key = Printed::new(measure.key, difference(instrument.transposition, old)).key;
    }
    Some(Fitted {
        octaves,
        outside: beyond(octaves).filter(|&semitones| semitones > 0).count(),
        part: Part {
            name: PartName { id: part.name.id.clone(), name: capital(&instrument.name), hints: Vec::new() },
            transposition: Some(instrument.transposition),
            measures,
            notes: notes.collect::<Option<_>>()?,
            tempo: part.tempo.clone(),
            tempo_given: part.tempo_given,
        },
    })
}

/// All that sounds at a note.
fn heard(note: &Note) -> impl Iterator<Item = u8> {
    [note.sounding].into_iter().chain(note.chord.iter().copied()).chain(note.graces.iter().copied())
}

fn moved(midi: u8, octaves: i8) -> Option<u8> {
    u8::try_from(i16::from(midi) + 12 * i16::from(octaves)).ok().filter(|midi| *midi <= 127)
}

/// What a note transposes by: the part's own, or another where the player has changed the instrument on the way.
fn transposition_of(note: &Note, part: Transposition) -> Transposition {
    let chromatic = i16::from(note.sounding) - note.written.midi();
    if chromatic == i16::from(part.chromatic) { part } else { Transposition::usual(chromatic as i8) }
}

fn difference(new: Transposition, old: Transposition) -> Transposition {
    Transposition {
        diatonic: new.diatonic.saturating_sub(old.diatonic),
        chromatic: new.chromatic.saturating_sub(old.chromatic),
    }
}

fn capital(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
