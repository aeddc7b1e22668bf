//! `restward listen`.

mod asked;
mod seating;

use super::book::{Kept, Opened};
use super::stage::{self, Report, Setting};
use super::{Failure, Outcome, click, delay};
use crate::exercise::{Meter, Micros};
use crate::instrument::catalogue;
use crate::judge::{Level, Sends};
use crate::listen::{MidiSource, PortError, SystemPorts, numbered, open_output};
use crate::read::{Choice, read_file};
use crate::session::{Plan, recover, steady};
use crate::theory::{Key, default_family, parse_family};
use asked::{Asked, Name, Queue};
use seating::{Given, Seating};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Listens to players on MIDI ports and judges them while they play.
///
/// Each player has a MIDI port. Before a take the key and its changed notes are shown; then comes the count-in, or
/// with --no-click the take begins with the first note. A take ends by itself after the last note. With --queue players
/// take turns: after each take the next one is called up.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward listen march.musicxml
  restward listen march.musicxml --player Mia=wind:alto-sax --player Tom=#2:trumpet
  restward listen march.musicxml --no-click --save takes --summary today.csv
  restward listen march.musicxml --book band.db --player Mia=wind:alto-sax
  restward listen march.musicxml --book band.db --queue @flutes --screen
  restward listen march.musicxml --book band.db --queue wind,pad=@clarinets,Tom
  restward listen march.musicxml --queue wind=Mia:flute,Tom:trumpet --takes 2
Keys on a terminal: a again, n next, d discard, r retake, u undo, q quit; in a
queue also x absent, s skip (comes later). With several controllers a digit
before d, r, x or s says which one it is about, as in 2x.

Headphones: low enough to hear a person speak. Shared mouthpieces: clean them
as your school says. What is recorded stays on this computer.")]
pub(super) struct Arguments {
    /// The exercise: MusicXML (.musicxml, .xml, .mxl), ABC or a Standard MIDI File
    exercise: PathBuf,
    /// A player, the MIDI input by part of its name or number, and the instrument
    #[arg(short, long = "player", value_name = "NAME=PORT[:INSTRUMENT]")]
    players: Vec<String>,
    /// Players who take turns on these MIDI inputs (none named: all there are): names, or @ and a section of the book
    #[arg(long = "queue", value_name = "[PORT,..=]NAME,..|@SECTION")]
    queues: Vec<String>,
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
    /// Seconds between a take and the next count-in [default: 4; 10 where a controller goes to the next player]
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pause: Option<f64>,
    /// How strict to be [default: the player's level in the book, else first-year]
    #[arg(long, value_enum)]
    level: Option<Level>,
    /// Which pitch the controllers send
    #[arg(long, value_enum, default_value_t = Sends::Auto)]
    sends: Sends,
    /// Lines for people or for programs
    #[arg(long, value_enum, default_value_t = Report::Text)]
    report: Report,
    /// The concert keys that the band plays [default: F,Bb,Eb,Ab]
    #[arg(long, value_name = "KEYS", value_delimiter = ',')]
    family: Vec<String>,
    /// End after so many takes of each player [default: when q is pressed; in a queue one each]
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
    /// The full screen: names in large letters, what was found, who is next; the log is written when it ends
    #[arg(long, conflicts_with = "report")]
    screen: bool,
    /// Send all that is played on to this MIDI output
    #[arg(long, value_name = "PORT")]
    thru: Option<String>,
}

