//! Marks that the director gives by hand, for what MIDI cannot tell.

use super::{Book, BookError};
use rusqlite::params;

/// A mark given by hand: a row of the rubric and the step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The player's number.
    pub player: i64,
    /// The exercise's number.
    pub exercise: i64,
    /// The id of the row in the rubric.
    pub row: String,
    /// The step, 1 is the lowest.
    pub step: u8,
    /// Microseconds since 1970 when it was given.
    pub marked_us: i64,
}

impl Book {
    /// All marks, by player and exercise.
    pub fn marks(&mut self) -> Result<Vec<Mark>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(
                "SELECT player, exercise, row, step, marked_us FROM mark ORDER BY player, exercise, row",
            )?;
            let rows = query.query_map([], |row| {
                Ok(Mark {
                    player: row.get(0)?,
                    exercise: row.get(1)?,
                    row: row.get(2)?,
                    step: row.get(3)?,
                    marked_us: row.get(4)?,
                })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Gives a mark, over an earlier one of the same row.
    pub fn give_mark(&mut self, mark: &Mark) -> Result<(), BookError> {
        self.with(|sql| {
            sql.execute(
                "INSERT INTO mark (player, exercise, row, step, marked_us) VALUES (?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT (player, exercise, row) DO UPDATE SET step = excluded.step, marked_us = excluded.marked_us",
                params![mark.player, mark.exercise, mark.row, mark.step, mark.marked_us],
            )?;
            Ok(())
        })
    }

    /// Takes a mark back; whether there was one.
    pub fn take_mark_back(&mut self, player: i64, exercise: i64, row: &str) -> Result<bool, BookError> {
        self.with(|sql| {
            let gone = sql.execute(
                "DELETE FROM mark WHERE player = ?1 AND exercise = ?2 AND row = ?3",
                params![player, exercise, row],
            )?;
            Ok(gone > 0)
        })
    }
}
