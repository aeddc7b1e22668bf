//! Note-on and note-off to notes.

use crate::smf::{File, Message};
use std::collections::{HashMap, VecDeque};

/// A note of a MIDI file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct MidiNote {
    /// Track, from 0.
    pub(super) track: usize,
    /// Channel, from 0.
    pub(super) channel: u8,
    /// MIDI number.
    pub(super) midi: u8,
    /// Tick of its note-on.
    pub(super) on: u64,
    /// Tick where it ends.
    pub(super) off: u64,
}

/// All notes in order of their note-on. Of overlapping notes of one pitch and channel the first on is the first off; a
/// note never ended lasts to the end of its track; a note-off for nothing is ignored. Notes without length are left
/// out.
pub(super) fn all(file: &File, notices: &mut Vec<String>) -> Vec<MidiNote> {
    let mut notes: Vec<MidiNote> = Vec::new();
    let mut never_ended = 0;
    for (track, events) in file.tracks.iter().enumerate() {
        let mut sounding: HashMap<(u8, u8), VecDeque<usize>> = HashMap::new();
        for event in events {
            let Message::Channel { status, data: [midi, velocity] } = event.message else { continue };
            let channel = status & 0x0F;
            match status & 0xF0 {
                0x90 if velocity > 0 => {
                    sounding.entry((channel, midi)).or_default().push_back(notes.len());
                    notes.push(MidiNote { track, channel, midi, on: event.tick, off: event.tick });
                }
                0x80 | 0x90 => {
                    let first = sounding.get_mut(&(channel, midi)).and_then(VecDeque::pop_front);
                    if let Some(note) = first.and_then(|index| notes.get_mut(index)) {
                        note.off = event.tick;
                    }
                }
                _ => {}
            }
        }
        let end = file.ends.get(track).copied().unwrap_or_default();
        for index in sounding.into_values().flatten() {
            if let Some(note) = notes.get_mut(index) {
                note.off = end;
                never_ended += 1;
            }
        }
    }
    let count = notes.len();
    notes.retain(|note| note.off > note.on);
    if never_ended > 0 {
        notices.push(format!("{never_ended} note(s) without an end last to the end of their track."));
    }
    if notes.len() < count {
        notices.push(format!("{} note(s) without any length are left out.", count - notes.len()));
    }
    notes.sort_by_key(|note| note.on);
    notes
}
