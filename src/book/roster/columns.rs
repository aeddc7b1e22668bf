//! What the columns of a roster mean, from the words in its first line.

use crate::instrument::unaccented;
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

/// Words for each column in English, German, French and Spanish, small letters without accents, spaces and signs; common
/// practice, no source.
const WORDS: [(Column, &[&str]); 7] = [
    (
        Column::Name,
        &[
            "name",
            "fullname",
            "displayname",
            "student",
            "studentname",
            "player",
            "playername",
            "pupil",
            "pupilname",
            "child",
            "childname",
            "member",
            "musician",
            "alias",
            "schuler",
            "schueler",
            "schulerin",
            "schuelerin",
            "schulername",
            "kind",
            "mitglied",
            "musiker",
            "musikerin",
            "spieler",
            "spielerin",
            "eleve",
            "nom",
            "nomcomplet",
            "nometprenom",
            "nomprenom",
            "prenomnom",
            "prenometnom",
            "musicien",
            "nombre",
            "nombrecompleto",
            "nombreyapellido",
            "nombreyapellidos",
            "apellidosynombre",
            "alumno",
            "alumna",
            "alumnoa",
            "estudiante",
            "musico",
        ],
    ),
    (
        Column::First,
        &[
            "first",
            "firstname",
            "given",
            "givenname",
            "forename",
            "studentfirstname",
            "preferredname",
            "vorname",
            "rufname",
            "prenom",
            "nombredepila",
        ],
    ),
    (
        Column::Last,
        &[
            "last",
            "lastname",
            "surname",
            "family",
            "familyname",
            "studentlastname",
            "nachname",
            "familienname",
            "zuname",
            "nomdefamille",
            "apellido",
            "apellidos",
            "primerapellido",
        ],
    ),
    (
        Column::Instrument,
        &[
            "instrument",
            "instruments",
            "instrumentname",
            "instr",
            "inst",
            "plays",
            "instrumente",
            "stimme",
            "instrumento",
            "instrumentos",
        ],
    ),
    (
        Column::Section,
        &[
            "section",
            "group",
            "sectional",
            "register",
            "gruppe",
            "satz",
            "stimmgruppe",
            "pupitre",
            "groupe",
            "seccion",
            "grupo",
            "cuerda",
        ],
    ),
    (
        Column::Level,
        &["level", "year", "bandyear", "stufe", "lernjahr", "ausbildungsjahr", "niveau", "annee", "nivel", "ano"],
    ),
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
            "nummer",
            "nr",
            "schulernummer",
            "schuelernummer",
            "kennung",
            "matrikelnummer",
            "identifiant",
            "numero",
            "numerodeleve",
            "matricule",
            "identificador",
            "matricula",
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
        // "Name, First name" (Nom, Prénom): there the name is the family's. "Nombre, Apellidos": there it is the given one.
        let place = |wanted| columns.iter().position(|column| *column == Some(wanted));
        let half = match (place(Column::First), place(Column::Last)) {
            (Some(_), None) => Some(Column::Last),
            (None, Some(_)) => Some(Column::First),
            _ => None,
        };
        if let (Some(name), Some(half)) = (place(Column::Name), half)
            && let Some(column) = columns.get_mut(name)
        {
            *column = Some(half);
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
        let (first, last) = (self.cell(row, Column::First), self.cell(row, Column::Last));
        // "Name, Last name" may have all of it in the first.
        let last = last.filter(|last| !first.is_some_and(|first| first.ends_with(&format!(" {last}"))));
        let two: Vec<&str> = first.into_iter().chain(last).collect();
        self.cell(row, Column::Name).map(str::to_owned).or_else(|| (!two.is_empty()).then(|| two.join(" ")))
    }
}

fn column(cell: &str) -> Option<Column> {
    let word: String = cell.chars().filter(|letter| letter.is_alphanumeric()).map(unaccented).collect();
    WORDS.iter().find(|(_, words)| words.contains(&word.as_str())).map(|(column, _)| *column)
}
