//! Barlines: repeats and endings; and the signs that stand only in other parts.

use super::super::endings;
use super::measure::{RawMeasure, TempoMark};
use super::tree::{child, elements};
use crate::exercise::RepeatEnd;
use roxmltree::Node;
use std::collections::BTreeMap;

/// Whether a `barline` divides its measure: a repeat sign in the middle.
pub(super) fn divides(barline: Node<'_, '_>) -> bool {
    barline.attribute("location") == Some("middle") && child(barline, "repeat").is_some()
}

/// Takes in a `barline`; one in the middle ends what stands before it.
pub(super) fn barline(barline: Node<'_, '_>, measure: &mut RawMeasure<'_>) {
    let is_left = barline.attribute("location") == Some("left");
    let signs = &mut measure.signs;
    for element in elements(barline) {
        match element.tag_name().name() {
            "repeat" => {
                let is_forward = element.attribute("direction") == Some("forward");
                let times = element.attribute("times").and_then(|times| times.trim().parse().ok());
                let after_jump = element.attribute("after-jump") == Some("yes");
                let end = RepeatEnd { times: times.unwrap_or(2), after_jump };
                match (is_forward, is_left) {
                    (true, true) => signs.flow.repeat_start = true,
                    (true, false) => signs.after.repeat_start = true,
                    (false, true) => signs.repeat_end_before = Some(end),
                    (false, false) => signs.flow.repeat_end = Some(end),
                }
            }
            "ending" => match element.attribute("type") {
                Some("start") => {
                    signs.flow.ending_start = Some(endings::of(element.attribute("number").unwrap_or_default()))
                }
                _ if is_left => signs.ending_stop_before = true,
                _ => signs.flow.ending_stop = true,
            },
            "bar-style" => {
                if matches!(element.text().map(str::trim), Some("light-light" | "light-heavy" | "heavy-light")) {
                    if is_left {
                        signs.phrase_here = true;
                    } else {
                        signs.phrase_after = true;
                    }
                }
            }
            _ => {}
        }
    }
    let place = if is_left { &mut signs.flow } else { &mut signs.after };
    let name = |attribute: &str, element: &str| {
        let sign = child(barline, element).map(|_| "");
        barline.attribute(attribute).or(sign).map(|name| name.trim().to_owned())
    };
    place.segno = place.segno.take().or(name("segno", "segno"));
    place.coda = place.coda.take().or(name("coda", "coda"));
}

/// Puts signs where they work: what stands at a left barline for the measure before, at a right one for the measure after.
pub(super) fn settle(measures: &mut [RawMeasure<'_>]) {
    for index in 0..measures.len() {
        let signs = &mut measures[index].signs;
        let (after, phrase) = (std::mem::take(&mut signs.after), signs.phrase_after);
        let (end, stop) = (signs.repeat_end_before.take(), std::mem::take(&mut signs.ending_stop_before));
        if let Some(next) = measures.get_mut(index + 1) {
            let flow = &mut next.signs.flow;
            flow.repeat_start |= after.repeat_start;
            flow.segno = flow.segno.take().or(after.segno);
            flow.coda = flow.coda.take().or(after.coda);
            next.signs.phrase_here |= phrase;
        }
        if let Some(before) = index.checked_sub(1).and_then(|before| measures.get_mut(before)) {
            before.signs.flow.repeat_end = before.signs.flow.repeat_end.or(end);
            before.signs.flow.ending_stop |= stop;
        }
    }
}

/// Takes over the tempo and the signs of another part: many programs print them only above the top part.
pub(super) fn adopt(measures: &mut [RawMeasure<'_>], others: &[RawMeasure<'_>]) {
    let has_endings = measures.iter().any(|measure| measure.signs.flow.ending_start.is_some());
    let other_at: BTreeMap<(usize, usize), &RawMeasure<'_>> =
        others.iter().map(|other| ((other.page, other.half), other)).collect();
    for measure in measures {
        let Some(other) = other_at.get(&(measure.page, measure.half)) else { continue };
        measure.signs.phrase_here |= other.signs.phrase_here;
        let inside = other.tempos.iter().filter(|tempo| tempo.at <= measure.duration);
        measure.tempos.extend(inside.map(|tempo| TempoMark { is_own: false, ..*tempo }));
        let (own, other) = (&mut measure.signs.flow, &other.signs.flow);
        own.repeat_start |= other.repeat_start;
        own.repeat_end = own.repeat_end.or(other.repeat_end);
        own.da_capo |= other.da_capo;
        own.fine |= other.fine;
        for (own, other) in [
            (&mut own.segno, &other.segno),
            (&mut own.coda, &other.coda),
            (&mut own.to_coda, &other.to_coda),
            (&mut own.dal_segno, &other.dal_segno),
        ] {
            *own = own.take().or_else(|| other.clone());
        }
        if !has_endings {
            own.ending_start = own.ending_start.take().or_else(|| other.ending_start.clone());
            own.ending_stop |= other.ending_stop;
        }
    }
}
