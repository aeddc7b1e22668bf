//! `restward book export`: the book as tables.

use super::super::{Failure, Outcome};
use super::Which;
use crate::book::Book;
use crate::show::tables::{CsvTables, TablesError, Written};
use crate::show::wrapped;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes the book as tables for programs that analyse data: one file each for players, exercises, takes, flags,
/// practice, marks and absences.
///
/// The columns are explained in tools/export/SCHEMA.md. What was played stays in the book.
#[derive(clap::Args)]
#[command(
    group = clap::ArgGroup::new("format").required(true).multiple(true),
    after_help = "\
Examples:
  restward book export --book band.db --csv term
  restward book export --book band.db --parquet term --without-names"
)]
pub(super) struct Arguments {
    #[command(flatten)]
    which: Which,
    /// Typed columns; a file that is there is not written over
    #[arg(long, value_name = "DIR", group = "format")]
    parquet: Option<PathBuf>,
    /// For spreadsheets; a file that is there is not written over
    #[arg(long, value_name = "DIR", group = "format")]
    csv: Option<PathBuf>,
    /// P1, P2 .. instead of names; school ids and file names are left out
    #[arg(long)]
    without_names: bool,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let Arguments { which, parquet, csv, without_names } = arguments;
    if parquet.is_some() && cfg!(not(feature = "parquet")) {
        return Err(Failure::input(
            "this restward was built without Parquet. Build it with: cargo build --release --features parquet. Or write \
             CSV: --csv DIR",
        ));
    }
    let mut book = Book::open(&which.book)?;
    let mut written = Vec::new();
    // Begun first, so that neither is written where one of them is refused.
    let tables = csv.as_deref().map(CsvTables::begin).transpose()?;
    if let Some(folder) = parquet {
        written.extend(as_parquet(&mut book, folder, *without_names)?);
    }
    if let Some(mut tables) = tables {
        book.export(*without_names, &mut tables)?;
        written.extend(tables.finish()?);
    }
    let mut out = io::stdout().lock();
    for Written { file, rows } in &written {
        writeln!(out, "{rows:>9} {}  {}", if *rows == 1 { "row " } else { "rows" }, file.display())?;
    }
    let care = if *without_names {
        "No names: P1, P2 .. stand for the children. Whoever knows the band may still tell who is who, by instrument, \
         section and dates. Exercises keep their titles."
    } else {
        "Children's names and results stand in these files, readable by you alone. Keep them where the school's records \
         belong, and erase them when they are not needed."
    };
    writeln!(out, "{}", wrapped(care, 80, "").join("\n"))?;
    Ok(())
}

#[cfg(feature = "parquet")]
fn as_parquet(book: &mut Book, folder: &Path, without_names: bool) -> Result<Vec<Written>, TablesError> {
    let mut tables = crate::show::tables::ParquetTables::begin(folder)?;
    book.export(without_names, &mut tables)?;
    tables.finish()
}

/// Refused before.
#[cfg(not(feature = "parquet"))]
fn as_parquet(_: &mut Book, _: &Path, _: bool) -> Result<Vec<Written>, TablesError> {
    Ok(Vec::new())
}

impl From<TablesError> for Failure {
    fn from(error: TablesError) -> Failure {
        match error {
            TablesError::Book(error) => error.into(),
            TablesError::Exists(_) => Failure::input(error),
            TablesError::File { .. } => Failure::Machine(error.to_string()),
        }
    }
}
