//! Voice overlay: `&` goes back by barlines, and what follows is another voice below (ABC 2.1, 7.4). The first voice is
//! judged; the others are left out here.

use super::code::is_timed;
use super::items::{Item, What};
use super::lines::At;

/// The items without overlaid voices, and where the first of them stood.
pub(super) fn without(items: Vec<Item>) -> (Vec<Item>, Option<At>) {
    let mut first = None;
    let mut kept = Vec::with_capacity(items.len());
    // Whether the measure holds anything yet; while leaving out: bar lines of the overlaid voice still to come.
    let mut is_filled = false;
    let mut skipping: Option<u32> = None;
    for item in items {
        if let What::Overlay(count) = item.what {
            first = first.or(Some(item.at));
            // In a measure the first & goes back to its start, and the bar line that ends it ends both voices.
            skipping = Some(if is_filled { count - 1 } else { count });
            continue;
        }
        let is_bar = matches!(item.what, What::Bar(_));
        match (skipping, is_bar) {
            (Some(0), true) => skipping = None,
            (Some(left), true) => {
                skipping = (left > 1 || is_filled).then(|| left - 1);
                continue;
            }
            (Some(_), false) => continue,
            (None, _) => {}
        }
        is_filled = !is_bar && (is_filled || is_timed(&item.what));
        kept.push(item);
    }
    (kept, first)
}
