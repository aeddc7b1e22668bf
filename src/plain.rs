//! Text from outside, before people see it: names, titles, messages and file names may hold signs that a terminal obeys
//! or that turn the direction of writing. Here they become spaces; nothing else does it.
//!
//! In: any text. Out: text that is safe on a terminal. `read` cleans what it takes from a file (`read/texts.rs`), the book
//! its names, `show::wrapped` every sentence and the command line what it says on stderr.

use std::borrow::Cow;

/// A name as it is kept and shown: no control signs (a terminal would obey them), no signs that turn the direction of
/// writing or cannot be seen, one space between words.
pub fn plain(name: &str) -> String {
    harmless(name).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The text with its spaces and line ends, every other sign that [`plain`] takes out a space.
pub(crate) fn harmless(text: &str) -> Cow<'_, str> {
    let is_bad = |letter: char| letter != '\n' && is_hidden(letter);
    if !text.contains(is_bad) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().map(|letter| if is_bad(letter) { ' ' } else { letter }).collect())
}

/// JSON that says the same, with such signs as escapes (RFC 8259, section 7): for texts that must keep them.
pub(crate) fn escaped(json: &str) -> Cow<'_, str> {
    if !json.contains(is_hidden) {
        return Cow::Borrowed(json);
    }
    let mut escaped = String::with_capacity(json.len() + 8);
    for letter in json.chars() {
        // Outside its texts JSON has no signs but these two.
        if is_hidden(letter) && !matches!(letter, '\n' | '\t') {
            let units =
                letter.encode_utf16(&mut [0; 2]).iter().map(|unit| format!("\\u{unit:04x}")).collect::<String>();
            escaped.push_str(&units);
        } else {
            escaped.push(letter);
        }
    }
    Cow::Owned(escaped)
}

/// Controls of ISO 6429 (C0, DEL, C1); the marks, embeddings, overrides and isolates of the Unicode Bidirectional
/// Algorithm (UAX #9); line and paragraph separators; what has no width and joins nothing; tags and annotations.
fn is_hidden(letter: char) -> bool {
    letter.is_control()
        || matches!(letter,
            '\u{061C}' | '\u{200B}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}'
            | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The explicit and implicit directional signs are listed in UAX #9, 2.1 to 2.6.
    #[test]
    fn signs_that_a_terminal_obeys_become_spaces() {
        assert_eq!(plain("Ada\u{1b}[31m\u{202e} Lin\u{9b}2J\u{7f}"), "Ada [31m Lin 2J");
        assert_eq!(harmless("two\nlines\r\tand  more"), "two\nlines  and  more");
        for sign in
            "\u{061C}\u{200E}\u{200F}\u{202A}\u{202B}\u{202C}\u{202D}\u{202E}\u{2066}\u{2067}\u{2068}\u{2069}".chars()
        {
            assert_eq!(plain(&format!("a{sign}b")), "a b", "{sign:?}");
        }
    }

    #[test]
    fn json_keeps_what_it_escapes() {
        let text = serde_json::json!(["a\u{9b}\u{202e}\u{E0041}é\n", 1]);
        let json = escaped(&text.to_string()).into_owned();
        assert_eq!(json, r#"["a\u009b\u202e\udb40\udc41é\n",1]"#);
        assert_eq!(serde_json::from_str::<serde_json::Value>(&json).unwrap(), text);
    }

    #[test]
    fn writing_of_every_kind_stays() {
        for text in ["B♭ Clarinet", "Étude – 1", "שלום", "नमस्ते", "👩\u{200d}🎤", "می\u{200c}خواهم"]
        {
            assert_eq!(harmless(text), text);
        }
    }
}
