//! `restward listen`.

use super::book::Opened;
use super::lanes::{lane, player_part};
use super::stage::{self, Report, Setting};
use super::{Failure, Outcome, click, delay};
use crate::exercise::{Meter, Micros};
use crate::instrument::catalogue;
use crate::judge::{Level, Sends};
use crate::listen::{MidiSource, PortError, SystemPorts, numbered, open_output};
use crate::read::{Choice, read_file};
use crate::session::{Keeper, LanePlan, Plan, recover, steady};
use crate::theory::{Key, default_family, parse_family};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Listens to players on MIDI ports and judges them while they play.
///
/// Each player has a MIDI port. Before a take the key and its changed notes are shown; then comes the count-in, or
/// with --no-click the take begins with the first note. A take ends by itself after the last note.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward listen march.musicxml
  restward listen march.musicxml --player Mia=wind:alto-sax --player Tom=#2:trumpet
  restward listen march.musicxml --no-click --save takes --summary today.csv
  restward listen march.musicxml --book band.db --player Mia=wind:alto-sax
Keys on a terminal: a again, n next, d discard, q quit.

Headphones: low enough to hear a person speak. Shared mouthpieces: clean them
as your school says. What is recorded stays on this computer.")]
pub(super) struct Arguments {
    /// The exercise: MusicXML (.musicxml, .xml, .mxl), ABC or a Standard MIDI File
    exercise: PathBuf,
    /// A player, the MIDI input by part of its name or number, and the instrument
    #[arg(short, long = "player", value_name = "NAME=PORT[:INSTRUMENT]")]
    players: Vec<String>,
    /// The part to play, by its name, number or identifier in the file
    #[arg(long, value_name = "PART")]
    part: Option<String>,
    /// The tune of an ABC tunebook, by its number or title
    #[arg(long, value_name = "TUNE")]
    tune: Option<String>,
    /// The instrument of players without one of their own
    #[arg(long, value_name = "ID")]
    instrument: Option<String>,
    /// Beats a minute of the click [default: the tempo of the exercise]
    #[arg(long, value_name = "N", conflicts_with = "no_click", value_parser = click::beats_a_minute)]
    bpm: Option<f64>,
    /// No click: the players' own tempo is followed
    #[arg(long)]
    no_click: bool,
    /// Where the click sounds: speakers, midi:PORT, off
    #[arg(long, value_name = "WHERE", default_value = "speakers", conflicts_with = "no_click")]
    click: String,
    /// Measures of count-in
    #[arg(long, value_name = "MEASURES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=8))]
    count_in: u32,
    /// Seconds between a take and the next count-in
    #[arg(long, value_name = "SECONDS", default_value_t = 4.0, value_parser = seconds)]
    pause: f64,
    /// How strict to be
    #[arg(long, value_enum, default_value_t = Level::FirstYear)]
    level: Level,
    /// Which pitch the controllers send
    #[arg(long, value_enum, default_value_t = Sends::Auto)]
    sends: Sends,
    /// Lines for people or for programs
    #[arg(long, value_enum, default_value_t = Report::Text)]
    report: Report,
    /// The concert keys that the band plays [default: F,Bb,Eb,Ab]
    #[arg(long, value_name = "KEYS", value_delimiter = ',')]
    family: Vec<String>,
    /// End after so many takes [default: when q is pressed]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    takes: Option<u32>,
    /// Save the takes as MIDI files in this folder
    #[arg(long, value_name = "DIR")]
    save: Option<PathBuf>,
    /// Keep the takes in this book, by the players' names; it is begun if there is none
    #[arg(long, value_name = "FILE", conflicts_with = "tune")]
    book: Option<PathBuf>,
    /// Write the closing summary to this file, .csv or .json
    #[arg(long, value_name = "FILE", value_parser = stage::summary_file)]
    summary: Option<PathBuf>,
    /// Send all that is played on to this MIDI output
    #[arg(long, value_name = "PORT")]
    thru: Option<String>,
}

fn seconds(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| "not a number".to_string())?;
    if (0.0..=600.0).contains(&seconds) { Ok(seconds) } else { Err("between 0 and 600 seconds".into()) }
}

