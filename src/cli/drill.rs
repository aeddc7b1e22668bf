//! `restward drill`.

use super::{Failure, Outcome, output};
use crate::exercise::Meter;
use crate::instrument::{Instrument, catalogue};
use crate::judge::Level;
use crate::prepare::drill::{Brief, Drill, Kind, compose};
use crate::show;
use crate::theory::{Key, Letter, default_family, parse_family};
use crate::write::{MarkedPart, musicxml};
use clap::ValueEnum;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Makes an exercise on purpose: for the changed note, for full values, for a key that turns into another.
///
/// Written as MusicXML, for any notation program and for check and listen. The same seed gives the same drill; another
/// number gives another one. Notes stay in the range of beginners.
#[derive(clap::Args)]
#[command(
    group = clap::ArgGroup::new("who").required(true),
    override_usage = "restward drill --kind KIND --key KEY --instrument ID [OPTIONS]
       restward drill --kind KIND --key KEY --section ID,ID,.. [OPTIONS]",
    after_help = "Examples:
  restward drill --kind changed --key Eb --instrument alto-sax -o alto.musicxml
  restward drill --kind changed --key Ab --section flute,horn -o tutti.musicxml
  restward drill --kind hold --key Bb --instrument tuba --seed 2 -o hold.xml
  restward drill --kind two-keys --key F --to Eb --instrument horn -o turn.xml
Then:
  restward notes alto.musicxml
  restward write alto.musicxml -o alto.pdf
  restward listen alto.musicxml --player Mia=wind:alto-sax"
)]
pub(super) struct Arguments {
    /// What it is for
    #[arg(long, value_enum)]
    kind: Aim,
    /// The concert key: Bb, "Eb major", "G minor" (a small letter alone is minor: g)
    #[arg(long, value_name = "KEY")]
    key: String,
    /// For two-keys: the concert key that it turns into
    #[arg(long, value_name = "KEY")]
    to: Option<String>,
    /// For changed: another changed note than the first; as the part has it, for a section as concert pitch has it
    #[arg(long, value_name = "LETTER")]
    changed_note: Option<String>,
    /// Who plays it
    #[arg(long, value_name = "ID", group = "who")]
    instrument: Option<String>,
    /// Several who play it in unison and octaves, each from a part of its own; brass, saxophones .. mean all of them
    #[arg(long, value_name = "ID,ID,..", value_delimiter = ',', group = "who")]
    section: Vec<String>,
    /// How hard it may be: first-year, second-year, third-year
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    level: Level,
    /// How long, 4 to 64; all pairs of value and count need 56 [default: 8, for hold 16]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(4..=64))]
    measures: Option<u16>,
    /// 4/4, 3/4, 2/4, 2/2 or 6/8
    #[arg(long, value_name = "METER", default_value = "4/4")]
    meter: String,
    /// Which of the many drills
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// The concert keys that the band plays, with commas between them [default: F,Bb,Eb,Ab]
    #[arg(long, value_name = "KEY,KEY,..", value_delimiter = ',')]
    family: Vec<String>,
    /// The file to write [default: the console]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Aim {
    /// The changed note: by step, by leap, after its other form
    Changed,
    /// Values of 1 to 8 beats, let go on each count
    Hold,
    /// The key turns in the middle
    TwoKeys,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let kind = kind(&arguments)?;
    let key = key("--key", &arguments.key)?;
    let family = if arguments.family.is_empty() {
        default_family()
    } else {
        parse_family(&arguments.family).map_err(|error| Failure::input(format!("--family: {error}")))?
    };
    let instruments = instruments(&arguments)?;
    let meter = Meter::parse(&arguments.meter)
        .ok_or_else(|| Failure::Usage(format!("--meter {}: write 4/4, 3/4, 2/4, 2/2 or 6/8", arguments.meter)))?;
    let measures = arguments.measures.map_or_else(|| kind.usual_measures(), usize::from);
    output::format(None, arguments.output.as_deref(), &[("musicxml", ()), ("xml", ())], ())?;
    let brief = Brief {
        kind,
        key,
        family: &family,
        instruments: &instruments,
        level: arguments.level,
        meter,
        measures,
        seed: arguments.seed,
    };
    match arguments.output.as_deref().filter(|file| *file != Path::new("-")) {
        Some(path) => write(&brief, path),
        None => output::put(None, page(&compose(&brief).map_err(Failure::input)?, &instruments)?.as_bytes()),
    }
}

