//! Notes counted short: without a click, a note (and the rest after it) that gets fewer beats than it has, and the next
//! note comes in that much too soon.

use super::tempo::Tempo;
use crate::exercise::Part;

/// Beats are left out whole; a count may be so far from whole.
const WHOLE: f64 = 0.3;
/// Of a note counted short at least so much of a beat is left.
const LEAST_GIVEN: f64 = 0.7;
/// What is left out must be so many times the error of the tempo, and so many times what one interval is off as a
/// rule: players of feeling stretch and hurry by a factor of 1.4 from one interval to the next.
const BEYOND: (f64, f64) = (2.5, 4.0);

/// What a note and the rest after it got, and what they have, in beats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Counted {
    pub(super) given: f64,
    pub(super) due: f64,
}

/// Whether the time from a note to the next was counted short, against the tempo that the player kept before and after.
/// `onsets`: seconds at which each note of the part began.
pub(super) fn short(part: &Part, onsets: &[Option<f64>], note: usize) -> Option<Counted> {
    let (it, next) = (part.notes.get(note)?, part.notes.get(note + 1)?);
    let (began, ended) = (onsets[note]?, onsets[note + 1]?);
    let beat = part.beat_unit(it);
    let due = (next.onset - it.onset).in_beats(beat).to_f64();
    if due < 1.0 + LEAST_GIVEN {
        return None;
    }
    let tempo = Tempo::beside(part, onsets, note)?;
    let given = (ended - began) / (tempo.quarter * beat.to_f64());
    let left_out = due - given;
    let is_whole = left_out.round() >= 1.0 && (left_out - left_out.round()).abs() <= WHOLE && given >= LEAST_GIVEN;
    let is_clear = left_out > BEYOND.0 * tempo.error * due && left_out > BEYOND.1 * tempo.uneven * due;
    (is_whole && is_clear).then_some(Counted { given, due })
}
