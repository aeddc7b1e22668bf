//! The notes of a whole stream as a list.

use super::{Cleaner, Restrikes};
use crate::exercise::Micros;
use crate::listen::{Input, NoteEvent, Timed};

/// One note that was meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CleanNote {
    /// MIDI number as sent.
    pub midi: u8,
    /// When it began.
    pub on: Micros,
    /// When it ended.
    pub off: Micros,
}

/// The notes of a stream in order of their beginnings. Notes that still sound end with its last arrival.
///
/// The stream is heard twice: whether a channel plays one note at a time, so that a lost note-off can be told
/// from a chord, is known only at the end.
pub fn clean_notes(inputs: &[Timed<Input>]) -> Vec<CleanNote> {
    let mut first = Cleaner::new(Restrikes::Merged);
    hear(&mut first, inputs);
    hear(&mut first.second_hearing(), inputs)
}

fn hear(cleaner: &mut Cleaner, inputs: &[Timed<Input>]) -> Vec<CleanNote> {
    let mut events = Vec::new();
    for input in inputs {
        cleaner.push(input, &mut events);
    }
    if let Some(last) = inputs.last() {
        cleaner.finish(last.at, &mut events);
    }
    let mut notes: Vec<CleanNote> = Vec::new();
    for event in events {
        match event {
            NoteEvent::On { at, midi, .. } => notes.push(CleanNote { midi, on: at, off: at }),
            // Notes are numbered from 0 in the order told.
            NoteEvent::Off { id, at, .. } => {
                if let Some(note) = notes.get_mut(id as usize) {
                    note.off = at;
                }
            }
        }
    }
    notes.sort_by_key(|note| note.on);
    notes
}
