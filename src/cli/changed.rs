//! `restward changed`.

use super::{Failure, Outcome};
use crate::instrument::{Instrument, catalogue};
use crate::show::changed::Answer;
use crate::theory::{Key, default_family, parse_family};
use std::io::{self, Write};

/// Prints the changed notes of a concert key for each instrument.
///
/// A changed note is a letter that this key makes flat, natural or sharp otherwise than the band's other
/// keys do: the note that players miss. The table has one row for each printed key signature, to be read to
/// the class.
#[derive(clap::Args)]
#[command(
    after_help = "Example:  restward changed --key Eb\n          restward changed --key g --family F,Bb,Eb --instrument alto-sax"
)]
pub(super) struct Arguments {
    /// The concert key: Bb, "Eb major", "G minor" (a small letter alone is minor: g)
    #[arg(long, value_name = "KEY")]
    key: String,
    /// The concert keys that the band plays, with commas between them [default: F,Bb,Eb,Ab]
    #[arg(long, value_name = "KEY,KEY,..", value_delimiter = ',')]
    family: Vec<String>,
    /// Only this instrument; may be given several times
    #[arg(long, value_name = "ID", conflicts_with = "all")]
    instrument: Vec<String>,
    /// Every instrument of the catalogue (as without --instrument)
    #[arg(long)]
    all: bool,
    /// For programs
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let key = Key::parse(&arguments.key).map_err(|error| Failure::input(format!("--key: {error}")))?;
    let family = if arguments.family.is_empty() {
        default_family()
    } else {
        parse_family(&arguments.family).map_err(|error| Failure::input(format!("--family: {error}")))?
    };
    let instruments: Vec<&Instrument> = if arguments.instrument.is_empty() {
        catalogue().instruments().collect()
    } else {
        let asked = arguments.instrument.iter();
        asked.map(|id| catalogue().get(id)).collect::<Result<_, _>>().map_err(Failure::input)?
    };
    let answer = Answer::new(key, &family, &instruments);
    let mut out = io::stdout().lock();
    if arguments.json {
        serde_json::to_writer(&mut out, &answer.for_programs()).map_err(io::Error::from)?;
        writeln!(out)?;
    } else {
        write!(out, "{}", answer.for_people())?;
    }
    Ok(())
}
