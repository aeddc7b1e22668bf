//! One tune: its fields. In: its lines. Out: [`Voice`]s with what each of them holds, in the order in which they come up. Music is
//! read by [`super::code`]. Next is [`super::rhythm`].
//!
//! A field on a line of its own is for the voice that the lines before it belong to (ABC 2.1, 7.3: fields are repeated in
//! every voice to which they apply); before the first music it is for all voices.

use super::book::{Book, Tune};
use super::cursor::Cursor;
use super::fields::{self, Said};
use super::items::{Tempo, Time, What};
use super::key::{self, Signature};
use super::lines::{At, Kind, Line};
use super::marks::Symbols;
use super::staff::Staff;
use super::voices::Voice;
use super::{properties, wrong};
use crate::exercise::Quarters;
use crate::read::ReadError;
use crate::read::error::shown;
use crate::read::notices::Notices;
use std::collections::BTreeSet;

/// How far an accidental reaches (`%%propagate-accidentals`, ABC 2.1, 11.3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Reach {
    /// Only its note.
    Note,
    /// Its octave, to the end of the measure.
    Octave,
    /// All octaves, to the end of the measure.
    #[default]
    Letter,
}

/// What holds where the music begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub(super) unit: Quarters,
    pub(super) time: Time,
    pub(super) tempo: Option<Tempo>,
    pub(super) key: Signature,
    /// The number of the first full measure.
    pub(super) number: u32,
}

/// A tune being read.
pub(super) struct TuneReader {
    pub(super) symbols: Symbols,
    /// `+fermata+` instead of `!fermata!` (`I:decoration +`).
    pub(super) plus_decorates: bool,
    pub(super) reach: Reach,
    pub(super) notices: Notices,
    pub(super) voices: Vec<Voice>,
    /// The order of its sections (`P:` in the header), and where that stands.
    pub(super) order: Option<(String, At)>,
    /// Characters that mean nothing and were said to.
    pub(super) skipped: BTreeSet<char>,
    /// The last line ended with a bar line.
    pub(super) bar_continues: bool,
    /// Sections and titles so far.
    pub(super) sections: usize,
    unit: Option<Quarters>,
    time: Option<Time>,
    tempo: Option<Tempo>,
    key: Signature,
    /// For voices that say nothing else.
    pub(super) staff: Staff,
    pub(super) number: u32,
    /// The voice that music goes to; `None` before any.
    pub(super) current: Option<usize>,
    pub(super) in_body: bool,
}

impl TuneReader {
    /// Reads a tune of a book.
    pub(super) fn read(book: &Book<'_>, tune: &Tune<'_>) -> Result<TuneReader, ReadError> {
        let mut reader = TuneReader {
            symbols: Symbols::default(),
            plus_decorates: false,
            reach: Reach::default(),
            notices: Notices::default(),
            voices: Vec::new(),
            order: None,
            skipped: BTreeSet::new(),
            bar_continues: false,
            sections: 0,
            unit: None,
            time: None,
            tempo: None,
            key: Signature::default(),
            staff: Staff::default(),
            number: 1,
            current: None,
            in_body: false,
        };
        for line in book.header.iter().chain(&tune.header) {
            match line.kind {
                Kind::Field(letter) => reader.field(letter, &mut value(line))?,
                Kind::Directive => reader.directive(line.value().0, line.value().1),
                _ => {}
            }
        }
        reader.in_body = true;
        // A meter that comes later does not change the unit (3.1.7).
        reader.unit = reader.unit.or(Some(fields::default_unit(reader.time.unwrap_or(Time::Free))));
        for line in &tune.body {
            match line.kind {
                // Letters of notes and rests are no fields here.
                Kind::Field(letter) if matches!(letter, 'H'..='W' | 'h'..='w') => {
                    reader.field(letter, &mut value(line))?;
                }
                Kind::Directive => reader.directive(line.value().0, line.value().1),
                Kind::Field(_) | Kind::Code => reader.code(line)?,
                Kind::Continuation | Kind::Empty => {}
            }
        }
        Ok(reader)
    }

