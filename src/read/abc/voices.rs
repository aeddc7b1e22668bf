//! The voices of a tune: which one music goes to, and what is known of each. ABC 2.1, 7.

use super::code::is_timed;
use super::cursor::Cursor;
use super::items::{Item, What};
use super::lines::At;
use super::staff::Staff;
use super::tune::TuneReader;
use super::{properties, wrong};
use crate::exercise::PartName;
use crate::read::ReadError;

/// More voices than any score has.
const MOST_VOICES: usize = 200;
/// More sections and titles than any tune has.
const MOST_SECTIONS: usize = 1000;

/// One voice.
#[derive(Debug)]
pub(super) struct Voice {
    pub(super) name: PartName,
    /// Where its music begins.
    pub(super) start: Staff,
    /// As the fields read so far leave it.
    pub(super) staff: Staff,
    pub(super) items: Vec<Item>,
    /// Bar lines so far.
    bars: usize,
    /// The last item that takes time.
    last_timed: Option<usize>,
}

impl Voice {
    fn push(&mut self, at: At, what: What) {
        self.bars += usize::from(matches!(what, What::Bar(_)));
        if is_timed(&what) {
            self.last_timed = Some(self.items.len());
        }
        self.items.push(Item { at, what });
    }
}

impl TuneReader {
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
            voice.push(at, what);
        }
    }

    /// The last note or rest of the voice that music goes to.
    pub(super) fn last_timed(&mut self) -> Option<&mut What> {
        let voice = self.voices.get_mut(self.current?)?;
        voice.items.get_mut(voice.last_timed?).map(|item| &mut item.what)
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
        self.voices.push(Voice {
            name,
            start: self.staff,
            staff: self.staff,
            items: Vec::new(),
            bars: 0,
            last_timed: None,
        });
        self.voices.len() - 1
    }

    /// A section begins: in the current voice and in those that are as far as it is.
    pub(super) fn section(&mut self, at: At, name: &str) -> Result<(), ReadError> {
        self.sections += 1;
        if self.sections > MOST_SECTIONS {
            return Err(wrong(at, "more sections than any tune has: take some of the lines P: and T: out"));
        }
        let here = self.current.and_then(|voice| self.voices.get(voice)).map_or(0, |voice| voice.bars);
        self.push(at, What::Section(name.to_owned()));
        let current = self.current;
        let others = self.voices.iter_mut().enumerate().filter(|(index, _)| Some(*index) != current);
        for (_, voice) in others.filter(|(_, voice)| !voice.items.is_empty() && voice.bars == here) {
            voice.push(at, What::Section(name.to_owned()));
        }
        Ok(())
    }

    /// The staff of the current voice, or of all that say nothing else, from here on.
    pub(super) fn staff_is(&mut self, at: At, staff: Staff) {
        match self.current.and_then(|voice| self.voices.get_mut(voice)) {
            Some(voice) if voice.staff == staff => {}
            Some(voice) => {
                voice.staff = staff;
                voice.push(at, What::Staff(staff));
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
    pub(super) fn voice_field(&mut self, value: &mut Cursor<'_>) -> Result<(), ReadError> {
        let at = value.at();
        let id = value.take_while(|c| !c.is_whitespace());
        if id.is_empty() {
            return Err(wrong(at, "V: names no voice: write V:1 or V:Flute"));
        }
        let index = self.voice(id);
        if index == MOST_VOICES {
            return Err(wrong(
                at,
                "more voices than any score has: save the ones that you want in a file of their own",
            ));
        }
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
