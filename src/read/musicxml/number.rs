//! Numbers as MusicXML writes them.

use super::super::ReadError;
use super::super::error::shown;
use super::tree::{text_of, wrong};
use crate::exercise::Quarters;
use roxmltree::Node;

/// A decimal number (`24`, `1.5`) as an exact fraction; at most nine digits before and four after the point.
pub(super) fn decimal(text: &str) -> Option<Quarters> {
    let (digits, negative) = match text.strip_prefix('-') {
        Some(digits) => (digits, true),
        None => (text.strip_prefix('+').unwrap_or(text), false),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let part = part.trim_end_matches('0');
    let plain = |digits: &str| digits.bytes().all(|byte| byte.is_ascii_digit());
    if whole.len() + part.len() == 0 || whole.len() > 9 || part.len() > 4 || !plain(whole) || !plain(part) {
        return None;
    }
    let bottom = 10_i64.pow(part.len() as u32);
    let top = whole.parse().unwrap_or(0) * bottom + part.parse().unwrap_or(0);
    Some(Quarters::new(if negative { -top } else { top }, bottom))
}

/// A whole number of a node, within a range.
pub(super) fn whole(node: Node<'_, '_>, range: std::ops::RangeInclusive<i64>) -> Result<i64, ReadError> {
    let number = decimal(text_of(node)).filter(|number| number.denominator() == 1).map(Quarters::numerator);
    number.filter(|number| range.contains(number)).ok_or_else(|| {
        let (name, text) = (node.tag_name().name(), shown(text_of(node)));
        wrong(node, format!("<{name}> is \"{text}\", not a whole number from {} to {}", range.start(), range.end()))
    })
}
