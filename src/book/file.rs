//! The file: opened, made, brought to the present version, kept private.

use super::schema::{APPLICATION, MIGRATIONS};
use super::{BookError, BookProblem};
use rusqlite::{Connection, OpenFlags};
use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long one writer waits for another.
const PATIENCE: Duration = Duration::from_secs(5);

/// A book: players, exercises, takes, flags and marks in one SQLite file that only its owner can read.
pub struct Book {
    pub(super) path: PathBuf,
    pub(super) sql: Connection,
}

/// Held while a session listens into a book; the operating system lets go of it even after a crash.
#[derive(Debug)]
pub struct Listening(#[allow(dead_code)] File); // kept open, never read

impl Book {
    /// Opens a book that is there.
    pub fn open(path: &Path) -> Result<Book, BookError> {
        if !path.exists() {
            return Err(BookProblem::Missing.of(path));
        }
        // SQLite would begin a book in it: whoever only asks writes nothing.
        if std::fs::metadata(path).is_ok_and(|file| file.is_file() && file.len() == 0) {
            return Err(BookProblem::NoBook.of(path));
        }
        Book::at(path)
    }

    /// Opens a book, or begins one.
    pub fn open_or_begin(path: &Path) -> Result<Book, BookError> {
        // Asked before it is opened: a pipe would wait for a reader.
        if path.exists() && !path.is_file() {
            return Err(BookProblem::NoBook.of(path));
        }
        private(path).map_err(|problem| problem.of(path))?;
        Book::at(path)
    }

    fn at(path: &Path) -> Result<Book, BookError> {
        let open = || -> Result<Book, BookProblem> {
            let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
            if !path.is_file() {
                return Err(BookProblem::NoBook);
            }
            let mut sql = Connection::open_with_flags(path, flags)?;
            sql.busy_timeout(PATIENCE)?;
            migrate(&mut sql)?;
            // Readers do not stop the writer; a commit outlives a crash of the program (SQLite, "Write-Ahead Logging").
            sql.pragma_update(None, "journal_mode", "WAL")?;
            sql.pragma_update(None, "synchronous", "NORMAL")?;
            sql.pragma_update(None, "foreign_keys", true)?;
            Ok(Book { path: path.into(), sql })
        };
        open().map_err(|problem| problem.of(path))
    }

    /// Runs something that may wait for another writer only so long.
    pub(super) fn with_patience<T>(
        &mut self,
        patience: Duration,
        run: impl FnOnce(&mut Book) -> Result<T, BookError>,
    ) -> Result<T, BookError> {
        self.with(|sql| Ok(sql.busy_timeout(patience)?))?;
        let done = run(self);
        self.with(|sql| Ok(sql.busy_timeout(PATIENCE)?))?;
        done
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes the book for a session; refused while another listens into it.
    pub fn listening(&self) -> Result<Listening, BookError> {
        let lock = || -> Result<Listening, BookProblem> {
            let mut beside = self.path.clone().into_os_string();
            beside.push("-listening");
            let beside = PathBuf::from(beside);
            private(&beside)?;
            let file = File::open(&beside)?;
            match file.try_lock() {
                Ok(()) => Ok(Listening(file)),
                Err(std::fs::TryLockError::WouldBlock) => Err(BookProblem::Listening),
                Err(std::fs::TryLockError::Error(error)) => Err(error.into()),
            }
        };
        lock().map_err(|problem| problem.of(&self.path))
    }

    /// Runs something on the book; what goes wrong names the file.
    pub(super) fn with<T>(
        &mut self,
        run: impl FnOnce(&mut Connection) -> Result<T, BookProblem>,
    ) -> Result<T, BookError> {
        run(&mut self.sql).map_err(|problem| problem.of(&self.path))
    }
}

/// Makes an empty file that only its owner can read, if there is none.
pub(super) fn private(path: &Path) -> Result<(), BookProblem> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)?;
    Ok(())
}

fn migrate(sql: &mut Connection) -> Result<(), BookProblem> {
    let known = MIGRATIONS.len() as i64;
    let transaction = sql.transaction_with_behavior(rusqlite::TransactionBehavior::Deferred)?;
    let number = |name| transaction.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let (application, version) = (number("application_id")?, number("user_version")?);
    let tables: i64 = transaction.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    let is_new = application == 0 && version == 0 && tables == 0;
    if !is_new && application != i64::from(APPLICATION) {
        return Err(BookProblem::NoBook);
    }
    if version > known {
        return Err(BookProblem::Newer { found: version, known });
    }
    if version == known {
        return Ok(());
    }
    for migration in &MIGRATIONS[version as usize..] {
        transaction.execute_batch(migration)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION)?;
    transaction.pragma_update(None, "user_version", known)?;
    transaction.commit()?;
    Ok(())
}
