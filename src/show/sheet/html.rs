//! Sheets as one page to print: self-contained, black on white, each instrument on a page of its own. A4 and Letter.

use super::diagram::svg;
use super::grid::{self, Row, rows};
use super::remarks::remarks;
use super::words;
use super::{SheetOrWhy, Staff, director, who};
use crate::instrument::{Press, Way};
use crate::prepare::{ChangedNote, Fingered, Sheet};
use crate::theory::{Pitch, Rank};
use askama::Template;

/// Hard spots that fit a page.
const MOST_SPOTS: usize = 6;

#[derive(Template)]
#[template(config = "config/askama.toml", path = "sheet.html")]
pub(super) struct Document<'a> {
    title: &'a str,
    pages: Vec<Page<'a>>,
}

#[derive(Default)]
struct Page<'a> {
    name: String,
    remarks: Vec<String>,
    keys: Vec<Key>,
    legend: Option<String>,
    /// The engraved systems, SVG as it is: of our own engraver, never of a file.
    systems: &'a [String],
    /// Why there are none.
    no_staff: Option<&'a str>,
    rows: Vec<Row>,
    numbers: Vec<(&'static str, String)>,
}

struct Key {
    sentence: String,
    lines: Vec<String>,
    changed: Vec<Changed>,
}

struct Changed {
    name: String,
    rank: &'static str,
    often: String,
    missed: Option<String>,
    rows: Vec<Octave>,
}

/// A changed note in one octave, and the note that it is mistaken for.
struct Octave {
    sides: [Side; 2],
}

struct Side {
    pitch: String,
    ways: Vec<Drawn>,
    others: Option<String>,
}

struct Drawn {
    /// SVG made by [`svg`]: escaped there.
    drawing: Option<String>,
    text: String,
    /// A long drawing: its text stands below it.
    is_holes: bool,
}

/// The document.
pub(super) fn document<'a>(title: &'a str, sheets: &'a [SheetOrWhy], staves: &'a [Staff]) -> Document<'a> {
    let page = |(place, sheet): (usize, &'a SheetOrWhy)| match sheet {
        SheetOrWhy::Why { name, sentence } => {
            Page { name: name.clone(), remarks: vec![sentence.clone()], ..Page::default() }
        }
        SheetOrWhy::Sheet(sheet) => page(sheet, staves.get(place)),
    };
    Document { title, pages: sheets.iter().enumerate().map(page).collect() }
}

fn page<'a>(sheet: &Sheet, staff: Option<&'a Staff>) -> Page<'a> {
    let (systems, no_staff) = match staff {
        None => (&[][..], None),
        Some(Staff::Systems(systems)) => (systems.as_slice(), None),
        Some(Staff::Missing(why)) => (&[][..], Some(why.as_str())),
    };
    let mut numbers = director(sheet);
    let spots = sheet.hard_spots.iter().take(MOST_SPOTS).map(|spot| ("hardest", words::spot(&sheet.part, spot)));
    numbers.extend(spots);
    let more = sheet.hard_spots.len().saturating_sub(MOST_SPOTS);
    if more > 0 {
        numbers.push(("", format!("and {more} more")));
    }
    Page {
        name: words::capital(&who(sheet)),
        remarks: remarks(sheet),
        keys: (0..sheet.sections.len()).map(|place| key(sheet, place)).collect(),
        legend: legend(sheet),
        systems,
        no_staff,
        rows: rows(sheet),
        numbers,
    }
}

/// What the drawings mean.
fn legend(sheet: &Sheet) -> Option<String> {
    let ways = sheet.sections.iter().flat_map(|section| &section.changed).flat_map(|changed| &changed.fingered);
    let first = ways.flat_map(|fingered| &fingered.ways).next()?;
    let drawn = match first.press {
        Press::Holes(_) => {
            "Left hand, then right hand: a black circle is a finger down, a white one up; a black box is a key to press."
        }
        Press::Valves { .. } => "A black circle is a valve pressed down.",
        Press::Slide { .. } => "The black circle is the slide position.",
        Press::Bar { .. } | Press::Key { .. } => return None,
    };
    let remark = sheet.instrument.as_ref().and_then(|instrument| instrument.fingering_remark());
    Some(remark.map_or_else(|| drawn.into(), |remark| format!("{drawn} {remark}")))
}

fn key(sheet: &Sheet, place: usize) -> Key {
    let section = &sheet.sections[place];
    let shown = section.changed.iter().filter(|changed| words::is_shown(changed));
    Key {
        sentence: words::key(sheet, section),
        lines: words::shared(sheet, place).into_iter().chain(words::printed(section)).collect(),
        changed: shown.map(|it| changed(sheet, it)).collect(),
    }
}

fn changed(sheet: &Sheet, it: &ChangedNote) -> Changed {
    Changed {
        name: words::changed_name(it),
        rank: if it.changed.rank == Rank::Other { "" } else { words::rank(it.changed.rank) },
        often: words::occurrences(&sheet.part, it),
        missed: words::kept_missing(sheet, it),
        rows: it.fingered.iter().map(|fingered| octave(sheet, fingered)).collect(),
    }
}

fn octave(sheet: &Sheet, fingered: &Fingered) -> Octave {
    let alternates = words::alternates(fingered);
    let own = Side {
        others: (!alternates.is_empty()).then(|| format!("or {}", alternates.join(", or "))),
        ..side(sheet, fingered.written, &fingered.ways)
    };
    Octave { sides: [own, side(sheet, fingered.mistaken_for, &fingered.mistaken_ways)] }
}

fn side(sheet: &Sheet, pitch: Pitch, ways: &[Way]) -> Side {
    let drawn = |way: &Way| Drawn {
        drawing: svg(&way.press),
        text: words::way(way),
        is_holes: matches!(way.press, Press::Holes(_)),
    };
    let mut ways: Vec<Drawn> = words::usual_ways(ways).map(drawn).collect();
    if ways.is_empty() {
        ways.push(Drawn { drawing: None, text: words::no_fingering(sheet, pitch).into(), is_holes: false });
    }
    Side { pitch: words::with_sign(pitch), ways, others: None }
}

impl grid::Kind {
    /// The class of a cell in the style sheet.
    fn class(self) -> &'static str {
        match self {
            grid::Kind::Changed => "changed-note",
            grid::Kind::Release => "off",
            grid::Kind::Begins | grid::Kind::Sounds | grid::Kind::Rest => "",
        }
    }
}
