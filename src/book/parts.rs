//! Takes judged again: the part read from the kept exercise, the record judged as it was live.

use super::{Book, BookError, TakeStart};
use crate::exercise::{Micros, Part};
use crate::instrument::{Instrument, catalogue};
use crate::judge::{Engine, Grid, Level, Report, Settings};
use crate::listen::{Input, Timed};
use crate::read::{Choice, ReadError, read_exercise};
use std::collections::HashMap;
use std::sync::Arc;

/// An exercise, a part of it, an instrument.
type Key = (i64, String, Option<String>);

/// Parts that were read once, or why they cannot be read.
#[derive(Default)]
pub struct Parts(HashMap<Key, Result<Arc<Part>, String>>);

impl Parts {
    /// The part of a take; `content` is asked for the exercise's bytes the first time. An error is a sentence.
    pub(super) fn of<E>(
        &mut self,
        start: &TakeStart,
        content: impl FnOnce() -> Result<Option<Vec<u8>>, E>,
    ) -> Result<Result<Arc<Part>, String>, E> {
        let key = (start.exercise, start.part.clone(), start.instrument.clone());
        if let Some(part) = self.0.get(&key) {
            return Ok(part.clone());
        }
        let part = match content()? {
            Some(content) => read(&content, start).map(Arc::new).map_err(|error| error.to_string()),
            None => Err("its exercise is not in the book".to_owned()),
        };
        self.0.insert(key, part.clone());
        Ok(part)
    }
}

impl Book {
    /// The part that a take was played from, read from the kept exercise, once for all takes that ask with the same `parts`.
    /// The inner error is a sentence.
    pub fn part_of(&mut self, parts: &mut Parts, start: &TakeStart) -> Result<Result<Arc<Part>, String>, BookError> {
        parts.of(start, || self.exercise_content(start.exercise))
    }
}

/// What the readers call all tracks of a MIDI file read as one part.
const ALL: &str = "all";

fn read(content: &[u8], start: &TakeStart) -> Result<Part, ReadError> {
    let instrument = instrument(start).map(|instrument| instrument.transposition);
    let choice = Choice { part: Some(start.part.clone()), instrument, ..Choice::default() };
    match read_exercise(content, &choice) {
        Err(ReadError::NoSuchPart { .. }) if matches!(start.part.as_str(), ALL | "") => {
            Ok(read_exercise(content, &Choice { part: None, ..choice })?.part)
        }
        read => Ok(read?.part),
    }
}

fn instrument(start: &TakeStart) -> Option<&'static Instrument> {
    start.instrument.as_ref().and_then(|id| catalogue().get(id).ok())
}

/// Judges what arrived as the session did when it was played, at a level; `grid`: the click as the record has it.
pub fn judge(
    part: &Arc<Part>,
    start: &TakeStart,
    level: Level,
    grid: Option<Grid>,
    record: &[Timed<Input>],
    end: Micros,
) -> Report {
    let settings = Settings {
        level,
        sends: start.sends,
        grid,
        delay: start.delay,
        instrument: instrument(start).cloned(),
        family: start.family.clone(),
        stamp_error: Settings::stamp_error(Micros(0)),
    };
    let mut engine = Engine::new(Arc::clone(part), settings);
    record.iter().for_each(|input| engine.push(input));
    engine.finish(end).0
}
