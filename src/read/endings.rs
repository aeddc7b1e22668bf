//! The numbers of an ending, as they are printed.

use crate::exercise::Ending;

/// `1`, `1, 2`, `1-3`; empty where it does not say.
pub(super) fn of(text: &str) -> Ending {
    /// More passes than anybody plays.
    const MOST: u32 = 100;
    let number = |text: &str| {
        let digits: String = text.chars().filter(char::is_ascii_digit).collect();
        digits.parse::<u32>().ok().filter(|number| (1..=MOST).contains(number))
    };
    let mut passes = Vec::new();
    for piece in text.split([',', ' ', '+', '&']).filter(|piece| !piece.is_empty()) {
        match piece.split_once('-').map(|(from, to)| (number(from), number(to))) {
            Some((Some(from), Some(to))) => passes.extend(from..=to),
            _ => passes.extend(number(piece)),
        }
    }
    Ending { passes, only_then: false }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// MusicXML 4.0 `ending-number`: "1", "1,2", "1, 2"; ranges as some programs write them.
    #[test]
    fn ending_numbers() {
        for (text, passes) in [("1", vec![1]), ("1,2", vec![1, 2]), ("1, 2, 4", vec![1, 2, 4]), ("1-3", vec![1, 2, 3])]
        {
            assert_eq!(of(text).passes, passes);
        }
        assert!(of(" ").passes.is_empty());
        assert!(of("99999999999").passes.is_empty());
    }
}
