//! Takes that were cut off by a crash, finished from what had arrived.

use super::parts::{Parts, judge};
use super::{Book, BookError};
use crate::listen::clean_notes;

/// What became of a take that was cut off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutOff {
    /// The player.
    pub player: String,
    /// The title of the exercise.
    pub title: String,
    /// Microseconds since 1970 when it was begun.
    pub begun_us: i64,
    /// How many notes of it are kept.
    pub notes: usize,
    /// Why it could not be judged; it stays as it is.
    pub trouble: Option<String>,
}

impl Book {
    /// Judges and keeps the takes that were begun and never ended, as far as they were played. Those in which nobody had
    /// played yet are dropped without a word. Only while no other session listens.
    pub fn finish_cut_off(&mut self) -> Result<Vec<CutOff>, BookError> {
        let mut parts = Parts::default();
        let mut told = Vec::new();
        for found in self.unfinished()? {
            let notes = clean_notes(&found.record).len();
            if notes == 0 {
                self.discard_take(found.take)?;
                continue;
            }
            let start = found.start;
            let mut cut_off =
                CutOff { player: found.player, title: found.title, begun_us: start.begun_us, notes, trouble: None };
            match parts.of(&start, || self.exercise_content(start.exercise))? {
                Ok(part) => {
                    let end = found.record.last().map(|last| last.at).unwrap_or_default();
                    let report = judge(&part, &start, start.level, start.click.clone(), &found.record, end);
                    self.finish_take(found.take, &found.record, &start, end, &part, &report)?;
                }
                Err(trouble) => cut_off.trouble = Some(trouble),
            }
            told.push(cut_off);
        }
        Ok(told)
    }
}
