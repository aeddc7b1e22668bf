//! ABC 2.1 (December 2011), and what older files have that can still be understood.
//!
//! In: the text of a file and the choice of a tune and part. Out: the [`Exercise`]. On the way: [`lines`] → [`book`] (tunes) →
//! [`mod@tune`] (fields; [`voices`]; [`code`] reads the music) → [`overlay`], [`rhythm`] (values) → [`assembly`] (measures;
//! [`sounds`], [`pitch`]) → [`signs`], [`numbers`], [`sections`] → [`crate::exercise`], which plays it out.
//!
//! Section numbers in this folder are those of the standard (abcnotation.com, "The abc music standard 2.1"). The parts of a file
//! are its voices (`V:`); a file is at concert pitch unless a voice transposes (`transpose=`, the 8 at a clef).

mod assembly;
mod bars;
mod book;
mod code;
mod cursor;
mod directives;
mod fields;
mod groups;
mod heads;
mod items;
mod key;
mod lines;
mod marks;
mod numbers;
mod overlay;
mod pitch;
mod properties;
mod rhythm;
mod sections;
mod signs;
mod sounds;
mod staff;
mod strings;
mod tune;
mod voices;

use super::choice::{self, find_part};
use super::{Choice, Place, ReadError};
use crate::exercise::{Exercise, PartName, TooLong, WrittenPart, perform};
use assembly::{Assembly, Page};
use book::{Book, Tune};
use code::is_timed;
use items::What;
use lines::At;
use pitch::Tuning;
use tune::{Start, TuneReader};
use voices::Voice;

pub(super) use book::is_abc;

/// The largest file, in bytes: large tunebooks have a tenth. It keeps reading under 300 MB of memory, as the next limit does.
const MOST_BYTES: usize = 8 << 20;
/// The largest tune, in bytes: a hundred times a long one.
const MOST_BYTES_OF_TUNE: usize = 1 << 20;
/// So many tunes are named where none was asked for.
const MOST_TUNES_NAMED: usize = 6;

/// Reads the chosen voice of the chosen tune.
pub(super) fn read(text: &str, choice: &Choice) -> Result<Exercise, ReadError> {
    if text.len() > MOST_BYTES {
        return Err(ReadError::TooLarge { megabytes: MOST_BYTES >> 20 });
    }
    let book = Book::new(text)?;
    let mut notices = Vec::new();
    let tune = chosen_tune(&book, choice, &mut notices)?;
    if tune.size() > MOST_BYTES_OF_TUNE {
        return Err(ReadError::TooLarge { megabytes: MOST_BYTES_OF_TUNE >> 20 });
    }
    let mut reader = TuneReader::read(&book, tune)?;
    let mut voices = std::mem::take(&mut reader.voices);
    // A voice that is only announced is none.
    voices.retain(|voice| voice.items.iter().any(|item| is_timed(&item.what)));
    let parts: Vec<PartName> = voices.iter().map(|voice| voice.name.clone()).collect();
    let index = match &choice.part {
        Some(asked) => find_part(&parts, asked)?,
        None => first_with_notes(&voices),
    };
    let Some(part) = parts.get(index) else { return Err(ReadError::NoParts) };
    if choice.part.is_none() && parts.len() > 1 {
        let there_are = choice::list(&parts, choice::MOST_IN_ERROR);
        notices.push(format!(
            "The file has several parts ({there_are}); this is {}. Choose another with --part.",
            part.id
        ));
    }
    if let Some(staff) = choice.staff.filter(|&staff| staff != 1) {
        return Err(ReadError::NoSuchStaff { part: part.id.clone(), staff });
    }
    let written = written_part(&mut reader, voices, index, choice)?;
    if let Some(line) = tune.cut_off {
        reader.notices.say(format!(
            "The music in line {line} is not read: an empty line ends a tune. Take the empty line before it out if it belongs to it."
        ));
    }
    let part = perform(written).map_err(|TooLong| ReadError::TooLong)?;
    if part.notes.is_empty() {
        return Err(ReadError::NoNotes { part: part.name.id });
    }
    notices.extend(reader.notices.into_list());
    let title = Some(tune.name.name.clone()).filter(|title| !title.is_empty());
    Ok(Exercise { title, parts, part, notices })
}

