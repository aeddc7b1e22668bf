//! The numbers that a director plans by: hard spots, the longest hold, breath, range.

use super::changed::KeySection;
use crate::exercise::{Note, Part, Quarters};
use crate::instrument::Instrument;
use crate::theory::{Pitch, Rank};

/// Letters between two notes from which on the step is a leap: a fourth. Seconds are steps, thirds skips (common
/// practice, no source).
const LEAP: i32 = 3;

/// Beats from which on a changed note is a hold of its own.
const LONG: i64 = 3;

/// How many measures back a letter in its other form still rings in the ear (ours, no source).
const REMEMBERED: usize = 2;
/// Nor more notes than three measures have in thirty-seconds.
const MOST_REMEMBERED: usize = 96;

/// A changed note that is harder than others, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Index into [`Part::notes`].
    pub note: usize,
    /// Every reason.
    pub reasons: Vec<Reason>,
}

/// Why a changed note is hard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// It is approached by a leap of so many letters, 3 is a fourth; negative is downward.
    Leap(i32),
    /// The same letter was played in another form shortly before: that note, an index into [`Part::notes`].
    OtherForm(usize),
    /// From the note before it the fingers cross the break of the instrument.
    Break,
    /// It is held for so many beats.
    Held(Quarters),
}

/// Measures in a row in which there is no rest and no breath mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The first, an index into [`Part::measures`].
    pub first: usize,
    /// The last.
    pub last: usize,
}

/// The written range of a part against its instrument's.
#[derive(Debug, Clone, PartialEq)]
pub struct RangeCheck {
    /// The lowest written note.
    pub lowest: Pitch,
    /// The highest.
    pub highest: Pitch,
    /// Notes outside the beginner range, lowest first, each with the first note of the part that has it.
    pub outside: Vec<(Pitch, usize)>,
    /// How many notes of the part these are.
    pub notes_outside: usize,
    /// Whether every note is on the instrument at all.
    pub playable: bool,
    /// Octaves up (negative: down) that bring the whole part into the beginner range, or, where none does and it is not
    /// playable as it stands, onto the instrument. `None`: it is in range, or no octave helps.
    pub octaves: Option<i8>,
}

/// The hard spots, those with most reasons first.
pub(super) fn hard_spots(part: &Part, sections: &[KeySection], instrument: Option<&Instrument>) -> Vec<Spot> {
    let ranked = sections.iter().flat_map(|section| &section.changed).filter(|note| note.changed.rank != Rank::Other);
    let mut notes: Vec<usize> = ranked.flat_map(|note| note.notes.iter().copied()).collect();
    notes.sort_unstable();
    let reasons = |&note: &usize| Spot { note, reasons: reasons(part, &part.notes[note], instrument) };
    let mut spots: Vec<Spot> = notes.iter().map(reasons).filter(|spot| !spot.reasons.is_empty()).collect();
    spots.sort_by_key(|spot| (std::cmp::Reverse(spot.reasons.len()), spot.note));
    spots
}

fn reasons(part: &Part, note: &Note, instrument: Option<&Instrument>) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let before = note.index.checked_sub(1).map(|index| &part.notes[index]);
    if let Some(before) = before {
        let letters = note.written.diatonic() - before.written.diatonic();
        if letters.abs() >= LEAP {
            reasons.push(Reason::Leap(letters));
        }
    }
    let same_letter = |other: &&Note| other.written.letter == note.written.letter;
    let remembered = part.notes[..note.index]
        .iter()
        .rev()
        .take(MOST_REMEMBERED)
        .take_while(|other| other.measure + REMEMBERED >= note.measure);
    let other = remembered.into_iter().find(same_letter).filter(|other| other.written.alter != note.written.alter);
    reasons.extend(other.map(|other| Reason::OtherForm(other.index)));
    let first_above = instrument.and_then(|instrument| instrument.register_break).map(Pitch::midi);
    if let (Some(before), Some(first_above)) = (before, first_above) {
        let is_above = |note: &Note| note.written.midi() >= first_above;
        if is_above(before) != is_above(note) && before.end() == note.onset {
            reasons.push(Reason::Break);
        }
    }
    let beats = note.duration.in_beats(part.beat_unit(note));
    if beats >= Quarters::new(LONG, 1) {
        reasons.push(Reason::Held(beats));
    }
    reasons
}

/// The longest note of a part, the first of several.
pub(super) fn longest(part: &Part) -> Option<usize> {
    part.notes.iter().max_by(|a, b| a.duration.cmp(&b.duration).then(b.index.cmp(&a.index))).map(|note| note.index)
}

/// Where nobody can breathe without leaving something out, in performed order.
pub(super) fn breathless(part: &Part) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut first = 0;
    for (place, measure) in part.measures.iter().enumerate() {
        let end = measure.onset + measure.duration;
        while part.notes.get(first).is_some_and(|note| note.end() <= measure.onset) {
            first += 1;
        }
        let mut covered = measure.onset;
        let mut breathes = false;
        for note in part.notes[first..].iter().take_while(|note| note.onset < end) {
            breathes |= note.onset > covered || (note.breath && note.end() <= end);
            covered = covered.max(note.end());
        }
        if breathes || covered < end {
            continue;
        }
        match stretches.last_mut().filter(|stretch| stretch.last + 1 == place) {
            Some(stretch) => stretch.last = place,
            None => stretches.push(Stretch { first: place, last: place }),
        }
    }
    stretches
}

/// `None` for a part without notes.
pub(super) fn range(part: &Part, instrument: &Instrument) -> Option<RangeCheck> {
    let lowest = part.notes.iter().min_by_key(|note| note.written.midi())?.written;
    let highest = part.notes.iter().max_by_key(|note| note.written.midi())?.written;
    let within = |(low, high): (Pitch, Pitch), octaves: i16| {
        low.midi() <= lowest.midi() + 12 * octaves && highest.midi() + 12 * octaves <= high.midi()
    };
    let (low, high) = instrument.beginner_range;
    let out: Vec<&Note> =
        part.notes.iter().filter(|note| !(low.midi()..=high.midi()).contains(&note.written.midi())).collect();
    let mut outside: Vec<(Pitch, usize)> = Vec::new();
    for note in &out {
        if outside.iter().all(|(pitch, _)| *pitch != note.written) {
            outside.push((note.written, note.index));
        }
    }
    outside.sort_by_key(|(pitch, _)| pitch.midi());
    let playable = within(instrument.full_range, 0);
    let nearest = |range| [-1, 1, -2, 2, -3, 3, -4, 4].into_iter().find(|&octaves| within(range, octaves));
    let octaves = if out.is_empty() {
        None
    } else {
        let on_it = || nearest(instrument.full_range).filter(|_| !playable);
        nearest(instrument.beginner_range).or_else(on_it)
    };
    Some(RangeCheck {
        lowest,
        highest,
        notes_outside: out.len(),
        outside,
        playable,
        octaves: octaves.map(|octaves| octaves as i8),
    })
}
