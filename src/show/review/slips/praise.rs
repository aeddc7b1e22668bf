//! What went well: true of the take, said without numbers.

use super::flags;
use crate::book::{Attempt, Practised};
use crate::judge::{Count, FlagKind};
use crate::show::advice::Task;
use crate::show::phrases::{and, without_octave};
use crate::show::review::{Reviewed, Shown};

/// So many things are said.
const MOST: usize = 2;
/// Of less than this nothing is said (ours, no source).
const LEAST: usize = 3;

/// What a sentence is about: of each only one is said.
#[derive(Clone, Copy, PartialEq, Eq)]
enum About {
    Changed,
    Releases,
    Pitches,
    Entrances,
    Effort,
}

/// How much of what was met was good.
enum Share {
    All,
    Most,
    Less,
}

/// All; at least four of five; less, or too little to say.
fn share(count: Count) -> Share {
    match count {
        Count { of, .. } if of < LEAST => Share::Less,
        Count { good, of } if good == of => Share::All,
        Count { good, of } if 5 * good >= 4 * of => Share::Most,
        _ => Share::Less,
    }
}

/// A tenth better than before, or more.
fn is_better(now: Count, before: Count) -> bool {
    now.of >= LEAST && before.of >= LEAST && 10 * now.good * before.of >= (10 * before.good + before.of) * now.of
}

/// Two things that went well, the best first; `task` is what is to be done next.
pub(super) fn praise(reviewed: &Reviewed, latest: &Shown, task: Option<Task>) -> Vec<String> {
    let now = &latest.attempt;
    let same = || reviewed.attempts.iter().filter(|it| it.exercise == now.exercise && it.fits);
    let before = same().filter(|it| (it.begun_us, it.take) < (now.begun_us, now.take)).next_back();
    let mut all = whole(reviewed, now);
    all.extend(before.map(|before| better(now, before)).unwrap_or_default());
    all.extend(most(now, task));
    if !flags(latest).any(|flag| flag.kind == FlagKind::MissedNote) {
        all.push((About::Effort, "You played to the very end and left nothing out.".into()));
    }
    if same().count() > 1 {
        all.push((About::Effort, "You played it more than once: that is how it gets better.".into()));
    }
    if now.restarts > 0 {
        all.push((About::Effort, "You went back to a hard place and played it again: that is practising.".into()));
    }
    all.push((About::Effort, "You let us hear you: everything else can be learned.".into()));
    all.push((About::Pitches, "You know now what to look for next.".into()));
    let mut said: Vec<(About, String)> = Vec::new();
    for (about, sentence) in all {
        if said.len() < MOST && !said.iter().any(|(known, _)| *known == about) {
            said.push((about, sentence));
        }
    }
    said.into_iter().map(|(_, sentence)| sentence).collect()
}

/// What was right from beginning to end.
fn whole(reviewed: &Reviewed, now: &Attempt) -> Vec<(About, String)> {
    let mut found = Vec::new();
    if matches!(share(now.changed_notes), Share::All) {
        found.push((About::Changed, format!("Every changed note was there: {}.", changed(reviewed, now))));
    }
    if matches!(share(now.full_releases), Share::All) {
        found.push((About::Releases, "You held every note before a rest until the rest began.".into()));
    }
    if matches!(share(now.right_pitches), Share::All) {
        found.push((About::Pitches, "Every note was the right one.".into()));
    }
    if matches!(share(now.entrances), Share::All) {
        found.push((About::Entrances, "You came in on the beat every time.".into()));
    }
    found
}

/// What is better than in the take before.
fn better(now: &Attempt, before: &Attempt) -> Vec<(About, String)> {
    [
        (
            About::Releases,
            now.full_releases,
            before.full_releases,
            "You held more notes to their full value than the time before.",
        ),
        (
            About::Changed,
            now.changed_notes,
            before.changed_notes,
            "You had more of the changed notes than the time before.",
        ),
        (About::Pitches, now.right_pitches, before.right_pitches, "More notes were right than the time before."),
        (
            About::Entrances,
            now.entrances,
            before.entrances,
            "You came in with the beat more often than the time before.",
        ),
    ]
    .into_iter()
    .filter(|(_, now, before, _)| is_better(*now, *before))
    .map(|(about, .., sentence)| (about, sentence.to_owned()))
    .collect()
}

/// What was mostly right, if it is not what is to be done next.
fn most(now: &Attempt, task: Option<Task>) -> Vec<(About, String)> {
    let is_next = |about| match task {
        Some(Task::ChangedNote) => about == About::Changed,
        Some(Task::Hold | Task::LetGo) => about == About::Releases,
        Some(Task::WithTheBeat) => about == About::Entrances,
        Some(Task::Accidental | Task::Pitch | Task::Partial | Task::Octave | Task::PlayAll) => about == About::Pitches,
        Some(Task::FullValue) | None => false,
    };
    [
        (About::Changed, now.changed_notes, "You had most of the changed notes."),
        (About::Releases, now.full_releases, "Most of your notes before a rest lasted until the rest."),
        (About::Pitches, now.right_pitches, "Nearly all notes were the right ones."),
        (About::Entrances, now.entrances, "You came in with the beat most of the time."),
    ]
    .into_iter()
    .filter(|(about, count, _)| !is_next(*about) && matches!(share(*count), Share::All | Share::Most))
    .map(|(about, _, sentence)| (about, sentence.to_owned()))
    .collect()
}

/// The changed notes of a take by their written names.
fn changed(reviewed: &Reviewed, now: &Attempt) -> String {
    let of_take = reviewed.practice.iter().filter(|practice| practice.take == now.take);
    let names: Vec<String> = of_take
        .filter_map(|practice| match &practice.what {
            Practised::Changed(written) => Some(without_octave(&format!("{written}4"))),
            Practised::Hold(_) => None,
        })
        .collect();
    and(&names)
}
