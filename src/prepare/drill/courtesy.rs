//! Reminders: a note that is back to its signature in the measure after an accidental shows its sign in parentheses
//! (common practice, no source). They change nothing: the barline has already taken the accidental back.

use crate::exercise::{Alteration, Note, Part};

/// The indices of the notes that remind.
pub(super) fn courtesy(part: &Part) -> Vec<usize> {
    let mut reminders: Vec<usize> = Vec::new();
    for note in part.notes.iter().filter(|note| note.alteration == Alteration::Signature) {
        let same_letter = |other: &&Note| other.written.letter == note.written.letter && other.key == note.key;
        let before = part.notes.iter().filter(|other| other.measure + 1 == note.measure).rfind(same_letter);
        let altered = before.is_some_and(|other| other.written.alter != note.written.alter);
        let first = !part.notes[..note.index]
            .iter()
            .any(|other| other.measure == note.measure && other.written.letter == note.written.letter);
        if altered && first {
            reminders.push(note.index);
        }
    }
    reminders
}
