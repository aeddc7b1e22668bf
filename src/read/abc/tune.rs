//! One tune: its fields, and its voices with what each of them holds.
//!
//! In: the lines of a tune. Out: [`Voice`]s, in the order in which they come up. Music is read by [`super::code`]. Next is
//! [`super::rhythm`].
//!
//! A field on a line of its own is for the voice that the lines before it belong to (ABC 2.1, 7.3: fields are repeated in
//! every voice to which they apply); before the first music it is for all voices.

use super::book::{Book, Tune};
use super::cursor::Cursor;
use super::fields::{self, Said};
use super::items::{Item, Tempo, Time, What};
use super::key::{self, Signature};
use super::lines::{At, Kind, Line};
use super::marks::Symbols;
use super::staff::Staff;
use super::{properties, wrong};
use crate::exercise::{PartName, Quarters};
use crate::read::ReadError;
use crate::read::error::shown;
use crate::read::notices::Notices;

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

/// One voice.
#[derive(Debug)]
pub(super) struct Voice {
    pub(super) name: PartName,
    /// Where its music begins.
    pub(super) start: Staff,
    /// As the fields read so far leave it.
    staff: Staff,
    pub(super) items: Vec<Item>,
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
    pub(super) skipped: Vec<char>,
    /// The last line ended with a bar line.
    pub(super) bar_continues: bool,
    unit: Option<Quarters>,
    time: Option<Time>,
    tempo: Option<Tempo>,
    key: Signature,
    /// For voices that say nothing else.
    staff: Staff,
    pub(super) number: u32,
    /// The voice that music goes to; `None` before any.
    current: Option<usize>,
    in_body: bool,
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
            skipped: Vec::new(),
            bar_continues: false,
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

    /// Adds to the voice that music goes to.
    pub(super) fn push(&mut self, at: At, what: What) {
        let voice = match self.current {
            Some(voice) => voice,
            // A tune without `V:` has one voice. Voices of the header that have not been called yet: the first.
            None if self.voices.is_empty() => self.voice("1"),
            None => 0,
        };
        self.current = Some(voice);
        if let Some(voice) = self.voices.get_mut(voice) {
            voice.items.push(Item { at, what });
        }
    }

    /// What was added last to the voice that music goes to.
    pub(super) fn items(&mut self) -> Option<&mut Vec<Item>> {
        self.voices.get_mut(self.current?).map(|voice| &mut voice.items)
    }

    /// The voice of that name, new if need be.
    fn voice(&mut self, id: &str) -> usize {
        // "Only the first 20 characters of it will be distinguished" (ABC 2.1, 7).
        let id: String = id.chars().take(20).collect();
        if let Some(known) = self.voices.iter().position(|voice| voice.name.id == id) {
            return known;
        }
        // Many voices are called by what plays them.
        let hints = if id.starts_with(|c: char| c.is_ascii_digit()) { Vec::new() } else { vec![id.clone()] };
        let name = PartName { id, name: String::new(), hints };
        self.voices.push(Voice { name, start: self.staff, staff: self.staff, items: Vec::new() });
        self.voices.len() - 1
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
            'P' if self.in_body => self.section(at, text),
            'P' => self.order = Some((text.to_owned(), at)),
            'T' if self.in_body => self.section(at, ""),
            'U' => self.symbol(at, text),
            'I' => self.directive(text, at),
            'm' => self.notices.say(format!("Macros (m:, first in line {}) are not played out.", at.line)),
            's' => self.notices.say(format!("Symbol lines (s:, first in line {}) are not read.", at.line)),
            _ => {}
        }
        Ok(())
    }

    /// A section begins: in the current voice and in those that are as far as it is.
    fn section(&mut self, at: At, name: &str) {
        let bars = |voice: &Voice| voice.items.iter().filter(|item| matches!(item.what, What::Bar(_))).count();
        let here = self.current.and_then(|voice| self.voices.get(voice)).map_or(0, bars);
        self.push(at, What::Section(name.to_owned()));
        let current = self.current;
        let others = self.voices.iter_mut().enumerate().filter(|(index, _)| Some(*index) != current);
        for (_, voice) in others.filter(|(_, voice)| !voice.items.is_empty() && bars(voice) == here) {
            voice.items.push(Item { at, what: What::Section(name.to_owned()) });
        }
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

    /// The staff of the current voice, or of all that say nothing else, from here on.
    fn staff_is(&mut self, at: At, staff: Staff) {
        match self.current.and_then(|voice| self.voices.get_mut(voice)) {
            Some(voice) if voice.staff == staff => {}
            Some(voice) => {
                voice.staff = staff;
                voice.items.push(Item { at, what: What::Staff(staff) });
            }
            None => {
                for voice in self.voices.iter_mut().filter(|voice| voice.staff == self.staff) {
                    (voice.start, voice.staff) = (staff, staff);
                }
                self.staff = staff;
            }
        }
    }

    /// `V:`: a voice, what is known of it, and in the body that music goes to it from here on.
    fn voice_field(&mut self, value: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = value.at();
        let id = value.take_while(|c| !c.is_whitespace());
        if id.is_empty() {
            return Err(wrong(at, "V: names no voice: write V:1 or V:Flute"));
        }
        let index = self.voice(id);
        let Some(mut staff) = self.voices.get(index).map(|voice| voice.staff) else { return Ok(()) };
        for property in properties::all(value) {
            // What else programs say of a voice is about its looks.
            let is_taken = staff.apply(&property)?;
            let Some(voice) = self.voices.get_mut(index).filter(|_| !is_taken) else { continue };
            match property.name.as_str() {
                "name" | "nm" => voice.name.name = property.value,
                "subname" | "snm" | "sname" => voice.name.hints.insert(0, property.value),
                _ => {}
            }
        }
        if self.in_body {
            self.current = Some(index);
            self.staff_is(at, staff);
        } else if let Some(voice) = self.voices.get_mut(index) {
            (voice.start, voice.staff) = (staff, staff);
        }
        Ok(())
    }
}

fn value<'a>(line: &Line<'a>) -> Cursor<'a> {
    let (text, at) = line.value();
    Cursor::new(text, at)
}
