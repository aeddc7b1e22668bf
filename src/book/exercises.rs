//! Exercises, kept by their content.

use super::{Book, BookError};
use rusqlite::{OptionalExtension, params};
use sha2::{Digest, Sha256};

/// An exercise as the book keeps it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptExercise {
    /// The book's own number.
    pub id: i64,
    /// Its title.
    pub title: String,
    /// The name of the file that it came from.
    pub file_name: String,
}

impl Book {
    /// Keeps the content of an exercise file, once, and returns its number. `now_us`: microseconds since 1970.
    pub fn keep_exercise(
        &mut self,
        title: &str,
        file_name: &str,
        content: &[u8],
        now_us: i64,
    ) -> Result<i64, BookError> {
        let hash = Sha256::digest(content);
        self.with(|sql| {
            sql.execute(
                "INSERT INTO exercise (hash, title, file_name, content, added_us) VALUES (?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT (hash) DO NOTHING",
                params![hash.as_slice(), title, file_name, content, now_us],
            )?;
            Ok(sql.query_row("SELECT id FROM exercise WHERE hash = ?1", [hash.as_slice()], |row| row.get(0))?)
        })
    }

    /// The content of an exercise.
    pub fn exercise_content(&mut self, id: i64) -> Result<Option<Vec<u8>>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached("SELECT content FROM exercise WHERE id = ?1")?;
            Ok(query.query_row([id], |row| row.get(0)).optional()?)
        })
    }

    /// The SHA-256 of an exercise's content: the same in every book.
    pub fn exercise_hash(&mut self, id: i64) -> Result<Option<Vec<u8>>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached("SELECT hash FROM exercise WHERE id = ?1")?;
            Ok(query.query_row([id], |row| row.get(0)).optional()?)
        })
    }

    /// All exercises, the newest first.
    pub fn exercises(&mut self) -> Result<Vec<KeptExercise>, BookError> {
        self.with(|sql| {
            let mut query =
                sql.prepare_cached("SELECT id, title, file_name FROM exercise ORDER BY added_us DESC, id DESC")?;
            let rows = query.query_map([], |row| {
                Ok(KeptExercise { id: row.get(0)?, title: row.get(1)?, file_name: row.get(2)? })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }
}
