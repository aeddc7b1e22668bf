//! The order of sections: `P:` in the header tells it, `P:` in the music names them. ABC 2.1, 3.1.9 and 4.10.

use std::ops::Range;

/// More sections than any exercise plays.
const MOST_SECTIONS: usize = 500;

/// The order that a `P:` field tells: `ABAB`, `A.B3`, `((AB)2C)2`; `None` if it is none. Words after it (`ABA da capo`) count
/// as none.
pub(super) fn order(text: &str) -> Option<Vec<char>> {
    // The lists inside parentheses that are open, outermost first.
    let mut open: Vec<Vec<char>> = vec![Vec::new()];
    let mut letters = text.chars().filter(|c| !c.is_whitespace() && *c != '.').peekable();
    while let Some(letter) = letters.next() {
        let last = match letter {
            '(' => {
                open.push(Vec::new());
                continue;
            }
            ')' => open.pop().filter(|_| !open.is_empty())?,
            'A'..='Z' => vec![letter],
            _ => return None,
        };
        let mut times = 0_usize;
        while let Some(digit) = letters.peek().and_then(|c| c.to_digit(10)) {
            times = (times * 10 + digit as usize).min(MOST_SECTIONS + 1);
            letters.next();
        }
        let list = open.last_mut()?;
        for _ in 0..times.max(1) {
            list.extend_from_slice(&last);
            if list.len() > MOST_SECTIONS {
                return None;
            }
        }
    }
    let order = open.pop().filter(|_| open.is_empty())?;
    (!order.is_empty()).then_some(order)
}

/// The passages of a page of so many measures to play one after the other; `None` if a section that the order names is
/// not there. What stands before the first section is played first. A section with as many endings (`endings` tells the highest
/// number) as it is to be played in a row is played once, with all of them (4.10).
pub(super) fn passages(
    order: &[char],
    sections: &[(String, usize)],
    measures: usize,
    endings: impl Fn(&Range<usize>) -> u32,
) -> Option<Vec<Range<usize>>> {
    let mut passages = Vec::with_capacity(order.len() + 1);
    let first = sections.first()?.1;
    if first > 0 {
        passages.push(0..first);
    }
    for row in order.chunk_by(|a, b| a == b) {
        let index = sections.iter().position(|(name, _)| name.trim().chars().eq(row.iter().copied().take(1)))?;
        let end = sections.get(index + 1).map_or(measures, |next| next.1);
        let passage = sections[index].1..end;
        let times = if endings(&passage) as usize == row.len() { 1 } else { row.len() };
        passages.extend(std::iter::repeat_n(passage, times));
    }
    Some(passages)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ABC 2.1, 3.1.9: its examples.
    #[test]
    fn orders() {
        let read = |text| order(text).map(|order| order.into_iter().collect::<String>());
        for (text, played) in [
            ("ABABCDCD", "ABABCDCD"),
            ("A3", "AAA"),
            ("(AB)3", "ABABAB"),
            ("((AB)3.(CD)3)2", "ABABABCDCDCDABABABCDCDCD"),
            ("(AB)2(AC)2A", "ABABACACA"),
        ] {
            assert_eq!(read(text).as_deref(), Some(played), "{text}");
        }
        for text in ["", "A da capo", "(AB", "AB)", "A9999", "((((A99)99)99)99)"] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn passages_of_a_page() {
        let sections = [("A".to_owned(), 1), ("B".to_owned(), 3)];
        let no_endings = |_: &Range<usize>| 0;
        assert_eq!(passages(&['A', 'B', 'A'], &sections, 5, no_endings), Some(vec![0..1, 1..3, 3..5, 1..3]));
        assert_eq!(passages(&['C'], &sections, 5, no_endings), None);
        // Four endings are the four times that P:A4 asks for; two endings are another matter.
        assert_eq!(passages(&['A'; 4], &sections, 5, |_| 4), Some(vec![0..1, 1..3]));
        assert_eq!(passages(&['A'; 4], &sections, 5, |_| 2).unwrap().len(), 5);
    }
}
