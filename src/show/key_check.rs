//! The key check before a take: the key with its sharps or flats by name, the changed notes, the hold to watch.
//!
//! In: a player's part. Out: lines that a child of 12 understands.

use super::phrases::and;
use crate::exercise::{FollowedBy, Note, Part, Quarters, value_name};
use crate::theory::sign::symbol;
use crate::theory::{Key, Letter};

/// The lines of the key check. `changed` are the changed notes of the written key, the most changed first.
pub fn key_check(part: &Part, changed: &[(Letter, i8)], check_note: bool) -> Vec<String> {
    let key = part.measures.first().map_or(Key::major(0), |measure| measure.key);
    let mut lines = vec![format!("Your key is {key}: {}.", signature(key))];
    let met: Vec<String> = changed
        .iter()
        .filter(|(letter, _)| part.notes.iter().any(|note| note.written.letter == *letter))
        .map(|(letter, alter)| format!("{letter}{}", symbol(*alter)))
        .collect();
    if let Some((first, others)) = met.split_first() {
        let rest = if others.is_empty() { String::new() } else { format!(", then {}", and(others)) };
        lines.push(format!("The changed note to think of: {first}{rest}."));
    }
    if later_keys(part) {
        lines.push("The key changes on the way: look for the new signature.".into());
    }
    if let Some(note) = hold_to_watch(part) {
        lines.push(hold_line(part, note));
    }
    if check_note {
        lines.push("Play your written C once now: it shows which pitch the controller sends.".into());
    }
    lines
}

/// `2 sharps, F♯ and C♯`.
pub(super) fn signature(key: Key) -> String {
    let (word, sign) = if key.fifths < 0 { ("flat", -1) } else { ("sharp", 1) };
    let names: Vec<String> =
        key.signature_letters().into_iter().map(|letter| format!("{letter}{}", symbol(sign))).collect();
    let count = names.len();
    match count {
        0 => "no sharps and no flats".into(),
        1 => format!("1 {word}, {}", and(&names)),
        _ => format!("{count} {word}s, {}", and(&names)),
    }
}

fn later_keys(part: &Part) -> bool {
    let mut keys = part.measures.iter().map(|measure| measure.key.fifths);
    keys.next().is_some_and(|first| keys.any(|key| key != first))
}

/// The longest note before a rest, the first of several; where no rest follows any note, the last one.
fn hold_to_watch(part: &Part) -> Option<&Note> {
    let judged = |note: &&Note| !note.staccato && !note.fermata;
    let mut longest: Option<&Note> = None;
    for note in part.notes.iter().filter(|note| note.followed_by == FollowedBy::Rest).filter(judged) {
        if longest.is_none_or(|longest| note.duration > longest.duration) {
            longest = Some(note);
        }
    }
    longest.or_else(|| part.notes.last().filter(judged))
}

fn hold_line(part: &Part, note: &Note) -> String {
    let measure = part.measure_of(note).map_or("", |measure| measure.label.as_str());
    let name = note.written;
    let value = value_name(note.duration);
    let until = match note.followed_by {
        FollowedBy::Rest => match end_beat(part, note) {
            Some((beat, true)) => format!("until the rest on beat {beat}"),
            Some((beat, false)) => format!("over the barline, until the rest on beat {beat}"),
            None => "until the rest".into(),
        },
        FollowedBy::End | FollowedBy::Note => "for its full value".into(),
    };
    format!("The hold to watch: measure {measure}, {value} {name}. Hold it {until}.")
}

/// The beat of the measure on which a note ends, if it is a whole beat, and whether in the measure of its onset.
/// A note that ends with its measure ends on beat 1 of the next.
fn end_beat(part: &Part, note: &Note) -> Option<(i64, bool)> {
    let end = note.end();
    let place = part.measures.iter().rposition(|measure| measure.onset <= end)?;
    let measure = part.measures.get(place)?;
    let beat = (end - measure.onset).in_beats(measure.meter.beat()) + Quarters::new(1, 1);
    (beat.denominator() == 1).then(|| (beat.numerator(), place == note.measure))
}
