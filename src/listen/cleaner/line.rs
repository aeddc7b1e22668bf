//! The notes of one channel of one port: which were meant, where each begins and ends.
//!
//! In: note-ons and note-offs in order of time. Out: note events. A note is first a candidate. It is told once
//! it has outlived a glitch; what ends sooner is told, merged or dropped by what stands around it.

use super::{Rules, Teller};
use crate::exercise::Micros;
use crate::listen::NoteId;

/// A note under 30 ms between two others was not meant (fingering glitches last 5 to 25 ms).
const MEANT: i64 = 30_000;
/// A bouncing contact strikes again within 20 ms, and one of the two pieces is shorter than 25 ms.
const BOUNCE_GAP: i64 = 20_000;
const BOUNCE_PIECE: i64 = 25_000;
/// A dip of the breath strikes the same note again within 40 ms.
const DIP: i64 = 40_000;
/// Slurred notes overlap by at most 40 ms; overlaps above 60 ms are several notes at once.
const CHORD_OVERLAP: i64 = 60_000;
/// The notes of a rolled chord follow one another within 100 ms (from memory).
const ROLL: i64 = 100_000;
/// Candidates kept at once; the oldest is decided early if more are struck within 30 ms.
const CANDIDATES: usize = 16;
/// Before any time.
const NEVER: Micros = Micros(i64::MIN / 4);

/// A note not told yet.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    pitch: u8,
    velocity: u8,
    on: Micros,
    off: Option<Micros>,
    /// The first note-on after it, if it came within 30 ms.
    younger: Option<Micros>,
    /// Nothing sounded when it began, nor just before.
    from_silence: bool,
    /// A note-off up to here belongs to the note that it struck again.
    owes_until: Micros,
}

/// A note told that has not been told to end.
#[derive(Debug, Clone, Copy)]
struct Sounding {
    id: NoteId,
    pitch: u8,
    on: Micros,
    /// It has ended, but may be struck again.
    off: Option<Micros>,
    owes_until: Micros,
}

/// One channel of one port.
#[derive(Debug)]
pub(super) struct Line {
    /// In order of their note-ons.
    candidates: Vec<Candidate>,
    /// At most one of each pitch.
    sounding: Vec<Sounding>,
    /// When the note of each pitch ended last.
    ended: [Micros; 128],
    /// Where a note that had no note-off yet was ended by the next note.
    cut: [Micros; 128],
    last_end: Micros,
    has_told: bool,
    /// Several notes at once were heard.
    has_chords: bool,
    /// How many notes were short, standing alone in silence; how many were not short.
    short_alone: u32,
    long: u32,
    /// How many notes in a row began each soon after the one before, no note-off between; when the last began.
    rolled: u32,
    last_on: Micros,
    /// When time alone decides something next.
    due: Option<Micros>,
}

impl Default for Line {
    fn default() -> Line {
        Line {
            candidates: Vec::with_capacity(CANDIDATES),
            sounding: Vec::with_capacity(128),
            ended: [NEVER; 128],
            cut: [NEVER; 128],
            last_end: NEVER,
            has_told: false,
            has_chords: false,
            short_alone: 0,
            long: 0,
            rolled: 0,
            last_on: NEVER,
            due: None,
        }
    }
}

/// How notes that are ended together come to their end.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ends {
    /// The player let go.
    LetGo,
    /// The line went dead while they sounded.
    CutOff,
}

impl Line {
    /// A line that knows from the start whether several notes sound at once.
    pub(super) fn second_hearing(&self) -> Line {
        Line { has_chords: self.has_chords, ..Line::default() }
    }

    pub(super) fn note_on(&mut self, pitch: u8, velocity: u8, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        self.strike(pitch, velocity, at, rules, to);
        self.settle(at, rules, to);
    }

    pub(super) fn note_off(&mut self, pitch: u8, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        self.let_go(pitch, at, rules, to);
        self.settle(at, rules, to);
    }

