//! The drill for the one thing to do: its name for the player, and the command that makes it.

use super::measures;
use crate::book::Attempt;
use crate::exercise::{Part, value_name};
use crate::instrument::catalogue;
use crate::judge::{Flag, FlagKind, Level};
use crate::prepare::count;
use crate::show::advice::{Next, Task, letters};
use crate::theory::{Key, Mode, Pitch, Transposition, changed_notes, default_family};
use clap::ValueEnum;

/// Its name for the player; where none is made for it, what to repeat.
pub(super) fn name(next: &Next<'_>, part: Option<&Part>) -> String {
    match next.task {
        Task::ChangedNote => format!("the drill for {}", letters(&next.flags)),
        Task::Hold | Task::LetGo => match next.flags.iter().find_map(|flag| release(flag, part?)) {
            Some(release) => format!("the hold drill: {release}"),
            None => "the hold drill".into(),
        },
        Task::FullValue => "the hold drill: every note lasts until the next one".into(),
        _ => format!("{}, slowly, four times without stopping; then as fast as it is printed", measures(next)),
    }
}

/// `a dotted half, let go on 4`.
fn release(flag: &Flag, part: &Part) -> Option<String> {
    let note = part.notes.get(flag.index)?;
    let release = count(part).1.into_iter().find(|release| release.note == flag.index)?;
    let on = release.on.map_or_else(|| "held to the very end".into(), |(_, count)| format!("let go on {count}"));
    Some(format!("{}, {on}", value_name(note.duration)))
}

/// The command that makes it, for an instrument that is known.
pub(super) fn command(next: &Next<'_>, part: &Part, attempt: &Attempt) -> Option<String> {
    let instrument = attempt.instrument.as_ref().and_then(|id| catalogue().get(id).ok())?;
    let note = part.notes.get(next.flags.first()?.index)?;
    let own = instrument.transposition;
    let kind = match next.task {
        Task::ChangedNote => format!("changed{}", changed_note(next, note.key, own)),
        Task::Hold | Task::LetGo | Task::FullValue => "hold".into(),
        _ => return None,
    };
    let key = shell(own.key_to_concert(note.key));
    let level = Level::from_str(&attempt.level, false).ok().filter(|level| *level != Level::default());
    let level = level.map_or_else(String::new, |_| format!(" --level {}", attempt.level));
    Some(format!("restward drill --kind {kind} --key {key} --instrument {}{level} -o drill.musicxml", instrument.id))
}

/// The letter, where it is a changed note among the keys that a drill goes by.
fn changed_note(next: &Next<'_>, key: Key, transposition: Transposition) -> String {
    let family: Vec<Key> = default_family().into_iter().map(|key| transposition.key_to_written(key)).collect();
    let written = next.flags.iter().filter(|flag| flag.kind == FlagKind::WrongAccidental);
    let written = written.filter_map(|flag| Pitch::parse(&flag.written));
    let mut known = written.filter(|pitch| changed_notes(key, &family).iter().any(|it| it.letter == pitch.letter));
    known.next().map_or_else(String::new, |pitch| format!(" --changed-note {}", pitch.letter))
}

/// A key as a command line takes it: `Eb`, `"G minor"`.
fn shell(key: Key) -> String {
    let name = key.ascii();
    match key.mode {
        Mode::Major => name.split(' ').next().unwrap_or_default().to_owned(),
        Mode::Minor => format!("\"{name}\""),
    }
}
