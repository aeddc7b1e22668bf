//! Standard MIDI Files as exercises: formats 0 and 1.
//!
//! In: bytes and the choice of a part. Out: the [`Exercise`]. On the way: [`crate::smf`] (events) →
//! [`notes`] (note-on and note-off to notes) → [`measures`] (barlines, keys, tempo) → [`crate::exercise`].
//! The notes are concert pitch; their spelling follows the key signature.

mod measures;
mod notes;

use super::choice::{self, find_part};
use super::{Choice, ReadError};
use crate::exercise::{Exercise, FollowedBy, MOST_NOTES, Part, PartName, Quarters, TooLong, WrittenPart, perform};
use crate::smf::{Clock, File, Message};
use notes::MidiNote;

/// Reads the chosen part: a track, or a channel where only one track has notes; without a choice all of them.
pub(super) fn read(bytes: &[u8], choice: &Choice) -> Result<Exercise, ReadError> {
    let file = File::parse(bytes)?;
    let mut notices = file.notices.clone();
    let mut notes = notes::all(&file, &mut notices);
    let (parts, of_part) = parts(&file, &notes);
    let name = match &choice.part {
        Some(asked) => {
            let index = find_part(&parts, asked)?;
            notes.retain(|note| of_part(note) == index);
            parts[index].clone()
        }
        None if parts.len() > 1 => {
            let there_are = choice::list(&parts, choice::MOST_IN_ERROR);
            notices.push(format!("All parts are read together ({there_are}). Choose one with --part."));
            PartName { id: "all".to_owned(), ..PartName::default() }
        }
        None => parts.first().cloned().unwrap_or_default(),
    };
    if notes.is_empty() {
        return Err(ReadError::NoNotes { part: if name.id.is_empty() { "1".to_owned() } else { name.id } });
    }
    if notes.len() > MOST_NOTES {
        return Err(ReadError::TooLong);
    }
    let clock = Clock::new(&file);
    let written = measures::written(&file, &clock, &notes, choice.instrument).ok_or(ReadError::TooLong)?;
    let written = WrittenPart { name, transposition: choice.instrument, measures: written, passages: Vec::new() };
    let mut part = perform(written).map_err(|TooLong| ReadError::TooLong)?;
    part.tempo_given = !file.tempos().is_empty();
    close_small_gaps(&mut part);
    Ok(Exercise { title: title(&file), parts, part, notices })
}

/// Programs write notes a little shorter than they are, to be heard apart: a gap below a 32nd is no rest (no source).
fn close_small_gaps(part: &mut Part) {
    let thirty_second = Quarters::new(1, 8);
    for index in 1..part.notes.len() {
        let begins = part.notes[index].onset;
        let before = &mut part.notes[index - 1];
        if before.followed_by == FollowedBy::Rest && begins - before.end() < thirty_second {
            before.followed_by = FollowedBy::Note;
        }
    }
}

/// The parts of a file, and to which of them a note belongs.
fn parts(file: &File, notes: &[MidiNote]) -> (Vec<PartName>, impl Fn(&MidiNote) -> usize + use<>) {
    let mut lines: Vec<(usize, u8)> = notes.iter().map(|note| (note.track, note.channel)).collect();
    lines.sort_unstable();
    lines.dedup();
    let mut tracks: Vec<usize> = lines.iter().map(|&(track, _)| track).collect();
    tracks.dedup();
    let by_channel = tracks.len() == 1;
    let parts = match by_channel {
        true if lines.len() > 1 => lines
            .iter()
            .map(|(_, channel)| PartName { id: format!("channel {}", channel + 1), ..PartName::default() })
            .collect(),
        _ => tracks
            .iter()
            .map(|&track| PartName {
                id: (track + 1).to_string(),
                name: track_name(file, track).unwrap_or_default(),
                hints: text(file, track, 0x04).into_iter().collect(),
            })
            .collect(),
    };
    let of_part = move |note: &MidiNote| match by_channel {
        true => lines.binary_search(&(note.track, note.channel)).unwrap_or(0),
        false => tracks.binary_search(&note.track).unwrap_or(0),
    };
    (parts, of_part)
}

/// The name of the first track if it has no notes of its own: so titles are kept.
fn title(file: &File) -> Option<String> {
    let is_note = |message: &Message| matches!(message, Message::Channel { status: 0x80..=0x9F, .. });
    let first = file.tracks.first()?;
    if file.tracks.len() > 1 && !first.iter().any(|event| is_note(&event.message)) { track_name(file, 0) } else { None }
}

fn track_name(file: &File, track: usize) -> Option<String> {
    text(file, track, 0x03)
}

/// The first text of a kind in a track: UTF-8, else Latin-1, as the specification leaves it open.
fn text(file: &File, track: usize, wanted: u8) -> Option<String> {
    file.tracks.get(track)?.iter().find_map(|event| match &event.message {
        Message::Meta { kind, data } if *kind == wanted => {
            let text =
                String::from_utf8(data.clone()).unwrap_or_else(|_| data.iter().map(|&byte| char::from(byte)).collect());
            let text = text.split(|c: char| c.is_whitespace() || c.is_control()).collect::<Vec<_>>().join(" ");
            Some(text.trim().chars().take(80).collect::<String>()).filter(|text| !text.is_empty())
        }
        _ => None,
    })
}
