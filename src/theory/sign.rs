//! Flats, naturals and sharps in words, as symbols and in ASCII.

/// As people read it: ♭♭ ♭ ♮ ♯ ♯♯. Semitones: -1 flat, 0 natural, 1 sharp.
pub fn symbol(alter: i8) -> String {
    if alter == 0 { "♮".into() } else { repeated(alter, "♭", "♯") }
}

/// As programs read it: `bb`, `b`, nothing for a natural, `#`, `##`.
pub fn ascii(alter: i8) -> String {
    repeated(alter, "b", "#")
}

/// Spoken: `double flat`, `flat`, `natural`, `sharp`, `double sharp`.
pub fn word(alter: i8) -> &'static str {
    match alter {
        ..=-2 => "double flat",
        -1 => "flat",
        0 => "natural",
        1 => "sharp",
        2.. => "double sharp",
    }
}

/// Symbols in the name of a note or key, where a natural is not written: `B♭`, `F♯`, `C`.
pub(super) fn in_name(alter: i8) -> String {
    repeated(alter, "♭", "♯")
}

fn repeated(alter: i8, flat: &str, sharp: &str) -> String {
    let sign = if alter < 0 { flat } else { sharp };
    sign.repeat(alter.unsigned_abs().into())
}

/// Reads the signs at the start of `text`: ASCII or symbols, or a word (`flat`, `-sharp`). Gives the
/// alteration and what is left.
pub(super) fn read(text: &str) -> (i8, &str) {
    let spoken = text.trim_start_matches([' ', '-']);
    for (name, alter) in [("flat", -1), ("sharp", 1), ("natural", 0)] {
        if let Some(start) = spoken.get(..name.len())
            && start.eq_ignore_ascii_case(name)
        {
            return (alter, &spoken[name.len()..]);
        }
    }
    // `B ♭`, but not `A b`: a letter b may begin a word.
    let mut rest = if spoken.starts_with(['♭', '♯', '♮']) { spoken } else { text };
    let mut alter: i8 = 0;
    while let Some(sign) = rest.chars().next() {
        let step = match sign {
            'b' | '♭' => -1,
            '#' | '♯' => 1,
            '♮' => 0,
            _ => break,
        };
        alter = alter.saturating_add(step);
        rest = &rest[sign.len_utf8()..];
    }
    (alter, rest)
}
