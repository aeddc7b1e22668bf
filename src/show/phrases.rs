//! Words for musical things, as people say them.

use crate::exercise::Quarters;
use crate::theory::Pitch;
use crate::theory::sign::symbol;

/// `F♯, C♯ and G♯`.
pub(super) fn and(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// `dotted half`; where no single note has that value, how many quarters: `2 1/2 quarters`.
pub(super) fn value_name(value: Quarters) -> String {
    const NAMES: [((i64, i64), &str); 11] = [
        ((8, 1), "double whole note"),
        ((6, 1), "dotted whole note"),
        ((4, 1), "whole note"),
        ((3, 1), "dotted half"),
        ((2, 1), "half note"),
        ((3, 2), "dotted quarter"),
        ((1, 1), "quarter note"),
        ((3, 4), "dotted eighth"),
        ((1, 2), "eighth note"),
        ((3, 8), "dotted sixteenth"),
        ((1, 4), "sixteenth note"),
    ];
    let named = NAMES.iter().find(|((top, bottom), _)| Quarters::new(*top, *bottom) == value);
    named.map_or_else(
        || {
            let (top, bottom) = (value.numerator(), value.denominator());
            let (whole, rest) = (top / bottom.max(1), top % bottom.max(1));
            match (whole, rest) {
                (_, 0) => format!("note of {whole} quarters"),
                (0, _) => format!("note of {rest}/{bottom} of a quarter"),
                _ => format!("note of {whole} {rest}/{bottom} quarters"),
            }
        },
        |(_, name)| (*name).to_string(),
    )
}

/// An ASCII name as people read it, without its octave: `Bb4` is `B♭`, `F4` is `F♮`.
pub(super) fn without_octave(ascii: &str) -> String {
    Pitch::parse(ascii).map_or_else(|| ascii.into(), |pitch| format!("{}{}", pitch.letter, symbol(pitch.alter)))
}

/// `1 note`, `2 notes`.
pub(super) fn counted(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

/// Breaks a sentence into lines of at most `width` characters, at spaces; later lines begin with `indent`.
/// A word longer than a line stays whole.
pub(super) fn wrapped(text: &str, width: usize, indent: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    // Spaces inside are kept where a line does not break: they set columns apart.
    for word in text.split_inclusive(' ') {
        let length = line.chars().count() + word.trim_end().chars().count();
        if length > width && !line.trim().is_empty() {
            lines.push(line.trim_end().to_string());
            line = indent.to_string();
        }
        line.push_str(word);
    }
    if !line.trim().is_empty() {
        lines.push(line.trim_end().to_string());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_have_their_names() {
        assert_eq!(value_name(Quarters::new(3, 1)), "dotted half");
        assert_eq!(value_name(Quarters::new(7, 1)), "note of 7 quarters");
        assert_eq!(value_name(Quarters::new(5, 2)), "note of 2 1/2 quarters");
        assert_eq!(value_name(Quarters::new(1, 3)), "note of 1/3 of a quarter");
    }

    #[test]
    fn lines_break_at_spaces() {
        assert_eq!(wrapped("one two three", 7, "  "), ["one two", "  three"]);
        assert_eq!(wrapped("m4 b1  F♯5  held", 80, ""), ["m4 b1  F♯5  held"]);
        assert_eq!(wrapped("unbreakable", 4, ""), ["unbreakable"]);
    }
}
