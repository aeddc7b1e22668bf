//! Repeats without a beginning, codas, and the signs that stand only in other voices.

use super::assembly::Page;
use crate::exercise::Flow;

/// Puts the signs of a page where they work.
pub(super) fn settle(page: &mut Page) {
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
        } else if page.edges[index].ends_double && !is_open {
            after_double = Some(index + 1);
        }
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

/// Takes over from another voice of as many measures the tempo and the order of playing, where the page has none of its own.
pub(super) fn adopt(page: &mut Page, other: &Page) {
    if page.measures.len() != other.measures.len() {
        return;
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