    fn strike(&mut self, pitch: u8, velocity: u8, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        if self.goes_on(pitch, at, rules) {
            return;
        }
        let mut owes_until = NEVER;
        let mut resumed = false;
        if let Some(place) = self.sounding.iter().position(|note| note.pitch == pitch)
            && let Some(note) = self.sounding.get_mut(place)
        {
            if note.off.take().is_some() {
                resumed = true;
            } else {
                // Struck again before its note-off, which may be lost or on its way.
                to.off(note.id, at);
                self.sounding.remove(place);
                self.set_end(pitch, at);
                owes_until = at + Micros(DIP);
            }
        }
        self.followed(at, rules);
        if resumed {
            return;
        }
        if let Some(cut) = self.cut.get_mut(usize::from(pitch)) {
            *cut = NEVER;
        }
        if self.candidates.len() == CANDIDATES {
            self.tell_first(false, rules, to);
        }
        let from_silence = self.sounding.iter().all(|note| note.off.is_some())
            && self.candidates.iter().all(|candidate| candidate.off.is_some())
            && at - self.last_end >= Micros(BOUNCE_GAP);
        let candidate = Candidate { pitch, velocity, on: at, off: None, younger: None, from_silence, owes_until };
        self.candidates.push(candidate);
    }

    /// Whether a candidate of this pitch is struck again so soon that it is one note, which then goes on.
    fn goes_on(&mut self, pitch: u8, at: Micros, rules: Rules) -> bool {
        let is_pad = self.is_pad(rules);
        let Some(candidate) = self.candidates.iter_mut().rev().find(|candidate| candidate.pitch == pitch) else {
            return false;
        };
        let length = candidate.off.unwrap_or(at) - candidate.on;
        let gap = at - candidate.off.unwrap_or(at);
        let goes_on = if is_pad {
            length < Micros(BOUNCE_PIECE) && gap < Micros(BOUNCE_GAP)
        } else {
            length < Micros(MEANT) && gap < Micros(DIP)
        };
        if goes_on {
            candidate.off = None;
        } else {
            candidate.off.get_or_insert(at);
        }
        goes_on
    }

    /// Another note begins: what ended short before it was a glitch, what sounds has a younger neighbour.
    fn followed(&mut self, at: Micros, rules: Rules) {
        if !self.is_pad(rules) {
            let before = &self.candidates;
            let alone = before.iter().filter(|candidate| {
                candidate.from_silence
                    && candidate.off.is_some_and(|off| is_short(candidate, off) && at - off >= Micros(DIP))
            });
            self.short_alone += alone.count() as u32;
            self.candidates.retain(|candidate| !candidate.off.is_some_and(|off| is_short(candidate, off)));
        }
        for candidate in &mut self.candidates {
            if at - candidate.on < Micros(MEANT) {
                candidate.younger.get_or_insert(at);
            }
        }
    }

    fn let_go(&mut self, pitch: u8, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        self.rolled = 0;
        let is_it = |candidate: &Candidate| candidate.pitch == pitch && candidate.off.is_none();
        if let Some(place) = self.candidates.iter().position(is_it) {
            if let Some(candidate) = self.candidates.get_mut(place).filter(|candidate| at < candidate.owes_until) {
                candidate.owes_until = NEVER;
                return;
            }
            self.end_candidate(place, at, rules);
        } else if let Some(place) = self.sounding.iter().position(|note| note.pitch == pitch && note.off.is_none()) {
            self.end_sounding(place, at, rules, to);
        } else if let Some(cut) = self.cut.get_mut(usize::from(pitch)) {
            // Its note-off was not lost: the notes sounded together.
            self.has_chords |= *cut != NEVER && at - *cut > Micros(CHORD_OVERLAP);
            *cut = NEVER;
        }
    }

