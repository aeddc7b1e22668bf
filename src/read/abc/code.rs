//! Music: one line of it to items. ABC 2.1, 4; characters in 8.1.

use super::bars;
use super::cursor::Cursor;
use super::heads::{begins_note, head, length};
use super::items::What;
use super::lines::{At, Line};
use super::marks::{Mark, named};
use super::tune::TuneReader;
use super::wrong;
use crate::read::ReadError;
use crate::read::endings;
use crate::read::error::shown;
use crate::read::jump_words::is_jump;

/// Longer rests are no exercise.
const MOST_RESTED_MEASURES: u32 = 1000;

impl TuneReader {
    /// Reads a line of music.
    pub(super) fn code(&mut self, line: &Line<'_>) -> Result<(), ReadError> {
        let mut cursor = Cursor::of_line(line);
        // `|` at the end of a line and `1` at the start of the next are `|1`: by the rules where the line goes on, by custom too.
        if std::mem::take(&mut self.bar_continues) {
            self.ending(&mut cursor);
        }
        while let Some(next) = cursor.peek() {
            self.one(next, &mut cursor)?;
        }
        Ok(())
    }

    /// One construct.
    fn one(&mut self, next: char, cursor: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = cursor.at();
        if bars::begins(cursor) {
            match bars::bar(cursor) {
                Some(bar) => self.push(at, What::Bar(bar)),
                None => self.skipped(':', at),
            }
            self.ending(cursor);
            self.bar_continues = matches!(cursor.rest().trim_end(), "" | "\\");
            return Ok(());
        }
        if begins_note(next) {
            let first = head(cursor)?;
            let length = length(cursor)?;
            self.push(at, What::Sound { first, others: Vec::new(), length });
            return Ok(());
        }
        match next {
            '[' => return self.bracket(cursor),
            '{' => return self.graces(cursor),
            '"' => return self.words(cursor),
            '(' if cursor.second().is_some_and(|c| c.is_ascii_digit()) => return self.tuplet(cursor),
            '!' => return self.decoration(cursor, '!'),
            '+' => return self.plus(cursor),
            '0'..='9' => {
                return Err(wrong(
                    at,
                    "a number stands by itself: write it directly after its note, or after [ or | if it is an ending",
                ));
            }
            _ => {}
        }
        cursor.next();
        match next {
            '(' => self.push(at, What::SlurStart),
            ')' => self.push(at, What::SlurEnd),
            '-' => self.tie(),
            // A dot before a slur, tie or bar line is about its looks.
            '.' if matches!(cursor.peek(), Some('(' | ')' | '-' | '|')) => {}
            '.' => self.push(at, What::Mark(Mark::Staccato)),
            '<' | '>' => {
                let more = cursor.take_while(|c| c == next).len() as i32;
                let count = if next == '>' { 1 + more } else { -1 - more };
                self.push(at, What::Broken(count));
            }
            'z' | 'x' => {
                let length = length(cursor)?;
                self.push(at, What::Rest(length));
            }
            'Z' | 'X' => {
                let is_numbered = cursor.peek().is_some_and(|c| c.is_ascii_digit());
                let count = if is_numbered { cursor.number() } else { Some(1) };
                let count = count.filter(|count| (1..=MOST_RESTED_MEASURES).contains(count)).ok_or_else(|| {
                    wrong(at, format!("a rest of so many measures cannot be read: write Z1 to Z{MOST_RESTED_MEASURES}"))
                })?;
                self.push(at, What::MeasureRests(count));
            }
            'y' => {
                length(cursor)?;
                self.push(at, What::Spacer);
            }
            '&' => {
                let more = cursor.take_while(|c| c == '&').len() as u32;
                self.push(at, What::Overlay(1 + more));
            }
            'H'..='W' | 'h'..='w' | '~' => match self.symbols.get(next) {
                Some(mark) => self.push(at, What::Mark(mark)),
                None => self.skipped(next, at),
            },
            ' ' | '\t' | '`' | '$' | '\\' => {}
            other if other.is_whitespace() => {}
            other => self.skipped(other, at),
        }
        Ok(())
    }

