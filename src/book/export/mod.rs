//! The book as tables, for whoever wants to ask it other questions than restward does.
//!
//! In: the book. Out: row after row to a [`TableWriter`], table by table, all of one state of the book even while a
//! session listens. Next is `show/tables`, which writes files.

mod tables;

use super::{Book, BookError, BookProblem};
use rusqlite::{Row, TransactionBehavior};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A whole number.
    Whole,
    /// A number with a fraction.
    Real,
    /// Text.
    Text,
    /// True or false.
    Truth,
    /// A moment, in microseconds since 1970, UTC.
    Time,
}

/// A column of a table.
#[derive(Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Whether a cell may be empty.
    pub is_optional: bool,
    /// Where it comes from, in SQL.
    from: &'static str,
    /// The same where children's names are left out.
    without_names: &'static str,
}

/// A table.
#[derive(Debug, PartialEq, Eq)]
pub struct Table {
    /// Its name.
    pub name: &'static str,
    /// Its columns.
    pub columns: &'static [Column],
    /// Where the rows come from and in which order, in SQL.
    from: &'static str,
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)] // as in `Kind`
pub enum Cell {
    Empty,
    Whole(i64),
    Real(f64),
    Text(String),
    Truth(bool),
    Time(i64),
}

/// Takes the tables of a book.
pub trait TableWriter {
    /// What can go wrong, here or in the book.
    type Error: From<BookError>;

    /// A table begins.
    fn begin(&mut self, table: &'static Table) -> Result<(), Self::Error>;

    /// A row of it, a cell for each column.
    fn row(&mut self, row: Vec<Cell>) -> Result<(), Self::Error>;

    /// The table is over.
    fn end(&mut self) -> Result<(), Self::Error>;
}

/// The tables of a book, in the order in which they are written.
pub fn tables() -> &'static [Table] {
    &tables::TABLES
}

impl Book {
    /// Gives all tables to a writer. Without names, aliases `P1`, `P2` .. stand for the players, and what else could
    /// hold a name (the school's id, names of files) is left out.
    pub fn export<W: TableWriter>(&mut self, without_names: bool, writer: &mut W) -> Result<(), W::Error> {
        let Book { path, sql } = self;
        let failed = |error: rusqlite::Error| W::Error::from(BookProblem::from(error).of(path));
        // Never written to: what all readings see is the state at the first.
        let snapshot = sql.transaction_with_behavior(TransactionBehavior::Deferred).map_err(failed)?;
        for table in tables() {
            writer.begin(table)?;
            let mut query = snapshot.prepare(&table.query(without_names)).map_err(failed)?;
            let mut rows = query.query([]).map_err(failed)?;
            while let Some(row) = rows.next().map_err(failed)? {
                writer.row(table.cells(row).map_err(failed)?)?;
            }
            writer.end()?;
        }
        Ok(())
    }
}

impl Table {
    fn query(&self, without_names: bool) -> String {
        let column = |column: &Column| if without_names { column.without_names } else { column.from };
        let columns: Vec<&str> = self.columns.iter().map(column).collect();
        format!("SELECT {} FROM {}", columns.join(", "), self.from)
    }

    fn cells(&self, row: &Row) -> rusqlite::Result<Vec<Cell>> {
        let cell = |(place, column): (usize, &Column)| {
            Ok(match column.kind {
                Kind::Whole => row.get::<_, Option<_>>(place)?.map(Cell::Whole),
                Kind::Real => row.get::<_, Option<_>>(place)?.map(Cell::Real),
                Kind::Text => row.get::<_, Option<_>>(place)?.map(Cell::Text),
                Kind::Truth => row.get::<_, Option<_>>(place)?.map(Cell::Truth),
                Kind::Time => row.get::<_, Option<_>>(place)?.map(Cell::Time),
            }
            .unwrap_or(Cell::Empty))
        };
        self.columns.iter().enumerate().map(cell).collect()
    }
}
