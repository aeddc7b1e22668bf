//! Notes that belong together: chords, grace notes, tuplets. ABC 2.1, 4.12, 4.13, 4.17.

use super::cursor::Cursor;
use super::heads::{begins_note, head, length};
use super::items::{Head, Length, What};
use super::lines::At;
use super::marks::Mark;
use super::tune::TuneReader;
use super::wrong;
use crate::read::ReadError;
use crate::read::error::shown;

impl TuneReader {
    /// The notes of a chord up to its end, and its length: the length of its first note times the length after it (4.17).
    pub(super) fn chord(&mut self, cursor: &mut Cursor<'_>, at: At, end: char) -> Result<(), ReadError> {
        let mut heads: Vec<Head> = Vec::new();
        let mut inner: Option<Length> = None;
        loop {
            let here = cursor.at();
            match cursor.peek() {
                Some(c) if c == end => break,
                Some(c) if begins_note(c) => {
                    heads.push(head(cursor)?);
                    let own = length(cursor)?;
                    inner = inner.or(Some(own));
                }
                Some('-') => {
                    cursor.next();
                    if let Some(last) = heads.last_mut() {
                        last.is_tied = true;
                    }
                }
                Some('z' | 'x') => {
                    cursor.next();
                    let own = length(cursor)?;
                    inner = inner.or(Some(own));
                }
                Some('!') => self.decoration(cursor, '!')?,
                Some('"') => self.words(cursor)?,
                Some('.') => {
                    cursor.next();
                    self.push(here, What::Mark(Mark::Staccato));
                }
                Some(c) if self.symbols.get(c).is_some() => {
                    cursor.next();
                    let mark = self.symbols.get(c).unwrap_or(Mark::Other);
                    self.push(here, What::Mark(mark));
                }
                Some(' ' | '\t' | '`' | '(' | ')') => {
                    cursor.next();
                }
                None | Some('|') => return Err(wrong(at, format!("this chord has no end: close it with {end}"))),
                Some(c) => {
                    let shown = shown(&c.to_string());
                    return Err(wrong(
                        here,
                        format!("{shown} cannot stand in a chord: write its notes and close it with {end}"),
                    ));
                }
            }
        }
        cursor.next();
        let (top, bottom) = inner.unwrap_or((1, 1));
        let (times, parts) = length(cursor)?;
        let product = top.checked_mul(times).zip(bottom.checked_mul(parts));
        let length =
            product.ok_or_else(|| wrong(at, "the length of this chord cannot be counted: write a shorter number"))?;
        let mut heads = heads.into_iter();
        match (heads.next(), inner) {
            (Some(first), _) => self.push(at, What::Sound { first, others: heads.collect(), length }),
            (None, Some(_)) => self.push(at, What::Rest(length)),
            (None, None) => {}
        }
        Ok(())
    }

    /// `{/ABc}`: grace notes; their lengths mean nothing.
    pub(super) fn graces(&mut self, cursor: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = cursor.at();
        cursor.next();
        let from = cursor.at();
        let inside =
            cursor.take_until('}').ok_or_else(|| wrong(at, "these grace notes have no end: close them with }"))?;
        let mut inside = Cursor::new(inside, from);
        let mut heads = Vec::new();
        while let Some(next) = inside.peek() {
            if begins_note(next) {
                heads.push(head(&mut inside)?);
                length(&mut inside)?;
            } else {
                inside.next();
            }
        }
        self.push(at, What::Graces(heads));
        Ok(())
    }

    /// `(p:q:r`.
    pub(super) fn tuplet(&mut self, cursor: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = cursor.at();
        cursor.next();
        let notes = cursor.number();
        let mut more = [None, None];
        for number in &mut more {
            if cursor.take(':') && cursor.peek().is_some_and(|c| c.is_ascii_digit()) {
                *number = Some(cursor.number().unwrap_or(0));
            }
        }
        let [time_of, count] = more;
        let is_sound = |number: u32| (1..=99).contains(&number);
        let notes = notes.filter(|&notes| notes > 1 && is_sound(notes) && more.iter().flatten().all(|&n| is_sound(n)));
        let notes = notes.ok_or_else(|| {
            wrong(at, "this group cannot be counted: write (3 for a triplet, or (3:2:4 for three in the time of two over four notes")
        })?;
        self.push(at, What::Tuplet { notes, time_of, count: count.unwrap_or(notes) });
        Ok(())
    }
}
