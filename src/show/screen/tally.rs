//! A take in numbers while it is played: good of judged so far. At its end the report's own numbers take their place.
//!
//! A note is judged once it is placed or found missing; a release once the next note is placed. A finding that is taken back
//! counts as good again, one too close to call counts neither way.

use crate::exercise::FollowedBy;
use crate::judge::{Count, Decision, Flag, FlagKind, Totals};
use crate::session::PlayerPlan;
use crate::theory::{Key, Rank, changed_notes};
use std::collections::{BTreeMap, BTreeSet};

/// What is judged of a note, besides its pitch and entrance.
#[derive(Debug, Clone, Copy)]
struct Note {
    is_changed: bool,
    has_release: bool,
}

/// The numbers so far.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    /// Without a click the whole take shows which entrances can be judged.
    has_click: bool,
    notes: Vec<Note>,
    /// The note that stands for each onset in microseconds: a later placement replaces an earlier one.
    placed: BTreeMap<i64, usize>,
    flags: BTreeSet<(usize, FlagKind)>,
    close: BTreeSet<(usize, FlagKind)>,
}

/// The counts in the order in which they are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Counts {
    pub(super) pitches: Count,
    pub(super) changed: Count,
    pub(super) releases: Count,
    pub(super) entrances: Count,
}

impl From<&Totals> for Counts {
    fn from(totals: &Totals) -> Counts {
        Counts {
            pitches: totals.right_pitches,
            changed: totals.changed_notes,
            releases: totals.full_releases,
            entrances: totals.entrances,
        }
    }
}

impl Tally {
    /// Nothing is judged yet.
    pub(super) fn new(player: &PlayerPlan, family: &[Key], has_click: bool) -> Tally {
        let transposition = player.part.transposition.unwrap_or_default();
        let family: Vec<Key> = family.iter().map(|&key| transposition.key_to_written(key)).collect();
        let sustains = player.instrument.as_ref().is_none_or(|instrument| instrument.sustains);
        let mut keys: BTreeMap<i64, Vec<_>> = BTreeMap::new();
        let notes = player.part.notes.iter().map(|note| {
            let changed = keys.entry(i64::from(note.key.fifths)).or_insert_with(|| changed_notes(note.key, &family));
            let is_changed =
                changed.iter().any(|changed| changed.letter == note.written.letter && changed.rank != Rank::Other);
            let has_release = sustains && note.followed_by != FollowedBy::Note && !note.fermata;
            Note { is_changed, has_release }
        });
        let notes = notes.collect();
        Tally { has_click, notes, placed: BTreeMap::new(), flags: BTreeSet::new(), close: BTreeSet::new() }
    }

    /// Something was decided.
    pub(super) fn decided(&mut self, decision: &Decision) {
        match decision {
            Decision::Placed { onset_s, index, .. } => {
                let onset = (onset_s * 1e6).round() as i64;
                match index {
                    Some(index) => self.placed.insert(onset, *index),
                    None => self.placed.remove(&onset),
                };
            }
            Decision::Flag { flag: Flag { index, kind, .. }, .. } => {
                self.flags.insert((*index, *kind));
            }
            Decision::Close { flag: Flag { index, kind, .. }, .. } => {
                self.close.insert((*index, *kind));
            }
            Decision::Withdrawn { index, flag, .. } => {
                self.flags.remove(&(*index, *flag));
            }
            Decision::Restart { .. } | Decision::Remark { .. } | Decision::Summary { .. } => {}
        }
    }

    /// The numbers so far.
    pub(super) fn counts(&self) -> Counts {
        let placed: BTreeSet<usize> = self.placed.values().copied().collect();
        let last = placed.last().copied();
        let is = |found: &BTreeSet<(usize, FlagKind)>, note: usize, kinds: &[FlagKind]| {
            kinds.iter().any(|&kind| found.contains(&(note, kind)))
        };
        let mut counts = Counts::default();
        for (index, note) in self.notes.iter().enumerate() {
            let is_played = placed.contains(&index);
            if !is_played && !is(&self.flags, index, &[FlagKind::MissedNote]) {
                continue;
            }
            let is_right = is_played && !is(&self.flags, index, &PITCH);
            count(&mut counts.pitches, is_right);
            if !is_played {
                continue;
            }
            if note.is_changed {
                count(&mut counts.changed, is_right);
            }
            if self.has_click && !is(&self.close, index, &ENTRANCE) {
                count(&mut counts.entrances, !is(&self.flags, index, &ENTRANCE));
            }
            let is_off = is(&self.flags, index, &RELEASE);
            let is_over = is_off || last.is_some_and(|last| last > index);
            if note.has_release && is_over && !is(&self.close, index, &RELEASE) {
                count(&mut counts.releases, !is_off);
            }
        }
        counts
    }
}

const PITCH: [FlagKind; 4] =
    [FlagKind::WrongAccidental, FlagKind::WrongOctave, FlagKind::WrongPartial, FlagKind::WrongNote];
const ENTRANCE: [FlagKind; 2] = [FlagKind::EarlyEntrance, FlagKind::LateEntrance];
const RELEASE: [FlagKind; 2] = [FlagKind::EarlyRelease, FlagKind::LateRelease];

fn count(count: &mut Count, is_good: bool) {
    count.of += 1;
    count.good += usize::from(is_good);
}
