//! Simulated players: what a wind controller sends when a child plays, made up, always the same for the same number.
//!
//! In: a part, a tempo, which faults. Out: raw timed bytes. Timing is ours, from the habits of real controllers
//! (DESIGN.md §5): onsets some 12 ms off, slurred notes that overlap, tongued ones with a gap, notes of 5 to 25 ms between two
//! fingerings, breath data without end.

use super::habits::{Habits, Lapses};
use crate::exercise::{FollowedBy, Micros, Note, Part, TempoMap};
use crate::theory::{Letter, Pitch};

/// One simulated player.
#[derive(Debug, Clone, Default)]
pub struct Student {
    /// Chooses the accidents; the same number plays the same take.
    pub number: u64,
    /// MIDI channel, 0..=15.
    pub channel: u8,
    /// Whether the controller sends the written pitch, else the concert pitch.
    pub sends_written: bool,
    /// The changed letters, as the key has them: some are played as in another key.
    pub changed: Vec<(Letter, i8)>,
    /// How many changed notes are missed.
    pub missed_changes: usize,
    /// How many notes are let go before the rest that ends them.
    pub short_holds: usize,
    /// What goes wrong beside that, now and then.
    pub habits: Habits,
}

/// SplitMix64 (Steele, Lea, Flood 2014: "Fast splittable pseudorandom number generators"): enough for accidents.
pub(super) struct Chance(pub(super) u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// True so often, 0 to 1.
    pub(super) fn share(&mut self, share: f64) -> bool {
        // The upper 53 bits: all that a floating number holds.
        ((self.next() >> 11) as f64) < share * (1_u64 << 53) as f64
    }

    /// Evenly between two spans in milliseconds.
    fn between(&mut self, from_ms: i64, to_ms: i64) -> Micros {
        let span = (to_ms - from_ms).max(1) as u64 * 1_000;
        Micros(from_ms * 1_000 + (self.next() % span) as i64)
    }

    /// True so many times in a hundred.
    fn percent(&mut self, percent: u64) -> bool {
        self.next() % 100 < percent
    }

    /// About normally distributed around zero: the sum of three even draws, at most `widest_ms` off.
    fn around_zero(&mut self, widest_ms: i64) -> Micros {
        let third = widest_ms / 3;
        (0..3).fold(Micros(0), |sum, _| sum + self.between(-third, third))
    }

    /// `count` of the items, in their order.
    fn pick<T: Copy>(&mut self, mut items: Vec<T>, count: usize) -> Vec<T> {
        while items.len() > count {
            let out = self.next() as usize % items.len();
            items.remove(out);
        }
        items
    }
}

/// General MIDI: breath controller is controller 2.
const BREATH: u8 = 2;

impl Student {
    /// The take, in order of time; score time zero is at `zero`.
    pub fn play(&self, part: &Part, tempo: &TempoMap, zero: Micros) -> Vec<(Micros, Vec<u8>)> {
        let mut chance = Chance(self.number);
        let mut lapses = Lapses::of(&self.habits, &self.changed, self.number, part);
        lapses.missed.extend(self.missed(part, &mut chance));
        lapses.short.extend(self.short(part, &mut chance));
        let mut bytes: Vec<(Micros, Vec<u8>)> = Vec::new();
        let onset = |note: &Note| {
            let late = if lapses.late.contains(&note.index) { late_by(note, tempo) } else { Micros(0) };
            zero + tempo.micros_at(note.onset) + late + chance.around_zero(36)
        };
        let onsets: Vec<Micros> = part.notes.iter().map(onset).collect();
        for (place, (note, &onset)) in part.notes.iter().zip(&onsets).enumerate() {
            let end = zero + tempo.micros_at(note.end());
            let length = end - (zero + tempo.micros_at(note.onset));
            let release = if lapses.short.contains(&note.index) {
                onset + Micros(length.0 * 6 / 10) + chance.around_zero(30)
            } else if note.followed_by == FollowedBy::Note {
                let next = onsets.get(place + 1).copied().unwrap_or(end);
                if note.slurred || chance.percent(40) {
                    next + chance.between(4, 22)
                } else {
                    next - chance.between(20, 60)
                }
            } else {
                end - chance.between(0, 60)
            };
            let midi = match lapses.wrong.contains(&note.index) {
                true => self.midi(note, false).saturating_sub(2),
                false => self.midi(note, lapses.missed.contains(&note.index)),
            };
            self.note(&mut bytes, &mut chance, midi, onset, release);
            if place > 0 && chance.percent(12) {
                // Two fingers that do not move together.
                let early = onset - chance.between(6, 24);
                let between = if chance.percent(50) { midi.saturating_add(1) } else { midi.saturating_sub(2) };
                self.note(&mut bytes, &mut chance, between, early, onset);
            }
            self.breath(&mut bytes, &mut chance, onset, release);
        }
        bytes.sort_by_key(|(at, _)| *at);
        bytes
    }

