//! Notes as they are typed: accidental, letter, octave, length. ABC 2.1, 4.1 to 4.3.

use super::cursor::Cursor;
use super::items::{Head, Length};
use super::wrong;
use crate::read::ReadError;
use crate::theory::Letter;

/// Whether a note begins with this character.
pub(super) fn begins_note(c: char) -> bool {
    matches!(c, 'A'..='G' | 'a'..='g' | '^' | '_' | '=')
}

/// A note without its length.
pub(super) fn head(cursor: &mut Cursor<'_>) -> Result<Head, ReadError> {
    let at = cursor.at();
    let accidental = accidental(cursor)?;
    let typed = cursor.peek().filter(char::is_ascii_alphabetic);
    let Some(letter) = typed.and_then(Letter::from_char) else {
        return Err(wrong(
            at,
            "no letter from A to G follows the accidental: write the accidental directly before its note",
        ));
    };
    // C is middle C, c the octave above it.
    let mut octave = if typed.is_some_and(|letter| letter.is_ascii_lowercase()) { 5 } else { 4 };
    cursor.next();
    for mark in cursor.take_while(|c| c == '\'' || c == ',').chars() {
        octave += if mark == '\'' { 1 } else { -1 };
    }
    if !(-2..=11).contains(&octave) {
        return Err(wrong(at, "a note is too low or too high for MIDI: take away some of its commas or apostrophes"));
    }
    Ok(Head { letter, octave: octave as i8, accidental, is_tied: false })
}

fn accidental(cursor: &mut Cursor<'_>) -> Result<Option<i8>, ReadError> {
    let at = cursor.at();
    match cursor.take_while(|c| matches!(c, '^' | '_' | '=')) {
        "" => Ok(None),
        "^" => Ok(Some(1)),
        "^^" => Ok(Some(2)),
        "_" => Ok(Some(-1)),
        "__" => Ok(Some(-2)),
        "=" => Ok(Some(0)),
        other => Err(wrong(at, format!("{other} is no accidental: write ^ ^^ = _ or __"))),
    }
}

/// `3`, `3/2`, `/4`, `/` (a half), `//` (a quarter), or nothing (one unit).
pub(super) fn length(cursor: &mut Cursor<'_>) -> Result<Length, ReadError> {
    let at = cursor.at();
    let not_counted =
        || wrong(at, "this length cannot be counted: write a number from 1 to 9999, or a fraction such as 3/2");
    let is_digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let top = if is_digit(cursor.peek()) { cursor.number().ok_or_else(not_counted)? } else { 1 };
    let slashes = cursor.take_while(|c| c == '/').len();
    if slashes > 8 {
        return Err(not_counted());
    }
    let bottom = match (slashes, is_digit(cursor.peek())) {
        (0, _) => 1,
        (slashes, false) => 1 << slashes,
        (slashes, true) => cursor.number().ok_or_else(not_counted)? << (slashes - 1),
    };
    if top == 0 || bottom == 0 {
        return Err(not_counted());
    }
    Ok((top, bottom))
}
