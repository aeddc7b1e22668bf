//! Numbers of measures, pickups, halves, phrases; and measures that do not fit their meter.
//!
//! ABC numbers nothing: measures are counted from 1 as printed music is (common practice, no source). A short first
//! measure is a pickup and has the number before; the second half of a measure that a repeat sign or double bar divides has the number of
//! the first.

use super::assembly::{Edge, Page};
use crate::exercise::{Quarters, Role};
use crate::read::notices::Notices;

/// Measures that are named in a notice.
const MOST_NAMED: usize = 5;

/// Numbers the measures of a page from `first`; says which do not fit their meter.
pub(super) fn number(page: &mut Page, first: u32, notices: &mut Notices) {
    let count = page.measures.len();
    let mut next = first;
    let mut misfits: Vec<String> = Vec::new();
    let mut rested = false;
    // Whether the measure before is a second half: it is divided no further.
    let mut was_half = false;
    for index in 0..count {
        let is_half = !was_half && is_second_half(page, index);
        let full = page.edges[index].meter.map(|meter| meter.measure());
        let is_short = full.is_some_and(|full| page.measures[index].duration < full);
        let is_pickup = index == 0 && count > 1 && is_short;
        next = page.edges[index].number.unwrap_or(next);
        let number = if is_half || is_pickup { next.saturating_sub(1) } else { next };
        if let Some(full) = full.filter(|_| !is_half && !is_pickup && !is_fitting(page, index)) {
            let Edge { at, .. } = page.edges[index];
            let holds = shown(page.measures[index].duration);
            misfits.push(format!("measure {number} (line {}) holds {holds} quarters and not {}", at.line, shown(full)));
        }
        let measure = &mut page.measures[index];
        measure.label = number.to_string();
        measure.implicit = is_half || is_pickup;
        measure.phrase_start |= index == 0
            || rested
            || measure.flow.repeat_start
            || measure.flow.segno.is_some()
            || measure.flow.coda.is_some();
        rested = !measure.notes.iter().any(|note| note.role == Role::Line);
        was_half = is_half;
        if !is_half && !is_pickup {
            next = number + 1;
        }
    }
    say_misfits(&misfits, notices);
}

fn say_misfits(misfits: &[String], notices: &mut Notices) {
    if misfits.is_empty() {
        return;
    }
    let more = misfits.len().saturating_sub(MOST_NAMED);
    let named = misfits.iter().take(MOST_NAMED).cloned().collect::<Vec<_>>().join("; ");
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    notices.say(format!("Not as long as their meter says: {named}{more}."));
}

/// Whether a measure goes on with one that something other than a plain bar line divides, and fills it up.
fn is_second_half(page: &Page, index: usize) -> bool {
    let Some(before) = index.checked_sub(1) else { return false };
    let (Some(edge), Some(full)) = (page.edges.get(before), page.edges[before].meter.map(|meter| meter.measure()))
    else {
        return false;
    };
    // A later ending begins where the first one did, not after it.
    let is_later_ending =
        page.measures[index].flow.ending_start.as_ref().is_some_and(|ending| !ending.passes.contains(&1));
    let (first, second) = (page.measures[before].duration, page.measures[index].duration);
    edge.may_be_divided && !is_later_ending && first < full && first.checked_add(second) == Some(full)
}

/// Whether a measure is as long as its meter says, or shorter at a place where it may be: next to a repeat sign, a double bar
/// or an ending, and at the end.
fn is_fitting(page: &Page, index: usize) -> bool {
    let edge = &page.edges[index];
    let Some(full) = edge.meter.map(|meter| meter.measure()) else { return true };
    let duration = page.measures[index].duration;
    let is_divided_before =
        index.checked_sub(1).and_then(|before| page.edges.get(before)).is_none_or(|edge| edge.may_be_divided);
    let may_be_short = edge.may_be_divided || is_divided_before || index + 1 == page.measures.len();
    duration == full || (may_be_short && duration < full)
}

/// `3 1/2`.
fn shown(quarters: Quarters) -> String {
    let (top, bottom) = (quarters.numerator(), quarters.denominator().max(1));
    match (top / bottom, top % bottom) {
        (whole, 0) => whole.to_string(),
        (0, rest) => format!("{rest}/{bottom}"),
        (whole, rest) => format!("{whole} {rest}/{bottom}"),
    }
}
