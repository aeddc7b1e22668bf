//! The judge while the music runs: says a finding as soon as it is certain, and no sooner.
//!
//! A played note is *settled* once no serious rival places it elsewhere, in the order played. Pitch and
//! entrance are judged then; a release once it cannot be a dip of breath, or when its time has passed.

use super::delay::Running;
use super::findings::{Amount, Finding, Scene, Sounded, Verdict};
use super::fit::Fit;
use super::whole::Ranks;
use super::{Decision, FlagKind, Restart, Settings};
use super::{cut_short, entrance, pitch, release, words};
use crate::exercise::{FollowedBy, Part};
use crate::follow::{Heard, LONGEST_DIP, Line, Place, Trellis};
use std::sync::Arc;

/// A reading must lead by so many nats before the newest note, the one before, and older ones are settled.
const LEADS: [f64; 4] = [2.5, 2.2, 1.2, 0.0];
/// A release without a click, judged before the next note has come, must be off by so many more tolerances.
const EARLY_VERDICT_MARGIN: f64 = 0.35;
/// Without a click a held note is called late only so many beats after its time, unless the next note comes.
const LATE_WITHOUT_CLICK: f64 = 2.0;
/// A note that has not come so many beats after its time is missed (with a click), however short it is; or
/// after its whole value up to the second number.
const MISSED_AFTER: (f64, f64) = (1.0, 2.0);

/// Seconds after which a note just struck has either outlived a glitch or was one (DESIGN.md §5).
const LOOK_AGAIN: f64 = 0.031;

/// What the live judge knows of one played note.
#[derive(Debug, Clone, Copy)]
struct Record {
    /// Last announced: a note of the part, or extra.
    announced: Option<u32>,
    /// Its place, once settled.
    settled: Option<Place>,
    /// Its release has been judged.
    released: bool,
}

/// The live side of one take.
pub(super) struct Live {
    part: Arc<Part>,
    settings: Settings,
    ranks: Ranks,
    records: Vec<Record>,
    /// When each note of the part began, as far as settled in the present attempt.
    onsets: Vec<Option<f64>>,
    /// Which played note began it, and which one holds it now.
    played: Vec<Option<usize>>,
    held_by: Vec<Option<usize>>,
    /// The last note of the part that was settled, or called missed.
    position: Option<usize>,
    /// What has been said and not withdrawn.
    told: Vec<(usize, FlagKind)>,
    /// Times at which a release must be looked at: (seconds, played note).
    checks: Vec<(f64, usize)>,
    /// The delay as far as the take shows it, and notes whose entrance it may explain.
    delay: Running,
    doubtful: Vec<usize>,
    decisions: Vec<Decision>,
    /// How well the settled notes belong to the part.
    fit: Fit,
    doubted: bool,
}

impl Live {
    pub(super) fn new(part: Arc<Part>, settings: &Settings) -> Live {
        let count = part.notes.len();
        Live {
            ranks: Ranks::new(&part, settings),
            settings: settings.clone(),
            records: Vec::new(),
            onsets: vec![None; count],
            played: vec![None; count],
            held_by: vec![None; count],
            position: None,
            told: Vec::new(),
            checks: Vec::new(),
            delay: Running::new(&part, settings),
            doubtful: Vec::new(),
            decisions: Vec::new(),
            fit: Fit::default(),
            doubted: false,
            part,
        }
    }

    pub(super) fn take_decisions(&mut self) -> Vec<Decision> {
        std::mem::take(&mut self.decisions)
    }

    pub(super) fn say(&mut self, decision: Decision) {
        self.decisions.push(decision);
    }

    pub(super) fn told(&self) -> &[(usize, FlagKind)] {
        &self.told
    }

    /// The last note of the part that was settled.
    pub(super) fn position(&self) -> Option<usize> {
        self.position
    }

