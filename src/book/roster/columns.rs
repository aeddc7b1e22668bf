//! What the columns of a roster mean, from the words in its first line.

use csv::StringRecord;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    Name,
    First,
    Last,
    Instrument,
    Section,
    Level,
    Id,
}

/// Words for each column, small letters without spaces and signs; common practice, no source.
const WORDS: [(Column, &[&str]); 7] = [
    (
        Column::Name,
        &[
            "name",
            "fullname",
            "student",
            "studentname",
            "player",
            "playername",
            "pupil",
            "child",
            "alias",
            "schüler",
            "schülerin",
            "élève",
            "nom",
            "nombre",
            "alumno",
            "displayname",
        ],
    ),
    (Column::First, &["first", "firstname", "given", "givenname", "forename", "vorname", "prénom", "studentfirstname"]),
    (
        Column::Last,
        &[
            "last",
            "lastname",
            "surname",
            "family",
            "familyname",
            "nachname",
            "nomdefamille",
            "apellido",
            "apellidos",
            "studentlastname",
        ],
    ),
    (Column::Instrument, &["instrument", "instruments", "plays", "instrumento", "stimme"]),
    (Column::Section, &["section", "group", "sectional", "register", "gruppe", "pupitre"]),
    (Column::Level, &["level", "year", "bandyear", "stufe", "niveau", "nivel"]),
    (
        Column::Id,
        &[
            "id",
            "studentid",
            "studentnumber",
            "number",
            "outsideid",
            "schoolid",
            "sourcedid",
            "usersourcedid",
            "sisid",
            "userid",
        ],
    ),
];

/// The columns of a roster by their places.
pub(super) struct Columns(Vec<Option<Column>>);

impl Columns {
    /// From the first line.
    pub(super) fn guess(header: &StringRecord) -> Columns {
        let mut columns: Vec<Option<Column>> = Vec::new();
        for cell in header {
            // The first of two columns of one kind counts.
            columns.push(column(cell).filter(|found| !columns.contains(&Some(*found))));
        }
        // "Name, First name": there the name is the family's.
        let place = |wanted| columns.iter().position(|column| *column == Some(wanted));
        if let (Some(name), Some(_), None) = (place(Column::Name), place(Column::First), place(Column::Last))
            && let Some(column) = columns.get_mut(name)
        {
            *column = Some(Column::Last);
        }
        Columns(columns)
    }

    /// How many are understood.
    pub(super) fn known(&self) -> usize {
        self.0.iter().flatten().count()
    }

    /// Whether there is a column of this kind.
    pub(super) fn has(&self, wanted: Column) -> bool {
        self.0.contains(&Some(wanted))
    }

    /// The headings that are not used.
    pub(super) fn unused<'a>(&self, header: &'a StringRecord) -> Vec<&'a str> {
        let unused = header.iter().zip(&self.0).filter(|(_, column)| column.is_none());
        unused.map(|(cell, _)| cell.trim()).filter(|cell| !cell.is_empty()).collect()
    }

    /// A row's cell without spaces around; `None` where it is empty.
    pub(super) fn cell<'a>(&self, row: &'a StringRecord, wanted: Column) -> Option<&'a str> {
        let place = self.0.iter().position(|column| *column == Some(wanted))?;
        row.get(place).map(str::trim).filter(|cell| !cell.is_empty())
    }

    /// A row's name: in one cell, or in two.
    pub(super) fn name(&self, row: &StringRecord) -> Option<String> {
        let two: Vec<&str> =
            [Column::First, Column::Last].into_iter().filter_map(|column| self.cell(row, column)).collect();
        self.cell(row, Column::Name).map(str::to_owned).or_else(|| (!two.is_empty()).then(|| two.join(" ")))
    }
}

fn column(cell: &str) -> Option<Column> {
    let word: String = cell.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    WORDS.iter().find(|(_, words)| words.contains(&word.as_str())).map(|(column, _)| *column)
}
