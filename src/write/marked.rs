//! A part and what is marked in it.

use super::page::Page;
use super::spans::Spans;
use crate::exercise::Part;
use crate::instrument::{Clef, Instrument};
use std::collections::BTreeMap;

/// A part to be written, with our marks. Marks change nothing in the music: the file reads the same notes without them.
#[derive(Debug, Clone)]
pub struct MarkedPart<'a> {
    /// The part, as printed for its instrument.
    pub part: &'a Part,
    /// The instrument, for its clef; `None`: the clef follows the height of the notes.
    pub instrument: Option<&'a Instrument>,
    /// Indices of notes that show their accidental in parentheses, where none is printed anyway.
    pub courtesy: Vec<usize>,
    /// Below the end of a note, where it is let go: (index of the note, text, as `→4`).
    pub releases: Vec<(usize, String)>,
    /// Stands before each identifier of this part, so that several parts can be shown on one page; letters, digits and
    /// hyphens, a letter first. Empty: nothing, and in a score of several parts `P1-`, `P2-`.
    pub prefix: String,
}

impl<'a> MarkedPart<'a> {
    /// A part without marks.
    pub fn new(part: &'a Part) -> MarkedPart<'a> {
        MarkedPart { part, instrument: None, courtesy: Vec::new(), releases: Vec::new(), prefix: String::new() }
    }

    /// The text below the end of each note that is printed.
    pub(super) fn releases_by_note(&self, page: &Page<'_>) -> BTreeMap<usize, &str> {
        let mut releases = BTreeMap::new();
        for (index, text) in &self.releases {
            for printed in page.printed([*index].into_iter()) {
                releases.entry(printed).or_insert(text.as_str());
            }
        }
        releases
    }

    /// The clef of the part: the instrument's, else treble unless half of the notes lie below middle C.
    pub(super) fn clef(&self) -> Clef {
        let by_height = || {
            let low = self.part.notes.iter().filter(|note| note.written.midi() < 60).count();
            if 2 * low > self.part.notes.len() { Clef::Bass } else { Clef::Treble }
        };
        self.instrument.map_or_else(by_height, |instrument| instrument.clef)
    }
}

/// For each note of a part, in performed order, the `id` of its first printed shape, without prefix: `n0`, `n1`; further
/// shapes tied to it are `n0-2`, `n0-3`. Where a repeat is printed as a sign, a note has the identifier of the first
/// pass.
pub fn printed_ids(part: &Part) -> Vec<String> {
    let spans = Spans::new(part);
    Page::new(part, &spans).printed_as.into_iter().map(note_id).collect()
}

pub(super) fn note_id(index: usize) -> String {
    format!("n{index}")
}

/// How many notes sound on while the next one begins, which one line cannot show: they are written to end there.
pub fn held_over(part: &Part) -> usize {
    part.notes.windows(2).filter(|pair| pair[0].end() > pair[1].onset).count()
}
