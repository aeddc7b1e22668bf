//! MusicXML 3.x and 4.0, partwise and timewise.
//!
//! In: the text of a score and the choice of a part. Out: the [`Exercise`]. On the way:
//! [`tree`] (text to tree) → [`score`] (parts and their measures) → [`measure`] (one measure after the
//! other: [`clock`], [`attributes`], [`note`], [`direction`]) → [`mod@line`] (what is judged, sources of
//! accidentals, slurs) → [`crate::exercise`], which plays it out.
//!
//! Element names are those of the MusicXML 4.0 reference (W3C Music Notation Community Group).

mod attributes;
mod clock;
mod direction;
mod flow;
mod line;
mod measure;
mod note;
mod number;
mod score;
mod tree;
mod value;

use super::choice::{self, find_part};
use super::{Choice, ReadError};
use crate::exercise::{Exercise, MOST_MEASURES, TooLong, WrittenPart, perform};
use crate::instrument::catalogue;
use crate::theory::Transposition;
use measure::PartReader;
use score::Score;

pub(super) use tree::first_root_file;

/// Reads the chosen part.
pub(super) fn read(text: &str, choice: &Choice) -> Result<Exercise, ReadError> {
    let document = tree::parse(text)?;
    let score = Score::new(&document)?;
    let mut notices = Vec::new();
    let index = match &choice.part {
        Some(asked) => find_part(&score.parts, asked)?,
        None => score.first_with_notes(),
    };
    let part = &score.parts[index];
    if choice.part.is_none() && score.parts.len() > 1 {
        let there_are = choice::list(&score.parts, choice::MOST_IN_ERROR);
        notices.push(format!(
            "The file has several parts ({there_are}); this is {}. Choose another with --part.",
            part.id
        ));
    }
    let choice = &Choice { instrument: choice.instrument.or_else(|| recognised(&score, index)), ..choice.clone() };
    let written = written_part(&score, index, choice, &mut notices)?;
    let part = perform(written).map_err(|TooLong| ReadError::TooLong)?;
    if part.notes.is_empty() {
        return Err(ReadError::NoNotes { part: part.name.id });
    }
    Ok(Exercise { title: score.title.clone(), parts: score.parts, part, notices })
}

/// In a concert score the part's name tells for whom it is printed.
fn recognised(score: &Score<'_, '_>, index: usize) -> Option<Transposition> {
    let part = score.parts.get(index).filter(|_| score.is_concert)?;
    let hints: Vec<&str> = [&part.name].into_iter().chain(&part.hints).map(String::as_str).collect();
    Some(catalogue().recognise(&hints)?.transposition)
}

/// The chosen part as on the page, with the tempo and the signs that stand only in other parts.
fn written_part(
    score: &Score<'_, '_>,
    index: usize,
    choice: &Choice,
    notices: &mut Vec<String>,
) -> Result<WrittenPart, ReadError> {
    // Known before anything is read of them.
    if score.measures.iter().any(|measures| measures.len() > MOST_MEASURES) {
        return Err(ReadError::TooLong);
    }
    let mut reader = PartReader::new(score, choice, false);
    let mut raw = Vec::new();
    for source in &score.measures[index] {
        raw.extend(reader.measure(source)?);
    }
    flow::settle(&mut raw);
    for (_, sources) in score.measures.iter().enumerate().filter(|&(other, _)| other != index) {
        let mut reader = PartReader::new(score, choice, true);
        // What is wrong in a part that nobody asked for is no reason to refuse this one.
        let mut marks: Vec<_> = sources.iter().map_while(|source| reader.measure(source).ok()).flatten().collect();
        flow::settle(&mut marks);
        flow::adopt(&mut raw, &marks);
    }
    let (transposition, measures) = line::judged(raw, &score.parts[index], &reader, choice, score, notices)?;
    notices.extend(reader.into_notices());
    Ok(WrittenPart { name: score.parts[index].clone(), transposition, measures, passages: Vec::new() })
}