    fn end_sounding(&mut self, place: usize, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        let is_single = self.is_single(rules);
        let Some(note) = self.sounding.get_mut(place) else { return };
        if at < note.owes_until {
            note.owes_until = NEVER;
            return;
        }
        let Sounding { id, pitch, on, .. } = *note;
        if rules.merged {
            note.off = Some(at);
        } else {
            // Slurred: it ends where the next begins.
            let next = self.candidates.iter().find(|next| is_single && next.off.is_none() && next.on > on);
            to.off(id, next.map_or(at, |next| next.on.min(at)));
            self.sounding.remove(place);
        }
        self.set_end(pitch, at);
    }

    /// A candidate ends: meant, or short and then perhaps nothing at all.
    fn end_candidate(&mut self, place: usize, at: Micros, rules: Rules) {
        let (is_single, is_pad) = (self.is_single(rules), self.is_pad(rules));
        let sounds_within = self.sounding.iter().any(|note| note.off.is_none()) && is_single;
        let Some(candidate) = self.candidates.get_mut(place) else { return };
        let end = candidate.younger.filter(|_| is_single).map_or(at, |younger| younger.min(at));
        candidate.off = Some(end);
        let candidate = *candidate;
        if !is_short(&candidate, end) {
            return;
        }
        let before = self.ended.get(usize::from(candidate.pitch)).copied().unwrap_or(NEVER);
        let gap = candidate.on - before;
        let is_tail = gap < Micros(BOUNCE_GAP) && at - candidate.on < Micros(BOUNCE_PIECE);
        let is_touching = candidate.younger.is_some() || !candidate.from_silence || gap < Micros(DIP) || sounds_within;
        if is_tail || (is_touching && !is_pad) {
            self.candidates.remove(place);
            if is_tail {
                self.set_end(candidate.pitch, at);
            } else {
                self.last_end = self.last_end.max(at);
            }
        }
    }

    /// A channel mode message ends every note. Notes rolled one after the other that have no other end were a chord.
    pub(super) fn end_by_message(&mut self, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        self.has_chords |= self.rolled > 1;
        self.end(at, rules, to, Ends::LetGo);
    }

    /// Ends every note at once, though nobody let it go: the line is dead.
    pub(super) fn end_all(&mut self, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        self.end(at, rules, to, Ends::CutOff);
    }

    /// Ends every note at once: no bounce, no dip, no glitch comes after.
    fn end(&mut self, at: Micros, rules: Rules, to: &mut Teller<'_>, ends: Ends) {
        self.tell_ends(at, ends, to);
        while let Some(place) = self.candidates.iter().position(|candidate| candidate.off.is_none()) {
            self.end_candidate(place, at, rules);
        }
        self.settle(at, rules, to);
        self.tell_ends(at, ends, to);
        self.ended = [NEVER; 128];
        self.cut = [NEVER; 128];
        self.rolled = 0;
        self.settle(at, rules, to);
    }

    /// The end of the stream: nothing is struck again, and no short note stands between two.
    pub(super) fn finish(&mut self, at: Micros, rules: Rules, to: &mut Teller<'_>) {
        while !self.candidates.is_empty() {
            self.tell_first(true, rules, to);
        }
        self.tell_ends(at, Ends::CutOff, to);
        self.due = None;
    }

    /// What sounds ends at `at`, or where it has ended already.
    fn tell_ends(&mut self, at: Micros, ends: Ends, to: &mut Teller<'_>) {
        for note in self.sounding.drain(..) {
            let end = note.off.unwrap_or(at).max(note.on);
            if ends == Ends::CutOff && note.off.is_none_or(|off| off >= at) {
                to.cut_off(note.id, end);
            } else {
                to.off(note.id, end);
            }
            self.last_end = self.last_end.max(at);
        }
    }

    /// Whether a note sounds that is not told yet.
    pub(super) fn is_struck(&self) -> bool {
        self.candidates.iter().any(|candidate| candidate.off.is_none())
    }

    /// When time alone decides something next.
    pub(super) fn next_deadline(&self) -> Option<Micros> {
        self.due
    }

