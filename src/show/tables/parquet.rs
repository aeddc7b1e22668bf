//! Tables as Apache Parquet: typed columns, dictionaries for repeated text, Snappy, row groups that fit in memory.

use super::folder::Folder;
use super::{TablesError, Written};
use crate::book::{Cell, Column, Kind, Table, TableWriter};
use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;
use std::fs::File;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// Rows of a row group: some megabytes of findings with their sentences are held at a time.
const ROWS: usize = 1 << 16;

/// Writes the tables of a book as Parquet.
pub struct ParquetTables {
    folder: Folder,
    table: Option<Open>,
}

/// The file that is written now.
struct Open {
    writer: SerializedFileWriter<File>,
    columns: Vec<Buffer>,
    rows: usize,
}

impl ParquetTables {
    /// Into this folder, which is made if it is not there.
    pub fn begin(folder: &Path) -> Result<ParquetTables, TablesError> {
        Ok(ParquetTables { folder: Folder::begin(folder, "parquet")?, table: None })
    }

    /// Puts all files in place.
    pub fn finish(self) -> Result<Vec<Written>, TablesError> {
        self.folder.finish()
    }
}

impl TableWriter for ParquetTables {
    type Error = TablesError;

    fn begin(&mut self, table: &'static Table) -> Result<(), TablesError> {
        let file = self.folder.file(table.name)?;
        self.table = Some(Open::begin(table, file).map_err(|error| self.folder.failed(io_error(error)))?);
        Ok(())
    }

    fn row(&mut self, row: Vec<Cell>) -> Result<(), TablesError> {
        let Some(table) = &mut self.table else { return Ok(()) };
        table.columns.iter_mut().zip(row).for_each(|(column, cell)| column.push(cell));
        table.rows += 1;
        if let Some(written) = self.folder.current() {
            written.rows += 1;
        }
        if table.rows < ROWS {
            return Ok(());
        }
        table.flush().map_err(|error| self.folder.failed(io_error(error)))
    }

    fn end(&mut self) -> Result<(), TablesError> {
        let Some(mut table) = self.table.take() else { return Ok(()) };
        let ended = table.flush().and_then(|()| table.writer.into_inner()).map_err(io_error);
        ended.and_then(|file| file.sync_all()).map_err(|error| self.folder.failed(error))
    }
}

impl Open {
    fn begin(table: &Table, file: File) -> Result<Open, ParquetError> {
        let columns = table.columns.iter().map(column_type).collect::<Result<Vec<_>, _>>()?;
        let schema = Type::group_type_builder(table.name).with_fields(columns).build()?;
        let properties = WriterProperties::builder()
            .set_created_by(concat!("restward ", env!("CARGO_PKG_VERSION")).into())
            .set_compression(Compression::SNAPPY)
            .build();
        let writer = SerializedFileWriter::new(file, Arc::new(schema), Arc::new(properties))?;
        Ok(Open { writer, columns: table.columns.iter().map(Buffer::of).collect(), rows: 0 })
    }

    /// Writes what is held as a row group.
    fn flush(&mut self) -> Result<(), ParquetError> {
        if self.rows == 0 {
            return Ok(());
        }
        let mut group = self.writer.next_row_group()?;
        for buffer in &mut self.columns {
            let mut column =
                group.next_column()?.ok_or_else(|| ParquetError::General("the schema has too few columns".into()))?;
            buffer.write(column.untyped())?;
            column.close()?;
        }
        group.close()?;
        self.rows = 0;
        Ok(())
    }
}

fn column_type(column: &Column) -> Result<Arc<Type>, ParquetError> {
    let (physical, logical) = match column.kind {
        Kind::Whole => (Physical::INT64, None),
        Kind::Real => (Physical::DOUBLE, None),
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Truth => (Physical::BOOLEAN, None),
        Kind::Time => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MICROS))),
    };
    let repetition = if column.is_optional { Repetition::OPTIONAL } else { Repetition::REQUIRED };
    let built = Type::primitive_type_builder(column.name, physical)
        .with_logical_type(logical)
        .with_repetition(repetition)
        .build()?;
    Ok(Arc::new(built))
}

/// The cells of one column of a row group.
struct Buffer {
    /// For each row whether there is a value (1) or none (0); not kept where there always is one.
    levels: Option<Vec<i16>>,
    values: Values,
}

enum Values {
    Whole(Vec<i64>),
    Real(Vec<f64>),
    Text(Vec<ByteArray>),
    Truth(Vec<bool>),
}

impl Buffer {
    fn of(column: &Column) -> Buffer {
        let values = match column.kind {
            Kind::Whole | Kind::Time => Values::Whole(Vec::new()),
            Kind::Real => Values::Real(Vec::new()),
            Kind::Text => Values::Text(Vec::new()),
            Kind::Truth => Values::Truth(Vec::new()),
        };
        Buffer { levels: column.is_optional.then(Vec::new), values }
    }

    fn push(&mut self, cell: Cell) {
        if let Some(levels) = &mut self.levels {
            levels.push(i16::from(cell != Cell::Empty));
        }
        match (&mut self.values, cell) {
            (Values::Whole(values), Cell::Whole(value) | Cell::Time(value)) => values.push(value),
            (Values::Real(values), Cell::Real(value)) => values.push(value),
            (Values::Text(values), Cell::Text(value)) => values.push(ByteArray::from(value.into_bytes())),
            (Values::Truth(values), Cell::Truth(value)) => values.push(value),
            // Nothing to keep; a required column that lacks a value is refused by the writer, which counts them.
            _ => {}
        }
    }

    /// Writes and forgets them.
    fn write(&mut self, column: &mut ColumnWriter) -> Result<(), ParquetError> {
        let levels = self.levels.as_deref();
        match (&mut self.values, column) {
            (Values::Whole(values), ColumnWriter::Int64ColumnWriter(to)) => to.write_batch(values, levels, None),
            (Values::Real(values), ColumnWriter::DoubleColumnWriter(to)) => to.write_batch(values, levels, None),
            (Values::Text(values), ColumnWriter::ByteArrayColumnWriter(to)) => to.write_batch(values, levels, None),
            (Values::Truth(values), ColumnWriter::BoolColumnWriter(to)) => to.write_batch(values, levels, None),
            _ => Err(ParquetError::General("a column is not of the type in its schema".into())),
        }?;
        if let Some(levels) = &mut self.levels {
            levels.clear();
        }
        match &mut self.values {
            Values::Whole(values) => values.clear(),
            Values::Real(values) => values.clear(),
            Values::Text(values) => values.clear(),
            Values::Truth(values) => values.clear(),
        }
        Ok(())
    }
}

/// What the operating system said, where it was that.
fn io_error(error: ParquetError) -> io::Error {
    match error {
        ParquetError::External(error) => match error.downcast::<io::Error>() {
            Ok(error) => *error,
            Err(error) => io::Error::other(error),
        },
        error => io::Error::other(error),
    }
}
