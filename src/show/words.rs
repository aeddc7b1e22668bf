//! Lines for people: wrapped at the width of a console, keys and levels by name.

use crate::judge::{Flag, FlagKind, Level};
use crate::theory::{Key, Rank};

/// Text wrapped at `width` columns; lines after the first begin with `indent`.
pub fn wrapped(text: &str, indent: &str, width: usize) -> String {
    let mut lines = vec![String::new()];
    let mut taken = 0;
    for word in text.split(' ') {
        let length = word.chars().count();
        let Some(line) = lines.last_mut() else { break };
        if taken > 0 && taken + 1 + length > width {
            lines.push(format!("{indent}{word}"));
            taken = indent.chars().count() + length;
        } else {
            if taken > 0 {
                line.push(' ');
                taken += 1;
            }
            line.push_str(word);
            taken += length;
        }
    }
    lines.join("\n")
}

/// A finding on its line: `m4 b1    F♯5  played F♮: the key signature makes every F sharp`. The mark in front
/// says which of the two great themes it is about: ◆ a changed note, ━ a full value.
pub fn flag_line(flag: &Flag, player: &str) -> String {
    let mark = match (flag.kind, flag.changed_note) {
        (FlagKind::EarlyRelease | FlagKind::LateRelease | FlagKind::CutShort, _) => '━',
        (FlagKind::WrongAccidental | FlagKind::WrongNote, Some(Rank::Primary | Rank::Secondary)) => '◆',
        _ => ' ',
    };
    let place = format!("m{} b{}", flag.measure, beat(flag.beat));
    let written = flag.written.replace('b', "♭").replace('#', "♯");
    let start = format!("{player}{mark} {place:9} {written:4} ");
    let indent = " ".repeat(start.chars().count());
    wrapped(&format!("{start}{}", flag.sentence), &indent, 80)
}

/// `1`, `2½`, `3.33`.
fn beat(beat: f64) -> String {
    let whole = beat.floor();
    match beat - whole {
        part if part < 0.005 => format!("{whole}"),
        part if (part - 0.5).abs() < 0.005 => format!("{whole}½"),
        _ => format!("{beat:.2}"),
    }
}

/// `G major (one sharp: F♯)`, `C major (no sharps, no flats)`.
pub fn key_with_signature(key: Key) -> String {
    const NUMBERS: [&str; 8] = ["no", "one", "two", "three", "four", "five", "six", "seven"];
    let letters = key.signature_letters();
    let count = letters.len();
    if count == 0 {
        return format!("{key} (no sharps, no flats)");
    }
    let (word, sign) = if key.fifths > 0 { ("sharp", '♯') } else { ("flat", '♭') };
    let plural = if count == 1 { "" } else { "s" };
    let names: Vec<String> = letters.iter().map(|letter| format!("{letter}{sign}")).collect();
    let number = NUMBERS.get(count).copied().unwrap_or("many");
    format!("{key} ({number} {word}{plural}: {})", names.join(" "))
}

/// `first-year level`.
pub fn level(level: Level) -> &'static str {
    match level {
        Level::FirstYear => "first-year level",
        Level::SecondYear => "second-year level",
        Level::ThirdYear => "third-year level",
    }
}
