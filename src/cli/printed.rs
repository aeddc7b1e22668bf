//! Which parts of a file are to be printed, for which instruments: shared by `write` and `sheet`.

use super::Failure;
use super::lanes::{is_for, player_part, recognised};
use crate::exercise::{Exercise, Part, for_instrument};
use crate::instrument::{Instrument, catalogue};
use crate::prepare::Moved;
use crate::read::{Choice, FileError, ReadError, read_file};
use crate::theory::Key;
use std::path::Path;

/// What was asked for.
pub(super) struct Asked<'a> {
    /// The file.
    pub(super) exercise: &'a Path,
    /// Parts; none: all, or with instruments the first.
    pub(super) parts: &'a [String],
    /// Ids of instruments; none: those of the parts.
    pub(super) instruments: &'a [String],
    /// A part of a score at concert pitch is taken as its player reads it; else as the score prints it.
    pub(super) for_players: bool,
}

/// What was found.
pub(super) struct Printed {
    /// The title of the exercise.
    pub(super) title: Option<String>,
    /// A part for everything that was asked for, or why there is none.
    pub(super) parts: Vec<Found>,
    /// What the reader skipped or decided, each once.
    pub(super) notices: Vec<String>,
}

/// A part to print, or why there is none.
pub(super) enum Found {
    /// A part.
    Part(Box<PrintedPart>),
    /// The part has no notes with a pitch.
    NoNotes {
        /// Its identifier.
        part: String,
        /// The instrument it was asked for, or its name in the file.
        name: String,
    },
    /// The line's notes lie too far apart for this instrument, whichever octave is taken.
    TooFarApart(Instrument),
}

/// A part as its instrument reads it.
pub(super) struct PrintedPart {
    pub(super) part: Part,
    pub(super) instrument: Option<Instrument>,
    /// For a line printed for an instrument that it was not written for.
    pub(super) moved: Option<Moved>,
}

/// More parts than a conductor's score has: the file is read again for each.
const MOST_PARTS: usize = 200;

impl Asked<'_> {
    /// Reads what was asked for.
    pub(super) fn find(&self) -> Result<Printed, Failure> {
        if self.instruments.is_empty() { self.parts() } else { self.for_instruments() }
    }

    fn read(&self, choice: &Choice) -> Result<Exercise, FileError> {
        read_file(self.exercise, choice)
    }

    /// The parts of the file that are asked for: all, unless some are named.
    fn parts(&self) -> Result<Printed, Failure> {
        let mut asked: Vec<(String, String)> = self.parts.iter().map(|part| (part.clone(), part.clone())).collect();
        let mut printed = Printed { title: None, parts: Vec::new(), notices: Vec::new() };
        if asked.is_empty() {
            match self.read(&Choice::default()) {
                Ok(first) => {
                    printed.title = first.title;
                    asked.extend(first.parts.into_iter().map(|part| (part.id, part.name)));
                }
                Err(error) => printed.parts.push(without_notes(error, "")?),
            }
        }
        if asked.len() > MOST_PARTS {
            return Err(Failure::Input(format!(
                "{}: {} parts, and of each is made what is asked for: name those that you want with --part",
                self.exercise.display(),
                asked.len()
            )));
        }
        for (part, name) in asked {
            let choice = Choice { part: Some(part.clone()), ..Choice::default() };
            let exercise = match self.read(&choice) {
                Ok(exercise) => exercise,
                Err(error) => {
                    printed.parts.push(without_notes(error, &name)?);
                    continue;
                }
            };
            if self.for_players {
                let read = |choice: &Choice| self.read(choice).map_err(Failure::input);
                let found = player_part(read, Some(&part), None)?;
                printed.add(found.exercise, found.instrument);
            } else {
                let instrument = recognised(&exercise.part.name, exercise.part.transposition).cloned();
                printed.add(exercise, instrument);
            }
        }
        Ok(printed)
    }

    /// One line for each instrument that is asked for.
    fn for_instruments(&self) -> Result<Printed, Failure> {
        let ([] | [_]) = self.parts else {
            return Err(Failure::Usage("--instrument prints one line: give --part only once".into()));
        };
        let asked = self.instruments.iter().map(|id| catalogue().get(id)).collect::<Result<Vec<_>, _>>();
        let asked = asked.map_err(Failure::input)?;
        let mut printed = Printed { title: None, parts: Vec::new(), notices: Vec::new() };
        let line = match self.read(&Choice { part: self.parts.first().cloned(), ..Choice::default() }) {
            Ok(line) => line,
            Err(error) => {
                printed.parts.push(without_notes(error, "")?);
                return Ok(printed);
            }
        };
        printed.title.clone_from(&line.title);
        let mut is_used = false;
        for instrument in asked {
            // A part that was asked for is printed for whoever is asked for; else each gets its own.
            let mut candidates = match self.parts.first() {
                Some(_) => std::slice::from_ref(&line.part.name).iter(),
                None => line.parts.iter(),
            };
            if let Some(own) = candidates.find(|name| is_for(name, instrument)) {
                let transposition = Some(instrument.transposition);
                match self.read(&Choice { part: Some(own.id.clone()), instrument: transposition, ..Choice::default() })
                {
                    Ok(own) => printed.add(own, Some(instrument.clone())),
                    Err(error) => printed.parts.push(without_notes(error, &instrument.name)?),
                }
                continue;
            }
            is_used = true;
            printed.parts.push(match for_instrument(&line.part, instrument) {
                None => Found::TooFarApart(instrument.clone()),
                Some(fitted) => Found::Part(Box::new(PrintedPart {
                    part: fitted.part,
                    instrument: Some(instrument.clone()),
                    moved: Some(Moved { octaves: fitted.octaves, concert_keys: concert_keys(&line.part) }),
                })),
            });
        }
        // Which line was taken matters only if it was.
        if is_used {
            printed.note(line.notices);
        }
        Ok(printed)
    }
}

impl Printed {
    fn add(&mut self, exercise: Exercise, instrument: Option<Instrument>) {
        self.title = self.title.take().or(exercise.title);
        self.note(exercise.notices);
        let part = PrintedPart { part: exercise.part, instrument, moved: None };
        self.parts.push(Found::Part(Box::new(part)));
    }

    fn note(&mut self, notices: Vec<String>) {
        for notice in notices {
            if !self.notices.contains(&notice) {
                self.notices.push(notice);
            }
        }
    }
}

fn concert_keys(line: &Part) -> Vec<Key> {
    let transposition = line.transposition.unwrap_or_default();
    line.measures.iter().map(|measure| transposition.key_to_concert(measure.key)).collect()
}

/// A part without notes is an answer; anything else that is wrong with the file is an error.
fn without_notes(error: FileError, name: &str) -> Result<Found, Failure> {
    match error.problem {
        ReadError::NoNotes { part } => Ok(Found::NoNotes { part, name: name.into() }),
        _ => Err(Failure::input(error)),
    }
}
