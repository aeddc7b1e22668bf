//! `attributes`: divisions, key, time, transpose, for-part.

use super::super::ReadError;
use super::super::error::shown;
use super::measure::{PartReader, RawMeasure, in_measure};
use super::number::{decimal, whole};
use super::tree::{child, child_text, elements, text_of, wrong};
use crate::exercise::{Meter, Quarters};
use crate::theory::{Key, Mode, Transposition};
use roxmltree::Node;

/// Takes in what changes at `now`.
pub(super) fn read(
    reader: &mut PartReader,
    attributes: Node<'_, '_>,
    now: Quarters,
    measure: &mut RawMeasure<'_>,
) -> Result<(), ReadError> {
    for element in elements(attributes) {
        if element.attribute("number").is_some_and(|number| number.trim() != reader.staff.to_string()) {
            continue;
        }
        match element.tag_name().name() {
            "divisions" => reader.division = Some(division(element)?),
            "key" => {
                reader.key = key(reader, element);
                measure.keys.push((now, reader.key));
            }
            "time" => {
                reader.meter = meter(reader, element);
                if now.is_zero() {
                    measure.meter = reader.meter.unwrap_or(measure.meter);
                }
            }
            "transpose" => {
                let (transposition, octaves) = transposition(element)?;
                reader.shift.transpose = Some(transposition);
                reader.shift.octaves = octaves;
                measure.shifts.push((now, reader.shift));
            }
            "for-part" => {
                if let Some(part) = child(element, "part-transpose") {
                    reader.shift.for_part = Some(transposition(part)?.0);
                    measure.shifts.push((now, reader.shift));
                }
            }
            _ => {}
        }
    }
    Ok(())
}

fn division(element: Node<'_, '_>) -> Result<Quarters, ReadError> {
    // A millionth of a quarter is finer than any program counts.
    let number = decimal(text_of(element)).filter(|n| *n > Quarters::ZERO && *n <= Quarters::new(1_000_000, 1));
    let number = number.ok_or_else(|| {
        wrong(
            element,
            format!("the divisions are \"{}\", not a number above 0 and up to 1000000", shown(text_of(element))),
        )
    })?;
    Ok(Quarters::new(number.denominator(), number.numerator()))
}

fn key(reader: &mut PartReader, element: Node<'_, '_>) -> Key {
    let fifths = child_text(element, "fifths").and_then(|fifths| fifths.parse::<i8>().ok());
    let Some(fifths) = fifths.filter(|fifths| (-7..=7).contains(fifths)) else {
        let place = in_measure(element);
        reader.notice(format!("The key signature in {place} is none of the usual ones and is left out."));
        return reader.key;
    };
    let mode = match child_text(element, "mode") {
        Some("minor" | "aeolian") => Mode::Minor,
        _ => Mode::Major,
    };
    Key { fifths, mode }
}

/// The meter; additive and composite ones summed: 3+2/8 is 5/8, 3/4 + 3/8 is 9/8.
fn meter(reader: &mut PartReader, element: Node<'_, '_>) -> Option<Meter> {
    if child(element, "senza-misura").is_some() {
        return None;
    }
    let texts = |name: &'static str| {
        elements(element).filter(move |child| child.tag_name().name() == name).map(text_of).collect::<Vec<_>>()
    };
    let (beats, units) = (texts("beats"), texts("beat-type"));
    let sum = |beats: &&str| beats.split('+').map(|count| count.trim().parse::<u16>().ok()).sum::<Option<u16>>();
    let counts: Option<Vec<u16>> = beats.iter().map(sum).collect();
    let units: Option<Vec<u16>> = units.iter().map(|unit| unit.parse::<u16>().ok()).collect();
    let is_unit = |unit: &u16| unit.is_power_of_two() && *unit <= 256;
    if let (Some(counts), Some(units)) = (counts, units) {
        let finest = units.iter().copied().max().unwrap_or(0);
        let total: u32 =
            counts.iter().zip(&units).map(|(&count, &unit)| u32::from(count) * u32::from(finest / unit.max(1))).sum();
        if counts.len() == units.len() && units.iter().all(is_unit) && (1..=1000).contains(&total) {
            return Some(Meter { count: total as u16, unit: finest });
        }
    }
    reader.notice(format!("The time signature in {} makes no sense and is left out.", in_measure(element)));
    reader.meter
}

/// A `transpose` or `part-transpose`, octaves included, and the octaves alone.
fn transposition(element: Node<'_, '_>) -> Result<(Transposition, i8), ReadError> {
    let number = |name, most: i64| child(element, name).map_or(Ok(0), |child| whole(child, -most..=most));
    let (chromatic, octaves) = (number("chromatic", 36)?, number("octave-change", 5)?);
    let diatonic = match child(element, "diatonic") {
        Some(diatonic) => whole(diatonic, -24..=24)?,
        None => i64::from(Transposition::usual(chromatic as i8).diatonic),
    };
    let transposition =
        Transposition { diatonic: (diatonic + 7 * octaves) as i8, chromatic: (chromatic + 12 * octaves) as i8 };
    Ok((transposition, octaves as i8))
}
