//! `restward write`.

use super::printed::{Asked, Found, Printed, PrintedPart};
use super::{Failure, Outcome, output};
use crate::read::{FileError, ReadError};
use crate::show::engraver::{Engraved, Engraver, Paper, Request};
use crate::write::{MarkedPart, WriteError, abc, held_over, musicxml};
use clap::ValueEnum;
use std::path::PathBuf;

/// Writes an exercise as MusicXML, for any notation program, as ABC, to be typed on, or as PDF.
///
/// All parts of the file, or some of them, or one line printed for other instruments: transposed, in a key
/// with six accidentals at most, in the octave that suits a beginner.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  restward write lesson12.mid -o lesson12.musicxml
  restward write lesson12.musicxml --part Flute --format abc
  restward write line.musicxml --instrument horn --instrument tuba -o low.musicxml
  restward write march.musicxml --instrument tuba --paper letter -o tuba.pdf")]
pub(super) struct Arguments {
    /// The exercise: MusicXML, .mxl or a Standard MIDI File
    exercise: PathBuf,
    /// Only this part: its identifier, name or number; may be given several times
    #[arg(long, value_name = "PART")]
    part: Vec<String>,
    /// Printed for this instrument: its own part where the file has one, else the first part or --part; may be given
    /// several times
    #[arg(long, value_name = "ID")]
    instrument: Vec<String>,
    /// What to write [default: what the name after -o says, else musicxml]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// PDF only: the paper
    #[arg(long, value_enum, default_value_t)]
    paper: Paper,
    /// The file to write [default: the console]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    Musicxml,
    Abc,
    /// Staff notation, engraved by restward-engrave
    Pdf,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    output::not_over(&arguments.exercise, arguments.output.as_deref())?;
    let known = [("musicxml", Format::Musicxml), ("xml", Format::Musicxml), ("abc", Format::Abc), ("pdf", Format::Pdf)];
    let format = output::format(arguments.format, arguments.output.as_deref(), &known, Format::Musicxml)?;
    let asked = Asked {
        exercise: &arguments.exercise,
        parts: &arguments.part,
        instruments: &arguments.instrument,
        for_players: false,
    };
    let Printed { title, parts, mut notices } = asked.find()?;
    let parts = with_notes(&arguments, parts, &mut notices)?;
    let marked = parts
        .iter()
        .map(|printed| MarkedPart { instrument: printed.instrument.as_ref(), ..MarkedPart::new(&printed.part) });
    let marked: Vec<MarkedPart<'_>> = marked.collect();
    let written = |text: Result<String, WriteError>| {
        text.map_err(|error| Failure::Input(format!("{}: {error}", arguments.exercise.display())))
    };
    let title = title.as_deref();
    let content = match format {
        Format::Musicxml => written(musicxml(title, &marked))?.into_bytes(),
        Format::Abc => written(abc(title, &marked))?.into_bytes(),
        Format::Pdf => {
            let pages = marked.into_iter().map(|part| written(musicxml(title, &[part]))).collect::<Result<_, _>>()?;
            pdf(pages, arguments.paper)?
        }
    };
    output::put(arguments.output.as_deref(), &content)?;
    output::tell(&notices);
    Ok(())
}

/// Each part on pages of its own.
fn pdf(parts: Vec<String>, paper: Paper) -> Result<Vec<u8>, Failure> {
    let engraved = Engraver::find().and_then(|engraver| engraver.engrave(&Request::pdf(parts, paper)));
    match engraved.map_err(|error| Failure::Machine(error.to_string()))? {
        Engraved::Pdf(document) => Ok(document),
        Engraved::Svg(_) => Err(Failure::Machine("the engraver made pictures instead of a PDF".into())),
    }
}

/// The parts that can be written. Of a whole score those without notes are left out.
fn with_notes(
    arguments: &Arguments,
    found: Vec<Found>,
    notices: &mut Vec<String>,
) -> Result<Vec<PrintedPart>, Failure> {
    let path = arguments.exercise.display().to_string();
    let is_score = arguments.part.is_empty() && arguments.instrument.is_empty() && found.len() > 1;
    let mut parts = Vec::new();
    for found in found {
        match found {
            Found::NoNotes { part, .. } if is_score => {
                notices.push(format!("Part {part} has no notes with a pitch and is left out."));
            }
            Found::NoNotes { part, .. } => {
                return Err(Failure::input(FileError { path, problem: ReadError::NoNotes { part } }));
            }
            Found::TooFarApart(instrument) => {
                let name = instrument.name;
                return Err(Failure::Input(format!("{path}: its notes lie too far apart to be printed for {name}")));
            }
            Found::Part(printed) => {
                notices.extend(held_over_notice(&printed));
                notices.extend(out_of_range_notice(&printed));
                parts.push(*printed);
            }
        }
    }
    Ok(parts)
}

fn held_over_notice(printed: &PrintedPart) -> Option<String> {
    let count = held_over(&printed.part);
    let name = &printed.part.name.id;
    (count > 0)
        .then(|| format!("{count} notes of part {name} sound into the next one: in one line they end where it begins."))
}

/// For a line printed for an instrument that it was not written for.
fn out_of_range_notice(printed: &PrintedPart) -> Option<String> {
    let (low, high) = printed.instrument.as_ref().filter(|_| printed.moved.is_some())?.beginner_range;
    let notes = &printed.part.notes;
    let outside = notes.iter().filter(|note| !(low.midi()..=high.midi()).contains(&note.written.midi())).count();
    (outside > 0).then(|| {
        format!(
            "{}: {outside} of {} notes lie outside the range of a beginner on it, whichever octave is taken.",
            printed.part.name.name,
            notes.len()
        )
    })
}
