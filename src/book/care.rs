//! The care of a book: looked over, copied, and made to forget.

use super::{Book, BookError, BookProblem, Player};
use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What a book holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contents {
    /// Players.
    pub players: i64,
    /// Exercises.
    pub exercises: i64,
    /// Takes, finished or not.
    pub takes: i64,
    /// Takes that are played now, or were cut off.
    pub unfinished: i64,
}

/// What the book holds of a player.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeldOf {
    /// Takes.
    pub takes: i64,
    /// The first and the last begin of a take, in microseconds since 1970.
    pub span_us: Option<(i64, i64)>,
    /// Findings, counted or too close to call.
    pub findings: i64,
    /// Marks given by hand.
    pub marks: i64,
    /// Times marked absent.
    pub absences: i64,
}

/// A question whose answer is a number of rows that must be 0, and what it means if it is not.
const MUST_BE_NONE: [(&str, &str); 3] = [
    (
        "SELECT count(*) FROM arrival JOIN take ON take.id = take WHERE record IS NOT NULL",
        "pieces of takes are left that are finished",
    ),
    (
        "SELECT count(*) FROM take WHERE record IS NOT NULL AND engine IS NULL",
        "takes are finished and were never judged",
    ),
    (
        "SELECT count(*) FROM flag JOIN take ON take.id = take WHERE engine IS NULL",
        "findings belong to takes that were never judged",
    ),
];

impl Book {
    /// How much is in the book.
    pub fn contents(&mut self) -> Result<Contents, BookError> {
        self.with(|sql| {
            let count = |question: &str| sql.query_row(question, [], |row| row.get(0));
            Ok(Contents {
                players: count("SELECT count(*) FROM player")?,
                exercises: count("SELECT count(*) FROM exercise")?,
                takes: count("SELECT count(*) FROM take")?,
                unfinished: count("SELECT count(*) FROM take WHERE record IS NULL")?,
            })
        })
    }

    /// What is wrong with the file, a sentence each: damaged pages, rows that belong to nothing, exercises that are not
    /// what was kept.
    pub fn faults(&mut self) -> Result<Vec<String>, BookError> {
        self.with(|sql| {
            let mut faults: Vec<String> = Vec::new();
            let mut query = sql.prepare("PRAGMA integrity_check")?;
            let rows = query.query_map([], |row| row.get::<_, String>(0))?;
            for row in rows {
                faults.extend(Some(row?).filter(|row| row != "ok"));
            }
            let mut query =
                sql.prepare("SELECT \"table\", parent, count(*) FROM pragma_foreign_key_check GROUP BY 1, 2")?;
            let rows = query.query_map([], |row| {
                let (table, parent, count): (String, String, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
                Ok(format!("{count} rows of {table} belong to a {parent} that is not in the book"))
            })?;
            faults.extend(rows.collect::<rusqlite::Result<Vec<_>>>()?);
            for (question, meaning) in MUST_BE_NONE {
                let count: i64 = sql.query_row(question, [], |row| row.get(0))?;
                faults.extend((count > 0).then(|| format!("{count} {meaning}")));
            }
            let mut query = sql.prepare("SELECT title, hash, content FROM exercise")?;
            let mut rows = query.query([])?;
            while let Some(row) = rows.next()? {
                let (title, hash, content): (String, Vec<u8>, Vec<u8>) = (row.get(0)?, row.get(1)?, row.get(2)?);
                if Sha256::digest(&content).as_slice() != hash {
                    faults.push(format!("the exercise {title} is not what was kept: its content was changed"));
                }
            }
            Ok(faults)
        })
    }

    /// Copies the book to a file that is not there yet, also while a session listens: written aside, for its owner
    /// only, looked over, then moved in place.
    pub fn back_up(&mut self, to: &Path) -> Result<(), BookError> {
        if to.exists() {
            let refused = BookProblem::Refused("there is a file already; name another, so that it is kept".into());
            return Err(refused.of(to));
        }
        let mut aside = to.as_os_str().to_owned();
        aside.push(".new");
        let aside = PathBuf::from(aside);
        // What a backup that was stopped has left.
        let _ = std::fs::remove_file(&aside);
        super::file::private(&aside).map_err(|problem| problem.of(to))?;
        // What the disk says is about the copy, what is damaged is the book.
        let blamed = |problem: BookProblem| {
            let blamed = if problem.is_machine() { to.to_owned() } else { self.path.clone() };
            problem.of(&blamed)
        };
        let done = copy(&self.sql, &aside).map_err(blamed).and_then(|()| {
            let moved =
                std::fs::File::open(&aside).and_then(|file| file.sync_all()).and_then(|()| std::fs::rename(&aside, to));
            moved.map_err(|error| BookProblem::from(error).of(to))
        });
        if done.is_err() {
            let _ = std::fs::remove_file(&aside);
        }
        done
    }

    /// What the book holds of a player.
    pub fn held_of(&mut self, player: &Player) -> Result<HeldOf, BookError> {
        self.with(|sql| {
            let count = |question: &str| sql.query_row(question, [player.id], |row| row.get::<_, i64>(0));
            let span = "SELECT min(begun_us), max(begun_us) FROM take WHERE player = ?1";
            let (first, last): (Option<i64>, Option<i64>) =
                sql.query_row(span, [player.id], |row| Ok((row.get(0)?, row.get(1)?)))?;
            Ok(HeldOf {
                takes: count("SELECT count(*) FROM take WHERE player = ?1")?,
                span_us: first.zip(last),
                findings: count("SELECT count(*) FROM flag JOIN take ON take.id = take WHERE player = ?1")?,
                marks: count("SELECT count(*) FROM mark WHERE player = ?1")?,
                absences: count("SELECT count(*) FROM absence WHERE player = ?1")?,
            })
        })
    }

    /// Erases a player with all takes, findings and marks, from the pages of the file too. Whether nothing is left
    /// already now: while another program has the book open, traces stay until that is closed. Refused while a session
    /// listens.
    pub fn forget(&mut self, player: &Player) -> Result<bool, BookError> {
        let _listening = self.listening()?;
        self.with(|sql| {
            // SQLite, "PRAGMA secure_delete": what is deleted is overwritten with zeros.
            sql.pragma_update(None, "secure_delete", true)?;
            sql.execute("DELETE FROM player WHERE id = ?1", [player.id])?;
            sql.execute_batch("VACUUM")?;
            let busy: i64 = sql.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
            Ok(busy == 0)
        })
    }
}

fn copy(sql: &Connection, aside: &Path) -> Result<(), BookProblem> {
    let mut other = Connection::open_with_flags(aside, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    // All pages in one step: one state of the book, however much is written meanwhile.
    Backup::new(sql, &mut other)?.run_to_completion(i32::MAX, Duration::from_millis(50), None)?;
    // The copy needs no files beside it.
    other.pragma_update(None, "journal_mode", "DELETE")?;
    let looked: String = other.query_row("PRAGMA quick_check", [], |row| row.get(0))?;
    if looked != "ok" {
        return Err(BookProblem::Damaged(looked));
    }
    other.close().map_err(|(_, error)| error)?;
    Ok(())
}
