//! The tables of a book as files of a folder, for programs that analyse data.
//!
//! In: rows from [`crate::book::Book::export`]. Out: `players.csv` or `players.parquet` and so on, all or none, each for
//! its owner only, never over a file that is there.

mod csv;
mod folder;
#[cfg(feature = "parquet")]
mod parquet;

pub use self::csv::CsvTables;
#[cfg(feature = "parquet")]
pub use self::parquet::ParquetTables;

use crate::book::BookError;
use std::io;
use std::path::{Path, PathBuf};

/// Why tables could not be written.
#[derive(Debug, thiserror::Error)]
pub enum TablesError {
    /// The book cannot be read.
    #[error("{0}")]
    Book(#[from] BookError),
    /// A file is there.
    #[error("{}: there is a file already; name another folder, so that it is kept", .0.display())]
    Exists(PathBuf),
    /// The operating system said no.
    #[error("{}: {}", path.display(), reason(error))]
    File {
        /// Which file.
        path: PathBuf,
        /// What it said.
        error: io::Error,
    },
}

impl TablesError {
    fn of(path: &Path, error: io::Error) -> TablesError {
        TablesError::File { path: path.into(), error }
    }
}

fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::StorageFull => "the disk is full: make room and try again; nothing was written".into(),
        _ => format!("could not be written: {error}; nothing was written"),
    }
}

/// How many rows a table had.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The file.
    pub file: PathBuf,
    /// Its rows.
    pub rows: u64,
}
