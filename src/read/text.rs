//! From bytes to text, in any encoding that XML allows (XML 1.0, appendix F: byte order mark, else the
//! pattern of the first bytes, else the declaration, else UTF-8).

use super::ReadError;
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE};
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
}
