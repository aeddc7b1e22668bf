//! The judged line: which voice, which tone of a chord, how it sounds, where its accidental comes from.
//!
//! In: the measures as they stand in the file. Out: [`WrittenMeasure`]s.

use super::super::spelling::Printed;
use super::super::{Choice, ReadError};
use super::measure::{PartReader, RawMeasure, Shift, TempoMark};
use super::note::RawNote;
use super::score::Score;
use crate::exercise::{Accidentals, Alteration, PartName, Quarters, Role, WrittenMeasure, WrittenNote};
use crate::theory::{Key, Pitch, Transposition};
use std::collections::{BTreeSet, HashMap};

/// The measures with what is judged in them, and the transposition at the start.
pub(super) fn judged(
    raw: Vec<RawMeasure<'_>>,
    part: &PartName,
    reader: &PartReader,
    choice: &Choice,
    score: &Score<'_, '_>,
    notices: &mut Vec<String>,
) -> Result<(Option<Transposition>, Vec<WrittenMeasure>), ReadError> {
    let pitched = || raw.iter().flat_map(|measure| &measure.notes).filter(|note| is_listed(note));
    if pitched().next().is_none() {
        return Err(ReadError::NoNotes { part: part.id.clone() });
    }
    // Without being asked for a staff, the first that has notes.
    let staff = match choice.staff {
        Some(staff) if !pitched().any(|note| note.staff == staff) => {
            return Err(ReadError::NoSuchStaff { part: part.id.clone(), staff });
        }
        Some(staff) => staff,
        None => pitched().map(|note| note.staff).min().unwrap_or(1),
    };
    say_what_is_left_out(&raw, staff, notices);
    let tuning =
        Tuning { is_concert: reader.is_concert, instrument: choice.instrument, file_transposes: file_transposes(&raw) };
    let mut line = Line { staff, tuning, voices: HashMap::new(), slurs: BTreeSet::new(), score };
    let start = raw.first().and_then(|measure| measure.shifts.iter().rfind(|(from, _)| from.is_zero()));
    let transposition = line.tuning.at_start(start.map(|&(_, shift)| shift).unwrap_or_default());
    let mut measures = Vec::with_capacity(raw.len());
    let mut rested = false;
    for measure in raw {
        let mut written = line.measure(measure)?;
        written.phrase_start |= rested || measures.is_empty();
        rested = !written.notes.iter().any(|note| note.role == Role::Line);
        measures.push(written);
    }
    Ok((transposition, measures))
}

/// Whether a note is listed at all: it has a pitch and a value, and is no cue.
fn is_listed(note: &RawNote<'_>) -> bool {
    note.pitch.is_some() && !note.is_grace && !note.is_cue
}

