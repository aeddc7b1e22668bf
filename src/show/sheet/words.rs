//! The sentences of a sheet, the same in text, HTML and JSON.

use super::super::key_check::signature;
use super::super::phrases::{and, counted};
use crate::exercise::{Note, Part, Quarters, value_name};
use crate::instrument::{Press, Way};
use crate::prepare::{ChangedNote, Fingered, KeySection, Reason, Release, Sheet, Spot, Stretch};
use crate::theory::{Pitch, Rank, sign};

/// `Your key is C major: no sharps and no flats.`
pub(super) fn key(sheet: &Sheet, section: &KeySection) -> String {
    let from = if section.measure == 0 {
        "Your key".into()
    } else {
        format!("From measure {} your key", label(&sheet.part, section.measure))
    };
    format!("{from} is {}: {}. It sounds as concert {}.", section.written, signature(section.written), section.concert)
}

/// Who else reads the key of a section; not said again where the next section has the same readers.
pub(super) fn shared(sheet: &Sheet, place: usize) -> Option<String> {
    let names = &sheet.sections[place].shared_by;
    let before = place.checked_sub(1).map(|before| &sheet.sections[before].shared_by);
    (names.len() > 1 && before != Some(names)).then(|| format!("Everybody with this key: {}.", and(names)))
}

/// In minor, the leading tone.
pub(super) fn printed(section: &KeySection) -> Option<String> {
    let (letter, alter) = section.printed?;
    let name = format!("{letter}{}", sign::symbol(alter));
    Some(format!("Minor: {name}, the note that leads home, is printed in the part, not in the signature."))
}

/// `F♮`: a changed note always shows its sign.
pub(super) fn changed_name(changed: &ChangedNote) -> String {
    format!("{}{}", changed.changed.letter, sign::symbol(changed.changed.alter))
}

/// `F♮5`.
pub(super) fn with_sign(pitch: Pitch) -> String {
    format!("{}{}{}", pitch.letter, sign::symbol(pitch.alter), pitch.octave)
}

pub(super) fn rank(rank: Rank) -> &'static str {
    match rank {
        Rank::Primary => "primary",
        Rank::Secondary => "secondary",
        Rank::Other => "other",
    }
}

/// `3 times, in measures 2, 4 and 7`.
pub(super) fn occurrences(part: &Part, changed: &ChangedNote) -> String {
    let mut measures: Vec<String> = Vec::new();
    for &note in &changed.notes {
        let name = label(part, part.notes[note].measure);
        if !measures.contains(&name) {
            measures.push(name);
        }
    }
    match (changed.notes.len(), measures.len()) {
        (0, _) => "not in this part".into(),
        (1, _) => format!("once, in measure {}", measures.concat()),
        (count, 1) => format!("{count} times, in measure {}", measures.concat()),
        (count, _) => format!("{count} times, in measures {}", some(&measures, 8)),
    }
}

/// Why a fingering is not shown.
pub(super) fn no_fingering(sheet: &Sheet, pitch: Pitch) -> &'static str {
    match &sheet.instrument {
        None => "name the instrument",
        Some(instrument) => {
            let (low, high) = instrument.full_range;
            let there = (low.midi()..=high.midi()).contains(&pitch.midi());
            if there { "ask your teacher" } else { "not on this instrument" }
        }
    }
}

/// What one player's own sheet says of a changed note that the player keeps missing.
pub(super) fn kept_missing(sheet: &Sheet, it: &ChangedNote) -> Option<String> {
    let (letter, alter) = (it.changed.letter, it.changed.alter);
    let missed = &sheet.player.as_ref()?.missed;
    let (.., share) = missed.iter().find(|&&(other, sign, _)| (other, sign) == (letter, alter))?;
    let percent = (share.missed / share.takes as f64 * 100.0).round();
    Some(format!("Watch this one first: you missed it {percent} times in 100 in your last {} takes.", share.takes))
}

/// Whether a changed note stands on the sheet: the important ones always, others where the part has them.
pub(super) fn is_shown(changed: &ChangedNote) -> bool {
    changed.changed.rank != Rank::Other || !changed.notes.is_empty()
}

/// `F horn 2`, `3rd position (partial 4)`.
pub(super) fn way(way: &Way) -> String {
    let short = match &way.press {
        Press::Slide { partial, .. } => format!("{} (partial {partial})", way.press.short()),
        press => press.short(),
    };
    named(way, short)
}

/// With the name of the way, if it has one.
pub(super) fn named(way: &Way, short: String) -> String {
    way.name.as_ref().map_or_else(|| short.clone(), |name| format!("{name} {short}"))
}

/// The fingerings of a changed note or of what it is mistaken for.
pub(super) fn usual_ways(ways: &[Way]) -> impl Iterator<Item = &Way> {
    ways.iter().filter(|way| way.usual)
}

/// Alternates by name: `thumb B♭: T♭ 1-- | --- E♭`.
pub(super) fn alternates(fingered: &Fingered) -> Vec<String> {
    let others = fingered.ways.iter().filter(|way| !way.usual);
    others
        .map(|way| way.name.as_ref().map_or_else(|| way.press.short(), |name| format!("{name}: {}", way.press.short())))
        .collect()
}

