//! The changed notes of a part, key by key: where they stand, how they are fingered, what they are mistaken for.

use crate::exercise::{Note, Part};
use crate::instrument::{Instrument, Way, catalogue};
use crate::theory::{Changed, Key, Letter, Pitch, Rank, Transposition, changed_notes};

/// A stretch of a part in one written key.
#[derive(Debug, Clone, PartialEq)]
pub struct KeySection {
    /// Where it begins: an index into [`Part::measures`].
    pub measure: usize,
    /// The key as printed.
    pub written: Key,
    /// The key as it sounds.
    pub concert: Key,
    /// Whether the written key was respelled: beyond six accidentals nobody reads it.
    pub respelled: bool,
    /// Names of all instruments that read this written key when the band plays this concert key.
    pub shared_by: Vec<String>,
    /// The changed notes, most important first.
    pub changed: Vec<ChangedNote>,
    /// In minor, the raised leading tone, which is printed.
    pub printed: Option<(Letter, i8)>,
}

/// A changed note and where the part has it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangedNote {
    /// Letter, alteration, rank.
    pub changed: Changed,
    /// The notes of the part, as indices into [`Part::notes`], repeats included.
    pub notes: Vec<usize>,
    /// Each octave in which it occurs, lowest first; where it does not occur, the lowest that a beginner plays.
    pub fingered: Vec<Fingered>,
}

/// A changed note in one octave beside the note that it is mistaken for.
#[derive(Debug, Clone, PartialEq)]
pub struct Fingered {
    /// As written.
    pub written: Pitch,
    /// Its fingerings; none where the instrument is not known or no chart shows it.
    pub ways: Vec<Way>,
    /// The other form of the letter.
    pub mistaken_for: Pitch,
    /// The fingerings of that.
    pub mistaken_ways: Vec<Way>,
}

/// The sections of a part. `family` are concert keys, `concert` those of each measure where they are known better than
/// from what is printed; `transposition` is the part's.
pub(super) fn sections(
    part: &Part,
    transposition: Transposition,
    concert: &[Key],
    instrument: Option<&Instrument>,
    family: &[Key],
) -> Vec<KeySection> {
    let keys: Vec<Key> = part.measures.iter().map(|measure| measure.key).collect();
    let starts: Vec<usize> = (0..keys.len()).filter(|&place| place == 0 || keys[place - 1] != keys[place]).collect();
    let mut notes: Vec<Vec<&Note>> = vec![Vec::new(); starts.len()];
    for note in &part.notes {
        let section = starts.partition_point(|&start| start <= note.measure);
        section.checked_sub(1).and_then(|section| notes.get_mut(section)).into_iter().for_each(|of| of.push(note));
    }
    let section = |(&start, notes): (&usize, &Vec<&Note>)| {
        let concert = concert.get(start).copied().unwrap_or_else(|| transposition.key_to_concert(keys[start]));
        section(part, start, notes, (transposition, concert), instrument, family)
    };
    starts.iter().zip(&notes).map(section).collect()
}

fn section(
    part: &Part,
    measure: usize,
    notes: &[&Note],
    (transposition, concert): (Transposition, Key),
    instrument: Option<&Instrument>,
    family: &[Key],
) -> KeySection {
    let written = part.measures[measure].key;
    let family: Vec<Key> = family.iter().map(|&key| transposition.key_to_written(key)).collect();
    let changed =
        changed_notes(written, &family).into_iter().map(|changed| ChangedNote::new(changed, notes, instrument));
    KeySection {
        measure,
        written,
        concert,
        respelled: transposition.key_to_written(concert) == written && transposition.is_respelled(concert),
        shared_by: readers(concert, written, transposition),
        changed: changed.collect(),
        printed: written.printed_leading_tone(),
    }
}

/// Everybody who reads `written` when the band plays `concert`: also where a file prints a key beyond six accidentals.
fn readers(concert: Key, written: Key, transposition: Transposition) -> Vec<String> {
    let reads = |instrument: &&Instrument| {
        instrument.transposition == transposition || instrument.transposition.key_to_written(concert) == written
    };
    catalogue().instruments().filter(reads).map(|instrument| instrument.name.clone()).collect()
}

impl ChangedNote {
    fn new(changed: Changed, notes: &[&Note], instrument: Option<&Instrument>) -> ChangedNote {
        let is_it = |note: &&&Note| note.written.letter == changed.letter && note.written.alter == changed.alter;
        let found: Vec<&&Note> = notes.iter().filter(is_it).collect();
        let mut octaves: Vec<i8> = found.iter().map(|note| note.written.octave).collect();
        octaves.sort_unstable();
        octaves.dedup();
        // Those who only might meet it see it once; the least important ones not at all.
        if octaves.is_empty() && changed.rank != Rank::Other {
            octaves.extend(instrument.and_then(|instrument| lowest_octave(instrument, &changed)));
        }
        let fingered = |octave: i8| {
            let pitch = |alter| Pitch::new(changed.letter, alter, octave);
            let ways = |pitch: Pitch| instrument.map(|instrument| instrument.ways(pitch.midi())).unwrap_or_default();
            let (written, mistaken_for) = (pitch(changed.alter), pitch(changed.otherwise));
            Fingered { written, ways: ways(written), mistaken_for, mistaken_ways: ways(mistaken_for) }
        };
        ChangedNote {
            changed,
            notes: found.iter().map(|note| note.index).collect(),
            fingered: octaves.into_iter().map(fingered).collect(),
        }
    }
}

/// The lowest octave of a changed note within the instrument's beginner range.
fn lowest_octave(instrument: &Instrument, changed: &Changed) -> Option<i8> {
    let (low, high) = instrument.beginner_range;
    let range = low.midi()..=high.midi();
    (low.octave..=high.octave).find(|&octave| range.contains(&Pitch::new(changed.letter, changed.alter, octave).midi()))
}