/// Makes a drill, writes it to a file, and says what it came to.
pub(super) fn write(brief: &Brief<'_>, path: &Path) -> Outcome {
    let drill = compose(brief).map_err(Failure::input)?;
    output::put(Some(path), page(&drill, brief.instruments)?.as_bytes())?;
    tell(path, &drill, brief)
}

/// What the options together ask for.
fn kind(arguments: &Arguments) -> Result<Kind, Failure> {
    match (arguments.kind, &arguments.to, &arguments.changed_note) {
        (Aim::TwoKeys, None, _) => {
            Err(Failure::Usage("--kind two-keys turns into another key: name it with --to, as in --to Eb".into()))
        }
        (Aim::Changed | Aim::Hold, Some(_), _) => {
            Err(Failure::Usage("--to is the second key of --kind two-keys: leave it out, or choose that kind".into()))
        }
        (Aim::TwoKeys | Aim::Hold, _, Some(_)) => {
            Err(Failure::Usage("--changed-note is for --kind changed: leave it out, or choose that kind".into()))
        }
        (Aim::TwoKeys, Some(to), None) => Ok(Kind::TwoKeys(key("--to", to)?)),
        (Aim::Hold, None, None) => Ok(Kind::Hold),
        (Aim::Changed, None, None) => Ok(Kind::Changed(None)),
        (Aim::Changed, None, Some(text)) => {
            let mut letters = text.trim().chars();
            let letter = letters.next().and_then(Letter::from_char).filter(|_| letters.next().is_none());
            let wrong = || Failure::Usage(format!("--changed-note {text}: write its letter, A to G"));
            Ok(Kind::Changed(Some(letter.ok_or_else(wrong)?)))
        }
    }
}

fn key(option: &str, text: &str) -> Result<Key, Failure> {
    Key::parse(text).map_err(|error| Failure::input(format!("{option}: {error}")))
}

/// Whoever is named, each once, in order.
fn instruments(arguments: &Arguments) -> Result<Vec<&'static Instrument>, Failure> {
    let mut instruments: Vec<&Instrument> = Vec::new();
    let mut add = |instrument: &'static Instrument| {
        if !instruments.iter().any(|known| known.id == instrument.id) {
            instruments.push(instrument);
        }
    };
    if let Some(id) = &arguments.instrument {
        add(catalogue().get(id).map_err(Failure::input)?);
    }
    for name in &arguments.section {
        let family = catalogue().family(name);
        match catalogue().get(name) {
            Ok(instrument) => add(instrument),
            Err(_) if !family.is_empty() => family.into_iter().for_each(&mut add),
            Err(error) => {
                let what =
                    "--section takes ids of instruments, or a family as brass or saxophones, not a section of the book";
                return Err(Failure::Input(format!("{error}. {what}")));
            }
        }
    }
    Ok(instruments)
}

fn page(drill: &Drill, instruments: &[&Instrument]) -> Result<String, Failure> {
    let parts = drill.parts.iter().zip(&drill.courtesy).zip(instruments);
    let marked: Vec<MarkedPart<'_>> = parts
        .map(|((part, courtesy), instrument)| MarkedPart {
            instrument: Some(instrument),
            courtesy: courtesy.clone(),
            ..MarkedPart::new(part)
        })
        .collect();
    musicxml(Some(&drill.title), &marked).map_err(Failure::input)
}

/// What it came to, and what to do with it.
fn tell(path: &Path, drill: &Drill, brief: &Brief<'_>) -> Outcome {
    let mut out = std::io::stdout().lock();
    for sentence in show::drill(drill, brief.kind, brief.instruments) {
        for line in show::wrapped(&sentence, 80, "  ") {
            writeln!(out, "{line}")?;
        }
    }
    let path = path.display();
    let player = brief.instruments.first().map_or("", |instrument| instrument.id.as_str());
    writeln!(out, "Written: {path}. Another one: --seed {}.", brief.seed.wrapping_add(1))?;
    writeln!(out, "To play it:  restward listen {path} --player NAME=PORT:{player}")?;
    Ok(())
}
