//! Players by what is practised: who has it, and what the section as a whole needs. What is missing most surely stands
//! first, rows and columns alike.

use super::Reviewed;
use super::pages::instrument_id;
use super::wilson::wilson;
use crate::book::{Practice, Practised};
use crate::instrument::catalogue;
use crate::judge::Count;
use crate::theory::{Pitch, sign};
use std::collections::{BTreeMap, BTreeSet};

/// With fewer than this a cell says too little to act on (ours, no source).
const LEAST: usize = 4;

/// Players by what is practised.
pub(super) struct Table {
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Row>,
    /// All players together, and everything.
    pub(super) sums: Vec<Cell>,
    pub(super) total: Cell,
}

pub(super) struct Column {
    /// `A♭`, `3 beats`.
    pub(super) name: String,
    /// Below it: how it is written for whom.
    pub(super) written: Vec<String>,
}

pub(super) struct Row {
    pub(super) player: String,
    /// Whether this is judged on the player's instrument; on the others no note can be held.
    pub(super) is_judged: bool,
    pub(super) cells: Vec<Option<Cell>>,
    pub(super) sum: Cell,
}

/// So many of so many.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub(super) count: Count,
    /// Too little to act on.
    pub(super) is_few: bool,
}

impl Cell {
    fn of(count: Count) -> Cell {
        Cell { count, is_few: count.of < LEAST }
    }

    /// The good ones in percent of a bar's length.
    pub(super) fn percent(&self) -> usize {
        (100 * self.count.good).checked_div(self.count.of).unwrap_or_default()
    }
}

/// What stands at the head of a column, in the order of notes where two need the same.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    /// Letter and alteration; halves of a beat.
    order: (i64, i64),
    name: String,
}

/// The changed notes of these players, by concert note: a section may be of several instruments.
pub(super) fn changed_notes(players: &[&Reviewed]) -> Option<Table> {
    let note = |reviewed: &Reviewed, practice: &Practice| match &practice.what {
        Practised::Changed(written) => Some(concert(reviewed, practice, written)),
        Practised::Hold(_) => None,
    };
    table(players, |_| true, note)
}

/// Releases before a rest of these players, by how long the note before it lasts.
pub(super) fn releases(players: &[&Reviewed]) -> Option<Table> {
    let length = |_: &Reviewed, practice: &Practice| match &practice.what {
        Practised::Hold(beats) => {
            let length = beats.parse::<f64>().unwrap_or_default();
            let name = format!("{beats} beat{}", if beats == "1" { "" } else { "s" });
            Some((Key { order: ((length * 1000.0) as i64, 0), name }, None))
        }
        Practised::Changed(_) => None,
    };
    table(players, sustains, length)
}

/// Whether the player's instrument, of the latest take, else of the book, can hold a note.
pub(super) fn sustains(reviewed: &Reviewed) -> bool {
    instrument_id(reviewed).and_then(|id| catalogue().get(id).ok()).is_none_or(|instrument| instrument.sustains)
}

/// The concert note of a written one, and who reads it so; of an instrument that is not known as it is written.
fn concert(reviewed: &Reviewed, practice: &Practice, written: &str) -> (Key, Option<(String, String)>) {
    // Both lists are in the order of time.
    let key = (practice.begun_us, practice.take);
    let place = reviewed.attempts.binary_search_by_key(&key, |attempt| (attempt.begun_us, attempt.take)).ok();
    let attempt = place.and_then(|place| reviewed.attempts.get(place));
    let id = attempt.and_then(|attempt| attempt.instrument.as_ref()).or(reviewed.player.instrument.as_ref());
    let instrument = id.and_then(|id| catalogue().get(id).ok());
    let named = |pitch: Pitch| format!("{}{}", pitch.letter, sign::symbol(pitch.alter));
    let Some(pitch) = Pitch::parse(&format!("{written}4")) else {
        return (Key { order: (i64::MAX, 0), name: written.to_owned() }, None);
    };
    let Some(instrument) = instrument else {
        let name = format!("written {}", named(pitch));
        return (Key { order: (7 + i64::from(pitch.letter.step()), i64::from(pitch.alter)), name }, None);
    };
    let concert = instrument.transposition.to_concert(pitch);
    let reader = (concert.letter != pitch.letter).then(|| (named(pitch), instrument.name.clone()));
    (Key { order: (i64::from(concert.letter.step()), i64::from(concert.alter)), name: named(concert) }, reader)
}

/// How surely something is missing: the highest share that the count speaks for, the lowest first; nothing met last.
fn need(count: Count) -> f64 {
    if count.of == 0 { f64::INFINITY } else { wilson(count).1 }
}

fn table(
    players: &[&Reviewed],
    is_judged: impl Fn(&Reviewed) -> bool,
    key: impl Fn(&Reviewed, &Practice) -> Option<(Key, Option<(String, String)>)>,
) -> Option<Table> {
    let mut counts: BTreeMap<(&Key, usize), Count> = BTreeMap::new();
    let mut columns: BTreeMap<Key, (Count, BTreeMap<String, BTreeSet<String>>)> = BTreeMap::new();
    let mut found: Vec<(Key, usize, Count)> = Vec::new();
    for (place, reviewed) in players.iter().enumerate() {
        for practice in &reviewed.practice {
            let Some((key, reader)) = key(reviewed, practice) else { continue };
            let (count, readers) = columns.entry(key.clone()).or_default();
            *count += practice.count;
            if let Some((written, who)) = reader {
                readers.entry(written).or_default().insert(who);
            }
            found.push((key, place, practice.count));
        }
    }
    for (key, place, count) in &found {
        *counts.entry((key, *place)).or_default() += *count;
    }
    let mut ordered: Vec<(&Key, Count, Vec<String>)> =
        columns.iter().map(|(key, (count, readers))| (key, *count, written(readers))).collect();
    // A stable sort: notes of the same need stay in the order of notes.
    ordered.sort_by(|a, b| need(a.1).total_cmp(&need(b.1)));
    if ordered.is_empty() {
        return None;
    }
    let mut rows: Vec<Row> = Vec::new();
    for (place, reviewed) in players.iter().enumerate() {
        let own = |key: &Key| counts.get(&(key, place)).copied();
        let cells: Vec<Option<Cell>> = ordered.iter().map(|(key, ..)| own(key).map(Cell::of)).collect();
        let sum: Count = cells.iter().flatten().map(|cell| cell.count).sum();
        let is_judged = sum.of > 0 || is_judged(reviewed);
        rows.push(Row { player: reviewed.player.name.clone(), is_judged, cells, sum: Cell::of(sum) });
    }
    rows.sort_by(|a, b| need(a.sum.count).total_cmp(&need(b.sum.count)));
    Some(Table {
        sums: ordered.iter().map(|(_, count, _)| Cell::of(*count)).collect(),
        total: Cell::of(ordered.iter().map(|(_, count, _)| *count).sum()),
        columns: ordered.into_iter().map(|(key, _, written)| Column { name: key.name.clone(), written }).collect(),
        rows,
    })
}

/// `F♯ for alto saxophone`.
fn written(readers: &BTreeMap<String, BTreeSet<String>>) -> Vec<String> {
    let line = |(written, who): (&String, &BTreeSet<String>)| {
        format!("{written} for {}", who.iter().cloned().collect::<Vec<_>>().join(", "))
    };
    readers.iter().map(line).collect()
}
