//! The marks of a sheet in the part itself: courtesy accidentals and the count of each release.

use super::SheetOrWhy;
use crate::prepare::Sheet;
use crate::theory::Rank;
use crate::write::MarkedPart;

/// The part of a sheet with its marks, to be written as MusicXML: changed notes of the first two ranks wear a courtesy
/// accidental, and below each release before a rest stands the count that it is carried to.
pub fn marked(sheet: &Sheet) -> MarkedPart<'_> {
    let ranked = sheet.sections.iter().flat_map(|section| &section.changed).filter(|it| it.changed.rank != Rank::Other);
    let mut courtesy: Vec<usize> = ranked.flat_map(|changed| changed.notes.iter().copied()).collect();
    courtesy.sort_unstable();
    let releases = sheet.releases.iter().filter(|release| !release.fermata);
    let carried = releases.filter_map(|release| Some((release.note, format!("→{}", release.on.as_ref()?.1))));
    MarkedPart {
        instrument: sheet.instrument.as_ref(),
        courtesy,
        releases: carried.collect(),
        ..MarkedPart::new(&sheet.part)
    }
}

impl SheetOrWhy {
    /// The sheet, if there is one.
    pub fn sheet(&self) -> Option<&Sheet> {
        match self {
            SheetOrWhy::Sheet(sheet) => Some(sheet),
            SheetOrWhy::Why { .. } => None,
        }
    }
}