/// One player as asked for.
#[derive(Debug, PartialEq)]
struct Asked<'a> {
    player: &'a str,
    port: &'a str,
    instrument: Option<&'a str>,
}

/// `NAME=PORT[:INSTRUMENT]`. A port's name may hold colons: only what is an instrument's id behind the last one is
/// taken for an instrument.
fn asked<'a>(text: &'a str, is_instrument: impl Fn(&str) -> bool) -> Result<Asked<'a>, Failure> {
    let wrong = || Failure::Usage(format!("--player \"{text}\": write NAME=PORT or NAME=PORT:INSTRUMENT"));
    let (player, rest) = text.split_once('=').ok_or_else(wrong)?;
    let (port, instrument) = match rest.rsplit_once(':') {
        Some((port, id)) if is_instrument(id.trim()) => (port, Some(id.trim())),
        _ => (rest, None),
    };
    let (player, port) = (player.trim(), port.trim());
    if player.is_empty() || port.is_empty() { Err(wrong()) } else { Ok(Asked { player, port, instrument }) }
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let is_instrument = |id: &str| catalogue().get(id).is_ok();
    let asked: Result<Vec<Asked>, Failure> = arguments.players.iter().map(|text| asked(text, is_instrument)).collect();
    let asked = asked?;
    if arguments.book.is_some() && asked.is_empty() {
        let sentence = "--book keeps takes by the player's name: say who plays, as in --player Mia=#1";
        return Err(Failure::Usage(sentence.into()));
    }
    let family = if arguments.family.is_empty() {
        default_family()
    } else {
        parse_family(&arguments.family).map_err(|error| Failure::input(format!("--family: {error}")))?
    };
    let mut opening: Vec<String> = Vec::new();
    let mut opened = arguments.book.as_deref().map(Opened::open).transpose()?;
    let mut lanes = Vec::new();
    let mut title = None;
    for Asked { player, port, instrument } in if asked.is_empty() { vec![ONLY_PLAYER] } else { asked } {
        let read = |choice: &Choice| {
            let choice = Choice { tune: arguments.tune.clone(), ..choice.clone() };
            read_file(&arguments.exercise, &choice).map_err(Failure::input)
        };
        let known = opened.as_mut().map(|opened| opened.instrument(player)).transpose()?.flatten();
        let instrument = instrument.or(arguments.instrument.as_deref()).or(known.as_deref());
        let found = player_part(read, arguments.part.as_deref(), instrument)?;
        title = found.exercise.title.clone();
        opening.extend(found.exercise.notices);
        if found.exercise.part.notes.is_empty() {
            return Err(Failure::Input(format!("{}: the part has no notes to play", arguments.exercise.display())));
        }
        lanes.push(lane(player, port, found.exercise.part, found.instrument, arguments.sends));
    }
    opening.dedup();
    let mut ports = SystemPorts::new()?;
    if let (true, [lane]) = (arguments.players.is_empty(), &mut lanes[..]) {
        lane.port = only_port(&ports.list()?)?;
    }
    let thru = arguments.thru.as_deref().map(open_output).transpose()?.map(|(_, sink)| sink);
    let mut click = click::open(if arguments.no_click { "off" } else { &arguments.click })?;
    opening.extend(click.trouble.take());
    if !arguments.no_click {
        opening.extend(delay::give_kept(&mut lanes, &ports.list()?, &click.place));
    }
    if !arguments.no_click && arguments.bpm.is_none() && lanes.iter().any(|lane| !lane.part.tempo_given) {
        opening.push("The exercise gives no tempo: the click runs at 120 quarters a minute. Choose with --bpm.".into());
    }
    let plan = plan(&arguments, lanes, family);
    if let Some(folder) = &plan.save {
        let recovered = recover(folder, UNTOUCHED).map_err(|error| folder_trouble(folder, &error))?;
        opening.extend(
            recovered.iter().map(|take| {
                format!("A take that was cut off is whole again as far as it was played: {}", take.display())
            }),
        );
    }
    opening.extend(CAUTIONS.map(String::from));
    let (keeper, _listening) = match opened {
        Some(opened) => {
            let (keeping, listening) = opened.keep(&plan, &arguments.exercise, title.as_deref(), &mut opening)?;
            (Some(Box::new(keeping) as Box<dyn Keeper>), Some(listening))
        }
        None => (None, None),
    };
    let setting = Setting { report: arguments.report, keys: true, opening };
    let outcomes = stage::run(&plan, &mut ports, click.sound.as_mut(), thru, keeper, setting)?;
    match &arguments.summary {
        Some(file) => stage::write_summary(file, &plan, &outcomes),
        None => Ok(()),
    }
}

