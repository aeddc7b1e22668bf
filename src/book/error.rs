//! Why a book could not be used.

use std::path::{Path, PathBuf};

/// What went wrong, and in which file.
#[derive(Debug, thiserror::Error)]
#[error("{}: {problem}", path.display())]
pub struct BookError {
    /// The book.
    pub path: PathBuf,
    /// What went wrong.
    pub problem: BookProblem,
}

/// What went wrong.
#[derive(Debug, thiserror::Error)]
pub enum BookProblem {
    /// No such file, and none was to be made.
    #[error("there is no book here; `restward book roster --book FILE players.csv` begins one")]
    Missing,
    /// Some other file.
    #[error("this file is no book of restward; choose another name, it is left as it is")]
    NoBook,
    /// A version that this program does not know.
    #[error(
        "the book is of version {found}, this program knows up to {known}; use a newer restward, the book is left as it is"
    )]
    Newer {
        /// The book's version.
        found: i64,
        /// The newest version known.
        known: i64,
    },
    /// The file system lets nobody write.
    #[error("the book may only be read: look at the file's and the folder's rights, or copy it elsewhere")]
    ReadOnly,
    /// No room on the disk.
    #[error("the disk is full: make room, then go on; what was in the book before is safe")]
    Full,
    /// The disk fails, or is gone.
    #[error("the disk cannot be read or written ({0}): look whether it is full or was unplugged, then go on")]
    Disk(String),
    /// Somebody else writes for longer than anybody should.
    #[error("another program is writing in the book; wait until it is done and try again")]
    Busy,
    /// Another listen has the book.
    #[error("another restward is listening into this book; end that one, or give this one a book of its own")]
    Listening,
    /// The file is damaged.
    #[error(
        "the book is damaged ({0}). Keep it for repair: move this file, and those beside it that end in -wal and -shm, to \
         another folder. Then copy your last backup to here, under this name"
    )]
    Damaged(String),
    /// A name that must be there once.
    #[error("{0}")]
    Refused(String),
    /// The operating system said no.
    #[error("{0}")]
    Machine(std::io::Error),
    /// Anything else that SQLite says.
    #[error("{0}")]
    Sql(rusqlite::Error),
}

impl BookProblem {
    /// Names the book.
    pub(crate) fn of(self, path: &Path) -> BookError {
        BookError { path: path.into(), problem: self }
    }

    /// Whether the machine, not the input, is at fault.
    pub fn is_machine(&self) -> bool {
        use BookProblem::{Busy, Disk, Full, Machine, ReadOnly};
        matches!(self, ReadOnly | Full | Disk(_) | Busy | Machine(_))
    }
}

impl From<std::io::Error> for BookProblem {
    fn from(error: std::io::Error) -> BookProblem {
        match error.kind() {
            std::io::ErrorKind::StorageFull => BookProblem::Full,
            std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => BookProblem::ReadOnly,
            _ => BookProblem::Machine(error),
        }
    }
}

impl From<rusqlite::Error> for BookProblem {
    fn from(error: rusqlite::Error) -> BookProblem {
        use rusqlite::{ErrorCode, ffi};
        // SQLite, "Result and Error Codes", SQLITE_IOERR_SHMSIZE: the disk has no room for the file beside the book.
        if error.sqlite_error().is_some_and(|error| error.extended_code == ffi::SQLITE_IOERR_SHMSIZE) {
            return BookProblem::Full;
        }
        match error.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => BookProblem::NoBook,
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen) => BookProblem::ReadOnly,
            Some(ErrorCode::DiskFull) => BookProblem::Full,
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => BookProblem::Busy,
            Some(ErrorCode::SystemIoFailure) => BookProblem::Disk(error.to_string()),
            Some(ErrorCode::DatabaseCorrupt) => BookProblem::Damaged(error.to_string()),
            _ => BookProblem::Sql(error),
        }
    }
}
