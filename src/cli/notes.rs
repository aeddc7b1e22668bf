//! `restward notes`.

mod listing;
mod table;
mod value;

use super::{Failure, Outcome};
use crate::instrument::catalogue;
use crate::read::{Choice, read_file};
use std::io::Write;
use std::path::PathBuf;

/// Shows what was read from an exercise file, as it will be judged: repeats played out, ties merged.
#[derive(clap::Args)]
#[command(
    after_help = "Examples:\n  restward notes scale.musicxml\n  restward notes score.mxl --part Clarinet --json\n  restward notes tunes.abc --tune 3"
)]
pub(super) struct Arguments {
    /// MusicXML (.musicxml, .xml, .mxl), Standard MIDI File or ABC
    exercise: PathBuf,
    /// Part of the file: its identifier, name or number
    #[arg(long, value_name = "PART")]
    part: Option<String>,
    /// Tune of an ABC tunebook: its number or title
    #[arg(long, value_name = "TUNE")]
    tune: Option<String>,
    /// Staff of the part, 1 is the uppermost
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=9))]
    staff: Option<u8>,
    /// The player's instrument, for files at concert pitch: then the written notes are those of its printed part
    #[arg(long, value_name = "ID")]
    instrument: Option<String>,
    /// For programs: one JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let instrument = arguments.instrument.map(|id| catalogue().get(&id)).transpose().map_err(Failure::input)?;
    let instrument = instrument.map(|instrument| instrument.transposition);
    let choice = Choice { tune: arguments.tune, part: arguments.part, staff: arguments.staff, instrument };
    let exercise = read_file(&arguments.exercise, &choice).map_err(Failure::input)?;
    let mut out = std::io::stdout().lock();
    if arguments.json {
        serde_json::to_writer(&mut out, &listing::of(&exercise)).map_err(std::io::Error::from)?;
        writeln!(out)?;
    } else {
        table::write(&mut out, &exercise)?;
    }
    Ok(())
}
