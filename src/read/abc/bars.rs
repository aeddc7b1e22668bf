//! Bar lines of any shape. ABC 2.1, 4.8: a sequence of `|` (thin), `[` or `]` (thick) and `:` (dots).

use super::cursor::Cursor;
use super::items::Bar;

/// Whether a bar line begins here; a `[` may also begin a chord, a field or an ending.
pub(super) fn begins(cursor: &Cursor<'_>) -> bool {
    match cursor.peek() {
        Some('|' | ':' | ']') => true,
        Some('[') => cursor.second() == Some('|'),
        _ => false,
    }
}

/// Takes a bar line; `None` if what stands there is none (a colon by itself).
pub(super) fn bar(cursor: &mut Cursor<'_>) -> Option<Bar> {
    let mut shape = String::new();
    while begins(cursor) {
        shape.extend(cursor.next());
    }
    let (dots_before, lines) = shape.split_at(shape.len() - shape.trim_start_matches(':').len());
    let lines_end = lines.trim_end_matches(':').len();
    let (lines, dots_after) = lines.split_at(lines_end);
    if lines.is_empty() {
        // `::` is short for `:|` and `|:`.
        let dots = dots_before.len() as u32;
        return (dots > 1).then(|| Bar { times: dots / 2 + 1, starts: true, ..Bar::default() });
    }
    // Dots between lines: `[|]:|` is `[|]` and `:|`, for nothing begins with `]:`; `|:|` is `|:` and a line.
    let (mut ends, mut starts) = (dots_before.len() as u32, !dots_after.is_empty());
    if let Some(at) = lines.find(':') {
        let dots = lines.matches(':').count() as u32;
        if lines[..at].ends_with(']') || (starts && ends == 0) {
            ends = ends.max(dots);
        } else {
            starts = true;
        }
    }
    let is_invisible = shape == "[|]";
    let is_double = !is_invisible && (lines.contains(['[', ']']) || lines.matches('|').count() > 1);
    Some(Bar { times: if ends > 0 { ends + 1 } else { 0 }, starts, is_double, is_editorial: is_invisible })
}

#[cfg(test)]
mod tests {
    use super::super::lines::At;
    use super::*;

    fn read(text: &str) -> (Option<Bar>, String) {
        let mut cursor = Cursor::new(text, At { line: 1, column: 1 });
        (bar(&mut cursor), cursor.rest().to_owned())
    }

    /// ABC 2.1, 4.8: its table, the variants of `::`, three times, and what it says of bar lines in the wild.
    #[test]
    fn shapes() {
        for (text, times, starts, is_double) in [
            ("|", 0, false, false),
            ("|]", 0, false, true),
            ("||", 0, false, true),
            ("[|", 0, false, true),
            ("|:", 0, true, false),
            (":|", 2, false, false),
            ("::", 2, true, false),
            (":|:", 2, true, false),
            (":||:", 2, true, true),
            ("|::", 0, true, false),
            ("::|", 3, false, false),
            (":||", 2, false, true),
            (":|]", 2, false, true),
            ("[|]", 0, false, false),
            ("|[|", 0, false, true),
            ("[|:::", 0, true, true),
            ("[|]:|", 2, false, true),
            ("|]:|", 2, false, true),
            ("|:|", 0, true, true),
            (":|:|", 2, true, true),
            ("|:|:", 2, true, true),
        ] {
            let bar = read(text).0.unwrap();
            assert_eq!((bar.times, bar.starts, bar.is_double), (times, starts, is_double), "{text}");
        }
    }

    /// ABC 2.1, 4.9: endings stand directly after bar lines; chords and inline fields may, too.
    #[test]
    fn what_follows_is_left() {
        for (text, rest) in
            [("|1 A", "1 A"), (":|[2 A", "[2 A"), ("|[CEG]", "[CEG]"), ("||[M:3/4]", "[M:3/4]"), (":|2", "2")]
        {
            assert_eq!(read(text).1, rest);
        }
        assert_eq!(read(": A"), (None, " A".to_owned()));
    }
}
