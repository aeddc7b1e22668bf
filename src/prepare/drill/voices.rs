//! From the line to the parts: transposed, respelled, with ties over the barlines.

use super::frame::Frame;
use super::spot::Spot;
use super::tone::{Standing, Tone};
use crate::exercise::{
    Accidentals, Flow, Part, PartName, Quarters, Role, TooLong, WrittenMeasure, WrittenNote, WrittenPart, perform,
};
use crate::instrument::Instrument;
use crate::theory::{Key, Letter, Pitch};

/// The line as it was composed.
pub(super) struct Line<'a> {
    pub(super) frame: &'a Frame,
    pub(super) spots: &'a [Spot],
    pub(super) tones: &'a [Tone],
    pub(super) beats_a_minute: u16,
}

/// Where one instrument's notes come from.
pub(super) enum Voice {
    /// The line is its part.
    AsComposed,
    /// The line is at concert pitch, so many semitones (octaves) from where the instrument sounds.
    FromConcert(i16),
}

/// One instrument's part: the `number`th of the score, its written keys in the order of the line's.
pub(super) fn part(
    line: &Line<'_>,
    number: usize,
    instrument: &Instrument,
    keys: &[Key],
    voice: &Voice,
) -> Result<Part, TooLong> {
    let key = |segment: usize| keys.get(segment).copied().unwrap_or(Key::major(0));
    let mut measures = measures(line, &key);
    let length = line.frame.meter.measure();
    for (index, (spot, tone)) in line.spots.iter().zip(line.tones).enumerate() {
        let written = voice.written(tone, key(tone.segment), instrument);
        let mut left = spot.duration;
        let mut onset = spot.onset;
        let mut place = spot.measure;
        // A piece for each measure that the note sounds in.
        while left > Quarters::ZERO {
            let Some(measure) = measures.get_mut(place) else { break };
            let duration = left.min(length - onset);
            measure.notes.push(WrittenNote {
                onset,
                duration,
                written,
                sounding: u8::try_from(instrument.transposition.to_concert(written).midi()).unwrap_or(0),
                key: measure.key,
                alteration: crate::exercise::Alteration::Signature,
                role: Role::Line,
                chord: u32::try_from(index).unwrap_or(0),
                voice: 1,
                tie_start: left > duration,
                tie_stop: place > spot.measure,
                staccato: false,
                fermata: false,
                slurred: false,
                breath: false,
                graces: Vec::new(),
                id: None,
            });
            (left, onset, place) = (left - duration, Quarters::ZERO, place + 1);
        }
    }
    for measure in &mut measures {
        let mut accidentals = Accidentals::default();
        for note in &mut measure.notes {
            note.alteration = accidentals.source(note.written, note.key, false, note.tie_stop);
        }
    }
    let name = PartName { id: format!("P{number}"), name: capitalised(&instrument.name), hints: Vec::new() };
    perform(WrittenPart { name, transposition: Some(instrument.transposition), measures })
}

/// The empty measures of a part.
fn measures(line: &Line<'_>, key: &impl Fn(usize) -> Key) -> Vec<WrittenMeasure> {
    let frame = line.frame;
    let beat = frame.meter.beat().to_f64();
    let tempo = 60e6 / (f64::from(line.beats_a_minute.max(1)) * beat);
    let phrases =
        frame.phrases.iter().flat_map(|phrase| (phrase.first..phrase.end()).map(move |place| (phrase, place)));
    let measure = |(phrase, place): (&super::frame::Phrase, usize)| WrittenMeasure {
        label: (place + 1).to_string(),
        duration: frame.meter.measure(),
        meter: frame.meter,
        key: key(phrase.segment),
        implicit: false,
        phrase_start: place == phrase.first,
        notes: Vec::new(),
        trailing_graces: Vec::new(),
        tempos: if place == 0 { vec![(Quarters::ZERO, tempo)] } else { Vec::new() },
        flow: Flow::default(),
    };
    phrases.map(measure).collect()
}

impl Voice {
    /// The tone as printed in the part, whose key is `key`: on the same degree of the scale; a tone altered against the
    /// signature that would need a double accidental in a respelled key is written as the key spells its sound.
    fn written(&self, tone: &Tone, key: Key, instrument: &Instrument) -> Pitch {
        let Voice::FromConcert(octaves) = *self else { return tone.pitch };
        let midi = tone.midi + octaves - i16::from(instrument.transposition.chromatic);
        let letter = Letter::from_step(i32::from(key.tonic().0.step()) + i32::from(tone.degree));
        let semitones = midi - i16::from(letter.semitones());
        let octave = (semitones + 6).div_euclid(12) - 1;
        let alter = semitones - 12 * (octave + 1);
        if alter.abs() > 1 && tone.standing != Standing::Raised {
            return Pitch::spelled_in(midi, key);
        }
        Pitch::new(letter, alter as i8, octave as i8)
    }
}

fn capitalised(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
