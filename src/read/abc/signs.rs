//! Repeats without a beginning, codas, and the signs that stand only in other voices.

use super::assembly::Page;
use crate::exercise::Flow;

/// Puts the signs of a page where they work.
pub(super) fn settle(page: &mut Page) {
    endless_endings(page);
    repeats_from_double_bars(page);
    codas(page);
}

/// A repeat whose beginning is not marked goes back to the latest double bar or end of a repeat, else to the beginning
/// (ABC 2.1, 4.8, recommendation). The latter two are what [`crate::exercise`] does anyway.
fn repeats_from_double_bars(page: &mut Page) {
    let mut is_open = false;
    let mut after_double: Option<usize> = None;
    for index in 0..page.measures.len() {
        let flow = &page.measures[index].flow;
        if flow.repeat_start {
            (is_open, after_double) = (true, None);
        }
        if flow.repeat_end.is_some() {
            if let Some(from) = after_double.filter(|_| !is_open) {
                page.measures[from].flow.repeat_start = true;
            }
            (is_open, after_double) = (false, None);
        } else if page.edges[index].ends_double && !is_open && !begins_ending(page, index + 1) {
            after_double = Some(index + 1);
        }
    }
}

fn begins_ending(page: &Page, index: usize) -> bool {
    page.measures.get(index).is_some_and(|measure| measure.flow.ending_start.is_some())
}

/// A second ending lasts to a double bar or repeat sign (ABC 2.1, 4.10). Where that is a repeat sign, and further away than the first
/// ending was long, it belongs to the next passage: the ending is then as long as the first (common practice, no source).
fn endless_endings(page: &mut Page) {
    // Where the ending before began and how many measures it had.
    let mut before: Option<(usize, usize)> = None;
    let mut begins = None;
    for index in 0..page.measures.len() {
        if begins_ending(page, index) {
            begins = Some(index);
        }
        let flow = &page.measures[index].flow;
        let (stops, repeats) = (flow.ending_stop, flow.repeat_end.is_some());
        let Some(from) = begins.filter(|_| stops) else { continue };
        let length = index + 1 - from;
        let follows = before.filter(|(start, measures)| start + measures == from).map(|(_, measures)| measures);
        let is_last = !begins_ending(page, index + 1);
        if let Some(usual) = follows.filter(|&usual| repeats && is_last && usual < length) {
            page.measures[index].flow.ending_stop = false;
            page.measures[from + usual - 1].flow.ending_stop = true;
        }
        (before, begins) = (Some((from, length)), None);
    }
}

/// `!coda!` is the sign itself. Where no `!dacoda!` sends to it, the first of two sends to the second (common practice, no
/// source).
fn codas(page: &mut Page) {
    let is_sent_to = page.measures.iter().any(|measure| measure.flow.to_coda.is_some());
    let codas = std::mem::take(&mut page.codas);
    for (number, &(before, from)) in codas.iter().enumerate() {
        let sends = number == 0 && codas.len() > 1 && !is_sent_to;
        if let Some(measure) = page.measures.get_mut(if sends { before } else { from }) {
            let sign = if sends { &mut measure.flow.to_coda } else { &mut measure.flow.coda };
            *sign = Some(String::new());
        }
    }
}

/// Takes over from another voice of as many measures the tempo, the sections and the order of playing, where the page has none of
/// its own.
pub(super) fn adopt(page: &mut Page, other: &Page) {
    if page.measures.len() != other.measures.len() {
        return;
    }
    if page.sections.len() < other.sections.len() {
        page.sections = other.sections.clone();
    }
    let has_flow = page.measures.iter().any(|measure| measure.flow != Flow::default());
    let has_tempo = page.measures.iter().any(|measure| !measure.tempos.is_empty());
    for (own, other) in page.measures.iter_mut().zip(&other.measures) {
        if !has_flow {
            own.flow = other.flow.clone();
        }
        if !has_tempo {
            own.tempos = other.tempos.clone();
        }
    }
}
