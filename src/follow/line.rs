//! A part laid out for following: what is due on the wire, and when.

use crate::exercise::{FollowedBy, Part};

/// How a player's instrument puts the part on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Wire {
    /// Whether the printed pitch is sent instead of the sounding one.
    pub(crate) written: bool,
    /// Semitones added on top: a controller's octave switch.
    pub(crate) shift: i16,
}

/// One note of the line.
#[derive(Debug, Clone)]
pub(crate) struct LineNote {
    /// MIDI number due on the wire.
    pub(crate) midi: i16,
    /// Onset in quarters.
    pub(crate) onset: f64,
    /// Value in quarters, never zero.
    pub(crate) value: f64,
    /// Seconds at which the click has it, where a click runs.
    pub(crate) due: Option<f64>,
    /// A beat in quarters.
    pub(crate) beat: f64,
    /// First note of a measure.
    pub(crate) opens_measure: bool,
    /// The player may wait after it: a rest, a fermata, a breath, the end of a phrase.
    pub(crate) may_wait: bool,
    /// Marked short.
    pub(crate) staccato: bool,
    /// Other notes that may sound with it.
    pub(crate) chord: Vec<i16>,
    /// Notes that may be played just before it.
    pub(crate) graces: Vec<i16>,
}

/// The line of a part under one [`Wire`].
#[derive(Debug, Clone)]
pub(crate) struct Line {
    pub(crate) notes: Vec<LineNote>,
    /// Indices of the notes due at each MIDI number, rising.
    by_midi: Vec<Vec<u32>>,
    /// Whether a dip of breath may strike a note again.
    pub(crate) sustains: bool,
    /// Natural logarithm of the seconds a quarter should take, and how sure that is (variance).
    pub(crate) tempo: (f64, f64),
}

/// The spread of the natural logarithm of a player's tempo around the printed one. Common practice, no
/// source: children take exercises between half and one and a half times the printed tempo.
const TEMPO_SPREAD_PRINTED: f64 = 0.35;
/// The same where no tempo is printed.
const TEMPO_SPREAD_UNKNOWN: f64 = 0.5;
/// With a click everybody hears it.
const TEMPO_SPREAD_CLICK: f64 = 0.05;

impl Line {
    /// Lays out a part. `due` gives the seconds of a point in quarters where a click runs.
    pub(crate) fn new(
        part: &Part,
        wire: Wire,
        sustains: bool,
        due: Option<&dyn Fn(crate::exercise::Quarters) -> f64>,
    ) -> Line {
        let mut notes: Vec<LineNote> = Vec::with_capacity(part.notes.len());
        let mut by_midi = vec![Vec::new(); 128];
        for (index, note) in part.notes.iter().enumerate() {
            let sounding = i16::from(note.sounding);
            let transposed = if wire.written { note.written.midi() - sounding } else { 0 };
            let on_wire = |midi: u8| i16::from(midi) + transposed + wire.shift;
            let midi = on_wire(note.sounding);
            if let Some(list) = usize::try_from(midi).ok().and_then(|midi| by_midi.get_mut(midi)) {
                list.push(index as u32);
            }
            let measure = part.measures.get(note.measure);
            let opens_measure = index == 0 || part.notes[index - 1].measure != note.measure;
            let next_opens_phrase = part
                .notes
                .get(index + 1)
                .filter(|next| next.measure != note.measure)
                .and_then(|next| part.measures.get(next.measure))
                .is_some_and(|measure| measure.phrase_start);
            notes.push(LineNote {
                midi,
                onset: note.onset.to_f64(),
                value: note.duration.to_f64().max(1e-3),
                due: due.map(|due| due(note.onset)),
                beat: measure.map_or(1.0, |measure| measure.meter.beat().to_f64()),
                opens_measure,
                may_wait: note.followed_by != FollowedBy::Note || note.fermata || note.breath || next_opens_phrase,
                staccato: note.staccato,
                chord: note.chord.iter().map(|&midi| on_wire(midi)).collect(),
                graces: note.graces.iter().map(|&midi| on_wire(midi)).collect(),
            });
        }
        let first = part.notes.first().map_or(crate::exercise::Quarters::ZERO, |note| note.onset);
        let spread = match (due.is_some(), part.tempo_given) {
            (true, _) => TEMPO_SPREAD_CLICK,
            (false, true) => TEMPO_SPREAD_PRINTED,
            (false, false) => TEMPO_SPREAD_UNKNOWN,
        };
        let quarter = match due {
            Some(due) => {
                let one = crate::exercise::Quarters::new(1, 1);
                due(first + one) - due(first)
            }
            None => part.tempo.micros_per_quarter(first) / 1e6,
        };
        Line { notes, by_midi, sustains, tempo: (quarter.max(0.02).ln(), spread * spread) }
    }

    /// The notes due at a MIDI number, rising.
    pub(crate) fn at_midi(&self, midi: u8) -> &[u32] {
        self.by_midi.get(usize::from(midi)).map_or(&[], |list| list)
    }

    /// Quarters from the onset of one note to that of another; never zero or less.
    pub(crate) fn distance(&self, from: usize, to: usize) -> f64 {
        (self.notes[to].onset - self.notes[from].onset).max(1e-3)
    }
}
