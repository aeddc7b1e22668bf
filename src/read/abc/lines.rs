//! Text to lines: comments taken away, what kind of line each one is.
//!
//! ABC 2.1, 2.2.5 (comments), 3 (information fields), 8 (line ends of Unix, Windows and Macintosh), 11.0.2
//! (directives), 11.4.5 (text between `%%begintext` and `%%endtext`).

/// A place in the file; both count from 1, the column in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct At {
    pub(super) line: u32,
    pub(super) column: u32,
}

/// What a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Nothing, or white space: it ends a tune.
    Empty,
    /// `%%name value`.
    Directive,
    /// `K:C`; the letter before the colon.
    Field(char),
    /// `+:` goes on with the field before.
    Continuation,
    /// Music, or text where no music is.
    Code,
}

/// A line without comment and without white space at its end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'a> {
    pub(super) number: u32,
    pub(super) kind: Kind,
    /// All of it; a column of the file is a character of it.
    pub(super) text: &'a str,
}

impl<'a> Line<'a> {
    /// The value of a field or the words of a directive, and where they begin.
    pub(super) fn value(&self) -> (&'a str, At) {
        let value = self.text.get(2..).unwrap_or_default();
        let trimmed = value.trim_start();
        let before = value.chars().count() - trimmed.chars().count();
        (trimmed, At { line: self.number, column: 3 + before as u32 })
    }
}

/// The lines of a text. Lines that only hold a comment are no lines.
pub(super) fn of(text: &str) -> Vec<Line<'_>> {
    let mut lines = Vec::new();
    let mut in_text = false;
    for (number, text) in physical(text).enumerate() {
        let line = line(number as u32 + 1, text);
        let directive = if line.is_some_and(|line| line.kind == Kind::Directive) { text.get(2..) } else { None };
        let directive = directive.unwrap_or_default().trim();
        match line {
            // An empty line ends it too: nothing else would be read if the end is forgotten.
            Some(line) if in_text && line.kind != Kind::Empty => in_text = directive != "endtext",
            Some(_) if directive.starts_with("begintext") => in_text = true,
            Some(line) => {
                in_text = false;
                // Several empty lines say no more than one.
                if line.kind != Kind::Empty || lines.last().is_none_or(|last: &Line<'_>| last.kind != Kind::Empty) {
                    lines.push(line);
                }
            }
            None => {}
        }
    }
    lines
}

/// Split at LF, CR LF and CR.
fn physical(text: &str) -> impl Iterator<Item = &str> {
    text.split('\n').flat_map(|line| line.strip_suffix('\r').unwrap_or(line).split('\r'))
}

/// One line; `None` if it holds a comment only.
fn line(number: u32, text: &str) -> Option<Line<'_>> {
    let of_kind = |kind, text: &'static str| Line { number, kind, text };
    if text.trim().is_empty() {
        return Some(of_kind(Kind::Empty, ""));
    }
    if text.starts_with("%%") {
        return Some(Line { number, kind: Kind::Directive, text: text.trim_end() });
    }
    let text = without_comment(text).trim_end();
    if text.is_empty() {
        return None;
    }
    let kind = match text.as_bytes() {
        [b'+', b':', ..] => Kind::Continuation,
        [letter, b':', ..] if letter.is_ascii_alphabetic() => Kind::Field(char::from(*letter)),
        _ => Kind::Code,
    };
    Some(Line { number, kind, text })
}

fn without_comment(text: &str) -> &str {
    let mut is_escaped = false;
    for (at, byte) in text.bytes().enumerate() {
        if byte == b'%' && !is_escaped {
            return text.get(..at).unwrap_or_default();
        }
        is_escaped = byte == b'\\' && !is_escaped;
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> Vec<(u32, Kind, &str)> {
        of(text).into_iter().map(|line| (line.number, line.kind, line.text)).collect()
    }

    /// ABC 2.1, 8: the line ends of all three systems.
    #[test]
    fn line_ends() {
        for text in ["A|\nB|\n\nC", "A|\r\nB|\r\n\r\nC", "A|\rB|\r\rC"] {
            let expected = [(1, Kind::Code, "A|"), (2, Kind::Code, "B|"), (3, Kind::Empty, ""), (4, Kind::Code, "C")];
            assert_eq!(shown(text), expected);
        }
    }

    /// ABC 2.1, 2.2.5: a line with a comment alone is as if it were not there; 8.2: `\%` is no comment.
    #[test]
    fn comments_and_kinds() {
        let text = "%abc-2.1\nT:50\\% off % really\n  % nothing\n%%score 1 2\n+:more\nE:|\n|: A";
        let expected = [
            (2, Kind::Field('T'), "T:50\\% off"),
            (4, Kind::Directive, "%%score 1 2"),
            (5, Kind::Continuation, "+:more"),
            (6, Kind::Field('E'), "E:|"),
            (7, Kind::Code, "|: A"),
        ];
        assert_eq!(shown(text), expected);
        assert_eq!(of("T:  Été").pop().unwrap().value(), ("Été", At { line: 1, column: 5 }));
    }

    #[test]
    fn text_blocks_are_no_music() {
        let numbers = |text| of(text).iter().map(|line| line.number).collect::<Vec<_>>();
        assert_eq!(numbers("A\n%%begintext\n%%CDE\nCDE\n%%endtext\nB"), [1, 6]);
        assert_eq!(numbers("A\n%%begintext\nCDE\n\nB"), [1, 4, 5]);
    }
}
