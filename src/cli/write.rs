//! `restward write`.

use super::lanes::{is_for, recognised};
use super::{Failure, Outcome, output};
use crate::exercise::{Exercise, Part, for_instrument};
use crate::instrument::{Instrument, catalogue};
use crate::read::{Choice, FileError, ReadError, read_file};
use crate::show::engraver::{Engraved, Engraver, Paper, Request};
use crate::show::wrapped;
use crate::write::{MarkedPart, WriteError, abc, held_over, musicxml};
use clap::ValueEnum;
use std::path::{Path, PathBuf};

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

/// A part to write.
struct Written {
    part: Part,
    instrument: Option<Instrument>,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    output::not_over(&arguments.exercise, arguments.output.as_deref())?;
    let format = arguments.format.or_else(|| by_name(arguments.output.as_deref()?)).unwrap_or(Format::Musicxml);
    let mut notices = Vec::new();
    let (title, parts) = if arguments.instrument.is_empty() {
        parts(&arguments, &mut notices)?
    } else {
        for_instruments(&arguments, &mut notices)?
    };
    for written in &parts {
        let count = held_over(&written.part);
        if count > 0 {
            let name = &written.part.name.id;
            notices.push(format!(
                "{count} notes of part {name} sound into the next one: in one line they end where it begins."
            ));
        }
    }
    let marked = parts
        .iter()
        .map(|written| MarkedPart { instrument: written.instrument.as_ref(), ..MarkedPart::new(&written.part) });
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
    for notice in notices {
        eprintln_wrapped(&notice);
    }
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

fn by_name(output: &Path) -> Option<Format> {
    let ending = output.extension()?.to_string_lossy().to_lowercase();
    match ending.as_str() {
        "musicxml" | "xml" => Some(Format::Musicxml),
        "abc" => Some(Format::Abc),
        "pdf" => Some(Format::Pdf),
        _ => None,
    }
}

/// The parts of the file that are asked for: all that have notes, unless some are named.
fn parts(arguments: &Arguments, notices: &mut Vec<String>) -> Result<(Option<String>, Vec<Written>), Failure> {
    let read = |part: Option<String>| read_file(&arguments.exercise, &Choice { part, ..Choice::default() });
    let mut asked: Vec<String> = arguments.part.clone();
    let mut title = None;
    if asked.is_empty() {
        let first = read(None).map_err(Failure::input)?;
        title = first.title;
        asked.extend(first.parts.into_iter().map(|part| part.id));
    }
    let mut parts = Vec::new();
    for part in asked {
        let exercise = match read(Some(part)) {
            Ok(exercise) => exercise,
            // Of a whole score the parts without notes are left out.
            Err(FileError { problem: ReadError::NoNotes { part }, .. }) if arguments.part.is_empty() => {
                notices.push(format!("Part {part} has no notes with a pitch and is left out."));
                continue;
            }
            Err(error) => return Err(Failure::input(error)),
        };
        title = title.or(exercise.title.clone());
        let instrument = recognised(&exercise.part.name, exercise.part.transposition).cloned();
        parts.push(kept(exercise, instrument, notices));
    }
    Ok((title, parts))
}

/// One line for each instrument that is asked for.
fn for_instruments(
    arguments: &Arguments,
    notices: &mut Vec<String>,
) -> Result<(Option<String>, Vec<Written>), Failure> {
    let ([] | [_]) = arguments.part.as_slice() else {
        return Err(Failure::Usage("--instrument prints one line: give --part only once".into()));
    };
    let read = |choice: &Choice| read_file(&arguments.exercise, choice).map_err(Failure::input);
    let line = read(&Choice { part: arguments.part.first().cloned(), ..Choice::default() })?;
    let asked = arguments.instrument.iter().map(|id| catalogue().get(id)).collect::<Result<Vec<_>, _>>();
    let mut parts = Vec::new();
    let mut is_used = false;
    for instrument in asked.map_err(Failure::input)? {
        // A part that was asked for is printed for whoever is asked for; else each gets its own.
        let mut candidates = match arguments.part.first() {
            Some(_) => std::slice::from_ref(&line.part.name).iter(),
            None => line.parts.iter(),
        };
        if let Some(own) = candidates.find(|name| is_for(name, instrument)) {
            let transposition = Some(instrument.transposition);
            let own = read(&Choice { part: Some(own.id.clone()), instrument: transposition, ..Choice::default() })?;
            parts.push(kept(own, Some(instrument.clone()), notices));
            continue;
        }
        is_used = true;
        let fitted = for_instrument(&line.part, instrument);
        let fitted = fitted.ok_or_else(|| {
            let file = arguments.exercise.display();
            Failure::Input(format!("{file}: its notes lie too far apart to be printed for {}", instrument.name))
        })?;
        if fitted.outside > 0 {
            notices.push(format!(
                "{}: {} of {} notes lie outside the range of a beginner on it, whichever octave is taken.",
                fitted.part.name.name,
                fitted.outside,
                fitted.part.notes.len()
            ));
        }
        parts.push(Written { part: fitted.part, instrument: Some(instrument.clone()) });
    }
    // Which line was taken matters only if it was.
    if is_used {
        notices.extend(line.notices);
    }
    Ok((line.title, parts))
}

fn kept(exercise: Exercise, instrument: Option<Instrument>, notices: &mut Vec<String>) -> Written {
    for notice in exercise.notices {
        if !notices.contains(&notice) {
            notices.push(notice);
        }
    }
    Written { part: exercise.part, instrument }
}

/// What a user should know, beside the result.
fn eprintln_wrapped(notice: &str) {
    use std::io::Write;
    let mut err = std::io::stderr().lock();
    for line in wrapped(&format!("Please note: {notice}"), 80, "") {
        // Nothing is left to do if stderr is gone.
        let _ = writeln!(err, "{line}");
    }
}