fn file_transposes(raw: &[RawMeasure<'_>]) -> bool {
    raw.iter()
        .flat_map(|measure| &measure.shifts)
        .any(|(_, shift)| shift.transpose.is_some() || shift.for_part.is_some())
}

fn say_what_is_left_out(raw: &[RawMeasure<'_>], staff: u8, notices: &mut Vec<String>) {
    let notes = || raw.iter().flat_map(|measure| &measure.notes).filter(|note| is_listed(note));
    let staves: BTreeSet<u8> = notes().map(|note| note.staff).collect();
    if staves.len() > 1 {
        notices.push(format!(
            "The part has {} staves; staff {staff} is judged. Choose another with --staff.",
            staves.len()
        ));
    }
    // Also where the top voice rests all measure while another plays.
    let several = raw.iter().find(|measure| {
        let top = top_voice(&measure.notes, staff);
        measure.notes.iter().any(|note| is_listed(note) && note.staff == staff && Some(note.voice) != top)
    });
    if let Some(measure) = several {
        notices
            .push(format!("There are several voices (first in measure {}); the top voice is judged.", measure.label));
    }
}

/// From encoded to written and sounding pitch.
struct Tuning {
    is_concert: bool,
    /// The player's instrument, as the caller knows it.
    instrument: Option<Transposition>,
    /// The file itself says how the part is transposed.
    file_transposes: bool,
}

impl Tuning {
    /// How the printed part is transposed where the file shows concert pitch.
    fn printed(&self, shift: Shift) -> Option<Transposition> {
        if self.is_concert {
            return shift.for_part.or(self.instrument);
        }
        // Without any transposition in the file it is at concert pitch, also if it does not say so; a
        // difference of octaves alone is how such parts are printed anyway.
        self.instrument.filter(|instrument| !self.file_transposes && instrument.chromatic % 12 != 0)
    }

    fn at_start(&self, shift: Shift) -> Option<Transposition> {
        self.printed(shift).or(match self.is_concert {
            true => (shift.octaves != 0).then(|| octaves(shift)),
            false => shift.transpose,
        })
    }

    /// The written key and pitch, and the sounding MIDI number.
    fn tune(&self, encoded: Pitch, key: Key, shift: Shift) -> (Key, Pitch, i16) {
        let added = if self.is_concert { octaves(shift) } else { shift.transpose.unwrap_or_default() };
        let sounding = encoded.midi() + i16::from(added.chromatic);
        match self.printed(shift) {
            Some(transposition) => {
                let printed = Printed::new(key, transposition);
                (printed.key, printed.pitch(added.to_concert(encoded)), sounding)
            }
            None => (key, encoded, sounding),
        }
    }
}

fn octaves(shift: Shift) -> Transposition {
    Transposition { diatonic: 7 * shift.octaves, chromatic: 12 * shift.octaves }
}

/// What goes on from measure to measure.
struct Line<'s, 'a, 'i> {
    staff: u8,
    tuning: Tuning,
    /// A number for each voice and staff met.
    voices: HashMap<(String, u8), u32>,
    /// Slurs of the judged voice that are open.
    slurs: BTreeSet<String>,
    score: &'s Score<'a, 'i>,
}

impl Line<'_, '_, '_> {
    fn measure(&mut self, raw: RawMeasure<'_>) -> Result<WrittenMeasure, ReadError> {
        let voice = top_voice(&raw.notes, self.staff);
        let is_line = |note: &RawNote<'_>| Some(note.voice) == voice && note.staff == self.staff;
        let sources = alterations(&raw);
        let mut notes: Vec<WrittenNote> = Vec::new();
        let mut graces: Vec<u8> = Vec::new();
        let mut chord = 0;
        for (index, note) in raw.notes.iter().enumerate() {
            let in_line = is_line(note);
            if !note.is_chord && !note.is_grace {
                chord += 1;
            }
            let Some(encoded) = note.pitch.filter(|_| !note.is_cue) else { continue };
            let key = in_force(&raw.keys, note.onset, Key::major(0));
            let (key, written, sounding) =
                self.tuning.tune(encoded, key, in_force(&raw.shifts, note.onset, Shift::default()));
            let sounding = u8::try_from(sounding).ok().filter(|&midi| midi <= 127);
            let sounding = sounding
                .ok_or_else(|| self.score.wrong_at(note.place, "a note sounds too low or too high for MIDI"))?;
            if note.is_grace {
                if in_line {
                    graces.push(sounding);
                }
                continue;
            }
            if in_line {
                for (number, begins) in &note.slurs {
                    if *begins {
                        self.slurs.insert((*number).to_owned())
                    } else {
                        self.slurs.remove(*number)
                    };
                }
            }
            let next_voice = self.voices.len() as u32;
            notes.push(WrittenNote {
                onset: note.onset,
                duration: note.duration,
                written,
                sounding,
                key,
                alteration: sources.get(index).copied().unwrap_or(Alteration::Signature),
                role: if in_line { Role::Line } else { Role::Elsewhere },
                chord,
                voice: *self.voices.entry((note.voice.to_owned(), note.staff)).or_insert(next_voice),
                tie_start: note.tie_start,
                tie_stop: note.tie_stop,
                staccato: note.staccato,
                fermata: note.fermata,
                slurred: in_line && !self.slurs.is_empty(),
                breath: note.breath,
                graces: if in_line { std::mem::take(&mut graces) } else { Vec::new() },
                id: note.id.map(str::to_owned),
            });
        }
        top_of_each_chord(&mut notes);
        notes.sort_by_key(|note| note.onset);
        let concert_key = in_force(&raw.keys, Quarters::ZERO, Key::major(0));
        let shift = in_force(&raw.shifts, Quarters::ZERO, Shift::default());
        let key = self.tuning.printed(shift).map_or(concert_key, |printed| Printed::new(concert_key, printed).key);
        let flow = raw.signs.flow;
        Ok(WrittenMeasure {
            label: raw.label,
            duration: raw.duration,
            meter: raw.meter,
            key,
            implicit: raw.implicit,
            phrase_start: raw.signs.phrase_here || flow.repeat_start || flow.segno.is_some() || flow.coda.is_some(),
            notes,
            trailing_graces: graces,
            tempos: tempos(raw.tempos),
            flow,
        })
    }
}