    /// A note was heard; `lead` is what the way the instrument sends leads by over other ways.
    pub(super) fn heard(&mut self, trellis: &Trellis, line: &Line, lead: f64, now: f64) {
        let heard = trellis.heard();
        let newest = heard.len() - 1;
        while self.records.len() < heard.len() {
            self.records.push(Record { announced: None, settled: None, released: false });
        }
        for ago in 0..=newest.min(LEADS.len()) {
            let Some((place, _)) = trellis.place(ago) else { break };
            let index = match place {
                Place::Note(note) => Some(note),
                // A dip of breath is no note of its own; but as long as it may be one, its place is said.
                Place::Extra | Place::Again(_) if ago == 0 => trellis.likeliest_note(),
                Place::Again(_) if self.records[newest - ago].announced.is_none() => continue,
                Place::Again(note) => Some(note),
                Place::Extra => None,
            };
            let record = &mut self.records[newest - ago];
            if ago == 0 || record.announced != index {
                record.announced = index;
                let Heard { at, midi, .. } = heard[newest - ago];
                self.decisions.push(Decision::Placed {
                    at_s: now,
                    onset_s: at,
                    midi,
                    index: index.map(|index| index as usize),
                });
            }
        }
        for ago in (0..=newest.min(LEADS.len())).rev() {
            if self.records[newest - ago].settled.is_some() {
                continue;
            }
            let Some((place, ahead)) = trellis.place(ago) else { break };
            let wanted = LEADS.get(ago).copied().unwrap_or(0.0);
            if ahead.min(lead) < wanted {
                break;
            }
            self.records[newest - ago].settled = Some(place);
            self.settle(newest - ago, place, line, heard, now);
        }
    }

    fn settle(&mut self, played: usize, place: Place, line: &Line, heard: &[Heard], now: f64) {
        match place {
            Place::Extra => {
                self.fit.heard += 1;
                self.doubt(now);
            }
            Place::Again(note) => {
                let note = note as usize;
                if self.played[note].is_some() {
                    self.held_by[note] = Some(played);
                }
                self.look_at_release(played, heard);
            }
            Place::Note(note) => {
                let note = note as usize;
                let before = self.position;
                self.place_in_line(note, now);
                self.onsets[note] = Some(heard[played].at);
                self.played[note] = Some(played);
                self.held_by[note] = Some(played);
                self.position = Some(note);
                if let Some(before) = before.filter(|&before| before < note) {
                    self.judge_release(before, line, heard, now, 0.0);
                }
                let sounded = self.sounded(note, line, heard);
                self.fit.heard += 1;
                self.fit.right += usize::from(sounded.off_pitch == 0);
                self.doubt(now);
                if let Some(finding) = self.with_scene(|scene| pitch::judge(scene, &sounded)) {
                    self.tell(&finding, now);
                }
                self.delay.hear(self.part.notes[note].onset, &sounded, &mut self.settings);
                self.doubtful.push(note);
                self.judge_entrances(line, heard, now);
                self.look_at_release(played, heard);
            }
        }
    }

    /// Says once that what is played does not sound like the exercise.
    fn doubt(&mut self, now: f64) {
        if !self.fit.fits() && !std::mem::replace(&mut self.doubted, true) {
            self.decisions.push(Decision::Remark { at_s: now, sentence: self.fit.sentence() });
        }
    }

    /// Judges the entrance of the newest note, and those that the delay of the take could explain until now.
    fn judge_entrances(&mut self, line: &Line, heard: &[Heard], now: f64) {
        if self.settings.grid.is_none() {
            self.doubtful.clear();
        }
        for note in std::mem::take(&mut self.doubtful) {
            if self.played[note].is_none() {
                continue;
            }
            let sounded = self.sounded(note, line, heard);
            let verdict = self.with_scene(|scene| {
                let finding = entrance::judge(scene, &sounded).fault()?;
                let Amount::Time { off, beat, .. } = finding.amount else { return None };
                Some((finding, self.delay.may_explain(off, scene.frame.entrance_limit(beat))))
            });
            match verdict {
                Some((_, true)) => self.doubtful.push(note),
                Some((finding, false)) => self.tell(&finding, now),
                None => {}
            }
        }
    }

