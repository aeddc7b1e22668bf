//! What must be said first on a sheet: where the part is out of the ordinary.

use super::words::{capital, place, some};
use crate::exercise::FollowedBy;
use crate::prepare::Sheet;
use crate::theory::Pitch;

/// The sentences, the most important ones first.
pub(super) fn remarks(sheet: &Sheet) -> Vec<String> {
    let mut remarks = Vec::new();
    if sheet.instrument.is_none() {
        remarks.push(
            "The part's name does not say which instrument plays it, so there are no fingerings and no range: name it \
             with --instrument."
                .into(),
        );
    }
    let octaves = sheet.moved.as_ref().map(|moved| moved.octaves);
    remarks.extend(octaves.filter(|octaves| *octaves != 0).map(|octaves| {
        let (count, way) = octave_words(octaves);
        format!("Made from another part's line: it sounds {count} {way} than that, where beginners play it.")
    }));
    remarks.extend(range_remark(sheet));
    for section in sheet.sections.iter().filter(|section| section.respelled) {
        remarks.push(format!(
            "{} is written instead of a key with more than six accidentals: it sounds the same.",
            section.written
        ));
    }
    if !sheet.part.notes.iter().any(|note| note.followed_by == FollowedBy::Rest) {
        remarks.push("There is no rest after any note: the one release is the end of the last note.".into());
    }
    if sheet.instrument.as_ref().is_some_and(|instrument| !instrument.sustains) {
        remarks.push("This instrument rings by itself: its releases are not counted.".into());
    }
    if sheet.sections.iter().all(|section| section.changed.is_empty()) {
        remarks.push("The band has no other key, so no note is a changed note here.".into());
    } else if sheet.sections.iter().flat_map(|section| &section.changed).all(|changed| changed.notes.is_empty()) {
        remarks.push("No changed note occurs in this part: every note is the same in all of the band's keys.".into());
    }
    remarks
}

fn range_remark(sheet: &Sheet) -> Option<String> {
    let (instrument, range) = (sheet.instrument.as_ref()?, sheet.range.as_ref()?);
    if range.outside.is_empty() {
        return None;
    }
    let advice = match range.octaves {
        Some(octaves) => {
            let (count, way) = octave_words(octaves);
            let what = if range.playable || fits_beginner(sheet, octaves) {
                "every note is in range"
            } else {
                "it can be played"
            };
            format!("{count} {way} {what}.")
        }
        None if range.playable => "No octave has all notes in range: change these, or leave them to others.".into(),
        None => "It lies on this instrument in no octave: choose another part or instrument.".into(),
    };
    if range.playable {
        let notes: Vec<String> =
            range.outside.iter().map(|(pitch, note)| format!("{pitch} ({})", place(&sheet.part, *note))).collect();
        let (low, high) = instrument.beginner_range;
        return Some(format!("Beyond the beginner range {low} to {high}: {}. {}", some(&notes, 6), capital(&advice)));
    }
    Some(format!(
        "As it stands this part, {} to {}, cannot be played on this instrument, which goes from {} to {}. {}",
        range.lowest,
        range.highest,
        instrument.full_range.0,
        instrument.full_range.1,
        capital(&advice)
    ))
}

fn fits_beginner(sheet: &Sheet, octaves: i8) -> bool {
    let (Some(instrument), Some(range)) = (&sheet.instrument, &sheet.range) else { return false };
    let moved = |pitch: Pitch| pitch.midi() + 12 * i16::from(octaves);
    let (low, high) = instrument.beginner_range;
    low.midi() <= moved(range.lowest) && moved(range.highest) <= high.midi()
}

/// `an octave higher`, `2 octaves lower`: the count, and the way.
fn octave_words(octaves: i8) -> (String, &'static str) {
    let count = match octaves.unsigned_abs() {
        1 => "an octave".to_owned(),
        count => format!("{count} octaves"),
    };
    (count, if octaves > 0 { "higher" } else { "lower" })
}
