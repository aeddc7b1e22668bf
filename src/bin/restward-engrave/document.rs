//! Pages to a PDF document.
//!
//! The writer of PDF reads SVG more plainly than a browser does: what it would lose is put otherwise beforehand.

/// One document of all pages.
pub(super) fn pdf(pages: &[String]) -> Result<Vec<u8>, String> {
    // Without a font the words would be left out without a word.
    let family = words_family().ok_or(
        "no PDF can be made: this computer has no fonts for the words in it; install some, as fonts-dejavu on Debian",
    )?;
    let pages: Vec<String> = pages.iter().map(|page| for_paper(page, &family)).collect();
    verovio::raster::svgs_to_pdf(&pages).map_err(|error| format!("no PDF can be made: {error}"))
}

/// A font family for words that this computer has.
fn words_family() -> Option<String> {
    const LIKED: [&str; 6] = ["Times New Roman", "Times", "Liberation Serif", "Tinos", "Noto Serif", "DejaVu Serif"];
    let mut fonts = fontdb::Database::new();
    fonts.load_system_fonts();
    let families = || fonts.faces().flat_map(|face| &face.families).map(|(family, _)| family);
    let liked = LIKED.into_iter().find(|liked| families().any(|family| family == liked)).map(str::to_owned);
    let plain = |family: &&String| family.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == ' ');
    liked.or_else(|| families().find(plain).cloned())
}

/// A page as the writer of PDF reads it.
fn for_paper(page: &str, family: &str) -> String {
    // verovio asks for Times or any serif, which is looked up by browsers only.
    let page = page.replace("font-family=\"Times, serif\"", &format!("font-family=\"{family}, Times, serif\""));
    // A title inside a text is a hint for the mouse, but moves the place of the text.
    let page = without(&page, "<title", "</title>");
    // Notes in a line of words come in a font that is embedded for browsers.
    let mut pieces = page.split("<tspan font-family=\"Leipzig\" font-size=\"");
    let mut plain = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        let place = piece.split_once("px\">").and_then(|(size, rest)| Some((size.parse::<f64>().ok()?, rest)));
        let split = place.and_then(|(size, rest)| Some((size, rest.split_once("</tspan>")?)));
        let Some((size, (notes, rest))) = split else {
            plain.push_str(&format!("<tspan font-size=\"{piece}"));
            continue;
        };
        let words: String = notes.chars().filter(|letter| *letter != ' ').map(in_words).collect();
        // Words are smaller than notes: verovio's ratio of its text to its music font in a tempo.
        let size = if words.chars().all(|letter| "♩♪.".contains(letter)) { size } else { size * 405.0 / 720.0 };
        plain.push_str(&format!("<tspan font-size=\"{size}px\">{words}</tspan>{rest}"));
    }
    plain
}

fn without(text: &str, begins: &str, ends: &str) -> String {
    let mut pieces = text.split(begins);
    let mut rest = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        rest.push_str(piece.split_once(ends).map_or("", |(_, after)| after));
    }
    rest
}

/// A note of a metronome mark (SMuFL 1.4, "Metronome marks") as a text font has it.
fn in_words(note: char) -> &'static str {
    match note {
        '\u{ECA2}' => "whole note",
        '\u{ECA3}' => "half note",
        '\u{ECA5}' => "♩",
        '\u{ECA7}' => "♪",
        '\u{ECA9}' => "16th note",
        '\u{ECB7}' => ".",
        _ => "",
    }
}