/// The tune that was asked for, else the first with music.
fn chosen_tune<'b, 'a>(
    book: &'b Book<'a>,
    choice: &Choice,
    notices: &mut Vec<String>,
) -> Result<&'b Tune<'a>, ReadError> {
    let names = || book.tunes.iter().map(|tune| tune.name.clone()).collect::<Vec<_>>();
    let index = match &choice.tune {
        Some(asked) => choice::find(&names(), asked).ok_or_else(|| ReadError::NoSuchTune {
            asked: asked.clone(),
            there_are: choice::list(&names(), choice::MOST_IN_ERROR),
        })?,
        None => book.tunes.iter().position(|tune| !tune.body.is_empty()).unwrap_or(0),
    };
    let tune = book.tunes.get(index).ok_or(ReadError::NoParts)?;
    if !tune.has_key() {
        let last = tune.header.last().map_or(1, |line| line.number);
        let problem =
            "the tune has no key: write K: and the key in a line of its own, then the music in the lines after it";
        return Err(wrong(At { line: last, column: 1 }, problem));
    }
    if choice.tune.is_none() && book.tunes.len() > 1 {
        let there_are = choice::list(&names(), MOST_TUNES_NAMED);
        notices.push(format!(
            "The file has {} tunes ({there_are}); this is tune {}. Choose another with --tune.",
            book.tunes.len(),
            tune.name.id
        ));
    }
    Ok(tune)
}

/// The first voice with a pitched note, else the first.
fn first_with_notes(voices: &[Voice]) -> usize {
    let has_notes = |voice: &Voice| {
        !voice.start.is_unpitched() && voice.items.iter().any(|item| matches!(item.what, What::Sound { .. }))
    };
    voices.iter().position(has_notes).unwrap_or(0)
}

/// The chosen voice as on the page, with the tempo and the signs that stand only in other voices.
fn written_part(
    reader: &mut TuneReader,
    voices: Vec<Voice>,
    index: usize,
    choice: &Choice,
) -> Result<WrittenPart, ReadError> {
    let start = reader.start();
    let mut own = None;
    let mut others = Vec::new();
    for (number, voice) in voices.into_iter().enumerate() {
        let (name, staff) = (voice.name.clone(), voice.start);
        if number == index {
            let (page, tuning, overlaid) = page(voice, &start, reader, choice)?;
            own = Some((name, page, tuning.transposition(&staff)));
            if let Some(at) = overlaid {
                reader.notices.say(format!(
                    "There are several voices in a measure (&, first in line {}); the first is judged.",
                    at.line
                ));
            }
        } else if let Ok((page, ..)) = page(voice, &start, reader, choice) {
            // What is wrong in a voice that nobody asked for is no reason to refuse this one.
            others.push(page);
        }
    }
    let (name, mut page, transposition) = own.ok_or(ReadError::NoParts)?;
    for other in &others {
        signs::adopt(&mut page, other);
    }
    numbers::number(&mut page, start.number, &mut reader.notices);
    let passages = passages(reader, &page);
    Ok(WrittenPart { name, transposition, measures: page.measures, passages })
}

/// One voice on the page, and where it first has an overlaid voice.
fn page(
    voice: Voice,
    start: &Start,
    reader: &TuneReader,
    choice: &Choice,
) -> Result<(Page, Tuning, Option<At>), ReadError> {
    let (items, overlaid) = overlay::without(voice.items);
    let staves = items.iter().filter_map(|item| match &item.what {
        What::Staff(staff) => Some(staff),
        _ => None,
    });
    let tuning = Tuning::new(std::iter::once(&voice.start).chain(staves), choice.instrument);
    let values = rhythm::values(&items, start)?;
    let mut page = Assembly::page(&items, &values, start, voice.start, tuning, reader.reach)?;
    signs::settle(&mut page);
    Ok((page, tuning, overlaid))
}

/// The order of sections, where the tune tells one that can be played.
fn passages(reader: &mut TuneReader, page: &Page) -> Vec<std::ops::Range<usize>> {
    let Some((text, at)) = &reader.order else { return Vec::new() };
    let highest = |passage: &std::ops::Range<usize>| {
        let endings = page.measures[passage.clone()].iter().filter_map(|measure| measure.flow.ending_start.as_ref());
        endings.flat_map(|ending| ending.passes.iter().copied()).max().unwrap_or(0)
    };
    let passages = sections::order(text)
        .and_then(|order| sections::passages(&order, &page.sections, page.measures.len(), highest));
    if passages.is_none() {
        let text = super::error::shown(text);
        reader
            .notices
            .say(format!("The order of sections \"{text}\" in line {} is not played: no such sections.", at.line));
    }
    passages.unwrap_or_default()
}

/// An error at a place.
fn wrong(at: At, problem: impl Into<String>) -> ReadError {
    let place = Place { measure: None, line: at.line, column: at.column };
    ReadError::Abc { place, problem: problem.into() }
}
