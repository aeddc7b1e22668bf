//! Runs a session and writes what it tells: shared by `listen` and `demo`.

use super::Failure;
use crate::aside::{self, Readers};
use crate::listen::{MidiSink, MidiSource};
use crate::plain::harmless;
use crate::session::{
    Click, Command, Keeper, Keys, Outcome, Plan, PlayerPlan, Session, Stage, Told, View, end_on_signal,
};
use crate::show::{Console, Face, Look, Screen, Stream, Who, Window, summary_csv, summary_json};
use crate::theory::{Key, Letter, Rank, changed_notes};
use crossbeam_channel::{Receiver, Sender, bounded, select, unbounded};
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

/// Sees all that is told, beside the log; says a sentence if it has trouble.
pub(super) type Watch = Box<dyn FnMut(&Told) -> Option<String> + Send>;

/// What surrounds a session.
#[derive(Default)]
pub(super) struct Setting {
    /// How the log is written.
    pub(super) report: Report,
    /// Whether keys and signals steer it.
    pub(super) keys: bool,
    /// Whether it is shown on the full screen.
    pub(super) screen: bool,
    /// What is said before it begins, a sentence each.
    pub(super) opening: Vec<String>,
    /// The name of the book that keeps the takes.
    pub(super) kept_in: Option<String>,
    /// Who else is told.
    pub(super) watch: Option<Watch>,
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
    let (views, seen) = bounded(COMMANDS);
    let has_keys = setting.keys && setting.report == Report::Text;
    let keys = if has_keys { Keys::start(plan.lanes.len(), commands.clone(), views) } else { None };
    if setting.keys && !end_on_signal(commands.clone()) {
        return Err(Failure::Machine("Ctrl-C could not be arranged to end a take".into()));
    }
    // Without keys nobody could say that it is enough.
    let plan = Plan { lingers: keys.is_some() && plan.has_queue(), ..plan.clone() };
    let (tell, told) = unbounded();
    let writer = {
        let heard = Heard { told, seen };
        let (plan, has_keys) = (plan.clone(), keys.is_some());
        std::thread::spawn(move || write(&heard, &commands, plan, setting, has_keys))
    };
    let mut tell_writer = |told: Told| {
        // A writer that is gone has asked for the end already.
        let _ = tell.send(told);
    };
    let stage = Stage { source, commands: &asked, click, thru, keeper, tell: &mut tell_writer };
    let outcomes = Session::open(plan, stage).map(Session::run);
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

/// What the writer hears.
struct Heard {
    told: Receiver<Told>,
    seen: Receiver<View>,
}

impl Heard {
    /// Hands on all that is told and all that concerns the view, until the session is over. `idle`: nothing more is
    /// there now.
    fn each(&self, mut watch: Option<Watch>, mut on: impl FnMut(On) -> io::Result<()>) -> io::Result<()> {
        // Without keys nothing is seen.
        let (never, mut seen) = (crossbeam_channel::never(), &self.seen);
        loop {
            if self.told.is_empty() {
                on(On::Idle)?;
            }
            select! {
                recv(self.told) -> told => {
                    let Ok(told) = told else { return Ok(()) };
                    let trouble = watch.as_mut().and_then(|watch| watch(&told));
                    on(On::Told(&told))?;
                    trouble.map_or(Ok(()), |sentence| on(On::Told(&Told::Trouble(sentence))))?;
                }
                recv(seen) -> view => match view {
                    Ok(view) => on(On::View(view))?,
                    Err(_) => seen = &never,
                }
            }
        }
    }
}

/// One thing for the writer.
enum On<'a> {
    Told(&'a Told),
    View(View),
    Idle,
}

/// Writes what is told until the session is over. If the reader of our output goes away, the session is asked to end.
fn write(heard: &Heard, commands: &Sender<Command>, plan: Plan, setting: Setting, keys: bool) -> io::Result<()> {
    let Setting { report, screen, opening, kept_in, watch, .. } = setting;
    let written = match report {
        Report::Text if screen && keys => on_screen(heard, plan, &opening, kept_in, watch),
        Report::Text => {
            let terminal = io::stdout().is_terminal();
            let look = Look { terminal, keys, ascii: terminal && !speaks_utf8(), kept_in };
            let faces = faces(&plan);
            let mut console = Console::new(anstream::stdout(), look, plan, faces);
            let opening = opening.iter().try_for_each(|sentence| console.line(sentence));
            opening.and_then(|()| {
                heard.each(watch, |on| match on {
                    On::Told(told) => console.tell(told),
                    On::View(View::Chosen(lane)) => console.chosen(lane),
                    On::View(_) | On::Idle => Ok(()),
                })
            })
        }
        Report::Jsonl => {
            // What is said to people must not stand among the lines for programs.
            let opening =
                opening.iter().try_for_each(|sentence| writeln!(io::stderr(), "restward: {}", harmless(sentence)));
            let mut stream = Stream::new(io::stdout(), plan);
            opening.and_then(|()| {
                heard.each(watch, |on| match on {
                    On::Told(told) => stream.tell(told),
                    On::View(_) | On::Idle => Ok(()),
                })
            })
        }
    };
    if written.is_err() {
        let _ = commands.try_send(Command::Quit);
    }
    written
}

/// The full screen while the session runs; then the log, whole, where a terminal keeps it.
fn on_screen(
    heard: &Heard,
    plan: Plan,
    opening: &[String],
    kept_in: Option<String>,
    watch: Option<Watch>,
) -> io::Result<()> {
    let ascii = !speaks_utf8();
    let faces = faces(&plan);
    let mut screen = Screen::new(plan, faces, kept_in, ascii);
    let shown = Window::open(io::stdout()).and_then(|mut window| {
        opening.iter().try_for_each(|sentence| screen.line(sentence))?;
        heard.each(watch, |on| match on {
            On::Told(told) => screen.tell(told),
            On::View(view) => {
                if view == View::Resized {
                    window.clear();
                }
                screen.look(view);
                window.show(&mut screen)
            }
            On::Idle => window.show(&mut screen),
        })
    });
    let log = screen.log();
    let mut out = io::stdout().lock();
    let written = log.iter().try_for_each(|line| write!(out, "{line}\r\n")).and_then(|()| out.flush());
    shown.and(written)
}

/// Whether the terminal is said to read UTF-8: POSIX, 8.2, `LC_ALL` before `LC_CTYPE` before `LANG`.
fn speaks_utf8() -> bool {
    let set = ["LC_ALL", "LC_CTYPE", "LANG"].map(|name| std::env::var(name).unwrap_or_default());
    let locale = set.into_iter().find(|value| !value.is_empty()).unwrap_or_default().to_lowercase();
    cfg!(windows) || locale.contains("utf-8") || locale.contains("utf8")
}

fn faces(plan: &Plan) -> Vec<Face> {
    let faces = plan.players.iter().map(|player| Face {
        player: player.player.clone(),
        instrument: player.instrument.as_ref().map(|instrument| instrument.name.clone()),
        changed: changed(&plan.family, player),
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
        .players
        .iter()
        .map(|player| Who {
            player: player.player.clone(),
            instrument: player.instrument.as_ref().map(|instrument| instrument.id.clone()),
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
    aside::write(path, &content, Readers::Owner).map_err(|error| machine(&error))
}

/// Lines after the log.
pub(super) fn print(lines: &[&str]) -> io::Result<()> {
    let mut out = anstream::stdout().lock();
    lines.iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// The changed notes of a player's written key: its letters as the key has them, the most changed first.
pub(super) fn changed(family: &[Key], player: &PlayerPlan) -> Vec<(Letter, i8)> {
    let transposition = player.part.transposition.unwrap_or_default();
    let family: Vec<Key> = family.iter().map(|&key| transposition.key_to_written(key)).collect();
    let Some(key) = player.part.measures.first().map(|measure| measure.key) else { return Vec::new() };
    let ranked = changed_notes(key, &family).into_iter().filter(|changed| changed.rank != Rank::Other);
    ranked.map(|changed| (changed.letter, key.alter(changed.letter))).collect()
}
