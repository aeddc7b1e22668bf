//! Shows the changed notes of a key: a table to read to the class, or JSON.

use crate::instrument::Instrument;
use crate::theory::{Changed, Key, Letter, Pitch, Rank, sign};
use comfy_table::{ContentArrangement, Table, presets};
use serde::Serialize;

/// Columns of the table: what a projected terminal shows without wrapping.
const WIDTH: u16 = 80;

/// The changed notes of a concert key for some instruments.
pub struct Answer<'a> {
    concert: Key,
    family: &'a [Key],
    lines: Vec<Line<'a>>,
}

/// One instrument's part.
struct Line<'a> {
    instrument: &'a Instrument,
    key: Key,
    changed: Vec<Changed>,
}

impl<'a> Answer<'a> {
    /// `concert` and `family` are concert keys; the instruments come in the order in which they are shown.
    pub fn new(concert: Key, family: &'a [Key], instruments: &[&'a Instrument]) -> Answer<'a> {
        let lines = instruments.iter().map(|instrument| {
            let (key, changed) = instrument.changed_notes(concert, family);
            Line { instrument, key, changed }
        });
        Answer { concert, family, lines: lines.collect() }
    }

    /// One row for each printed key: everybody with two flats is addressed together.
    pub fn for_people(&self) -> String {
        let minor = self.concert.printed_leading_tone().is_some();
        let mut table = Table::new();
        table
            .load_style(presets::UTF8_HORIZONTAL_ONLY)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(WIDTH);
        let mut header = vec!["Everybody with", "plays in", "Changed", "Also"];
        if minor {
            header.push("Printed");
        }
        header.push("Who");
        table.set_header(header);
        for rows in self.by_written_key() {
            let Some(first) = rows.first() else { continue };
            let named = |wanted: fn(Rank) -> bool| {
                let notes = first.changed.iter().filter(|changed| wanted(changed.rank));
                notes.map(|changed| note_name(changed.letter, changed.alter)).collect::<Vec<_>>().join(", ")
            };
            let mut row = vec![
                signature(first.key),
                first.key.to_string(),
                named(|rank| rank != Rank::Other),
                named(|rank| rank == Rank::Other),
            ];
            if let Some((letter, alter)) = first.key.printed_leading_tone() {
                row.push(note_name(letter, alter));
            }
            row.push(rows.iter().map(|line| line.instrument.name.as_str()).collect::<Vec<_>>().join(", "));
            table.add_row(row);
        }
        for column in table.column_iter_mut() {
            column.set_padding((0, 2));
        }
        self.introduction(minor) + &table.trim_fmt() + "\n"
    }

    fn introduction(&self, minor: bool) -> String {
        let others: Vec<String> =
            self.family.iter().filter(|key| key.fifths != self.concert.fifths).map(short_name).collect();
        let mut text = format!("Concert {}.\n", self.concert);
        text += &match others.as_slice() {
            [] => "The band has no other key, so no note is changed.\n".to_owned(),
            others => format!("Changed: not as in the band's other keys, concert {}.\n", listed(others)),
        };
        if minor {
            text += "Minor: the raised leading tone is printed in the part, not in the signature.\n";
        }
        text + "\n"
    }

    /// The lines with one written key, in the order in which the keys come up.
    fn by_written_key(&self) -> Vec<Vec<&Line<'a>>> {
        let mut groups: Vec<Vec<&Line>> = Vec::new();
        for line in &self.lines {
            match groups.iter_mut().find(|group| group.first().is_some_and(|first| first.key == line.key)) {
                Some(group) => group.push(line),
                None => groups.push(vec![line]),
            }
        }
        groups
    }

    /// The shape of `restward changed --json` (DESIGN.md §6).
    pub fn for_programs(&self) -> impl Serialize + use<> {
        Json {
            concert_key: self.concert.ascii(),
            family: self.family.iter().map(|key| key.ascii()).collect(),
            instruments: self.lines.iter().map(|line| self.line_for_programs(line)).collect(),
        }
    }

    fn line_for_programs(&self, line: &Line) -> JsonInstrument {
        let note = |letter: Letter, alter: i8| JsonNote {
            written: letter.to_string(),
            sign: sign::word(alter),
            concert: self.concert_name(line, letter, alter),
            degree: line.key.degree(letter),
        };
        let changed = line.changed.iter().map(|changed| JsonChanged {
            note: note(changed.letter, changed.alter),
            rank: changed.rank,
            differing: changed.differing,
        });
        JsonInstrument {
            instrument: line.instrument.id.clone(),
            written_key: line.key.ascii(),
            changed: changed.collect(),
            printed: line.key.printed_leading_tone().map(|(letter, alter)| note(letter, alter)),
        }
    }

    /// The concert name of a written note, spelled as the concert key has it: a part whose key was
    /// respelled still sounds in this key.
    fn concert_name(&self, line: &Line, letter: Letter, alter: i8) -> String {
        let sounding = line.instrument.transposition.to_concert(Pitch::new(letter, alter, 4)).midi().rem_euclid(12);
        let of_scale = Letter::ALL.into_iter().map(|letter| (letter, self.concert.alter(letter)));
        let found = of_scale
            .chain(self.concert.printed_leading_tone())
            .find(|&(letter, alter)| Pitch::new(letter, alter, 4).midi().rem_euclid(12) == sounding);
        found.map_or_else(String::new, |(letter, alter)| format!("{letter}{}", sign::ascii(alter)))
    }
}

/// `three flats: B♭ E♭ A♭`, `no sharps or flats`.
fn signature(key: Key) -> String {
    const COUNTS: [&str; 8] = ["no", "one", "two", "three", "four", "five", "six", "seven"];
    let letters = key.signature_letters();
    let kind = match (key.fifths, letters.len()) {
        (0, _) => return "no sharps or flats".into(),
        (..0, 1) => "flat",
        (..0, _) => "flats",
        (_, 1) => "sharp",
        (_, _) => "sharps",
    };
    let count = COUNTS.get(letters.len()).unwrap_or(&"seven");
    let named: Vec<String> = letters.into_iter().map(|letter| note_name(letter, key.alter(letter))).collect();
    format!("{count} {kind}: {}", named.join(" "))
}

/// `A♮`, `B♭`: a changed note always shows its sign.
fn note_name(letter: Letter, alter: i8) -> String {
    format!("{letter}{}", sign::symbol(alter))
}

/// A major key by its letter alone, as a band says it: `B♭`, `G minor`.
fn short_name(key: &Key) -> String {
    let name = key.to_string();
    name.strip_suffix(" major").map_or(name.clone(), str::to_owned)
}

/// `F, B♭ and A♭`.
fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

#[derive(Serialize)]
struct Json {
    concert_key: String,
    family: Vec<String>,
    instruments: Vec<JsonInstrument>,
}

#[derive(Serialize)]
struct JsonInstrument {
    instrument: String,
    written_key: String,
    changed: Vec<JsonChanged>,
    /// In minor, the raised leading tone.
    #[serde(skip_serializing_if = "Option::is_none")]
    printed: Option<JsonNote>,
}

#[derive(Serialize)]
struct JsonNote {
    written: String,
    sign: &'static str,
    concert: String,
    degree: u8,
}

#[derive(Serialize)]
struct JsonChanged {
    #[serde(flatten)]
    note: JsonNote,
    rank: Rank,
    differing: usize,
}
