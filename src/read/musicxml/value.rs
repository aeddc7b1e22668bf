//! Note values: what a type, its dots and its time modification last, and the repair of rounded tuplets.

use super::tree::{child_text, elements};
use crate::exercise::Quarters;
use roxmltree::Node;

/// Quarters that a `type` or `beat-unit` lasts (MusicXML 4.0 `note-type-value`).
pub(super) fn of_type(name: &str) -> Option<Quarters> {
    let (top, bottom) = match name {
        "maxima" => (32, 1),
        "long" => (16, 1),
        "breve" => (8, 1),
        "whole" => (4, 1),
        "half" => (2, 1),
        "quarter" => (1, 1),
        "eighth" => (1, 2),
        "16th" => (1, 4),
        "32nd" => (1, 8),
        "64th" => (1, 16),
        "128th" => (1, 32),
        "256th" => (1, 64),
        "512th" => (1, 128),
        "1024th" => (1, 256),
        _ => return None,
    };
    Some(Quarters::new(top, bottom))
}

/// With dots: each adds half of what was added before.
pub(super) fn dotted(value: Quarters, dots: u32) -> Quarters {
    let dots = dots.min(8);
    value.times((2 << dots) - 1, 1 << dots)
}

/// What a note's `type`, `dot`s and `time-modification` say; `None` without a type.
pub(super) fn notated(note: Node<'_, '_>) -> Option<Quarters> {
    let value = of_type(child_text(note, "type")?)?;
    let dots = elements(note).filter(|child| child.tag_name().name() == "dot").count() as u32;
    let (normal, actual) = modification(note).unwrap_or((1, 1));
    Some(dotted(value, dots).times(normal, actual))
}

/// (normal, actual) notes of a `time-modification`.
fn modification(note: Node<'_, '_>) -> Option<(i64, i64)> {
    let element = elements(note).find(|child| child.tag_name().name() == "time-modification")?;
    let number = |name| child_text(element, name)?.parse::<i64>().ok().filter(|number| (1..=1000).contains(number));
    Some((number("normal-notes")?, number("actual-notes")?))
}

/// What a note lasts that the file gives as `given`, in units of `division` (quarters): where the divisions
/// cannot hold a tuplet, what is notated and less than one division away.
pub(super) fn repaired(note: Node<'_, '_>, given: Quarters, division: Quarters) -> Quarters {
    let Some((normal, actual)) = modification(note) else { return given };
    let is_near = |value: &Quarters| {
        let off = if *value > given { *value - given } else { given - *value };
        off < division && value.in_beats(division).denominator() != 1
    };
    if let Some(value) = notated(note) {
        return if is_near(&value) { value } else { given };
    }
    // Without a type: the nearest plain or dotted value of the tuplet.
    const TYPES: [&str; 8] = ["whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th"];
    let values = TYPES.iter().filter_map(|name| of_type(name));
    let values = values.flat_map(|value| [value, dotted(value, 1)]).map(|value| value.times(normal, actual));
    let off = |value: &Quarters| if *value > given { *value - given } else { given - *value };
    match values.clone().any(|value| value == given) {
        true => given,
        false => values.filter(is_near).min_by_key(off).unwrap_or(given),
    }
}
