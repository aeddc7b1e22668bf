//! `restward check`: a take file judged against its exercise.

use super::{Failure, Outcome, delay, lanes};
use crate::exercise::Micros;
use crate::judge::{Engine, Grid, Level, Sends, Settings};
use crate::listen::take::{self, Take};
use crate::read::{self, Choice};
use crate::{show, theory};
use clap::ValueEnum;
use std::io::{self, Write};
use std::path::PathBuf;
use std::sync::Arc;

/// Judges a take file against its exercise.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  restward check lesson12.musicxml maya.mid --level first-year
  restward check lesson12.musicxml maya.mid --part \"Alto Saxophone\" --report json
  restward check lesson12.musicxml maya.mid --click off --report jsonl")]
pub(super) struct Arguments {
    /// The exercise: MusicXML, .mxl, ABC or a Standard MIDI File.
    exercise: PathBuf,
    /// The take: a Standard MIDI File.
    take: PathBuf,
    /// The part that was played: its name or id in the file.
    #[arg(long)]
    part: Option<String>,
    /// The tune of an ABC tunebook: its number or title.
    #[arg(long)]
    tune: Option<String>,
    /// The player's instrument, where the part's name does not say it.
    #[arg(long, value_name = "ID")]
    instrument: Option<String>,
    /// Which pitch the controller sends.
    #[arg(long, value_enum, default_value_t)]
    sends: Sends,
    /// How strict to be.
    #[arg(long, value_enum, default_value_t)]
    level: Level,
    /// Whether the take was played to a click (auto: if it has the exercise-start marker).
    #[arg(long, value_enum, default_value_t)]
    click: Click,
    /// Milliseconds by which notes come later than the click, as measured by restward latency [default: what the take
    /// keeps, else what its entrances show]
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = delay::milliseconds)]
    delay_ms: Option<Micros>,
    /// For people, or for programs: one object, or one object a line as decided.
    #[arg(long, value_enum, default_value_t)]
    report: Form,
}

#[derive(Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum Click {
    #[default]
    Auto,
    On,
    Off,
}

#[derive(Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum Form {
    #[default]
    Text,
    Json,
    Jsonl,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let read = |choice: &Choice| {
        let choice = Choice { tune: arguments.tune.clone(), ..choice.clone() };
        read::read_file(&arguments.exercise, &choice).map_err(Failure::input)
    };
    let found = lanes::player_part(read, arguments.part.as_deref(), arguments.instrument.as_deref())?;
    let take = take::read_file(&arguments.take).map_err(Failure::input)?;
    let lanes::Found { exercise, instrument } = found;
    let part = Arc::new(exercise.part);
    let settings = Settings {
        level: arguments.level,
        sends: arguments.sends,
        grid: grid(&arguments, &take)?,
        delay: arguments.delay_ms.or(take.delay),
        instrument,
        family: theory::default_family(),
        stamp_error: Settings::stamp_error(take.resolution),
    };

    let mut engine = Engine::new(Arc::clone(&part), settings.clone());
    let mut out = io::stdout().lock();
    let tell = |decisions: Vec<_>, out: &mut io::StdoutLock| -> io::Result<()> {
        for decision in decisions.iter().filter(|_| arguments.report == Form::Jsonl) {
            serde_json::to_writer(&mut *out, decision)?;
            out.write_all(b"\n")?;
        }
        Ok(())
    };
    for input in &take.inputs {
        engine.push(input);
        tell(engine.take_decisions(), &mut out)?;
    }
    let (report, decisions) = engine.finish(take.end);
    tell(decisions, &mut out)?;
    match arguments.report {
        Form::Jsonl => {}
        Form::Json => {
            serde_json::to_writer_pretty(&mut out, &report).map_err(io::Error::from)?;
            out.write_all(b"\n")?;
        }
        Form::Text => {
            let title = exercise.title.clone().unwrap_or_else(|| show::file_name(&arguments.exercise));
            let heading = show::report::Heading { title: &title, take: &show::file_name(&arguments.take) };
            show::report::write(&mut out, &heading, &part, &settings, &report)?;
        }
    }
    Ok(())
}

/// The click of a take.
fn grid(arguments: &Arguments, take: &Take) -> Result<Option<Grid>, Failure> {
    match (arguments.click, take.start) {
        (Click::Off, _) | (Click::Auto, None) => Ok(None),
        (_, Some(start)) => Ok(Some(Grid::new(start, take.tempo.clone()))),
        (Click::On, None) => Err(Failure::Input(format!(
            "{}: the take has no `exercise-start` marker, so nothing says where the click begins; \
             leave out --click on, or record it with restward listen",
            arguments.take.display()
        ))),
    }
}