/// `m2 beat 1: F♮5 after a leap of a fifth up, held 3 beats.`
pub(super) fn spot(part: &Part, spot: &Spot) -> String {
    let note = &part.notes[spot.note];
    let reasons: Vec<String> = spot.reasons.iter().map(|reason| reason_words(part, note, *reason)).collect();
    format!("{}: {} {}", place(part, spot.note), with_sign(note.written), and(&reasons))
}

fn reason_words(part: &Part, note: &Note, reason: Reason) -> String {
    match reason {
        Reason::Leap(letters) => {
            const NAMES: [&str; 5] = ["fourth", "fifth", "sixth", "seventh", "octave"];
            let way = if letters > 0 { "up" } else { "down" };
            let name = NAMES.get((letters.unsigned_abs() as usize).saturating_sub(3)).copied();
            match name {
                Some("octave") => format!("after a leap of an octave {way}"),
                Some(name) => format!("after a leap of a {name} {way}"),
                None => format!("after a leap of more than an octave {way}"),
            }
        }
        Reason::OtherForm(other) => {
            let other = &part.notes[other];
            let here = if other.measure == note.measure {
                String::new()
            } else {
                format!(" in measure {}", label(part, other.measure))
            };
            format!("after {}{}{here}", other.written.letter, sign::symbol(other.written.alter))
        }
        Reason::Break => "over the break".into(),
        Reason::Held(beats) => format!("held {}", beat_count(beats)),
    }
}

/// `measure 8: dotted half C5, 3 beats, off on 4`.
pub(super) fn longest(sheet: &Sheet) -> Option<String> {
    let note = &sheet.part.notes[sheet.longest?];
    let beats = beat_count(note.duration.in_beats(sheet.part.beat_unit(note)));
    let end = sheet
        .releases
        .iter()
        .find(|release| release.note == note.index)
        .map(|found| format!(", {}", release(sheet, found)));
    let value = value_name(note.duration);
    Some(format!(
        "measure {}: {value} {}, {beats}{}",
        label(&sheet.part, note.measure),
        note.written,
        end.unwrap_or_default()
    ))
}

/// `off on 4`, `off on 1 of measure 5`, `to the very end`.
pub(super) fn release(sheet: &Sheet, release: &Release) -> String {
    if release.fermata {
        return "held until the director lets it go".into();
    }
    match &release.on {
        None => "to the very end".into(),
        Some((measure, word)) if *measure == sheet.part.notes[release.note].measure => format!("off on {word}"),
        Some((measure, word)) => format!("off on {word} of measure {}", label(&sheet.part, *measure)),
    }
}

/// `2 to 5, 7`.
pub(super) fn breathless(part: &Part, stretches: &[Stretch]) -> Option<String> {
    let names: Vec<String> = stretches
        .iter()
        .map(|stretch| {
            let (first, last) = (label(part, stretch.first), label(part, stretch.last));
            if stretch.first == stretch.last { first } else { format!("{first} to {last}") }
        })
        .collect();
    (!names.is_empty()).then(|| some(&names, 12))
}

/// `D4 to A5; beginners play D4 to A5`.
pub(super) fn range(sheet: &Sheet) -> Option<String> {
    let (instrument, range) = (sheet.instrument.as_ref()?, sheet.range.as_ref()?);
    let (low, high) = instrument.beginner_range;
    let out = match range.notes_outside {
        0 => "all in range".into(),
        count => format!("{} beyond it", counted(count, "note")),
    };
    Some(format!("{} to {}; beginners play {low} to {high}: {out}", range.lowest, range.highest))
}

/// `m2 beat 1`.
pub(super) fn place(part: &Part, note: usize) -> String {
    let note = &part.notes[note];
    format!("m{} beat {}", label(part, note.measure), beat_number(part.beat_of(note)))
}

pub(super) fn label(part: &Part, measure: usize) -> String {
    part.measures.get(measure).map_or_else(String::new, |measure| measure.label.clone())
}

/// `3 beats`, `1 beat`, `2½ beats`.
pub(super) fn beat_count(beats: Quarters) -> String {
    let one = beats == Quarters::new(1, 1);
    format!("{} {}", beat_number(beats), if one { "beat" } else { "beats" })
}

/// `2`, `2½`, `2⅓`, `2 3/5`.
fn beat_number(beats: Quarters) -> String {
    let (top, bottom) = (beats.numerator(), beats.denominator());
    let (whole, rest) = (top.div_euclid(bottom), top.rem_euclid(bottom));
    let whole = if whole == 0 && rest != 0 { String::new() } else { whole.to_string() };
    match (rest, bottom) {
        (0, _) => whole,
        (1, 2) => format!("{whole}½"),
        (1, 3) => format!("{whole}⅓"),
        (2, 3) => format!("{whole}⅔"),
        (1, 4) => format!("{whole}¼"),
        (3, 4) => format!("{whole}¾"),
        _ if whole.is_empty() => format!("{rest}/{bottom}"),
        _ => format!("{whole} {rest}/{bottom}"),
    }
}

/// A list with an end: so many names, then how many more.
pub(super) fn some(names: &[String], most: usize) -> String {
    if names.len() <= most {
        return and(names);
    }
    format!("{} and {} more", names[..most].join(", "), names.len() - most)
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
