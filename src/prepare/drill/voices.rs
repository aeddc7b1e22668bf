//! From the line to the parts: transposed, respelled, with ties over the barlines.

use super::frame::Frame;
use super::spot::Spot;
use super::tone::Tone;
use crate::exercise::{
    Accidentals, Alteration, Flow, Part, PartName, Quarters, Role, TooLong, WrittenMeasure, WrittenNote, WrittenPart,
    for_instrument, perform,
};
use crate::instrument::Instrument;
use crate::theory::{Key, Pitch, Transposition};

/// The line as it was composed.
pub(super) struct Line<'a> {
    pub(super) frame: &'a Frame,
    pub(super) spots: &'a [Spot],
    pub(super) tones: &'a [Tone],
    /// Its keys, in order.
    pub(super) keys: &'a [Key],
    pub(super) beats_a_minute: u16,
}

impl Line<'_> {
    /// The parts of these instruments: for one the line is its part, for several it is at concert pitch.
    pub(super) fn parts(&self, instruments: &[&Instrument]) -> Result<Vec<Part>, TooLong> {
        if let [instrument] = instruments {
            let name = PartName { name: capitalised(&instrument.name), ..name(1) };
            return Ok(vec![self.part(name, instrument.transposition)?]);
        }
        let printed = |(number, instrument): (usize, &&Instrument)| {
            let concert = self.part(name(number), Transposition::default())?;
            let mut part = for_instrument(&concert, instrument).ok_or(TooLong)?.part;
            without_doubles(&mut part, &concert);
            Ok(part)
        };
        (1..).zip(instruments).map(printed).collect()
    }

    fn part(&self, name: PartName, transposition: Transposition) -> Result<Part, TooLong> {
        let mut measures = self.measures();
        let length = self.frame.meter.measure();
        for (spot, tone) in self.spots.iter().zip(self.tones) {
            let (mut left, mut onset, mut place) = (spot.duration, spot.onset, spot.measure);
            // A piece for each measure that the note sounds in.
            while left > Quarters::ZERO {
                let Some(measure) = measures.get_mut(place) else { break };
                let duration = left.min(length - onset);
                let ties = (left > duration, place > spot.measure);
                measure.notes.push(note(tone.pitch, transposition, measure.key, (onset, duration), ties));
                (left, onset, place) = (left - duration, Quarters::ZERO, place + 1);
            }
        }
        for measure in &mut measures {
            let mut accidentals = Accidentals::default();
            for (number, note) in (0..).zip(&mut measure.notes) {
                note.chord = number;
                note.alteration = accidentals.source(note.written, note.key, false, note.tie_stop);
            }
        }
        perform(WrittenPart { name, transposition: Some(transposition), measures, passages: Vec::new() })
    }

    /// The measures without their notes.
    fn measures(&self) -> Vec<WrittenMeasure> {
        let beat = self.frame.meter.beat().to_f64();
        let tempo = 60e6 / (f64::from(self.beats_a_minute.max(1)) * beat);
        let phrases = self.frame.phrases.iter();
        let places = phrases.flat_map(|phrase| (phrase.first..phrase.end()).map(move |place| (phrase, place)));
        let measure = |(phrase, place): (&super::frame::Phrase, usize)| WrittenMeasure {
            label: (place + 1).to_string(),
            duration: self.frame.meter.measure(),
            meter: self.frame.meter,
            key: self.keys.get(phrase.segment).copied().unwrap_or(Key::major(0)),
            implicit: false,
            phrase_start: place == phrase.first,
            notes: Vec::new(),
            trailing_graces: Vec::new(),
            tempos: if place == 0 { vec![(Quarters::ZERO, tempo)] } else { Vec::new() },
            flow: Flow::default(),
        };
        places.map(measure).collect()
    }
}

/// A tone of the only voice; `(onset, duration)` in its measure, `(goes on, continues)` over barlines.
fn note(
    written: Pitch,
    transposition: Transposition,
    key: Key,
    (onset, duration): (Quarters, Quarters),
    (tie_start, tie_stop): (bool, bool),
) -> WrittenNote {
    WrittenNote {
        onset,
        duration,
        written,
        sounding: u8::try_from(transposition.to_concert(written).midi()).unwrap_or(0),
        key,
        alteration: Alteration::Signature,
        role: Role::Line,
        chord: 0,
        voice: 1,
        tie_start,
        tie_stop,
        staccato: false,
        fermata: false,
        slurred: false,
        breath: false,
        graces: Vec::new(),
        id: None,
    }
}

/// Where a respelled key would give an accidental a second flat or sharp that the line does not have, the note is
/// written as the key spells its sound: G♮, not A double flat. A leading tone keeps its letter: F double sharp in G♯
/// minor.
fn without_doubles(part: &mut Part, line: &Part) {
    let mut accidentals = Accidentals::default();
    let mut measure = 0;
    for (note, composed) in part.notes.iter_mut().zip(&line.notes) {
        if note.measure != measure {
            (accidentals, measure) = (Accidentals::default(), note.measure);
        }
        let leading = note.key.printed_leading_tone() == Some((note.written.letter, note.written.alter));
        if !leading && note.written.alter.abs() > 1 && composed.written.alter.abs() <= 1 {
            note.written = Pitch::spelled_in(note.written.midi(), note.key);
        }
        note.alteration = accidentals.source(note.written, note.key, false, false);
    }
}

fn name(number: usize) -> PartName {
    PartName { id: format!("P{number}"), ..PartName::default() }
}

fn capitalised(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
