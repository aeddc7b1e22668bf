//! `direction` and `sound`: tempo, jumps, rehearsal letters.

use super::super::error::shown;
use super::super::jump_words::is_jump;
use super::measure::{PartReader, RawMeasure, TempoMark, in_measure};
use super::tree::{child, elements, text_of};
use super::value::{dotted, of_type};
use crate::exercise::{Flow, Quarters};
use roxmltree::Node;

/// Takes in a direction that stands at `now`.
pub(super) fn read(reader: &mut PartReader, direction: Node<'_, '_>, now: Quarters, measure: &mut RawMeasure<'_>) {
    let offset = child(direction, "offset");
    let shifted = offset.map_or(Quarters::ZERO, |offset| reader.offset(offset));
    // MusicXML 4.0 `offset`: it moves the print; the sound only with sound="yes".
    let sounds = offset.is_some_and(|offset| offset.attribute("sound") == Some("yes"));
    let sound_at = if sounds { not_before_start(now + shifted) } else { now };
    let mut words = String::new();
    let mut has_jump = false;
    for element in elements(direction) {
        match element.tag_name().name() {
            "direction-type" => {
                for mark in elements(element) {
                    match mark.tag_name().name() {
                        "metronome" => metronome(reader, mark, not_before_start(now + shifted), measure),
                        "rehearsal" => measure.signs.phrase_here = true,
                        "words" => words.extend([text_of(mark), " "]),
                        _ => {}
                    }
                }
            }
            "sound" => {
                let before = measure.signs.flow.clone();
                sound(reader, element, sound_at, measure);
                has_jump |= before != measure.signs.flow;
            }
            _ => {}
        }
    }
    if !has_jump && is_jump(&words) {
        let place = in_measure(direction);
        reader.notice(format!(
            "\"{}\" in {place} stands there in words only: it is not played out.",
            shown(words.trim())
        ));
    }
}

/// Takes in a `sound` that stands at `now`, inside a direction or by itself.
pub(super) fn sound(reader: &mut PartReader, sound: Node<'_, '_>, now: Quarters, measure: &mut RawMeasure<'_>) {
    let at = child(sound, "offset").map_or(now, |offset| not_before_start(now + reader.offset(offset)));
    if let Some(text) = sound.attribute("tempo") {
        match text.trim().parse::<f64>().ok().and_then(micros) {
            Some(micros) => measure.tempos.push(TempoMark { at, micros, is_sound: true, is_own: true }),
            None => {
                let place = in_measure(sound);
                reader.notice(format!("The tempo \"{}\" in {place} makes no sense and is left out.", shown(text)));
            }
        }
    }
    jumps(sound, &mut measure.signs.flow);
}

/// The attributes of `sound` that change the order of playing.
fn jumps(sound: Node<'_, '_>, flow: &mut Flow) {
    let is_set = |name| sound.attribute(name).is_some_and(|value| value.trim() != "no");
    let name = |name| sound.attribute(name).map(|value| value.trim().to_owned());
    flow.da_capo |= is_set("dacapo");
    flow.fine |= is_set("fine");
    flow.repeat_start |= is_set("forward-repeat");
    flow.dal_segno = name("dalsegno").or(flow.dal_segno.take());
    flow.segno = name("segno").or(flow.segno.take());
    flow.to_coda = name("tocoda").or(flow.to_coda.take());
    flow.coda = name("coda").or(flow.coda.take());
}

/// A printed tempo: its beat unit with dots, so many a minute.
fn metronome(reader: &mut PartReader, mark: Node<'_, '_>, at: Quarters, measure: &mut RawMeasure<'_>) {
    let mut units: Vec<(Quarters, u32)> = Vec::new();
    let mut per_minute = None;
    for element in elements(mark) {
        match element.tag_name().name() {
            "beat-unit" => units.extend(of_type(text_of(element)).map(|unit| (unit, 0))),
            "beat-unit-dot" => {
                if let Some((_, dots)) = units.last_mut() {
                    *dots += 1;
                }
            }
            "per-minute" => per_minute = Some(text_of(element)),
            _ => {}
        }
    }
    let unit = |index: usize| units.get(index).map(|&(unit, dots)| dotted(unit, dots).to_f64());
    let tempo = match (unit(0), unit(1), per_minute) {
        (Some(unit), None, Some(text)) => first_number(text).and_then(|number| micros(number * unit)),
        _ => None,
    };
    match tempo {
        Some(micros) => measure.tempos.push(TempoMark { at, micros, is_sound: false, is_own: true }),
        None => {
            let place = in_measure(mark);
            reader.notice(format!("The metronome mark in {place} gives no number and is left out."));
        }
    }
}

/// The first number of a text such as `c. 120` or `96-104`.
fn first_number(text: &str) -> Option<f64> {
    let start = text.find(|c: char| c.is_ascii_digit())?;
    let digits = text.get(start..)?;
    let end = digits.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(digits.len());
    digits.get(..end)?.trim_end_matches('.').parse().ok()
}

/// Quarters a minute to microseconds a quarter, for tempos that mean something.
fn micros(quarters_per_minute: f64) -> Option<f64> {
    (quarters_per_minute.is_finite() && (1.0..=10_000.0).contains(&quarters_per_minute))
        .then(|| 60_000_000.0 / quarters_per_minute)
}

fn not_before_start(at: Quarters) -> Quarters {
    if at > Quarters::ZERO && at.is_in_range() { at } else { Quarters::ZERO }
}
