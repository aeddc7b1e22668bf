//! Barlines for the notes of a MIDI file: measures by its time signatures, keys, tempo.

use super::notes::MidiNote;
use crate::exercise::{Accidentals, Flow, MOST_MEASURES, Meter, Quarters, Role, WrittenMeasure, WrittenNote};
use crate::read::spelling::{Printed, spell};
use crate::smf::{Clock, File, Message};
use crate::theory::{Key, Mode, Transposition};
use std::collections::{HashMap, HashSet};

/// Of a longer silence one measure is made: a pause of days is a mistake, not forty thousand measures.
const MOST_EMPTY_MEASURES: i64 = 500;

/// The measures with their notes; `None` where times leave the range of exact arithmetic.
pub(super) fn written(
    file: &File,
    clock: &Clock,
    notes: &[MidiNote],
    instrument: Option<Transposition>,
) -> Option<Vec<WrittenMeasure>> {
    let notes: Vec<Timed<'_>> = notes.iter().map(|note| Timed::new(note, clock)).collect::<Option<_>>()?;
    let end = notes.iter().map(|note| note.end).max()?;
    let meters = changes(file, clock, meter)?;
    let keys = changes(file, clock, key)?;
    let tempos = clock.tempos().map(|(tick, tempo)| Some((clock.quarters(tick)?, f64::from(tempo))));
    let tempos: Vec<(Quarters, f64)> = tempos.collect::<Option<_>>()?;
    let mut measures = Vec::new();
    let (mut start, mut meter, mut placed, mut tempo_from) = (Quarters::ZERO, Meter::COMMON, 0, 0);
    while start < end {
        meter = in_force(&meters, start).unwrap_or(meter);
        if measures.len() >= MOST_MEASURES {
            return None;
        }
        let next_change = meters.get(after(&meters, start)).map(|&(at, _)| at);
        let next_note = notes.get(placed).map_or(end, |note| note.onset);
        let empty = (next_note - start).in_beats(meter.measure());
        let empty = (empty.numerator() / empty.denominator()).max(0);
        let count = if empty > MOST_EMPTY_MEASURES { empty } else { 1 };
        let full = start.checked_add(meter.measure().times(count, 1))?;
        let barline = next_change.map_or(full, |change| change.min(full));
        let here = notes.iter().skip(placed).take_while(|note| note.onset < barline).count();
        let held = notes.get(placed..placed + here).unwrap_or_default();
        placed += here;
        let changed = tempos.get(tempo_from..).unwrap_or_default();
        let changed = changed.get(..changed.partition_point(|&(at, _)| at < barline)).unwrap_or_default();
        tempo_from += changed.len();
        measures.push(WrittenMeasure {
            label: (measures.len() + 1).to_string(),
            duration: barline - start,
            meter,
            key: printed(in_force(&keys, start).unwrap_or(Key::major(0)), instrument).key,
            implicit: false,
            phrase_start: measures.is_empty()
                || measures.last().is_some_and(|last: &WrittenMeasure| last.notes.is_empty()),
            notes: of_measure(held, start, &keys, instrument),
            trailing_graces: Vec::new(),
            tempos: changed.iter().map(|&(at, tempo)| (at - start, tempo)).collect(),
            flow: Flow::default(),
        });
        start = barline;
    }
    Some(measures)
}

struct Timed<'a> {
    note: &'a MidiNote,
    onset: Quarters,
    end: Quarters,
}

impl<'a> Timed<'a> {
    fn new(note: &'a MidiNote, clock: &Clock) -> Option<Timed<'a>> {
        Some(Timed { note, onset: clock.quarters(note.on)?, end: clock.quarters(note.off)? })
    }
}

fn of_measure(
    held: &[Timed<'_>],
    start: Quarters,
    keys: &[(Quarters, Key)],
    instrument: Option<Transposition>,
) -> Vec<WrittenNote> {
    let mut accidentals = Accidentals::default();
    // Notes of one line that begin together are a chord: its highest is judged.
    let line = |timed: &Timed<'_>| (timed.note.track, timed.note.channel, timed.onset);
    let mut chords: HashMap<(usize, u8, Quarters), (u32, u8)> = HashMap::new();
    for timed in held {
        let number = chords.len() as u32;
        let chord = chords.entry(line(timed)).or_insert((number, 0));
        chord.1 = chord.1.max(timed.note.midi);
    }
    let mut judged: HashSet<u32> = HashSet::new();
    held.iter()
        .map(|timed| {
            let key = in_force(keys, timed.onset).unwrap_or(Key::major(0));
            let concert = spell(timed.note.midi, key);
            let printed = printed(key, instrument);
            let (chord, top) = chords.get(&line(timed)).copied().unwrap_or_default();
            let is_judged = timed.note.midi == top && judged.insert(chord);
            WrittenNote {
                onset: timed.onset - start,
                duration: timed.end - timed.onset,
                written: printed.pitch(concert),
                sounding: timed.note.midi,
                key: printed.key,
                alteration: accidentals.source(concert, key, false, false),
                role: if is_judged { Role::Line } else { Role::ChordTone },
                chord,
                voice: 0,
                tie_start: false,
                tie_stop: false,
                staccato: false,
                fermata: false,
                slurred: false,
                breath: false,
                graces: Vec::new(),
                id: None,
            }
        })
        .collect()
}

fn printed(concert: Key, instrument: Option<Transposition>) -> Printed {
    Printed::new(concert, instrument.unwrap_or_default())
}

/// What the meta events of all tracks say about one thing, in order of time.
fn changes<T>(file: &File, clock: &Clock, read: impl Fn(u8, &[u8]) -> Option<T>) -> Option<Vec<(Quarters, T)>> {
    let mut found: Vec<(u64, T)> = Vec::new();
    for event in file.tracks.iter().flatten() {
        if let Message::Meta { kind, data } = &event.message {
            found.extend(read(*kind, data).map(|what| (event.tick, what)));
        }
    }
    found.sort_by_key(|&(tick, _)| tick);
    found.into_iter().map(|(tick, what)| Some((clock.quarters(tick)?, what))).collect()
}

/// Time signature: upper number, power of two of the lower number, click and 32nds, which nobody uses.
fn meter(kind: u8, data: &[u8]) -> Option<Meter> {
    match (kind, data) {
        (0x58, &[count @ 1..=255, power @ 0..=6, _, _]) => Some(Meter { count: u16::from(count), unit: 1 << power }),
        _ => None,
    }
}

/// Key signature: sharps or (negative) flats, minor or not.
fn key(kind: u8, data: &[u8]) -> Option<Key> {
    let &[fifths, minor @ 0..=1] = data else { return None };
    let fifths = i8::from_be_bytes([fifths]);
    let mode = if minor == 1 { Mode::Minor } else { Mode::Major };
    (kind == 0x59 && (-7..=7).contains(&fifths)).then_some(Key { fifths, mode })
}

fn in_force<T: Copy>(changes: &[(Quarters, T)], at: Quarters) -> Option<T> {
    changes.get(after(changes, at).checked_sub(1)?).map(|&(_, what)| what)
}

/// The index of the first change after a point.
fn after<T>(changes: &[(Quarters, T)], at: Quarters) -> usize {
    changes.partition_point(|&(from, _)| from <= at)
}