    /// Notes left out before this one are missed; a step back is a restart.
    fn place_in_line(&mut self, note: usize, now: f64) {
        let first_left_out = self.position.map_or(0, |position| position + 1);
        match self.position {
            Some(position) if note <= position => {
                // A note called missed that comes after all is late, no restart.
                let came_late = (note..=position).all(|note| self.played[note].is_none());
                if !came_late {
                    let from_index = (0..=position).rev().find(|&note| self.played[note].is_some()).unwrap_or(position);
                    self.decisions
                        .push(Decision::Restart { at_s: now, restart: Restart { from_index, to_index: note } });
                }
                let because = if came_late {
                    "it came after all"
                } else {
                    "begun again from an earlier note: the last attempt counts"
                };
                self.withdraw(now, because, |index, _| index >= note);
                for later in note..self.onsets.len() {
                    self.onsets[later] = None;
                    self.played[later] = None;
                    self.held_by[later] = None;
                }
            }
            _ => {
                for left_out in first_left_out..note {
                    self.tell(&Finding { note: left_out, kind: FlagKind::MissedNote, amount: Amount::Silent }, now);
                }
            }
        }
    }

    /// A played note has ended.
    pub(super) fn released(&mut self, played: usize, heard: &[Heard]) {
        self.look_at_release(played, heard);
    }

    /// Plans to look at a release once it cannot be a dip of breath any more.
    fn look_at_release(&mut self, played: usize, heard: &[Heard]) {
        let Some(released) = heard[played].released else { return };
        let settled = self.records.get(played).is_some_and(|record| record.settled.is_some() && !record.released);
        if settled {
            self.checks.push((released + LONGEST_DIP, played));
            // A short note is certain to be cut short once twice its length has passed in silence.
            self.checks.push((heard[played].at + 2.0 * (released - heard[played].at) + 0.001, played));
        }
    }

    /// The next time at which time alone decides something, in seconds.
    pub(super) fn next_deadline(&self, heard: &[Heard]) -> Option<f64> {
        let checks = self.checks.iter().map(|&(at, _)| at);
        checks.chain(self.missed_at()).chain(self.late_at(heard)).reduce(f64::min)
    }

    /// Decides what time alone makes certain, up to `now`. `struck` says that a note has just been struck
    /// that has not yet outlived a glitch: it may continue the one before.
    pub(super) fn time_passed(&mut self, line: &Line, heard: &[Heard], struck: bool, now: f64) {
        let mut due = std::mem::take(&mut self.checks);
        due.retain_mut(|(at, played)| {
            if *at > now {
                return true;
            }
            if struck {
                *at = now + LOOK_AGAIN;
                return true;
            }
            if *played + 1 == heard.len() {
                self.judge_if_holding(*played, line, heard, now);
            }
            false
        });
        due.append(&mut self.checks);
        self.checks = due;
        let late = self.position.filter(|_| self.late_at(heard).is_some_and(|at| at <= now));
        if let Some((note, played)) = late.and_then(|note| Some((note, self.held_by[note]?))) {
            self.records[played].released = true;
            let sounded = self.sounded(note, line, heard);
            let verdict = self.with_scene(|scene| release::judge(scene, &sounded, now, 0.0));
            if let Some(finding) = verdict.fault() {
                self.tell(&finding, now);
            }
        }
        while self.missed_at().is_some_and(|at| at <= now) {
            let note = self.position.map_or(0, |position| position + 1);
            self.tell(&Finding { note, kind: FlagKind::MissedNote, amount: Amount::Silent }, now);
            self.position = Some(note);
        }
    }

    fn judge_if_holding(&mut self, played: usize, line: &Line, heard: &[Heard], now: f64) {
        let note = match self.records[played].settled {
            Some(Place::Note(note) | Place::Again(note)) => note as usize,
            _ => return,
        };
        if self.held_by[note] == Some(played) {
            self.judge_release(note, line, heard, now, EARLY_VERDICT_MARGIN);
        }
    }