    /// When the oldest candidate is decided, if no other note comes.
    fn first_due(&self, rules: Rules) -> Option<Micros> {
        let first = self.candidates.first()?;
        match first.off {
            None => Some(first.younger.filter(|_| !rules.struck).unwrap_or(first.on) + Micros(MEANT)),
            Some(off) if !is_short(first, off) => Some(off),
            Some(off) => (self.is_pad(rules) || !self.has_told).then_some(off + Micros(BOUNCE_GAP)),
        }
    }

    /// Decides what is due up to `now`, and when something is due next.
    pub(super) fn settle(&mut self, now: Micros, rules: Rules, to: &mut Teller<'_>) {
        self.sounding.retain(|note| {
            let Some(off) = note.off.filter(|&off| off + Micros(DIP) <= now) else { return true };
            to.off(note.id, off);
            false
        });
        while self.first_due(rules).is_some_and(|due| due <= now) {
            self.tell_first(false, rules, to);
        }
        let ends = self.sounding.iter().filter_map(|note| note.off).map(|off| off + Micros(DIP)).min();
        self.due = ends.into_iter().chain(self.first_due(rules)).min();
    }

    /// The oldest candidate was meant.
    fn tell_first(&mut self, is_last: bool, rules: Rules, to: &mut Teller<'_>) {
        if self.candidates.is_empty() {
            return;
        }
        let first = self.candidates.remove(0);
        // Two notes that began together, and the older still sounds: no slur, no glitch.
        self.has_chords |= first.off.is_none() && first.younger.is_some() && !is_last;
        self.make_way(&first, rules, to);
        self.rolled = if first.on - self.last_on <= Micros(ROLL) { self.rolled + 1 } else { 1 };
        self.last_on = first.on;
        self.has_told = true;
        let id = to.on(first.on, first.pitch, first.velocity);
        if first.off.is_some_and(|off| is_short(&first, off)) {
            self.short_alone += u32::from(first.from_silence);
        } else {
            self.long += 1;
        }
        let note = Sounding { id, pitch: first.pitch, on: first.on, off: None, owes_until: first.owes_until };
        self.sounding.push(note);
        if let Some(off) = first.off {
            if rules.merged {
                if let Some(note) = self.sounding.last_mut() {
                    note.off = Some(off);
                }
            } else {
                to.off(id, off);
                self.sounding.pop();
            }
            self.set_end(first.pitch, off);
        }
    }

    /// What must have ended before this note begins: all others where one note sounds at a time, else the last
    /// of its pitch.
    fn make_way(&mut self, first: &Candidate, rules: Rules, to: &mut Teller<'_>) {
        let is_single = self.is_single(rules);
        let (cut, last_end) = (&mut self.cut, &mut self.last_end);
        self.sounding.retain(|note| {
            if !is_single && note.pitch != first.pitch {
                return true;
            }
            let end = note.off.unwrap_or(first.on).min(first.on);
            to.off(note.id, end.max(note.on));
            if note.off.is_none() {
                if let Some(cut) = cut.get_mut(usize::from(note.pitch)) {
                    *cut = first.on;
                }
                *last_end = (*last_end).max(end);
            }
            false
        });
    }

    fn set_end(&mut self, pitch: u8, at: Micros) {
        if let Some(ended) = self.ended.get_mut(usize::from(pitch)) {
            *ended = at;
        }
        self.last_end = self.last_end.max(at);
    }

    /// One note at a time, as far as was heard.
    fn is_single(&self, rules: Rules) -> bool {
        !self.has_chords && !rules.struck
    }

    /// Short notes are meant: said so, or most notes are short and stand alone.
    fn is_pad(&self, rules: Rules) -> bool {
        rules.struck || self.short_alone > self.long
    }
}

/// Whether a candidate that ended at `off` is shorter than what is surely meant.
fn is_short(candidate: &Candidate, off: Micros) -> bool {
    off - candidate.on < Micros(MEANT)
}
