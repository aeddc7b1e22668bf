//! What a reader is asked for: which part, for which instrument; and how a part is found by name.

use super::ReadError;
use crate::exercise::PartName;
use crate::plain::harmless;
use crate::theory::Transposition;

/// Which line of a file is wanted.
#[derive(Debug, Clone, Default)]
pub struct Choice {
    /// The tune of an ABC tunebook by number (`X:`), title or piece of its title; none: the first.
    pub tune: Option<String>,
    /// The part by identifier, name, number (1 is the first) or piece of its name; none: the first with notes, and of a
    /// MIDI file everything.
    pub part: Option<String>,
    /// The staff of the part, 1 is the uppermost; none: 1.
    pub staff: Option<u8>,
    /// What the player's instrument adds to the written pitch: used where the file is at concert pitch, to know what is
    /// written in the printed part. A transposition in the file counts before it.
    pub instrument: Option<Transposition>,
}

/// Finds the part that was asked for; says which there are if it is none of them, or more than one.
pub(super) fn find_part(parts: &[PartName], asked: &str) -> Result<usize, ReadError> {
    let there_are = || list(parts, MOST_IN_ERROR);
    find(parts, asked).ok_or_else(|| ReadError::NoSuchPart { asked: asked.to_owned(), there_are: there_are() })
}

/// Finds the one that was asked for by identifier, name, number in the list or piece of its name.
pub(super) fn find(named: &[PartName], asked: &str) -> Option<usize> {
    let wanted = asked.trim().to_lowercase();
    // An identifier as it was shown is one, too.
    let by_id = named.iter().position(|part| part.id == asked.trim() || harmless(&part.id) == asked);
    let by_name = || one(named, |part| part.name.to_lowercase() == wanted);
    let by_number = || wanted.parse::<usize>().ok()?.checked_sub(1).filter(|&index| index < named.len());
    let by_piece = || one(named, |part| !wanted.is_empty() && part.name.to_lowercase().contains(&wanted));
    by_id.or_else(by_name).or_else(by_number).or_else(by_piece)
}

fn one(parts: &[PartName], fits: impl Fn(&PartName) -> bool) -> Option<usize> {
    let mut found = parts.iter().enumerate().filter(|(_, part)| fits(part)).map(|(index, _)| index);
    found.next().filter(|_| found.next().is_none())
}

/// So many are named where one has to be chosen: not more than a screen of them.
pub(super) const MOST_IN_ERROR: usize = 40;

/// `P1 (Flute), P2 (Clarinet in B♭)`, at most so many.
pub(super) fn list(parts: &[PartName], most: usize) -> String {
    let mut names: Vec<String> = parts
        .iter()
        .take(most)
        .map(|part| if part.name.is_empty() { part.id.clone() } else { format!("{} ({})", part.id, part.name) })
        .collect();
    if parts.len() > most {
        names.push(format!("and {} more", parts.len() - most));
    }
    names.join(", ")
}
