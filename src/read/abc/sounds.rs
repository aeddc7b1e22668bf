//! Notes into the open measure, with the marks that stand before them; marks that stand at bar lines; slurs.

use super::assembly::{Assembly, Marks};
use super::items::Head;
use super::lines::At;
use super::marks::Mark;
use super::pitch::place;
use super::wrong;
use crate::exercise::{Flow, Quarters, Role, WrittenMeasure, WrittenNote};
use crate::read::ReadError;

impl Assembly {
    /// A decoration: for what follows.
    pub(super) fn mark(&mut self, mark: Mark) {
        match mark {
            Mark::Staccato => self.marks.staccato = true,
            Mark::Fermata => self.marks.fermata = true,
            Mark::Breath => self.marks.breath = true,
            Mark::Other => {}
            sign => self.marks.signs.push(sign),
        }
    }

    /// A breath mark that stands after the last note, before a rest, bar line or space.
    pub(super) fn breath_before(&mut self) {
        if std::mem::take(&mut self.marks.breath) {
            let closed = self.page.measures.iter_mut().rev().flat_map(|measure| measure.notes.iter_mut().rev());
            let last = self.open.notes.iter_mut().rev().chain(closed).find(|note| note.role == Role::Line);
            if let Some(note) = last {
                note.breath = true;
            }
        }
    }

    /// Signs of the order of playing that stand at a note or rest.
    pub(super) fn signs_here(&mut self) {
        let here = self.page.measures.len();
        for sign in std::mem::take(&mut self.marks.signs) {
            match sign {
                Mark::Segno => self.open.flow.segno = Some(String::new()),
                Mark::Coda => self.page.codas.push((here, here)),
                sign => at_the_end(&mut self.open.flow, sign),
            }
        }
    }

    /// Signs that stand at a bar line, after the measure before it was closed.
    pub(super) fn signs_at_bar(&mut self) {
        let next = self.page.measures.len();
        for sign in std::mem::take(&mut self.marks.signs) {
            match (sign, self.page.measures.last_mut()) {
                (Mark::Segno, _) => self.open.flow.segno = Some(String::new()),
                (Mark::Coda, _) => self.page.codas.push((next.saturating_sub(1), next)),
                (sign, Some(last)) => at_the_end(&mut last.flow, sign),
                (_, None) => {}
            }
        }
    }

    /// A tone without its value, and its alteration as typed.
    pub(super) fn tone(&mut self, at: At, head: &Head) -> Result<(WrittenNote, i8), ReadError> {
        let altered = self.carried.alter(head, &self.key, self.reach);
        let (written, sounding) = self.tuning.tune(head, altered.alter, self.key.key, &self.staff);
        let sounding = u8::try_from(sounding).ok().filter(|&midi| midi <= 127).ok_or_else(|| {
            wrong(at, "a note sounds too low or too high for MIDI: take away some of its commas or apostrophes")
        })?;
        let note = WrittenNote {
            onset: self.now,
            duration: Quarters::ZERO,
            written,
            sounding,
            key: self.tuning.key(self.key.key),
            alteration: altered.source,
            role: Role::ChordTone,
            chord: self.chord,
            voice: 0,
            tie_start: head.is_tied,
            tie_stop: altered.is_tied_to,
            staccato: self.marks.staccato,
            fermata: self.marks.fermata,
            slurred: false,
            breath: self.marks.breath,
            graces: Vec::new(),
            id: None,
        };
        Ok((note, altered.alter))
    }

    pub(super) fn sound(&mut self, at: At, first: &Head, others: &[Head], value: Quarters) -> Result<(), ReadError> {
        self.signs_here();
        self.chord += 1;
        let (mut tones, mut tied) = (Vec::with_capacity(1 + others.len()), Vec::new());
        for head in std::iter::once(first).chain(others) {
            let (tone, alter) = self.tone(at, head)?;
            tones.push(WrittenNote { duration: value, ..tone });
            tied.extend(head.is_tied.then(|| (place(head), alter)));
        }
        self.carried.tied(tied);
        // The highest tone is judged; of two at one pitch the first.
        let top =
            (1..tones.len()).fold(0, |top, next| if tones[next].sounding > tones[top].sounding { next } else { top });
        if !self.staff.is_unpitched() {
            let graces = std::mem::take(&mut self.graces);
            if let Some(top) = tones.get_mut(top) {
                (top.role, top.graces) = (Role::Line, graces);
            }
            self.open.notes.extend(tones);
            self.lines += 1;
        }
        self.marks = Marks::default();
        self.pass(at, value)
    }
}

/// Signs that count where their measure ends.
fn at_the_end(flow: &mut Flow, sign: Mark) {
    match sign {
        Mark::DaCapo => flow.da_capo = true,
        Mark::DalSegno => flow.dal_segno = Some(String::new()),
        Mark::Fine => flow.fine = true,
        Mark::ToCoda => flow.to_coda = Some(String::new()),
        _ => {}
    }
}

/// Every note under a slur but its last is slurred to the next. A slur that never ends is none.
pub(super) fn mark_slurs(measures: &mut [WrittenMeasure], slurs: &[(usize, usize)], lines: usize) {
    let mut changes = vec![0_i64; lines + 1];
    for &(from, to) in slurs.iter().filter(|(from, to)| from + 1 < *to) {
        changes[from] += 1;
        changes[to - 1] -= 1;
    }
    let mut depth = 0;
    let line = measures.iter_mut().flat_map(|measure| &mut measure.notes).filter(|note| note.role == Role::Line);
    for (note, change) in line.zip(changes) {
        depth += change;
        note.slurred = depth > 0;
    }
}
