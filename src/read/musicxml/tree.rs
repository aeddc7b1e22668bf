//! Text to tree, safely: no entity is expanded, nothing outside is opened, size is limited.

use super::super::{Place, ReadError};
use roxmltree::{Document, Error, Node, ParsingOptions, TextPos};

/// More elements and texts than the exercise of any band has. With the limits below it keeps reading under 300 MB, and
/// under 5 s where the parser's time grows with the square of attributes or namespaces.
const MOST_NODES: u32 = 2_000_000;
/// Attributes of the whole file.
const MOST_ATTRIBUTES: usize = 700_000;
/// Attributes of one element; MusicXML 4.0 defines no element with a third of it.
const MOST_ATTRIBUTES_OF_ONE: usize = 100;
/// Namespace declarations; MusicXML needs one or two.
const MOST_NAMESPACES: usize = 1_000;

/// Parses a document.
pub(super) fn parse(text: &str) -> Result<Document<'_>, ReadError> {
    if let Some(at) = entity_definition(text) {
        return Err(ReadError::Entities { line: 1 + text[..at].matches('\n').count() });
    }
    if has_too_many_attributes(text) || text.matches("xmlns").count() > MOST_NAMESPACES {
        return Err(ReadError::TooManyElements);
    }
    let options = ParsingOptions { allow_dtd: true, nodes_limit: MOST_NODES, entity_resolver: None };
    Document::parse_with_options(text, options).map_err(|error| damaged(text, &error))
}

/// Counts equals signs: each attribute has one. Comments and declarations have as many as they like.
fn has_too_many_attributes(text: &str) -> bool {
    let (mut of_file, mut of_tag) = (0, 0);
    let mut bytes = text.bytes().peekable();
    let mut is_tag = false;
    while let Some(byte) = bytes.next() {
        match byte {
            b'<' => (is_tag, of_tag) = (!matches!(bytes.peek(), Some(b'!' | b'?')), 0),
            b'>' => is_tag = false,
            b'=' => {
                of_file += 1;
                of_tag += usize::from(is_tag);
            }
            _ => continue,
        }
        if of_file > MOST_ATTRIBUTES || of_tag > MOST_ATTRIBUTES_OF_ONE {
            return true;
        }
    }
    false
}

/// The first `rootfile` of a container.
pub(in crate::read) fn first_root_file(container: &str) -> Result<Option<String>, ReadError> {
    let document = parse(container)?;
    let mut elements = document.descendants().filter(|node| node.tag_name().name() == "rootfile");
    Ok(elements.find_map(|node| node.attribute("full-path")).map(str::to_owned))
}

/// Where the document type defines an entity: before the first element, inside the declaration.
fn entity_definition(text: &str) -> Option<usize> {
    let start = text.find("<!DOCTYPE")?;
    let subset = text.get(start..)?;
    // The declaration ends at the first element: what looks like one inside it only makes us look less far.
    let is_element = |at: &usize| subset[at + 1..].starts_with(|c: char| c.is_alphabetic() || c == '_');
    let end = subset.match_indices('<').map(|(at, _)| at).find(is_element).unwrap_or(subset.len());
    subset[..end].find("<!ENTITY").map(|at| start + at)
}

fn damaged(text: &str, error: &Error) -> ReadError {
    if matches!(error, Error::NodesLimitReached | Error::AttributesLimitReached | Error::NamespacesLimitReached) {
        return ReadError::TooManyElements;
    }
    let cut_off = matches!(error, Error::UnexpectedEndOfStream | Error::UnclosedRootNode | Error::NoRootNode);
    let (offset, at) = if cut_off { (text.len(), end_of(text)) } else { (offset_of(text, error.pos()), error.pos()) };
    let reason = match error {
        _ if cut_off => "the file ends in the middle".to_owned(),
        // The parser repeats the place at the end of its message.
        other => other.to_string().split(" at ").next().unwrap_or_default().to_owned(),
    };
    ReadError::Xml { place: Place { measure: measure_before(text, offset), line: at.row, column: at.col }, reason }
}

fn end_of(text: &str) -> TextPos {
    let row = 1 + text.matches('\n').count() as u32;
    let col = 1 + text.rsplit('\n').next().unwrap_or_default().chars().count() as u32;
    TextPos::new(row, col)
}

fn offset_of(text: &str, at: TextPos) -> usize {
    let lines = text.split_inclusive('\n').take(at.row.saturating_sub(1) as usize);
    lines.map(str::len).sum::<usize>().min(text.len())
}

/// The label of the last measure that began before a place in damaged text.
fn measure_before(text: &str, offset: usize) -> Option<String> {
    let before = text.get(..offset)?;
    let tag = before.get(before.rfind("<measure ")?..)?.split('>').next()?;
    let value = tag.split("number=").nth(1)?.trim_start();
    let quote = value.chars().next().filter(|&c| c == '"' || c == '\'')?;
    value.get(1..)?.split(quote).next().map(str::to_owned)
}

/// Where a node stands.
pub(super) fn place(node: Node<'_, '_>) -> Place {
    let at = node.document().text_pos_at(node.range().start);
    let measure = node.ancestors().find(|up| up.has_tag_name("measure"));
    Place {
        measure: measure.and_then(|measure| measure.attribute("number")).map(str::to_owned),
        line: at.row,
        column: at.col,
    }
}

/// An error at a node.
pub(super) fn wrong(node: Node<'_, '_>, problem: impl Into<String>) -> ReadError {
    ReadError::Notation { place: place(node), problem: problem.into() }
}

/// The elements inside a node.
pub(super) fn elements<'a, 'i>(node: Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children().filter(Node::is_element)
}

/// The first child element of that name.
pub(super) fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    elements(node).find(|child| child.tag_name().name() == name)
}

/// The trimmed text of a node; empty if it has none.
pub(super) fn text_of<'a>(node: Node<'a, '_>) -> &'a str {
    node.text().unwrap_or_default().trim()
}

/// The trimmed text of the first child element of that name.
pub(super) fn child_text<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    child(node, name).map(text_of)
}
