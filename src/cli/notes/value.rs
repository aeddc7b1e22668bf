//! Note values in words.

use crate::exercise::Quarters;

/// A value in words: `dotted half`, `half + eighth`, `triplet eighth`; else in quarters, `7/5 quarters`.
pub(super) fn in_words(value: Quarters) -> String {
    for (group, name) in [(1, ""), (3, "triplet "), (5, "quintuplet "), (7, "septuplet ")] {
        // A triplet eighth is two thirds of an eighth, a quintuplet 16th four fifths, a septuplet 16th four sevenths.
        let normal = if group == 1 {
            1
        } else if group == 3 {
            2
        } else {
            4
        };
        if let Some(plain) = plain(value.times(group, normal)) {
            return format!("{name}{plain}");
        }
    }
    match sum(value) {
        Some(words) => words,
        None => format!("{value} quarters"),
    }
}

const PLAIN: [(&str, i64, i64); 8] = [
    ("double whole", 8, 1),
    ("whole", 4, 1),
    ("half", 2, 1),
    ("quarter", 1, 1),
    ("eighth", 1, 2),
    ("16th", 1, 4),
    ("32nd", 1, 8),
    ("64th", 1, 16),
];

fn plain(value: Quarters) -> Option<String> {
    PLAIN.iter().find_map(|&(name, top, bottom)| {
        let base = Quarters::new(top, bottom);
        let dots = [("", (1, 1)), ("dotted ", (3, 2)), ("double-dotted ", (7, 4))];
        dots.into_iter().find(|(_, (a, b))| base.times(*a, *b) == value).map(|(dots, _)| format!("{dots}{name}"))
    })
}

/// Tied values, the longest first: at most three.
fn sum(value: Quarters) -> Option<String> {
    let mut words = Vec::new();
    let mut rest = value;
    while !rest.is_zero() {
        let (name, top, bottom) = PLAIN.iter().find(|&&(_, top, bottom)| Quarters::new(top, bottom) <= rest)?;
        rest = rest - Quarters::new(*top, *bottom);
        words.push(*name);
        if words.len() > 3 {
            return None;
        }
    }
    Some(words.join(" + "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values() {
        for (top, bottom, words) in [
            (3, 1, "dotted half"),
            (1, 1, "quarter"),
            (7, 4, "double-dotted quarter"),
            (1, 3, "triplet eighth"),
            (2, 3, "triplet quarter"),
            (1, 5, "quintuplet 16th"),
            (5, 2, "half + eighth"),
            (5, 1, "whole + quarter"),
            (5, 6, "5/6 quarters"),
        ] {
            assert_eq!(in_words(Quarters::new(top, bottom)), words);
        }
    }
}
