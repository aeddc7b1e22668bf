//! Files that a director gives: why one cannot be opened, in words, and small texts of the director's own.

use super::Failure;
use std::fmt::Display;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// A rubric has ten kilobytes.
const MOST_BYTES: u64 = 1 << 20;

/// A small text, as it is understood by `parse`; whatever is wrong names the file.
pub(super) fn text<T, E: Display>(file: &Path, parse: impl FnOnce(&str) -> Result<T, E>) -> Result<T, Failure> {
    let wrong = |what: &dyn Display| Failure::Input(format!("{}: {what}", file.display()));
    let mut text = String::new();
    let opened = std::fs::File::open(file).and_then(|opened| opened.take(MOST_BYTES + 1).read_to_string(&mut text));
    opened.map_err(|error| wrong(&unread(&error)))?;
    if text.len() as u64 > MOST_BYTES {
        return Err(wrong(&"larger than 1 megabyte, which no such file is: name another one"));
    }
    parse(text.strip_prefix('\u{feff}').unwrap_or(&text)).map_err(|error| wrong(&error))
}

/// Why a file cannot be read, for behind its name.
pub(super) fn unread(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file; look at its name and its folder".into(),
        ErrorKind::IsADirectory => "this is a folder; name a file in it".into(),
        ErrorKind::PermissionDenied => "you have no right to read this file; ask whoever owns it".into(),
        ErrorKind::InvalidData => "this is no text; save it as plain text (UTF-8)".into(),
        _ => format!("this file cannot be read ({error}); copy it again"),
    }
}
