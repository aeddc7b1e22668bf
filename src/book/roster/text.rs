//! From the bytes of a roster to text: spreadsheets write UTF-8, UTF-16 or Latin-1, with or without a mark.

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// The text, and a sentence where its encoding had to be guessed; `None` where it is no text.
pub(super) fn decode(bytes: &[u8]) -> Option<(String, Option<String>)> {
    let (encoding, mark) = Encoding::for_bom(bytes).unwrap_or_else(|| (without_mark(bytes), 0));
    let text = encoding.decode_without_bom_handling_and_without_replacement(bytes.get(mark..)?)?;
    if text.contains('\0') {
        return None;
    }
    let guessed = (encoding == WINDOWS_1252).then(|| {
        "The file is not in UTF-8; it was read as Latin-1 (Windows-1252). Look whether all names are spelled right."
            .to_owned()
    });
    Some((text.into_owned(), guessed))
}

/// UTF-16 has zeros in every other byte of Latin letters; what is no UTF-8 is taken for Latin-1, which the WHATWG
/// Encoding Standard reads as windows-1252.
fn without_mark(bytes: &[u8]) -> &'static Encoding {
    let start = bytes.get(..bytes.len().min(256)).unwrap_or_default();
    let zeros = |from: usize| start.iter().skip(from).step_by(2).filter(|&&byte| byte == 0).count() * 4 > start.len();
    match (zeros(1), zeros(0)) {
        (true, false) => UTF_16LE,
        (false, true) => UTF_16BE,
        _ if std::str::from_utf8(bytes).is_ok() => UTF_8,
        _ => WINDOWS_1252,
    }
}

/// The line, from 1, of a quotation mark that is opened and never closed (RFC 4180: they come in pairs): the first cell
/// that ends in the middle of another one, or with the text.
pub(super) fn open_quote(text: &str, delimiter: u8) -> Option<u64> {
    let (mut line, mut opened, mut begins_cell) = (1, None, true);
    let mut letters = text.bytes().peekable();
    while let Some(letter) = letters.next() {
        match (letter, opened) {
            (b'"', None) if begins_cell => opened = Some(line),
            (b'"', Some(from)) => match letters.peek().copied() {
                Some(b'"') => {
                    letters.next();
                }
                Some(next) if next != delimiter && !matches!(next, b' ' | b'\r' | b'\n') => return Some(from),
                _ => opened = None,
            },
            _ => {}
        }
        begins_cell = letter == delimiter || letter == b'\n';
        line += u64::from(letter == b'\n');
    }
    opened
}
