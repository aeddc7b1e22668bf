//! Who was not there: marked while a queue is called up, for whoever plans the next lesson.

use super::{Book, BookError};
use rusqlite::params;

/// A player was not there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Absence {
    /// The player's number.
    pub player: i64,
    /// Microseconds since 1970 when it was marked.
    pub marked_us: i64,
}

impl Book {
    /// Marks a player absent.
    pub fn mark_absent(&mut self, absence: Absence) -> Result<(), BookError> {
        self.with(|sql| {
            sql.execute(
                "INSERT INTO absence (player, marked_us) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
                params![absence.player, absence.marked_us],
            )?;
            Ok(())
        })
    }

    /// The player has come after all: what was marked at or after a time, in microseconds since 1970, is taken back.
    pub fn has_come(&mut self, player: i64, since_us: i64) -> Result<(), BookError> {
        self.with(|sql| {
            sql.execute("DELETE FROM absence WHERE player = ?1 AND marked_us >= ?2", params![player, since_us])?;
            Ok(())
        })
    }

    /// Who was marked absent at or after a time, in microseconds since 1970, in the order marked.
    pub fn absences(&mut self, since_us: i64) -> Result<Vec<Absence>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(
                "SELECT player, marked_us FROM absence WHERE marked_us >= ?1 ORDER BY marked_us, player",
            )?;
            let rows =
                query.query_map([since_us], |row| Ok(Absence { player: row.get(0)?, marked_us: row.get(1)? }))?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }
}
