//! Words for musical things, as people say them.

use crate::plain::harmless;
use crate::session::Beat;
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

/// An ASCII name as people read it, without its octave: `Bb4` is `B♭`, `F4` is `F♮`.
pub(super) fn without_octave(ascii: &str) -> String {
    Pitch::parse(ascii).map_or_else(|| ascii.into(), |pitch| format!("{}{}", pitch.letter, symbol(pitch.alter)))
}

/// `1 note`, `2 notes`.
pub(crate) fn counted(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

/// The beat as a terminal shows it: `measure 3      1 [2] 3  4 `.
pub(crate) fn beat_line(beat: &Beat) -> String {
    let numbers: Vec<String> = (1..=beat.of)
        .map(|number| if number == beat.number { format!("[{number}]") } else { format!(" {number} ") })
        .collect();
    let place = if beat.is_count_in() { "count-in".to_string() } else { format!("measure {}", beat.measure) };
    format!("{place:<14}{}", numbers.concat())
}

/// Breaks a sentence into lines of at most `width` characters, at spaces; later lines begin with `indent`.
/// A word longer than a line stays whole. What a terminal would obey is taken out, so text from outside may be in it.
pub(crate) fn wrapped(text: &str, width: usize, indent: &str) -> Vec<String> {
    let text = harmless(text);
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
    fn lines_break_at_spaces() {
        assert_eq!(wrapped("one two three", 7, "  "), ["one two", "  three"]);
        assert_eq!(wrapped("m4 b1  F♯5  held", 80, ""), ["m4 b1  F♯5  held"]);
        assert_eq!(wrapped("unbreakable", 4, ""), ["unbreakable"]);
    }
}
