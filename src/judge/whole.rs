//! The reading of a whole take: every note's fate, every finding, the totals.

use super::findings::{Amount, Finding, Scene, Sounded, Verdict};
use super::fit::Fit;
use super::{Count, Extra, Flag, FlagKind, NoteResult, Restart, Settings, Totals};
use super::{cut_short, entrance, pitch, release, words};
use crate::exercise::{Note, Part};
use crate::follow::{Heard, Line, Passes, Place};
use crate::theory::{Changed, Key, Rank, changed_notes};
use std::collections::BTreeMap;

/// What was found in a take.
pub(super) struct Reading {
    pub(super) notes: Vec<NoteResult>,
    pub(super) flags: Vec<Flag>,
    pub(super) close: Vec<Flag>,
    pub(super) extra: Vec<Extra>,
    pub(super) restarts: Vec<Restart>,
    pub(super) totals: Totals,
    pub(super) fit: Fit,
    /// What is said once of passages played a measure or more ahead of the click or behind it.
    pub(super) displaced: Option<String>,
    /// What is said once of a take that sounds the same interval off all through.
    pub(super) moved: Option<String>,
}

/// So many played notes, and this share of them, the same interval off: it is the controller, not the player. Common practice,
/// no source.
const MOVED: (usize, f64) = (6, 0.8);

/// How long before a note its grace notes may come, in seconds. Common practice, no source.
const GRACE_BEFORE: f64 = 0.8;
/// How far apart the notes of one chord may be struck, in seconds.
const CHORD_SPREAD: f64 = 0.08;

/// Judges a take whose every played note has its place. `ended` is the end of the take in seconds.
pub(super) fn read(
    part: &Part,
    settings: &Settings,
    line: &Line,
    heard: &[Heard],
    places: &[Place],
    ended: f64,
) -> Reading {
    let passes = Passes::new(places, part.notes.len());
    let onsets: Vec<Option<f64>> = passes.played.iter().map(|played| played.map(|played| heard[played].at)).collect();
    let scene = Scene::new(part, settings, &onsets);
    let ranks = Ranks::new(part, settings);

    let mut reading = Reading {
        notes: Vec::with_capacity(part.notes.len()),
        flags: Vec::new(),
        close: Vec::new(),
        extra: extras(line, heard, places, &passes, ended),
        restarts: passes.restarts().map(|(from_index, to_index)| Restart { from_index, to_index }).collect(),
        totals: Totals { notes: part.notes.len(), ..Totals::default() },
        fit: Fit::default(),
        displaced: None,
        moved: None,
    };
    reading.fit = fit(line, heard, places, &passes, reading.extra.len());
    reading.totals.fits = reading.fit.fits();
    reading.totals.extra = reading.extra.len();
    reading.totals.restarts = reading.restarts.len();

    for (index, note) in part.notes.iter().enumerate() {
        let sounded = passes.played[index].map(|played| {
            let held_by = passes.held_by[index].unwrap_or(played);
            let sounded = Sounded::new(line, heard, index, played, held_by);
            Sounded { release: sounded.release.or(Some(ended)), ..sounded }
        });
        let rank = ranks.of(note);
        let judged = match &sounded {
            None => Judged::missed(index),
            Some(sounded) => judge_note(&scene, sounded, &mut reading.totals),
        };
        let Judged { findings, close, .. } = &judged;
        count_pitches(&mut reading.totals, findings, sounded.is_some(), rank);
        for finding in findings {
            *reading.totals.flags.entry(finding.kind).or_default() += 1;
            reading.flags.push(words::flag(&scene, finding, rank));
        }
        reading.close.extend(close.iter().map(|finding| words::flag(&scene, finding, rank)));
        reading.notes.push(result(&scene, note, sounded.as_ref(), rank, &judged));
    }
    reading.totals.close = reading.close.len();
    reading.displaced = displaced(&scene, &onsets);
    reading.moved = moved(&reading.notes);
    if reading.totals.fits { reading } else { reading.of_something_else() }
}

impl Reading {
    /// A take of another exercise: where its notes were placed is kept, no more is made of it.
    fn of_something_else(mut self) -> Reading {
        self.flags.clear();
        self.close.clear();
        self.extra.clear();
        self.restarts.clear();
        for note in &mut self.notes {
            note.flags.clear();
            note.close.clear();
        }
        self.totals = Totals { notes: self.totals.notes, fits: false, ..Totals::default() };
        self
    }
}

