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
    let flags: Vec<&Flag> = flags.filter(|flag| task(flag) == next).collect();
    Some(Next { task: next, flags: if next == Task::ChangedNote { of_one_note(flags) } else { flags } })
}

/// One thing to do is one note to look after: of several changed notes the one missed most, of equals the first.
fn of_one_note(flags: Vec<&Flag>) -> Vec<&Flag> {
    let mut of_notes: Vec<(String, Vec<&Flag>)> = Vec::new();
    for flag in flags {
        let note = note(flag);
        match of_notes.iter_mut().find(|(known, _)| *known == note) {
            Some((_, flags)) => flags.push(flag),
            None => of_notes.push((note, vec![flag])),
        }
    }
    // Of equals the last would be the largest.
    of_notes.into_iter().rev().max_by_key(|(_, flags)| flags.len()).map_or_else(Vec::new, |(_, flags)| flags)
}

/// The written note of a flag, without its octave: `F♯`.
fn note(flag: &Flag) -> String {
    super::phrases::without_octave(&flag.written)
}

impl Next<'_> {
    /// The written note of the first flag, without its octave; of a changed note all flags have the same.
    pub(super) fn note(&self) -> String {
        self.flags.first().map(|flag| note(flag)).unwrap_or_default()
    }

    /// It in words for the player, with the measures.
    pub(super) fn sentence(&self) -> String {
        let places = measures(&self.flags);
        match self.task {
            Task::ChangedNote => format!("Say and finger {} before you play: it was missed in {places}.", self.note()),
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

#[cfg(test)]
mod tests {
    use super::*;

    fn changed(written: &str, measure: &str) -> Flag {
        Flag {
            index: 0,
            kind: FlagKind::WrongAccidental,
            measure: measure.into(),
            beat: 1.0,
            written: written.into(),
            played: None,
            off_beats: None,
            off_ms: None,
            beats_given: None,
            beats_due: None,
            alteration: None,
            changed_note: Some(Rank::Primary),
            sentence: String::new(),
        }
    }

    #[test]
    fn one_changed_note_is_asked_for_with_its_own_measures() {
        let said = |flags: &[Flag]| next(flags.iter()).map(|next| next.sentence()).unwrap_or_default();
        let flags = [changed("F#5", "3"), changed("Bb4", "6"), changed("Bb5", "7"), changed("F#4", "8")];
        // Of equals the first.
        assert_eq!(said(&flags), "Say and finger F♯ before you play: it was missed in measures 3 and 8.");
        assert_eq!(said(&flags[..3]), "Say and finger B♭ before you play: it was missed in measures 6 and 7.");
    }
}