fn seconds(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| "not a number".to_string())?;
    if (0.0..=600.0).contains(&seconds) { Ok(seconds) } else { Err("between 0 and 600 seconds".into()) }
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let is_instrument = |id: &str| catalogue().get(id).is_ok();
    let mut asked = Vec::new();
    for text in &arguments.players {
        asked.push(asked::asked(text, is_instrument)?);
    }
    let mut queues: Vec<Queue> = Vec::new();
    for text in &arguments.queues {
        queues.push(asked::queue(text, is_instrument)?);
    }
    let nobody = asked.is_empty() && queues.is_empty();
    if arguments.book.is_some() && nobody {
        let sentence =
            "--book keeps takes by the player's name: say who plays, as in --player Mia=#1 or --queue @flutes";
        return Err(Failure::Usage(sentence.into()));
    }
    let family = if arguments.family.is_empty() {
        default_family()
    } else {
        parse_family(&arguments.family).map_err(|error| Failure::input(format!("--family: {error}")))?
    };
    let mut opened = arguments.book.as_deref().map(Opened::open).transpose()?;
    let read = |choice: &Choice| {
        let choice = Choice { tune: arguments.tune.clone(), ..choice.clone() };
        let exercise = read_file(&arguments.exercise, &choice).map_err(Failure::input)?;
        if exercise.part.notes.is_empty() {
            return Err(Failure::Input(format!("{}: the part has no notes to play", arguments.exercise.display())));
        }
        Ok(exercise)
    };
    let given = Given {
        read: &read,
        part: arguments.part.as_deref(),
        instrument: arguments.instrument.as_deref(),
        level: arguments.level,
        sends: arguments.sends,
    };
    let mut seating = Seating::default();
    if nobody {
        asked.push(ONLY_PLAYER);
    }
    for asked in &asked {
        seating.player(&given, asked, opened.as_mut())?;
    }
    let mut ports = None;
    for queue in &queues {
        let mut inputs = || {
            let ports = match &mut ports {
                Some(ports) => ports,
                none => none.insert(SystemPorts::new()?),
            };
            Ok(instruments(&ports.list()?).into_iter().map(|(place, _)| format!("#{}", place + 1)).collect())
        };
        seating.queue(&given, queue, opened.as_mut(), &mut inputs)?;
    }
    let (title, mut opening) = (seating.title.take(), std::mem::take(&mut seating.said));
    opening.dedup();
    let mut ports = match ports {
        Some(ports) => ports,
        None => SystemPorts::new()?,
    };
    if let (true, [lane]) = (nobody, &mut seating.lanes[..]) {
        lane.port = only_port(&ports.list()?)?;
    }
    let thru = arguments.thru.as_deref().map(open_output).transpose()?.map(|(_, sink)| sink);
    let mut click = click::open(if arguments.no_click { "off" } else { &arguments.click })?;
    opening.extend(click.trouble.take());
    let mut plan = plan(&arguments, seating, title.clone().filter(|title| !title.trim().is_empty()), family);
    if plan.click.is_some() {
        opening.extend(delay::give_kept(&mut plan, &ports.list()?, &click.place));
        if arguments.bpm.is_none() && plan.players.iter().any(|player| !player.part.tempo_given) {
            opening.push(
                "The exercise gives no tempo: the click runs at 120 quarters a minute. Choose with --bpm.".into(),
            );
        }
    }
    if let Some(folder) = &plan.save {
        let recovered = recover(folder, UNTOUCHED).map_err(|error| folder_trouble(folder, &error))?;
        opening.extend(
            recovered.iter().map(|take| {
                format!("A take that was cut off is whole again as far as it was played: {}", take.display())
            }),
        );
    }
    opening.extend(CAUTIONS.map(String::from));
    let kept = match opened {
        Some(opened) => Some(opened.keep(&plan, &arguments.exercise, title.as_deref(), &mut opening)?),
        None => None,
    };
    let mut setting =
        Setting { report: arguments.report, keys: true, screen: arguments.screen, opening, ..Setting::default() };
    let mut held = None;
    let keeper = kept.map(|Kept { keeping, listening, mut absences }| {
        setting.kept_in = arguments.book.as_deref().map(crate::show::file_name);
        setting.watch = Some(Box::new(move |told| absences.see(told)));
        held = Some(listening);
        Box::new(keeping) as _
    });
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
const ONLY_PLAYER: Asked = Asked { name: Name { player: "Player", instrument: None }, port: "" };

/// Said once, when listening begins.
const CAUTIONS: [&str; 1] = ["Headphones: low enough to hear a person speak. Shared mouthpieces: clean them as your \
                              school says. What is recorded stays on this computer."];

/// Seconds between a take and the next count-in: enough to breathe, and to hand over a controller and wipe its mouthpiece.
const PAUSES: (f64, f64) = (4.0, 10.0);

fn plan(arguments: &Arguments, seating: Seating, title: Option<String>, family: Vec<Key>) -> Plan {
    let Seating { players, lanes, queues, .. } = seating;
    let first = players.first().map(|player| &player.part);
    let meter = first.and_then(|part| part.measures.first()).map_or(Meter::COMMON, |measure| measure.meter);
    let printed = first.map(|part| part.tempo.clone()).unwrap_or_default();
    let click = match (arguments.no_click, arguments.bpm) {
        (true, _) => None,
        (false, Some(bpm)) => Some(steady(bpm, meter)),
        (false, None) => Some(printed),
    };
    let name = arguments.exercise.file_stem().unwrap_or(arguments.exercise.as_os_str());
    Plan {
        exercise: title.unwrap_or_else(|| name.to_string_lossy().into_owned()),
        players,
        lanes,
        queues,
        click,
        count_in: arguments.count_in,
        takes: arguments.takes.map(|takes| takes as usize),
        pause: Micros::from_seconds(arguments.pause.unwrap_or(PAUSES.0)),
        handover: Micros::from_seconds(arguments.pause.unwrap_or(PAUSES.1)),
        lingers: false,
        family,
        save: arguments.save.clone(),
    }
}

/// The inputs that instruments may be on, with their places. A loop-through port of the system is none.
fn instruments(inputs: &[String]) -> Vec<(usize, &String)> {
    inputs.iter().enumerate().filter(|(_, name)| !name.to_lowercase().starts_with("midi through")).collect()
}

/// The only input there is.
fn only_port(inputs: &[String]) -> Result<String, Failure> {
    match instruments(inputs)[..] {
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

    #[test]
    fn the_only_input_needs_no_name() {
        let names = |names: &[&str]| names.iter().map(|name| name.to_string()).collect::<Vec<_>>();
        assert_eq!(only_port(&names(&["Midi Through Port-0 14:0", "Wind 20:0"])).ok(), Some("#2".into()));
        assert!(matches!(only_port(&names(&["Midi Through Port-0 14:0"])), Err(Failure::Machine(_))));
        let Err(Failure::Usage(message)) = only_port(&names(&["Wind", "Pad"])) else { panic!("usage") };
        assert!(message.contains("#1 Wind, #2 Pad"), "{message}");
    }
}