/// A journal of a take that nobody has written on for so long was left by a crash: no rest in a young band's part is
/// longer.
const UNTOUCHED: Duration = Duration::from_secs(120);

/// Without --player.
const ONLY_PLAYER: Asked = Asked { player: "Player", port: "", instrument: None };

/// Said once, when listening begins.
const CAUTIONS: [&str; 1] = ["Headphones: low enough to hear a person speak. Shared mouthpieces: clean them as your \
                              school says. What is recorded stays on this computer."];

fn plan(arguments: &Arguments, lanes: Vec<LanePlan>, family: Vec<Key>) -> Plan {
    let first = lanes.first().map(|lane| &lane.part);
    let meter = first.and_then(|part| part.measures.first()).map_or(Meter::COMMON, |measure| measure.meter);
    let printed = first.map(|part| part.tempo.clone()).unwrap_or_default();
    let click = match (arguments.no_click, arguments.bpm) {
        (true, _) => None,
        (false, Some(bpm)) => Some(steady(bpm, meter)),
        (false, None) => Some(printed),
    };
    let name = arguments.exercise.file_stem().unwrap_or(arguments.exercise.as_os_str());
    Plan {
        exercise: name.to_string_lossy().into_owned(),
        lanes,
        click,
        count_in: arguments.count_in,
        takes: arguments.takes.map(|takes| takes as usize),
        pause: Micros::from_seconds(arguments.pause),
        level: arguments.level,
        family,
        save: arguments.save.clone(),
    }
}

/// The only input there is. A loop-through port of the system is no instrument.
fn only_port(inputs: &[String]) -> Result<String, Failure> {
    let instruments: Vec<(usize, &String)> =
        inputs.iter().enumerate().filter(|(_, name)| !name.to_lowercase().starts_with("midi through")).collect();
    match instruments[..] {
        [] => Err(PortError::NoPort("input").into()),
        [(place, _)] => Ok(format!("#{}", place + 1)),
        _ => Err(Failure::Usage(format!(
            "there are several MIDI inputs: {}.\nSay who plays on which, as in: --player Mia=#1",
            numbered(inputs).join(", ")
        ))),
    }
}

fn folder_trouble(folder: &Path, error: &std::io::Error) -> Failure {
    Failure::Machine(format!("{}: takes cannot be saved there: {error}", folder.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Option<(&str, &str, Option<&str>)> {
        let asked = asked(text, |id| id == "flute").ok()?;
        Some((asked.player, asked.port, asked.instrument))
    }

    #[test]
    fn a_colon_in_a_port_is_no_instrument() {
        assert_eq!(parsed("Mia=wind:flute"), Some(("Mia", "wind", Some("flute"))));
        assert_eq!(parsed("Mia=Pad:Pad MIDI 1 24:0"), Some(("Mia", "Pad:Pad MIDI 1 24:0", None)));
        assert_eq!(parsed("Mia = #2:flute"), Some(("Mia", "#2", Some("flute"))));
        assert_eq!(parsed("wind"), None);
        assert_eq!(parsed("=wind"), None);
        assert_eq!(parsed("Mia="), None);
    }

    #[test]
    fn the_only_input_needs_no_name() {
        let names = |names: &[&str]| names.iter().map(|name| name.to_string()).collect::<Vec<_>>();
        assert_eq!(only_port(&names(&["Midi Through Port-0 14:0", "Wind 20:0"])).ok(), Some("#2".into()));
        assert!(matches!(only_port(&names(&["Midi Through Port-0 14:0"])), Err(Failure::Machine(_))));
        let Err(Failure::Usage(message)) = only_port(&names(&["Wind", "Pad"])) else { panic!("usage") };
        assert!(message.contains("#1 Wind, #2 Pad"), "{message}");
    }
}
