//! Names in letters large enough to be read from a chair: `letters.txt`, five rows high, six with a mark.
//!
//! In: a name. Out: rows. Accents are drawn by taking a letter apart into letter and mark (Unicode Standard Annex 15, NFD).

use std::collections::BTreeMap;
use std::sync::OnceLock;
use unicode_normalization::UnicodeNormalization;

/// A filled cell of a large letter.
const FILLED: char = '█';
/// Cells between two letters, and for the space between two words.
const GAP: usize = 1;
const SPACE: usize = 3;

/// A name to be seen from afar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Large {
    /// In block letters.
    Block(Vec<String>),
    /// In one line, spaced out if there is room: too long, or with a letter that is not among the block letters.
    Line(String),
}

impl Large {
    pub(super) fn rows(self) -> Vec<String> {
        match self {
            Large::Block(rows) => rows,
            Large::Line(line) => vec![line],
        }
    }
}

/// A name in rows of at most `width` cells: all of it, else its first word, else one line.
pub(super) fn large(name: &str, width: usize) -> Large {
    let fits = |text: &str| block(text).filter(|rows| rows.iter().all(|row| row.chars().count() <= width));
    let first = name.split_whitespace().next().unwrap_or_default();
    // `Berg, Ines` is no name to call up by half.
    let first = if first.ends_with(',') { "" } else { first };
    match fits(name).or_else(|| fits(first)) {
        Some(rows) => Large::Block(rows),
        None => Large::Line(spaced(name, width)),
    }
}

/// `I n e s`, if there is room.
pub(super) fn spaced(name: &str, width: usize) -> String {
    let letters: Vec<String> = name.chars().map(String::from).collect();
    let spaced = letters.join(" ");
    if spaced.chars().count() <= width && name.is_ascii() { spaced } else { name.to_owned() }
}

/// `None`: a letter is not among them.
fn block(text: &str) -> Option<Vec<String>> {
    let upper = text.trim().to_uppercase().replace('ẞ', "SS").replace('’', "'");
    if upper.is_empty() {
        return None;
    }
    let mut rows = vec![String::new(); HEIGHT + 2];
    for letter in upper.chars() {
        let mut pieces = std::iter::once(letter).nfd();
        let base = pieces.next()?;
        let (above, below) = match pieces.next() {
            None => ("", ""),
            Some(mark) => mark_rows(mark)?,
        };
        if pieces.next().is_some() {
            return None;
        }
        let empty = vec![String::new(); HEIGHT];
        let (cells, width) = match (base, glyphs().get(&base)) {
            (' ', _) => (&empty, SPACE),
            (_, Some(cells)) => (cells, cells[0].len()),
            (_, None) => return None,
        };
        let (above, below) = (format!("{above:^width$}"), format!("{below:^width$}"));
        let cells = std::iter::once(&above).chain(cells).chain([&below]);
        for (row, cells) in rows.iter_mut().zip(cells) {
            row.extend(cells.chars().map(|cell| if cell == '#' { FILLED } else { ' ' }));
            row.extend(std::iter::repeat_n(' ', width.saturating_sub(cells.len()) + GAP));
        }
    }
    let mut rows: Vec<String> = rows.into_iter().map(|row| row.trim_end().to_owned()).collect();
    // Of marks above and below there is room for one kind.
    rows.retain(|row| !row.is_empty());
    (rows.len() <= HEIGHT + 1).then_some(rows)
}

/// Rows of a letter without its mark.
const HEIGHT: usize = 5;

/// How a mark looks in a row of cells above a letter, or below it; `None`: it is not known.
fn mark_rows(mark: char) -> Option<(&'static str, &'static str)> {
    match mark {
        // Grave, acute, circumflex and caron and breve, tilde and macron, dot and ring, diaeresis, double acute.
        '\u{300}' => Some(("#  ", "")),
        '\u{301}' => Some(("  #", "")),
        '\u{302}' | '\u{30C}' | '\u{306}' => Some(("#.#", "")),
        '\u{303}' | '\u{304}' => Some(("###", "")),
        '\u{307}' | '\u{30A}' => Some((" # ", "")),
        '\u{308}' => Some(("# #", "")),
        '\u{30B}' => Some((" ##", "")),
        // Cedilla and comma, ogonek, dot.
        '\u{327}' | '\u{326}' | '\u{323}' => Some(("", " # ")),
        '\u{328}' => Some(("", "  #")),
        _ => None,
    }
}

fn glyphs() -> &'static BTreeMap<char, Vec<String>> {
    static GLYPHS: OnceLock<BTreeMap<char, Vec<String>>> = OnceLock::new();
    GLYPHS.get_or_init(|| {
        let mut lines = include_str!("letters.txt").lines().skip(1);
        let mut glyphs = BTreeMap::new();
        // A test reads the file, so that nothing is lost here.
        while let Some(letter) = lines.next().and_then(|line| line.chars().next()) {
            glyphs.insert(letter, lines.by_ref().take(HEIGHT).map(str::to_owned).collect());
        }
        glyphs
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_letter_has_five_even_rows() {
        let letters: String = glyphs().keys().collect();
        assert_eq!(letters, "'-.0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZÆØĐŁ");
        for (letter, rows) in glyphs() {
            assert_eq!(rows.len(), HEIGHT, "{letter}");
            let even = rows.iter().all(|row| row.len() == rows[0].len() && row.chars().all(|cell| ".#".contains(cell)));
            assert!(even && rows.iter().any(|row| row.contains('#')), "{letter}: {rows:?}");
        }
        let shapes: std::collections::BTreeSet<_> =
            glyphs().iter().filter(|(letter, _)| !"0Ø".contains(**letter)).map(|(_, rows)| rows).collect();
        assert_eq!(shapes.len(), glyphs().len() - 2, "no two look the same but zero and a slashed O");
    }

    #[test]
    fn a_name_is_drawn_with_its_marks() {
        let Large::Block(rows) = large("\u{c9}li", 80) else { panic!("block") };
        assert_eq!(
            rows,
            ["   █", "█████ █     ███", "█     █      █", "███   █      █", "█     █      █", "█████ █████ ███"]
        );
        assert!(matches!(large("Jürgen O'Neil", 80), Large::Block(rows) if rows.len() == 6));
        assert!(matches!(large("Łucja", 80), Large::Block(rows) if rows.len() == 5));
    }

    #[test]
    fn what_does_not_fit_is_shorter_or_one_line() {
        let wide = |name: &str| large(name, 80).rows().iter().all(|row| row.chars().count() <= 80);
        assert!(wide("Maximiliane Berg") && wide("Maximiliane-Sophie") && wide("王小明"));
        assert_eq!(large("Maximiliane Berg", 80), large("Maximiliane", 80), "the first name");
        assert_eq!(large("Maximiliane-Sophie", 80).rows(), ["M a x i m i l i a n e - S o p h i e"]);
        assert_eq!(large("王小明", 80).rows(), ["王小明"]);
        assert_eq!(large("Berg-Oberhausen, Ines", 80).rows(), ["B e r g - O b e r h a u s e n ,   I n e s"]);
        assert!(matches!(large("François", 80), Large::Block(rows) if rows.len() == 6));
        assert!(matches!(large("Çağrı-É", 80), Large::Line(_)), "no room above and below");
    }
}