/// What is in force at a point of the measure.
fn in_force<T: Copy>(changes: &[(Quarters, T)], at: Quarters, otherwise: T) -> T {
    let next = changes.partition_point(|(from, _)| *from <= at);
    next.checked_sub(1).and_then(|last| changes.get(last)).map_or(otherwise, |&(_, what)| what)
}

/// The first voice of the staff in this measure: the lowest number, as voices are numbered from the top. A voice of which
/// only rests stand there, and those unprinted, is none.
fn top_voice<'a>(notes: &[RawNote<'a>], staff: u8) -> Option<&'a str> {
    let is_seen = |note: &&RawNote<'_>| note.pitch.is_some() || !note.is_hidden;
    let heard = notes.iter().filter(|note| note.staff == staff && !note.is_cue && !note.is_grace).filter(is_seen);
    // Names that are no numbers come after, in the file's order: `min_by_key` keeps the first of equals.
    heard.map(|note| note.voice).min_by_key(|voice| voice.parse::<u32>().unwrap_or(u32::MAX))
}

/// The source of the alteration of each note of the measure, staff by staff in order of time.
fn alterations(raw: &RawMeasure<'_>) -> Vec<Alteration> {
    let mut order: Vec<usize> = (0..raw.notes.len()).collect();
    order.sort_by_key(|&index| raw.notes[index].onset);
    let mut sources = vec![Alteration::Signature; raw.notes.len()];
    let mut staves: HashMap<u8, (Key, Accidentals)> = HashMap::new();
    for index in order {
        let note = &raw.notes[index];
        let Some(pitch) = note.pitch else { continue };
        let key = in_force(&raw.keys, note.onset, Key::major(0));
        let (old_key, accidentals) = staves.entry(note.staff).or_insert_with(|| (key, Accidentals::default()));
        if *old_key != key {
            (*old_key, *accidentals) = (key, Accidentals::default());
        }
        sources[index] = accidentals.source(pitch, key, note.accidental, note.tie_stop);
    }
    sources
}

/// Of each chord of the line the highest tone is judged; the others are its chord tones. What is printed at any
/// tone of a chord holds for all of it.
fn top_of_each_chord(notes: &mut [WrittenNote]) {
    // The tones of a chord follow each other.
    for chord in notes.chunk_by_mut(|a, b| a.chord == b.chord && a.role == b.role) {
        if chord.len() < 2 || chord[0].role != Role::Line {
            continue;
        }
        // Of two tones at one pitch the first stays.
        let top =
            (1..chord.len()).fold(0, |top, next| if chord[next].sounding > chord[top].sounding { next } else { top });
        let graces = chord.iter_mut().flat_map(|note| std::mem::take(&mut note.graces)).collect();
        let (staccato, fermata, breath) = (
            chord.iter().any(|note| note.staccato),
            chord.iter().any(|note| note.fermata),
            chord.iter().any(|note| note.breath),
        );
        let slurred = chord.last().is_some_and(|last| last.slurred);
        for (index, note) in chord.iter_mut().enumerate() {
            note.role = if index == top { Role::Line } else { Role::ChordTone };
        }
        chord[top] = WrittenNote { staccato, fermata, breath, slurred, graces, ..chord[top].clone() };
    }
}

/// In order of time; at one place a sound after the printed mark, so that it counts.
fn tempos(mut marks: Vec<TempoMark>) -> Vec<(Quarters, f64)> {
    marks.sort_by_key(|mark| (mark.at, mark.is_sound, mark.is_own));
    marks.into_iter().map(|mark| (mark.at, mark.micros)).collect()
}