    /// Judges the release of a note that has ended. Without the next note a fault must be clearer by
    /// `margin` tolerances, and a release found good then is looked at again later.
    fn judge_release(&mut self, note: usize, line: &Line, heard: &[Heard], now: f64, margin: f64) {
        let Some(played) = self.held_by[note].filter(|&played| !self.records[played].released) else { return };
        let sounded = self.sounded(note, line, heard);
        let Some(end) = sounded.release else { return };
        let findings = self.with_scene(|scene| {
            let extra = match scene.frame.release_due(note, sounded.onset) {
                Some(due) if due.complete => 0.0,
                _ => margin * scene.frame.beat(note).map_or(0.0, |beat| scene.frame.tolerance(beat)),
            };
            let verdict = release::judge(scene, &sounded, end, extra);
            // Not yet twice its length in silence: the next note may still come early.
            let certain = scene.frame.next_onset(note).is_some() || now >= sounded.onset + 2.0 * (end - sounded.onset);
            let short = if certain { cut_short::judge(scene, &sounded, end) } else { Verdict::NotJudged };
            [verdict.fault(), short.fault()]
        });
        for finding in findings.into_iter().flatten() {
            self.records[played].released = true;
            self.tell(&finding, now);
        }
    }

    /// When a note that still sounds is late for its rest.
    fn late_at(&self, heard: &[Heard]) -> Option<f64> {
        let note = self.position?;
        let played = self.held_by[note]?;
        if self.records[played].released || heard[played].released.is_some() || played + 1 != heard.len() {
            return None;
        }
        self.with_scene(|scene| {
            if !release::is_judged(scene, note) || scene.note(note).followed_by != FollowedBy::Rest {
                return None;
            }
            let beat = scene.frame.beat(note)?;
            let due = scene.frame.release_due(note, self.onsets[note]?)?;
            let wait = if due.complete { 0.0 } else { LATE_WITHOUT_CLICK * beat };
            Some(due.surely_latest + scene.frame.tolerance(beat) + wait + 0.001)
        })
    }

    /// When the next note of the part is missed, where a click tells.
    fn missed_at(&self) -> Option<f64> {
        // A note that has come but has no sure place yet may be the one that is waited for.
        if self.records.last().is_some_and(|record| record.settled.is_none()) {
            return None;
        }
        let next = self.position.map_or(0, |position| position + 1);
        let note = self.part.notes.get(next)?;
        self.with_scene(|scene| {
            let due = scene.frame.at_click(note.onset)?;
            let beat = scene.frame.beat(next)?;
            let value = note.duration.in_beats(self.part.beat_unit(note)).to_f64();
            Some(due + value.clamp(MISSED_AFTER.0, MISSED_AFTER.1) * beat + scene.frame.tolerance(beat))
        })
    }

    fn sounded(&self, note: usize, line: &Line, heard: &[Heard]) -> Sounded {
        let played = self.played[note].unwrap_or(0);
        let held_by = self.held_by[note].unwrap_or(played);
        Sounded::new(line, heard, note, played, held_by)
    }

    fn with_scene<T>(&self, judge: impl FnOnce(&Scene) -> T) -> T {
        judge(&Scene::new(&self.part, &self.settings, &self.onsets))
    }

    /// Says a finding, once. As long as what is played does not sound like the exercise nothing is said of its
    /// notes; if it turns out to belong there, the end of the take tells all.
    fn tell(&mut self, finding: &Finding, now: f64) {
        if !self.fit.fits() || self.told.contains(&(finding.note, finding.kind)) {
            return;
        }
        self.told.push((finding.note, finding.kind));
        let rank = self.ranks.of(&self.part.notes[finding.note]);
        let flag = self.with_scene(|scene| words::flag(scene, finding, rank));
        self.decisions.push(Decision::Flag { at_s: now, flag });
    }

    /// Takes back what was said where it no longer holds.
    pub(super) fn withdraw(&mut self, now: f64, because: &str, holds_no_longer: impl Fn(usize, FlagKind) -> bool) {
        let decisions = &mut self.decisions;
        self.told.retain(|&(index, flag)| {
            let withdrawn = holds_no_longer(index, flag);
            if withdrawn {
                decisions.push(Decision::Withdrawn { at_s: now, index, flag, because: because.to_owned() });
            }
            !withdrawn
        });
    }
}
