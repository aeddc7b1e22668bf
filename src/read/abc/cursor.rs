//! A place in one line, moving to the right.

use super::lines::{At, Line};

/// What is left of a line.
#[derive(Debug, Clone)]
pub(super) struct Cursor<'a> {
    rest: &'a str,
    at: At,
}

impl<'a> Cursor<'a> {
    /// From a place on.
    pub(super) fn new(text: &'a str, at: At) -> Cursor<'a> {
        Cursor { rest: text, at }
    }

    /// At the start of a line.
    pub(super) fn of_line(line: &Line<'a>) -> Cursor<'a> {
        Cursor::new(line.text, At { line: line.number, column: 1 })
    }

    /// Where it is.
    pub(super) fn at(&self) -> At {
        self.at
    }

    /// What is left.
    pub(super) fn rest(&self) -> &'a str {
        self.rest
    }

    /// The next character.
    pub(super) fn peek(&self) -> Option<char> {
        self.rest.chars().next()
    }

    /// The character after the next.
    pub(super) fn second(&self) -> Option<char> {
        self.rest.chars().nth(1)
    }

    /// Takes the next character.
    pub(super) fn next(&mut self) -> Option<char> {
        let next = self.peek()?;
        self.rest = self.rest.get(next.len_utf8()..).unwrap_or_default();
        self.at.column += 1;
        Some(next)
    }

    /// Takes the next character if it is this one.
    pub(super) fn take(&mut self, wanted: char) -> bool {
        let is_here = self.peek() == Some(wanted);
        if is_here {
            self.next();
        }
        is_here
    }

    /// Takes characters as long as they fit.
    pub(super) fn take_while(&mut self, fits: impl Fn(char) -> bool) -> &'a str {
        let end = self.rest.find(|c| !fits(c)).unwrap_or(self.rest.len());
        let (taken, rest) = self.rest.split_at(end);
        self.rest = rest;
        self.at.column += taken.chars().count() as u32;
        taken
    }

    /// Takes all up to a character and that too; `None` (and nothing taken) if it does not come.
    pub(super) fn take_until(&mut self, end: char) -> Option<&'a str> {
        let length = self.rest.find(end)?;
        let (taken, rest) = self.rest.split_at(length);
        self.rest = rest.get(end.len_utf8()..).unwrap_or_default();
        self.at.column += taken.chars().count() as u32 + 1;
        Some(taken)
    }

    /// Takes white space.
    pub(super) fn skip_space(&mut self) {
        self.take_while(char::is_whitespace);
    }

    /// Takes a number; `None` without digits or beyond four of them.
    pub(super) fn number(&mut self) -> Option<u32> {
        let digits = self.take_while(|c| c.is_ascii_digit());
        if digits.len() > 4 { None } else { digits.parse().ok() }
    }
}
