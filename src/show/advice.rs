//! The one thing to work on next, in a sentence for the player.

use super::phrases::and;
use crate::judge::{Flag, FlagKind, Report};
use crate::theory::Rank;

/// How much a kind of fault weighs against others: the two faults that eat rehearsal time count double (ours,
/// no source).
fn weight(flag: &Flag) -> usize {
    match flag.kind {
        FlagKind::WrongAccidental if is_changed(flag) => 2,
        FlagKind::EarlyRelease => 2,
        _ => 1,
    }
}

fn is_changed(flag: &Flag) -> bool {
    matches!(flag.changed_note, Some(Rank::Primary | Rank::Secondary))
}

/// What a flag asks the player to practise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Task {
    ChangedNote,
    Hold,
    Accidental,
    Pitch,
    Partial,
    Octave,
    PlayAll,
    FullValue,
    LetGo,
    WithTheBeat,
}

fn task(flag: &Flag) -> Task {
    match flag.kind {
        FlagKind::WrongAccidental if is_changed(flag) => Task::ChangedNote,
        FlagKind::WrongAccidental => Task::Accidental,
        FlagKind::WrongOctave => Task::Octave,
        FlagKind::WrongPartial => Task::Partial,
        FlagKind::WrongNote => Task::Pitch,
        FlagKind::MissedNote => Task::PlayAll,
        FlagKind::EarlyRelease => Task::Hold,
        FlagKind::LateRelease => Task::LetGo,
        FlagKind::CutShort => Task::FullValue,
        FlagKind::EarlyEntrance | FlagKind::LateEntrance => Task::WithTheBeat,
    }
}

/// In the order in which they come first where they weigh the same.
const TASKS: [Task; 10] = [
    Task::ChangedNote,
    Task::Hold,
    Task::Accidental,
    Task::Pitch,
    Task::Partial,
    Task::Octave,
    Task::PlayAll,
    Task::FullValue,
    Task::LetGo,
    Task::WithTheBeat,
];

/// The one thing to work on.
pub(super) struct Next<'a> {
    pub(super) task: Task,
    /// The flags that ask for it, in the order of their notes.
    pub(super) flags: Vec<&'a Flag>,
}

/// What weighs most among the flags of a take; `None` where nothing is to be mended.
pub(super) fn next<'a>(flags: impl Iterator<Item = &'a Flag> + Clone) -> Option<Next<'a>> {
    let total = |wanted: Task| flags.clone().filter(|flag| task(flag) == wanted).map(weight).sum::<usize>();
    let heaviest = TASKS.iter().map(|&task| total(task)).max().filter(|&heaviest| heaviest > 0)?;
    let next = TASKS.into_iter().find(|&task| total(task) == heaviest)?;
    Some(Next { task: next, flags: flags.filter(|flag| task(flag) == next).collect() })
}

impl Next<'_> {
    /// It in words for the player, with the measures.
    pub(super) fn sentence(&self) -> String {
        let places = measures(&self.flags);
        let names = letters(&self.flags);
        match self.task {
            Task::ChangedNote => format!("Say and finger {names} before you play: it was missed in {places}."),
            Task::Hold => format!("Hold the note before the rest until the rest begins: {places}."),
            Task::Accidental => format!("Look at the sharps, flats and naturals again: {places}."),
            Task::Pitch => format!("Play slowly and say the note names first: {places}."),
            Task::Partial => format!("Same fingering, other note: sing the note first, then play it: {places}."),
            Task::Octave => format!("Right note, wrong octave: {places}."),
            Task::PlayAll => format!("Keep going, every note counts: some were left out in {places}."),
            Task::FullValue => format!("Give each note its full value: {places}."),
            Task::LetGo => format!("Let go when the rest begins: {places}."),
            Task::WithTheBeat => format!("Tap your foot and come in with the beat: {places}."),
        }
    }
}

/// Said of a take in which nothing is to be mended.
pub(super) const NOTHING_TO_MEND: &str =
    "Nothing to mend in this take. Try it once more with your eyes closed, or a little faster.";

/// The sentence. `played` is false for a take without any note.
pub fn advice(report: &Report, played: bool) -> String {
    if !played {
        return "Nothing was heard: look at the cable and the port, then play again.".into();
    }
    if !report.totals.fits {
        return "Look at the title and the part, then play again.".into();
    }
    next(report.flags.iter()).map_or_else(|| NOTHING_TO_MEND.into(), |next| next.sentence())
}

/// `measures 4, 6 and 8`, at most four of them.
pub(super) fn measures(flags: &[&Flag]) -> String {
    const MOST: usize = 4;
    let mut labels: Vec<String> = Vec::new();
    for flag in flags {
        if !labels.contains(&flag.measure) {
            labels.push(flag.measure.clone());
        }
    }
    let more = labels.len() > MOST;
    labels.truncate(MOST);
    match (labels.len(), more) {
        (1, _) => format!("measure {}", labels.concat()),
        (_, true) => format!("measures {} and more", labels.join(", ")),
        _ => format!("measures {}", and(&labels)),
    }
}

/// The written letters, each once, without their octave: `F♯ and C♯`.
pub(super) fn letters(flags: &[&Flag]) -> String {
    let mut names: Vec<String> = Vec::new();
    for flag in flags {
        let name = super::phrases::without_octave(&flag.written);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    and(&names)
}