    /// Says once for each character that it was left out, and where first. Reserved characters are to be ignored (8.1).
    fn skipped(&mut self, character: char, at: At) {
        if self.skipped.insert(character) {
            let shown = if character.is_control() { format!("{character:?}") } else { character.to_string() };
            self.notices.say(format!(
                "The character {shown} (first in line {}, column {}) means nothing in ABC and is left out.",
                at.line, at.column
            ));
        }
    }

    /// The numbers of an ending directly after a bar line or bracket.
    fn ending(&mut self, cursor: &mut Cursor<'_>) {
        if cursor.peek().is_some_and(|c| c.is_ascii_digit()) {
            let at = cursor.at();
            let numbers = cursor.take_while(|c| c.is_ascii_digit() || matches!(c, ',' | '-' | '.'));
            self.push(at, What::Ending(endings::of(numbers).passes));
        }
    }

    /// `[`: a field, an ending or a chord.
    fn bracket(&mut self, cursor: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = cursor.at();
        cursor.next();
        match (cursor.peek(), cursor.second()) {
            (Some(letter), Some(':')) if letter.is_ascii_alphabetic() => {
                cursor.next();
                cursor.next();
                let from = cursor.at();
                let value = cursor
                    .take_until(']')
                    .ok_or_else(|| wrong(at, format!("the field [{letter}: has no end: close it with ]")))?;
                self.field(letter, &mut Cursor::new(value, from))
            }
            (Some('0'..='9'), _) => {
                self.ending(cursor);
                Ok(())
            }
            (Some('"'), _) => {
                self.quoted(cursor)?;
                self.push(at, What::Ending(Vec::new()));
                Ok(())
            }
            _ => self.chord(cursor, at, ']'),
        }
    }

    /// What stands between quotation marks.
    fn quoted<'a>(&mut self, cursor: &mut Cursor<'a>) -> Result<&'a str, ReadError> {
        let at = cursor.at();
        cursor.next();
        cursor
            .take_until('"')
            .ok_or_else(|| wrong(at, "this quotation mark has no partner in its line: close the text with \""))
    }

    /// A chord symbol or an annotation.
    pub(super) fn words(&mut self, cursor: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = cursor.at();
        let words = self.quoted(cursor)?;
        let words = words.trim_start_matches(['^', '_', '<', '>', '@']).trim();
        if is_jump(words) {
            self.notices.say(format!(
                "\"{}\" in line {} stands there in words only: it is not played out.",
                shown(words),
                at.line
            ));
        }
        Ok(())
    }

    /// A tie from the note before.
    fn tie(&mut self) {
        if let Some(What::Sound { first, others, .. }) = self.last_timed() {
            for head in std::iter::once(first).chain(others) {
                head.is_tied = true;
            }
        }
    }

    /// `!name!`. A mark without a partner is an old sign for a line end: "scan forward" (12.2).
    pub(super) fn decoration(&mut self, cursor: &mut Cursor<'_>, mark: char) -> Result<(), ReadError> {
        let at = cursor.at();
        cursor.next();
        let mut ahead = cursor.clone();
        let name = ahead.take_while(|c| c != mark && !c.is_whitespace() && !matches!(c, '|' | '[' | ':' | ']'));
        if ahead.take(mark) {
            *cursor = ahead;
            self.push(at, What::Mark(named(name)));
        } else if mark != '!' {
            self.skipped(mark, at);
        }
        Ok(())
    }

    /// `+name+` where a directive says so, or in old files; `+CEG+` is the chord of old files (10.2.2, 10.2.3).
    fn plus(&mut self, cursor: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = cursor.at();
        let inside = cursor.rest().get(1..).and_then(|rest| rest.split_once('+')).map(|(inside, _)| inside);
        let is_note = |c: char| begins_note(c) || c.is_ascii_digit() || matches!(c, ',' | '\'' | '/');
        match inside {
            Some(notes) if !self.plus_decorates && !notes.is_empty() && notes.chars().all(is_note) => {
                cursor.next();
                self.chord(cursor, at, '+')
            }
            _ => self.decoration(cursor, '+'),
        }
    }
}

/// Whether it takes time.
pub(super) fn is_timed(what: &What) -> bool {
    matches!(what, What::Sound { .. } | What::Rest(_) | What::MeasureRests(_))
}