/// Says if nearly all notes sound the same interval off, which no player does by wrong fingerings.
fn moved(notes: &[NoteResult]) -> Option<String> {
    let (least, share) = MOVED;
    let mut counts: BTreeMap<i16, usize> = BTreeMap::new();
    for (note, played) in notes.iter().filter_map(|note| Some((note, note.played_midi?))) {
        *counts.entry(i16::from(played) - i16::from(note.expected_midi)).or_default() += 1;
    }
    let played: usize = counts.values().sum();
    let (off, count) = counts.into_iter().filter(|(off, _)| off % 12 != 0).max_by_key(|(_, count)| *count)?;
    let is_moved = count >= least && count as f64 >= share * played as f64;
    let interval = match off.unsigned_abs() {
        1 => "half a tone".to_owned(),
        2 => "a whole tone".to_owned(),
        half_tones => format!("{half_tones} half tones"),
    };
    let side = if off > 0 { "too high" } else { "too low" };
    is_moved.then(|| {
        format!(
            "nearly every note sounds {interval} {side}: is the controller set to another instrument or key, or does \
             --sends say what it does not do?"
        )
    })
}

/// Says where the player was somewhere else than the click.
fn displaced(scene: &Scene, onsets: &[Option<f64>]) -> Option<String> {
    let moved = |&index: &usize| onsets[index].is_some_and(|onset| scene.frame.displaced(index, onset) != 0.0);
    let second = (0..onsets.len()).find(moved)?;
    let last = (second..onsets.len()).take_while(moved).last()?;
    // The first note of the passage is the one before: it is flagged.
    let first = scene.part.measure_of(scene.note(second - 1))?;
    let seconds = scene.frame.displaced(second, onsets[second]?);
    let beats = (seconds / scene.frame.beat(second)?).abs().round();
    let per_measure = first.duration.in_beats(first.meter.beat()).to_f64();
    let measures = beats / per_measure;
    let so_much = match (measures.fract() == 0.0, measures as usize) {
        (true, 1) => "a measure".to_owned(),
        (true, measures) => format!("{measures} measures"),
        _ => format!("{beats} beats"),
    };
    let side = if seconds < 0.0 { "ahead of" } else { "behind" };
    let label = &scene.part.measure_of(scene.note(last))?.label;
    Some(format!("measures {} to {label} were played {so_much} {side} the click (flagged once)", first.label))
}

/// How well what was heard belongs to the line; of the notes without a place `extra` belong nowhere.
fn fit(line: &Line, heard: &[Heard], places: &[Place], passes: &Passes, extra: usize) -> Fit {
    let mut fit = Fit { heard: extra, ..Fit::default() };
    let mut played = vec![false; line.notes.len()];
    for (index, &place) in places.iter().enumerate() {
        if let Place::Note(note) = place {
            let note = note as usize;
            fit.heard += 1;
            fit.right += usize::from(Sounded::new(line, heard, note, index, index).off_pitch == 0);
            played[note] = true;
        }
    }
    let first = passes.passes.iter().map(|pass| pass.first).min();
    let last = passes.passes.iter().map(|pass| pass.last).max();
    if let Some((first, last)) = first.zip(last) {
        fit.span = last + 1 - first;
        fit.left_out = played[first..=last].iter().filter(|played| !**played).count();
    }
    fit
}

/// What the rules say of one note.
struct Judged {
    /// Beyond doubt.
    findings: Vec<Finding>,
    /// Too close to call.
    close: Vec<Finding>,
    release_judged: bool,
}

impl Judged {
    fn missed(note: usize) -> Judged {
        let finding = Finding { note, kind: FlagKind::MissedNote, amount: Amount::Silent };
        Judged { findings: vec![finding], close: Vec::new(), release_judged: false }
    }
}

/// Judges a note that was played, and counts what was judged.
fn judge_note(scene: &Scene, sounded: &Sounded, totals: &mut Totals) -> Judged {
    let end = sounded.release.unwrap_or(sounded.onset);
    let entrance = entrance::judge(scene, sounded);
    count(&mut totals.entrances, entrance);
    let release = release::judge(scene, sounded, end, 0.0);
    count(&mut totals.full_releases, release);
    let timing = [entrance, release, cut_short::judge(scene, sounded, end)];
    let pitch = pitch::judge(scene, sounded).into_iter();
    Judged {
        findings: pitch.chain(timing.into_iter().filter_map(Verdict::fault)).collect(),
        close: timing.into_iter().filter_map(Verdict::close).collect(),
        release_judged: counts(release),
    }
}

/// What is too close counts neither way.
fn counts(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Good | Verdict::Fault(_))
}

fn count(count: &mut Count, verdict: Verdict) {
    count.of += usize::from(counts(verdict));
    count.good += usize::from(verdict == Verdict::Good);
}

