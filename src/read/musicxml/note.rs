//! `note`: pitch, ties, marks.

use super::super::ReadError;
use super::super::error::shown;
use super::measure::PartReader;
use super::measure::in_measure;
use super::number::{decimal, whole};
use super::tree::{child, child_text, elements, text_of, wrong};
use crate::exercise::Quarters;
use crate::theory::{Letter, Pitch};
use roxmltree::Node;

/// A note or rest as it stands in the file.
pub(super) struct RawNote<'a> {
    /// Byte of the pitch in the text, for messages.
    pub(super) place: usize,
    pub(super) onset: Quarters,
    /// Exact; zero for grace notes.
    pub(super) duration: Quarters,
    /// As encoded; `None` for rests and unpitched notes.
    pub(super) pitch: Option<Pitch>,
    pub(super) is_chord: bool,
    pub(super) is_grace: bool,
    pub(super) is_cue: bool,
    /// Not printed (`print-object`).
    pub(super) is_hidden: bool,
    pub(super) voice: &'a str,
    pub(super) staff: u8,
    pub(super) tie_start: bool,
    pub(super) tie_stop: bool,
    /// An accidental is printed at it.
    pub(super) accidental: bool,
    pub(super) staccato: bool,
    pub(super) fermata: bool,
    pub(super) breath: bool,
    /// Slurs by number: true begins, false ends.
    pub(super) slurs: Vec<(&'a str, bool)>,
    pub(super) id: Option<&'a str>,
}

/// Reads a note whose onset and duration are known. `chord_of`: the note whose chord it belongs to, and whose voice and
/// staff it has unless it says otherwise.
pub(super) fn read<'a>(
    reader: &mut PartReader,
    note: Node<'a, '_>,
    onset: Quarters,
    duration: Quarters,
    chord_of: Option<&RawNote<'a>>,
) -> Result<RawNote<'a>, ReadError> {
    let mut raw = RawNote {
        place: 0,
        onset,
        duration,
        pitch: None,
        is_chord: false,
        is_grace: false,
        is_cue: false,
        is_hidden: note.attribute("print-object") == Some("no"),
        voice: chord_of.map_or("1", |note| note.voice),
        staff: chord_of.map_or(1, |note| note.staff),
        tie_start: false,
        tie_stop: false,
        accidental: false,
        staccato: false,
        fermata: false,
        breath: false,
        slurs: Vec::new(),
        id: note.attribute("id"),
    };
    for element in elements(note) {
        match element.tag_name().name() {
            "pitch" => {
                raw.pitch = Some(pitch(reader, element)?);
                raw.place = element.range().start;
            }
            "cue" => raw.is_cue = true,
            "chord" => raw.is_chord = true,
            "grace" => raw.is_grace = true,
            "voice" if !text_of(element).is_empty() => raw.voice = text_of(element),
            "staff" => raw.staff = text_of(element).parse().unwrap_or(1),
            "tie" => match element.attribute("type") {
                Some("start") => raw.tie_start = true,
                Some("stop") => raw.tie_stop = true,
                _ => {}
            },
            // A courtesy, which says again what holds anyway.
            "accidental"
                if ["cautionary", "parentheses"].iter().any(|name| element.attribute(*name) == Some("yes")) => {}
            "accidental" => raw.accidental = true,
            "notations" => notations(element, &mut raw),
            _ => {}
        }
    }
    sounds_as_printed(reader, note, &mut raw);
    Ok(raw)
}

/// A sign at a note whose pitch says nothing of an alteration: the player plays what is printed. MusicXML 4.0 wants
/// `alter` at each such note; some programs forget it.
fn sounds_as_printed(reader: &mut PartReader, note: Node<'_, '_>, raw: &mut RawNote<'_>) {
    let Some(pitch) = &mut raw.pitch else { return };
    let is_told =
        child(note, "pitch").and_then(|pitch| child_text(pitch, "alter")).is_some_and(|text| !text.is_empty());
    let alter = match child_text(note, "accidental") {
        Some("sharp") => 1,
        Some("flat") => -1,
        Some("double-sharp" | "sharp-sharp") => 2,
        Some("flat-flat") => -2,
        _ => return,
    };
    if !is_told {
        *pitch = Pitch::new(pitch.letter, alter, pitch.octave);
        reader.notice(format!(
            "A note in {} is read with the sign printed at it, which its pitch leaves out.",
            in_measure(note)
        ));
    }
}

fn notations<'a>(notations: Node<'a, '_>, raw: &mut RawNote<'a>) {
    for element in elements(notations) {
        match element.tag_name().name() {
            "fermata" => raw.fermata = true,
            "slur" => {
                let number = element.attribute("number").unwrap_or("1");
                match element.attribute("type") {
                    Some("start") => raw.slurs.push((number, true)),
                    Some("stop") => raw.slurs.push((number, false)),
                    _ => {}
                }
            }
            "articulations" => {
                for mark in elements(element) {
                    match mark.tag_name().name() {
                        "staccato" | "staccatissimo" => raw.staccato = true,
                        "breath-mark" | "caesura" => raw.breath = true,
                        _ => {}
                    }
                }
            }
            _ => {}
        }
    }
}

fn pitch(reader: &mut PartReader, element: Node<'_, '_>) -> Result<Pitch, ReadError> {
    let step = child_text(element, "step").unwrap_or_default();
    let mut letters = step.chars();
    let letter = letters.next().filter(|_| letters.next().is_none()).and_then(Letter::from_char);
    let letter = letter
        .ok_or_else(|| wrong(element, format!("a note's step is \"{}\", not a letter from A to G", shown(step))))?;
    let octave = child(element, "octave").ok_or_else(|| wrong(element, "a note has no octave"))?;
    let octave = whole(octave, 0..=9)?;
    let alter = match child_text(element, "alter").filter(|text| !text.is_empty()) {
        Some(text) => alter(reader, element, text)?,
        None => 0,
    };
    Ok(Pitch::new(letter, alter, octave as i8))
}

/// Semitones; quarter tones are rounded toward the letter, which no MIDI note says more exactly.
fn alter(reader: &mut PartReader, element: Node<'_, '_>, text: &str) -> Result<i8, ReadError> {
    let number = decimal(text).map(Quarters::to_f64).filter(|alter| alter.abs() <= 3.0);
    let number = number.ok_or_else(|| {
        wrong(element, format!("a note's alter is \"{}\", not a number of semitones from -3 to 3", shown(text)))
    })?;
    if number.fract() != 0.0 {
        reader.notice(format!("A quarter tone in {} is read without its quarter.", in_measure(element)));
    }
    Ok(number.trunc() as i8)
}
