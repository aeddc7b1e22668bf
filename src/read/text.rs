//! From bytes to text, in any encoding that XML allows (XML 1.0, appendix F: byte order mark, else the
//! pattern of the first bytes, else the declaration, else UTF-8), and in those that plain text comes in.

use super::ReadError;
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::borrow::Cow;

/// The text without its byte order mark.
pub(super) fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, ReadError> {
    let (encoding, mark) = Encoding::for_bom(bytes).unwrap_or_else(|| (without_mark(bytes), 0));
    let bytes = bytes.get(mark..).unwrap_or_default();
    if encoding == UTF_8 {
        let text = std::str::from_utf8(bytes).map_err(|error| wrong(encoding, bytes, error.valid_up_to()))?;
        return Ok(Cow::Borrowed(text));
    }
    encoding.decode_without_bom_handling_and_without_replacement(bytes).ok_or_else(|| wrong(encoding, bytes, 0))
}

/// Plain text without its byte order mark: in UTF-16 by the mark or by the zeros of plain letters, in the encoding that ABC
/// names (`I:abc-charset`, ABC 2.1, 3.1.17), else in UTF-8, else in Latin-1, which takes any bytes. `None`: it is no text.
pub(super) fn decode_plain(bytes: &[u8]) -> Option<Cow<'_, str>> {
    let marked = Encoding::for_bom(bytes);
    let (encoding, mark) = marked.or_else(|| Some((by_zeros(bytes)?, 0))).unwrap_or((UTF_8, 0));
    let bytes = bytes.get(mark..)?;
    if encoding != UTF_8 {
        return Some(encoding.decode_without_bom_handling(bytes).0);
    }
    if bytes.iter().take(1024).any(|&byte| byte == 0) {
        return None;
    }
    let named = charset(bytes).filter(|named| *named != UTF_8);
    match (named, std::str::from_utf8(bytes)) {
        (None, Ok(text)) => Some(Cow::Borrowed(text)),
        (named, _) => Some(named.unwrap_or(WINDOWS_1252).decode_without_bom_handling(bytes).0),
    }
}

/// UTF-16 of mostly plain letters has a zero in every second byte.
fn by_zeros(bytes: &[u8]) -> Option<&'static Encoding> {
    let start = bytes.get(..bytes.len().min(64) & !1)?;
    let zeros = |from: usize| start.iter().skip(from).step_by(2).filter(|&&byte| byte == 0).count();
    match (zeros(0), zeros(1), start.len() / 4) {
        (0, odd, half) if odd > half => Some(UTF_16LE),
        (even, 0, half) if even > half => Some(UTF_16BE),
        _ => None,
    }
}

/// The encoding of `I:abc-charset iso-8859-1` or `%%abc-charset ...`, near the start of the file.
fn charset(bytes: &[u8]) -> Option<&'static Encoding> {
    const NAME: &[u8] = b"abc-charset";
    let start = bytes.get(..bytes.len().min(4096))?;
    let at = start.windows(NAME.len()).position(|window| window == NAME)?;
    let rest = start.get(at + NAME.len()..)?;
    let value = rest.split(|&byte| byte == b'\n' || byte == b'\r' || byte == b'%').next()?;
    Encoding::for_label(value.trim_ascii())
}

fn wrong(encoding: &'static Encoding, bytes: &[u8], valid: usize) -> ReadError {
    let line = 1 + bytes.get(..valid).unwrap_or_default().iter().filter(|&&byte| byte == b'\n').count();
    ReadError::Encoding { encoding: encoding.name().to_owned(), line }
}

fn without_mark(bytes: &[u8]) -> &'static Encoding {
    match bytes {
        [b'<', 0, ..] => UTF_16LE,
        [0, b'<', ..] => UTF_16BE,
        // A declaration that can be read byte by byte cannot be true if it says UTF-16.
        _ => match declared(bytes) {
            Some(encoding) if encoding != UTF_16LE && encoding != UTF_16BE => encoding,
            _ => UTF_8,
        },
    }
}

/// The encoding of `<?xml version="1.0" encoding="..."?>`.
fn declared(bytes: &[u8]) -> Option<&'static Encoding> {
    let start = bytes.get(..bytes.len().min(256))?;
    let declaration = start.split(|&byte| byte == b'>').next()?;
    let at = declaration.windows(8).position(|window| window == b"encoding")?;
    let mut quoted = declaration.get(at..)?.split(|&byte| byte == b'"' || byte == b'\'');
    Encoding::for_label(quoted.nth(1)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// XML 1.0, appendix F. é is E9 in Latin-1, – is 96 in windows-1252.
    #[test]
    fn encodings_by_mark_pattern_and_declaration() {
        let utf16 = |big: bool, mark: &[u8]| {
            let units = "<é/>".encode_utf16().flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() });
            mark.iter().copied().chain(units).collect::<Vec<u8>>()
        };
        for bytes in [
            "<é/>".as_bytes().to_vec(),
            "\u{feff}<é/>".as_bytes().to_vec(),
            utf16(false, &[0xFF, 0xFE]),
            utf16(true, &[0xFE, 0xFF]),
            utf16(false, &[]),
            utf16(true, &[]),
        ] {
            assert_eq!(decode(&bytes).unwrap(), "<é/>");
        }
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?><\xE9/>";
        assert!(decode(latin).unwrap().ends_with("<é/>"));
        let windows = b"<?xml version=\"1.0\" encoding=\"windows-1252\"?><a>\x96</a>";
        assert!(decode(windows).unwrap().ends_with("<a>–</a>"));
        let lying = b"<?xml version=\"1.0\" encoding=\"UTF-16\"?><a/>";
        assert!(decode(lying).unwrap().ends_with("<a/>"));
    }

    #[test]
    fn wrong_bytes_are_refused_with_their_line() {
        let error = decode(b"<a>\n<b>\xE9</b></a>").unwrap_err().to_string();
        assert!(error.contains("line 2") && error.contains("UTF-8"), "{error}");
    }

    /// ABC 2.1, 3.1.17 (charset field) and 2.1 (byte order mark). é is E9 in Latin-1, ł is B3 in ISO 8859-2.
    #[test]
    fn plain_text() {
        let utf16 = |big: bool, mark: &[u8]| {
            let units =
                "X:1\nT:\u{e9}".encode_utf16().flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() });
            mark.iter().copied().chain(units).collect::<Vec<u8>>()
        };
        for bytes in [
            "X:1\nT:é".as_bytes().to_vec(),
            "\u{feff}X:1\nT:é".as_bytes().to_vec(),
            b"X:1\nT:\xE9".to_vec(),
            utf16(false, &[0xFF, 0xFE]),
            utf16(true, &[0xFE, 0xFF]),
            utf16(false, &[]),
            utf16(true, &[]),
        ] {
            assert_eq!(decode_plain(&bytes).unwrap(), "X:1\nT:é");
        }
        assert!(decode_plain(b"I:abc-charset iso-8859-2\nT:\xB3").unwrap().ends_with("ł"));
        assert!(decode_plain(b"%%abc-charset utf-8 % of course\nT:\xC3\xA9").unwrap().ends_with("é"));
        assert_eq!(decode_plain(&[0x89, b'P', b'N', b'G', 0, 0, 0, 13]), None);
    }
}
