//! The drill for the one thing to do: its name for the player, and the command that makes it.

use super::measures;
use crate::book::Attempt;
use crate::exercise::{Part, value_name};
use crate::instrument::{catalogue, unaccented};
use crate::judge::{Flag, FlagKind, Level};
use crate::prepare::count;
use crate::show::advice::{Next, Task};
use crate::theory::{Key, Letter, Mode, Pitch, Transposition, changed_notes, default_family};
use clap::ValueEnum;
use std::collections::HashSet;

/// Its name for the player; where none is made for it, what to repeat.
pub(super) fn name(next: &Next<'_>, part: Option<&Part>) -> String {
    match next.task {
        Task::ChangedNote => format!("the drill for {}", next.note()),
        Task::Hold | Task::LetGo => match next.flags.iter().find_map(|flag| release(flag, part?)) {
            Some(release) => format!("the hold drill, {release}"),
            None => "the hold drill".into(),
        },
        Task::FullValue => "the hold drill, every note lasts until the next one".into(),
        _ => format!("{}, slowly, four times without stopping; then as fast as it is printed", measures(next)),
    }
}

/// `a dotted half, let go on 4`.
fn release(flag: &Flag, part: &Part) -> Option<String> {
    let note = part.notes.get(flag.index)?;
    let release = count(part).1.into_iter().find(|release| release.note == flag.index)?;
    let on = release.on.map_or_else(|| "held to the very end".into(), |(_, count)| format!("let go on {count}"));
    Some(format!("a {} {on}", value_name(note.duration)))
}

/// The command that makes it, for an instrument that is known; no other slip's command writes the same file.
pub(super) fn command(
    next: &Next<'_>,
    part: &Part,
    attempt: &Attempt,
    player: &str,
    files: &mut Files,
) -> Option<String> {
    let instrument = attempt.instrument.as_ref().and_then(|id| catalogue().get(id).ok())?;
    let note = part.notes.get(next.flags.first()?.index)?;
    let own = instrument.transposition;
    let letter = changed_note(next, note.key, own);
    let (kind, about) = match (next.task, letter) {
        (Task::ChangedNote, Some(letter)) => (format!("changed --changed-note {letter}"), letter.to_string()),
        (Task::ChangedNote, None) => ("changed".into(), "changed".into()),
        (Task::Hold | Task::LetGo | Task::FullValue, _) => ("hold".into(), "hold".into()),
        _ => return None,
    };
    let key = shell(own.key_to_concert(note.key));
    let level = Level::from_str(&attempt.level, false).ok().filter(|level| *level != Level::default());
    let level = level.map_or_else(String::new, |_| format!(" --level {}", attempt.level));
    let file = files.name(player, &about);
    Some(format!("restward drill --kind {kind} --key {key} --instrument {}{level} -o {file}", instrument.id))
}

/// The letter, where it is a changed note among the keys that a drill goes by.
fn changed_note(next: &Next<'_>, key: Key, transposition: Transposition) -> Option<Letter> {
    let family: Vec<Key> = default_family().into_iter().map(|key| transposition.key_to_written(key)).collect();
    let written = next.flags.iter().filter(|flag| flag.kind == FlagKind::WrongAccidental);
    let written = written.filter_map(|flag| Pitch::parse(&flag.written));
    let mut known = written.filter(|pitch| changed_notes(key, &family).iter().any(|it| it.letter == pitch.letter));
    known.next().map(|pitch| pitch.letter)
}

/// The names of the files that the commands of the slips write, so that none writes over another one's.
#[derive(Default)]
pub(super) struct Files(HashSet<String>);

impl Files {
    /// `drill-Pip-F.musicxml`: letters and figures that every system and every shell takes as they are.
    fn name(&mut self, player: &str, about: &str) -> String {
        let plain: String =
            player.chars().map(|letter| if letter.is_ascii() { letter } else { unaccented(letter) }).collect();
        let words = plain.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
        let words: Vec<&str> = ["drill"].into_iter().chain(words).chain([about]).collect();
        let stem: String = words.join("-");
        let more = (2..).map(|number: usize| format!("{stem}-{number}"));
        // Some systems take capitals and small letters for the same.
        let free = std::iter::once(stem.clone()).chain(more).find(|name| self.0.insert(name.to_lowercase()));
        format!("{}.musicxml", free.unwrap_or(stem))
    }
}

/// A key as a command line takes it: `Eb`, `"G minor"`.
fn shell(key: Key) -> String {
    let name = key.ascii();
    match key.mode {
        Mode::Major => name.split(' ').next().unwrap_or_default().to_owned(),
        Mode::Minor => format!("\"{name}\""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_has_a_file_of_its_own() {
        let mut files = Files::default();
        for (player, about, expected) in [
            ("Pip", "F", "drill-Pip-F"),
            ("Zoë B.", "hold", "drill-Zoe-B-hold"),
            ("zoe b", "hold", "drill-zoe-b-hold-2"),
            ("../$(x) & \"y\"", "B", "drill-x-y-B"),
            ("\u{674e}", "F", "drill-F"),
            ("\u{738b}", "F", "drill-F-2"),
        ] {
            assert_eq!(files.name(player, about), format!("{expected}.musicxml"));
        }
    }
}