fn count_pitches(totals: &mut Totals, findings: &[Finding], played: bool, rank: Option<Rank>) {
    let wrong = findings.iter().any(|finding| matches!(finding.amount, Amount::Pitch(_)));
    let right = played && !wrong;
    totals.right_pitches.of += 1;
    totals.right_pitches.good += usize::from(right);
    if played && matches!(rank, Some(Rank::Primary | Rank::Secondary)) {
        totals.changed_notes.of += 1;
        totals.changed_notes.good += usize::from(right);
    }
}

fn result(scene: &Scene, note: &Note, sounded: Option<&Sounded>, rank: Option<Rank>, judged: &Judged) -> NoteResult {
    let held = sounded.and_then(|sounded| Some(sounded.release? - sounded.onset));
    let beat = scene.frame.beat(note.index);
    NoteResult {
        index: note.index,
        measure: scene.part.measure_of(note).map(|measure| measure.label.clone()).unwrap_or_default(),
        beat: words::rounded(scene.part.beat_of(note).to_f64(), 1000.0),
        written: note.written.ascii(),
        expected_midi: note.sounding,
        played_midi: sounded.map(|sounded| (i16::from(note.sounding) + sounded.off_pitch).clamp(0, 127) as u8),
        onset_s: sounded.map(|sounded| sounded.onset),
        release_s: sounded.and_then(|sounded| sounded.release),
        held_beats: held.zip(beat).map(|(held, beat)| words::rounded(held / beat, 1000.0)),
        value_beats: words::rounded(note.duration.in_beats(scene.part.beat_unit(note)).to_f64(), 1000.0),
        changed_note: rank,
        release_judged: judged.release_judged,
        flags: judged.findings.iter().map(|finding| finding.kind).collect(),
        close: judged.close.iter().map(|finding| finding.kind).collect(),
    }
}

/// What belongs to no note, grace notes and the other notes of a chord left out.
fn extras(line: &Line, heard: &[Heard], places: &[Place], passes: &Passes, ended: f64) -> Vec<Extra> {
    let note_at = |mut played: std::ops::Range<usize>, back: bool| {
        let found = |&at: &usize| matches!(places[at], Place::Note(_));
        if back { played.rfind(found) } else { played.find(found) }
    };
    let belongs = |played: usize| {
        let (midi, at) = (i16::from(heard[played].midi), heard[played].at);
        let next = note_at(played + 1..places.len(), false);
        let last = note_at(0..played, true);
        let note = |at: usize| match places[at] {
            Place::Note(note) => line.notes.get(note as usize),
            _ => None,
        };
        next.and_then(|next| note(next).map(|note| (note, heard[next].at - at))).is_some_and(|(note, before)| {
            (before < GRACE_BEFORE && note.graces.contains(&midi))
                || (before < CHORD_SPREAD && (note.chord.contains(&midi) || note.midi == midi))
        }) || last
            .and_then(|last| note(last).map(|note| (note, at - heard[last].at)))
            .is_some_and(|(note, after)| after < CHORD_SPREAD && (note.chord.contains(&midi) || note.midi == midi))
    };
    let real = passes.extra.iter().copied().filter(|&played| !belongs(played));
    real.map(|played| Extra {
        onset_s: heard[played].at,
        release_s: heard[played].released.unwrap_or(ended),
        midi: heard[played].midi,
    })
    .collect()
}

/// The ranks of changed notes in the written keys of a part.
pub(super) struct Ranks {
    /// By written key as it occurs in the part.
    keys: Vec<(Key, Vec<Changed>)>,
}

impl Ranks {
    pub(super) fn new(part: &Part, settings: &Settings) -> Ranks {
        let transposition = part.transposition.unwrap_or_default();
        let family: Vec<_> = settings.family.iter().map(|&key| transposition.key_to_written(key)).collect();
        let mut keys: Vec<(Key, Vec<Changed>)> = Vec::new();
        for note in &part.notes {
            if keys.iter().all(|(key, _)| *key != note.key) {
                keys.push((note.key, changed_notes(note.key, &family)));
            }
        }
        Ranks { keys }
    }

    /// The rank of a note whose accidental is the key signature's.
    pub(super) fn of(&self, note: &Note) -> Option<Rank> {
        if note.written.alter != note.key.alter(note.written.letter) {
            return None;
        }
        let (_, changed) = self.keys.iter().find(|(key, _)| *key == note.key)?;
        changed.iter().find(|changed| changed.letter == note.written.letter).map(|changed| changed.rank)
    }
}