    /// Indices of changed notes that are missed: neighbours such as B for C flat are left alone, for that would be
    /// another letter's pitch.
    fn missed(&self, part: &Part, chance: &mut Chance) -> Vec<usize> {
        let is_changed = |note: &&Note| {
            self.changed.iter().any(|(letter, alter)| note.written.letter == *letter && note.written.alter == *alter)
        };
        let all = part.notes.iter().filter(is_changed).map(|note| note.index).collect();
        chance.pick(all, self.missed_changes)
    }

    /// Indices of notes that are let go too soon.
    fn short(&self, part: &Part, chance: &mut Chance) -> Vec<usize> {
        let held = |note: &&Note| note.followed_by == FollowedBy::Rest;
        let all = part.notes.iter().filter(held).map(|note| note.index).collect();
        chance.pick(all, self.short_holds)
    }

    /// What goes over the wire: the note, or the same letter without its flat, natural or sharp.
    fn midi(&self, note: &Note, missed: bool) -> u8 {
        let slip = match note.written.alter {
            _ if !missed => 0,
            // A natural that another key has sharp, as F in C major for a child used to one sharp.
            0 => natural_slip(note.written),
            alter => -i16::from(alter),
        };
        let right = if self.sends_written { note.written.midi() } else { i16::from(note.sounding) };
        (right + slip).clamp(0, 127) as u8
    }

    fn note(&self, bytes: &mut Vec<(Micros, Vec<u8>)>, chance: &mut Chance, midi: u8, from: Micros, to: Micros) {
        let velocity = 70 + (chance.next() % 40) as u8;
        bytes.push((from, vec![0x90 | self.channel, midi, velocity]));
        let off = if self.number.is_multiple_of(2) {
            [0x80 | self.channel, midi, 64]
        } else {
            [0x90 | self.channel, midi, 0]
        };
        bytes.push((to.max(from + Micros(5_000)), off.to_vec()));
    }

    fn breath(&self, bytes: &mut Vec<(Micros, Vec<u8>)>, chance: &mut Chance, from: Micros, to: Micros) {
        let mut at = from;
        while at < to {
            let value = 80 + (chance.next() % 24) as u8;
            bytes.push((at, vec![0xB0 | self.channel, BREATH, value]));
            at = at + chance.between(4, 10);
        }
        bytes.push((to, vec![0xB0 | self.channel, BREATH, 0]));
    }
}

/// So late comes who is late: more than any level allows, before the note is half over.
fn late_by(note: &Note, tempo: &TempoMap) -> Micros {
    let length = tempo.micros_at(note.end()) - tempo.micros_at(note.onset);
    Micros((length.0 * 45 / 100).min(450_000))
}

/// Where a natural is the changed note, the habit is the sharp for F and C, the flat for the others (the order in
/// which signatures add them).
fn natural_slip(written: Pitch) -> i16 {
    if matches!(written.letter, Letter::F | Letter::C) { 1 } else { -1 }
}
