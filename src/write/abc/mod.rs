//! ABC 2.1 (the standard of December 2011), one tune.
//!
//! In: parts with marks. Out: the text of a tune, a voice for each part. Section numbers in comments are the standard's.
//!
//! Where readers of ABC differ, the text says the same to all of them: accidentals are repeated where the rules for
//! octaves, grace notes and ties would give different notes, fields stand on lines of their own wherever they can, and
//! everything but plain repeats and endings is played out. A
//! release is an annotation below its note, a courtesy an accidental that the signature has anyway.

mod voice;

use super::page::Page;
use super::shape::Shape;
use super::spans::Spans;
use super::{MarkedPart, WriteError};
use crate::exercise::{Meter, Part, Quarters};
use crate::instrument::Clef;
use crate::theory::{Key, Mode, sign};
use voice::Voice;

/// The unit of length of every tune, `L:1/8`, in a quarter.
const UNITS_IN_A_QUARTER: i64 = 2;

/// Writes parts as one ABC tune, with the title where there is one. Reading it back gives the same notes; measures get the
/// numbers that the reader counts, and [`super::held_over`] holds here too.
pub fn abc(title: Option<&str>, parts: &[MarkedPart<'_>]) -> Result<String, WriteError> {
    let mut text = "%abc-2.1\nX:1\n".to_owned();
    // §3.1.2: a tune has a title, empty if need be.
    text.push_str(&format!("T:{}\n", escaped(title.unwrap_or_default())));
    let first = parts.first().and_then(|marked| marked.part.measures.first());
    let meter = first.map_or(Meter::COMMON, |measure| measure.meter);
    let key = first.map_or(Key::major(0), |measure| measure.key);
    text.push_str(&format!("M:{}/{}\nL:1/8\n", meter.count, meter.unit));
    // The tempo of all is the one of the first voice, as in a score.
    let tempo = parts.first().filter(|marked| marked.part.tempo_given);
    if let Some(marked) = tempo {
        text.push_str(&format!("Q:{}\n", tempo_of(marked.part.tempo.micros_per_quarter(Quarters::ZERO), meter)));
    }
    text.push_str(&format!("K:{}\n", key_name(key)));
    for (number, marked) in (1..).zip(parts) {
        let spans = Spans::new(marked.part);
        let page = if has_plain_signs(marked.part) {
            Page::new(marked.part, &spans)
        } else {
            Page::played_out(marked.part, &spans)
        };
        text.push_str(&format!("V:{number}{}\n", properties(marked)));
        text.push_str(&Voice::new(marked, &page, key, meter, number == 1).write()?);
    }
    Ok(text)
}

/// §4.6, §7: name, clef and transposition of a voice.
fn properties(marked: &MarkedPart<'_>) -> String {
    let mut text = String::new();
    let name = &marked.part.name.name;
    if !name.is_empty() {
        text.push_str(&format!(" name=\"{}\"", escaped(name).replace('"', "'")));
    }
    text.push_str(if marked.clef() == Clef::Bass { " clef=bass" } else { " clef=treble" });
    let semitones = marked.part.transposition.unwrap_or_default().chromatic;
    if semitones != 0 {
        text.push_str(&format!(" transpose={semitones}"));
    }
    text
}

/// Whether a part has no other signs than repeats of two passes and numbered endings (§4.8 to §4.10), which every reader
/// plays alike.
fn has_plain_signs(part: &Part) -> bool {
    part.measures.iter().map(|measure| &measure.flow).all(|flow| {
        let jumps = flow.da_capo || flow.fine || flow.dal_segno.is_some() || flow.to_coda.is_some();
        let repeats = flow.repeat_end.is_none_or(|repeat| repeat.times == 2);
        let endings = flow.ending_start.as_ref().is_none_or(|ending| !ending.passes.is_empty());
        !jumps && repeats && endings
    })
}

/// §3.1.8: beats a minute, as `1/4=112`.
fn tempo_of(micros_per_quarter: f64, meter: Meter) -> String {
    let quarters = 60_000_000.0 / micros_per_quarter;
    let beat = meter.beat();
    let per_minute = (quarters / beat.to_f64() * 1000.0).round() / 1000.0;
    let whole = beat.times(1, 4);
    format!("{}/{}={per_minute}", whole.numerator(), whole.denominator())
}

/// §3.1.14: `Bb`, `F#m`.
fn key_name(key: Key) -> String {
    let (letter, alter) = key.tonic();
    let mode = if key.mode == Mode::Minor { "m" } else { "" };
    format!("{letter}{}{mode}", sign::ascii(alter))
}

/// §8.2: a text string on one line; `%` would begin a comment.
fn escaped(text: &str) -> String {
    let mut escaped = String::new();
    for letter in text.chars() {
        match letter {
            '\\' | '%' | '&' => escaped.extend(['\\', letter]),
            letter if letter.is_control() => escaped.push(' '),
            letter => escaped.push(letter),
        }
    }
    escaped.trim().to_owned()
}

/// The length of a shape in units, as it is written inside its tuplet: nothing for one unit, `3`, `/2`, `3/2` (§4.3).
fn length(value: Quarters, shape: Option<Shape>) -> String {
    let nominal = match shape.and_then(|shape| shape.tuplet) {
        Some((actual, normal)) => value.times(actual, normal),
        None => value,
    };
    let units = nominal.times(UNITS_IN_A_QUARTER, 1);
    match (units.numerator(), units.denominator()) {
        (1, 1) => String::new(),
        (count, 1) => count.to_string(),
        (1, parts) => format!("/{parts}"),
        (count, parts) => format!("{count}/{parts}"),
    }
}
