//! What a file is, by its content.

use super::{ReadError, abc, text};
use std::borrow::Cow;

/// The kinds of files that are read.
pub(super) enum Kind<'a> {
    /// A zip archive.
    Archive,
    /// A Standard MIDI File, bare or in a RIFF wrapper.
    Midi,
    /// Text that has to be XML.
    Xml,
    /// Text that looks like ABC.
    Abc(Cow<'a, str>),
}

pub(super) fn kind(bytes: &[u8]) -> Result<Kind<'_>, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    if bytes.starts_with(b"MThd") || bytes.starts_with(b"RIFF") {
        return Ok(Kind::Midi);
    }
    if bytes.starts_with(b"PK") {
        return Ok(Kind::Archive);
    }
    // XML begins with `<` in whatever encoding, after a byte order mark, zeros of wide characters and spaces.
    let mark = |byte: &u8| matches!(byte, 0xEF | 0xBB | 0xBF | 0xFE | 0xFF | 0 | b' ' | b'\t' | b'\r' | b'\n');
    match bytes.iter().find(|&byte| !mark(byte)) {
        Some(b'<') => Ok(Kind::Xml),
        _ => {
            let text = text::decode_plain(bytes).filter(|text| abc::is_abc(text));
            text.map(Kind::Abc).ok_or(ReadError::UnknownKind)
        }
    }
}
