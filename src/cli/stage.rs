//! Runs a session and writes what it tells: shared by `listen` and `demo`.

use super::Failure;
use crate::listen::{MidiSink, MidiSource};
use crate::plain::harmless;
use crate::session::{
    Click, Command, Keeper, Keys, LanePlan, Outcome, Plan, Session, Stage, Told, end_on_signal, write_private,
};
use crate::show::{Console, Face, Look, Stream, Who, summary_csv, summary_json};
use crate::theory::{Key, Letter, Rank, changed_notes};
use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub(super) enum Report {
    /// Lines for people.
    #[default]
    Text,
    /// One JSON object a line, as it is decided.
    Jsonl,
}

/// What surrounds a session.
pub(super) struct Setting {
    /// How the log is written.
    pub(super) report: Report,
    /// Whether keys and signals steer it.
    pub(super) keys: bool,
    /// What is said before it begins, a sentence each.
    pub(super) opening: Vec<String>,
}

/// Commands that may wait.
const COMMANDS: usize = 16;

/// Runs the session on this thread and the writer on another; returns the takes that were kept.
pub(super) fn run(
    plan: &Plan,
    source: &mut dyn MidiSource,
    click: &mut dyn Click,
    thru: Option<Box<dyn MidiSink>>,
    keeper: Option<Box<dyn Keeper>>,
    setting: Setting,
) -> Result<Vec<Arc<Outcome>>, Failure> {
    let (commands, asked) = bounded(COMMANDS);
    let keys = if setting.keys && setting.report == Report::Text { Keys::start(commands.clone()) } else { None };
    if setting.keys && !end_on_signal(commands.clone()) {
        return Err(Failure::Machine("Ctrl-C could not be arranged to end a take".into()));
    }
    let (tell, told) = unbounded();
    let writer = {
        let (plan, has_keys) = (plan.clone(), keys.is_some());
        std::thread::spawn(move || write(&told, &commands, plan, setting, has_keys))
    };
    let mut tell_writer = |told: Told| {
        // A writer that is gone has asked for the end already.
        let _ = tell.send(told);
    };
    let stage = Stage { source, commands: &asked, click, thru, keeper, tell: &mut tell_writer };
    let outcomes = Session::open(plan.clone(), stage).map(Session::run);
    drop(tell);
    let written = writer.join().map_err(|_| Failure::Machine("the writer of the log stopped".into()))?;
    drop(keys);
    let outcomes = outcomes?;
    written?;
    if outcomes.iter().any(|outcome| outcome.played && !outcome.is_kept) {
        return Err(Failure::Machine("not all takes could be saved: see above".into()));
    }
    Ok(outcomes)
}

/// Writes what is told until the session is over. If the reader of our output goes away, the session is asked to end.
fn write(
    told: &Receiver<Told>,
    commands: &Sender<Command>,
    plan: Plan,
    setting: Setting,
    keys: bool,
) -> io::Result<()> {
    let written = match setting.report {
        Report::Text => {
            let look = Look { terminal: io::stdout().is_terminal(), keys };
            let faces = faces(&plan);
            let mut console = Console::new(anstream::stdout(), look, plan, faces);
            let opening = setting.opening.iter().try_for_each(|sentence| console.line(sentence));
            opening.and_then(|()| told.iter().try_for_each(|told| console.tell(&told)))
        }
        Report::Jsonl => {
            // What is said to people must not stand among the lines for programs.
            setting
                .opening
                .iter()
                .try_for_each(|sentence| writeln!(io::stderr(), "restward: {}", harmless(sentence)))?;
            let players = plan.lanes.iter().map(|lane| lane.player.clone()).collect();
            let mut stream = Stream::new(io::stdout(), players);
            told.iter().try_for_each(|told| stream.tell(&told))
        }
    };
    if written.is_err() {
        let _ = commands.try_send(Command::Quit);
    }
    written
}

fn faces(plan: &Plan) -> Vec<Face> {
    let faces = plan.lanes.iter().map(|lane| Face {
        player: lane.player.clone(),
        instrument: lane.instrument.as_ref().map(|instrument| instrument.name.clone()),
        changed: changed(&plan.family, lane),
    });
    faces.collect()
}

/// Where the summary goes: the ending of the name says how it is written.
pub(super) fn summary_file(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    match ending(&path).as_deref() {
        Some("csv" | "json") => Ok(path),
        _ => Err("name a file that ends in .csv or .json".into()),
    }
}

fn ending(path: &Path) -> Option<String> {
    Some(path.extension()?.to_str()?.to_lowercase())
}

/// Writes the closing summary.
pub(super) fn write_summary(path: &Path, plan: &Plan, outcomes: &[Arc<Outcome>]) -> Result<(), Failure> {
    let who: Vec<Who> = plan
        .lanes
        .iter()
        .map(|lane| Who {
            player: lane.player.clone(),
            instrument: lane.instrument.as_ref().map(|instrument| instrument.id.clone()),
        })
        .collect();
    let machine = |error: &dyn std::fmt::Display| {
        Failure::Machine(format!("{}: the summary could not be written: {error}", path.display()))
    };
    let content = if ending(path).as_deref() == Some("json") {
        summary_json(&plan.exercise, &who, outcomes).map_err(|error| machine(&error))?
    } else {
        summary_csv(&plan.exercise, &who, outcomes).map_err(|error| machine(&error))?
    };
    write_private(path, &content).map_err(|error| machine(&error))
}

/// Lines after the log.
pub(super) fn print(lines: &[&str]) -> io::Result<()> {
    let mut out = anstream::stdout().lock();
    lines.iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// The changed notes of a lane's written key: its letters as the key has them, the most changed first.
pub(super) fn changed(family: &[Key], lane: &LanePlan) -> Vec<(Letter, i8)> {
    let transposition = lane.part.transposition.unwrap_or_default();
    let family: Vec<Key> = family.iter().map(|&key| transposition.key_to_written(key)).collect();
    let Some(key) = lane.part.measures.first().map(|measure| measure.key) else { return Vec::new() };
    let ranked = changed_notes(key, &family).into_iter().filter(|changed| changed.rank != Rank::Other);
    ranked.map(|changed| (changed.letter, key.alter(changed.letter))).collect()
}