    /// What holds where the music begins.
    pub(super) fn start(&self) -> Start {
        let time = self.time.unwrap_or(Time::Free);
        let unit = self.unit.unwrap_or_else(|| fields::default_unit(time));
        Start { unit, time, tempo: self.tempo, key: self.key, number: self.number }
    }

    /// Takes in a field: on a line of its own or between brackets.
    pub(super) fn field(&mut self, letter: char, value: &mut Cursor<'_>) -> Result<(), ReadError> {
        value.skip_space();
        let (at, text) = (value.at(), value.rest().trim_end());
        match letter {
            'K' => self.key(value)?,
            'V' => self.voice_field(value)?,
            'M' => match fields::meter(text) {
                Some(time) if self.is_for_all() => self.time = Some(time),
                Some(time) => self.push(at, What::Meter(time)),
                None => self.left_out(at, "meter", text),
            },
            'L' => {
                let unit = fields::unit(text).ok_or_else(|| {
                    wrong(at, format!("the unit note length is \"{}\": write a fraction, as in L:1/8", shown(text)))
                })?;
                if self.is_for_all() {
                    self.unit = Some(unit);
                } else {
                    self.push(at, What::Unit(unit));
                }
            }
            'Q' => match fields::tempo(text) {
                Said::Tempo(tempo) if self.is_for_all() => self.tempo = Some(tempo),
                Said::Tempo(tempo) => self.push(at, What::Tempo(tempo)),
                Said::Words => {}
                Said::Nothing => self.left_out(at, "tempo", text),
            },
            // Before the first music of several voices it cannot be for one of them.
            'P' | 'T' if self.in_body && self.is_for_all() && self.voices.len() > 1 => {}
            'P' if self.in_body => self.section(at, text)?,
            'P' => self.order = Some((text.to_owned(), at)),
            'T' if self.in_body => self.section(at, "")?,
            'U' => self.symbol(at, text),
            'I' => self.directive(text, at),
            'm' => self.notices.say(format!("Macros (m:, first in line {}) are not played out.", at.line)),
            's' => self.notices.say(format!("Symbol lines (s:, first in line {}) are not read.", at.line)),
            _ => {}
        }
        Ok(())
    }

    fn symbol(&mut self, at: At, text: &str) {
        if self.symbols.define(text).is_none() {
            self.left_out(at, "definition", text);
        }
    }

    /// Whether a field is for all voices: no music has come yet.
    pub(super) fn is_for_all(&self) -> bool {
        self.current.is_none()
    }

    fn left_out(&mut self, at: At, what: &str, text: &str) {
        let (line, text) = (at.line, shown(text));
        self.notices.say(format!("The {what} \"{text}\" in line {line} makes no sense and is left out."));
    }

    fn key(&mut self, value: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = value.at();
        // An empty field is a key without signature.
        let is_empty = value.rest().trim().is_empty();
        let signature = key::read(value)?.or(is_empty.then(Signature::default));
        if let Some(signature) = signature {
            if !signature.is_usual() {
                self.notices.say(format!(
                    "The key signature in line {} is none of the usual ones: it is shown as {}, and notes that it alters otherwise \
                     count as printed accidentals.",
                    at.line, signature.key
                ));
            }
            if self.is_for_all() {
                self.key = signature;
            } else {
                self.push(at, What::Key(signature));
            }
        }
        let mut staff = self.current.and_then(|voice| self.voices.get(voice)).map_or(self.staff, |voice| voice.staff);
        for property in properties::all(value) {
            if !staff.apply(&property)? {
                let word = if property.name.is_empty() { property.value.clone() } else { property.name.clone() };
                self.left_out(property.at, "word", &word);
            }
        }
        self.staff_is(at, staff);
        Ok(())
    }
}

fn value<'a>(line: &Line<'a>) -> Cursor<'a> {
    let (text, at) = line.value();
    Cursor::new(text, at)
}
