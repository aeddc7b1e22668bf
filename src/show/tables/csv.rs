//! Tables as CSV: RFC 4180, UTF-8, a header row; times as ISO 8601 in UTC; an empty cell where nothing is known.

use super::folder::Folder;
use super::{TablesError, Written};
use crate::book::{Cell, Table, TableWriter};
use crate::show::cells::guarded;
use std::fs::File;
use std::io;
use std::path::Path;

/// Writes the tables of a book as CSV.
pub struct CsvTables {
    folder: Folder,
    table: Option<csv::Writer<File>>,
}

impl CsvTables {
    /// Into this folder, which is made if it is not there.
    pub fn begin(folder: &Path) -> Result<CsvTables, TablesError> {
        Ok(CsvTables { folder: Folder::begin(folder, "csv")?, table: None })
    }

    /// Puts all files in place.
    pub fn finish(self) -> Result<Vec<Written>, TablesError> {
        self.folder.finish()
    }

    fn write(&mut self, cells: impl Iterator<Item = String>) -> Result<(), TablesError> {
        let Some(table) = &mut self.table else { return Ok(()) };
        table.write_record(cells).map_err(|error| self.folder.failed(io_error(error)))
    }
}

impl TableWriter for CsvTables {
    type Error = TablesError;

    fn begin(&mut self, table: &'static Table) -> Result<(), TablesError> {
        self.table = Some(csv::Writer::from_writer(self.folder.file(table.name)?));
        self.write(table.columns.iter().map(|column| column.name.to_owned()))
    }

    fn row(&mut self, row: Vec<Cell>) -> Result<(), TablesError> {
        self.write(row.into_iter().map(text))?;
        if let Some(written) = self.folder.current() {
            written.rows += 1;
        }
        Ok(())
    }

    fn end(&mut self) -> Result<(), TablesError> {
        let Some(table) = self.table.take() else { return Ok(()) };
        let ended = table.into_inner().map_err(csv::IntoInnerError::into_error).and_then(|file| file.sync_all());
        ended.map_err(|error| self.folder.failed(error))
    }
}

fn text(cell: Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Whole(number) => number.to_string(),
        Cell::Real(number) => number.to_string(),
        Cell::Text(text) => guarded(&text),
        Cell::Truth(truth) => truth.to_string(),
        // Microseconds beyond the calendar (years -9999 to 9999) stay a number.
        Cell::Time(us) => {
            jiff::Timestamp::from_microsecond(us).map_or_else(|_| us.to_string(), |time| format!("{time:.6}"))
        }
    }
}

fn io_error(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}
