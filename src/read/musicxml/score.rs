//! The parts of a score and where their measures stand, partwise or timewise.

use super::super::ReadError;
use super::tree::{child, child_text, elements, text_of, wrong};
use crate::exercise::PartName;
use roxmltree::{Document, Node};
use std::collections::HashMap;

/// A score before its notes are read.
pub(super) struct Score<'a, 'i> {
    document: &'a Document<'i>,
    /// The title of the movement or work.
    pub(super) title: Option<String>,
    /// The score shows concert pitch (`concert-score`).
    pub(super) is_concert: bool,
    /// The parts that have measures, in order.
    pub(super) parts: Vec<PartName>,
    /// For each part its measures, in order.
    pub(super) measures: Vec<Vec<MeasureSource<'a, 'i>>>,
}

/// Where a measure of a part stands.
#[derive(Clone, Copy)]
pub(super) struct MeasureSource<'a, 'i> {
    /// The `measure`, which has the label.
    pub(super) measure: Node<'a, 'i>,
    /// What holds the notes: the same partwise, the `part` inside it timewise.
    pub(super) content: Node<'a, 'i>,
}

impl<'a, 'i> Score<'a, 'i> {
    pub(super) fn new(document: &'a Document<'i>) -> Result<Score<'a, 'i>, ReadError> {
        let root = document.root_element();
        let (ids, measures) = match root.tag_name().name() {
            "score-partwise" => partwise(root),
            "score-timewise" => timewise(root),
            other => {
                let line = document.text_pos_at(root.range().start).row;
                return Err(ReadError::NotMusicXml { root: super::super::error::shown(other), line });
            }
        };
        if measures.iter().all(Vec::is_empty) {
            return Err(ReadError::NoParts);
        }
        let listed = listed(root);
        // Of parts listed twice under one identifier the first counts.
        let by_id: HashMap<&str, &PartName> = listed.iter().rev().map(|part| (part.id.as_str(), part)).collect();
        let parts = ids.into_iter().enumerate().map(|(index, id)| named(index, id, &listed, &by_id)).collect();
        let work = child(root, "work").and_then(|work| child_text(work, "work-title"));
        let title = child_text(root, "movement-title").filter(|title| !title.is_empty()).or(work);
        Ok(Score {
            document,
            title: title.filter(|title| !title.is_empty()).map(str::to_owned),
            is_concert: child(root, "defaults").is_some_and(|defaults| child(defaults, "concert-score").is_some()),
            parts,
            measures,
        })
    }

    /// An error at a byte of the text.
    pub(super) fn wrong_at(&self, byte: usize, problem: &str) -> ReadError {
        let inside = |node: &Node<'_, '_>| node.range().contains(&byte);
        let node = self.document.descendants().rfind(inside);
        wrong(node.unwrap_or(self.document.root()), problem)
    }

    /// The first part with a pitched note, else the first.
    pub(super) fn first_with_notes(&self) -> usize {
        let has_notes = |sources: &Vec<MeasureSource<'_, '_>>| {
            let mut notes = sources.iter().flat_map(|source| elements(source.content));
            notes.any(|note| note.tag_name().name() == "note" && child(note, "pitch").is_some())
        };
        self.measures.iter().position(has_notes).unwrap_or(0)
    }
}

type Found<'a, 'i> = (Vec<Option<&'a str>>, Vec<Vec<MeasureSource<'a, 'i>>>);

fn named_elements<'a, 'i>(node: Node<'a, 'i>, name: &'static str) -> impl Iterator<Item = Node<'a, 'i>> {
    elements(node).filter(move |element| element.tag_name().name() == name)
}

fn partwise<'a, 'i>(root: Node<'a, 'i>) -> Found<'a, 'i> {
    let sources = |part| named_elements(part, "measure").map(|measure| MeasureSource { measure, content: measure });
    named_elements(root, "part").map(|part| (part.attribute("id"), sources(part).collect::<Vec<_>>())).unzip()
}

fn timewise<'a, 'i>(root: Node<'a, 'i>) -> Found<'a, 'i> {
    let mut ids: Vec<Option<&str>> = Vec::new();
    let mut index_of: HashMap<Option<&str>, usize> = HashMap::new();
    let mut measures: Vec<Vec<MeasureSource<'a, 'i>>> = Vec::new();
    for measure in named_elements(root, "measure") {
        for part in named_elements(measure, "part") {
            let id = part.attribute("id");
            let index = *index_of.entry(id).or_insert_with(|| {
                ids.push(id);
                measures.push(Vec::new());
                ids.len() - 1
            });
            measures[index].push(MeasureSource { measure, content: part });
        }
    }
    (ids, measures)
}

/// The `score-part`s of the part list, in order.
fn listed<'a>(root: Node<'a, '_>) -> Vec<PartName> {
    let Some(list) = child(root, "part-list") else { return Vec::new() };
    named_elements(list, "score-part")
        .map(|part| {
            let instruments = named_elements(part, "score-instrument");
            let names = instruments.flat_map(|instrument| {
                ["instrument-name", "instrument-sound"].into_iter().filter_map(move |name| child_text(instrument, name))
            });
            let abbreviation = child_text(part, "part-abbreviation");
            let hints = abbreviation.into_iter().chain(names).filter(|hint| !hint.is_empty());
            PartName {
                id: part.attribute("id").unwrap_or_default().to_owned(),
                name: child(part, "part-name").map(text_of).map(one_line).unwrap_or_default(),
                hints: hints.map(one_line).collect(),
            }
        })
        .collect()
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The name of the `index`-th part; a part without an identifier has that of its place in the list.
fn named(index: usize, id: Option<&str>, listed: &[PartName], by_id: &HashMap<&str, &PartName>) -> PartName {
    let found = id.and_then(|id| by_id.get(id).copied()).or_else(|| listed.get(index).filter(|_| id.is_none()));
    let mut name = found.cloned().unwrap_or_default();
    if let Some(id) = id {
        name.id = id.to_owned();
    }
    if name.id.is_empty() {
        name.id = format!("P{}", index + 1);
    }
    name
}
