//! The staves of a review: each part engraved once, however many takes show it.

use super::Review;
use crate::exercise::Part;
use crate::instrument::Instrument;
use crate::show::engraver::{Engraved, Engraver, EngraverError, Paper, Request};
use crate::write::{MarkedPart, musicxml};
use std::sync::Arc;

/// Parts given to the engraver at once, so that none has to wait for an answer too long.
const AT_ONCE: usize = 16;

/// For each part of a review its systems, SVG of our own engraver; or why there are none, a sentence.
pub struct Staves {
    parts: Vec<Result<Vec<String>, String>>,
    /// What whoever makes the page may do about it.
    why: Option<String>,
}

impl Staves {
    /// No staves, and why.
    pub fn missing(review: &Review, why: &str) -> Staves {
        Staves { parts: vec![Err(why.to_owned()); review.parts.len()], why: None }
    }

    /// Why the engraver could not be used at all, for whoever makes the page.
    pub fn why(&self) -> Option<&str> {
        self.why.as_deref()
    }

    pub(super) fn get(&self, part: usize) -> Option<&Result<Vec<String>, String>> {
        self.parts.get(part)
    }

    pub(super) fn all(&self) -> impl Iterator<Item = &Result<Vec<String>, String>> {
        self.parts.iter()
    }
}

/// What stands before the identifiers of a part's notes.
pub(super) fn prefix(part: usize) -> String {
    format!("e{part}-")
}

/// Engraves the parts of a review.
pub fn engrave(review: &Review, paper: Paper) -> Staves {
    let engraver = match Engraver::find() {
        Ok(engraver) => engraver,
        Err(error) => return Staves { why: Some(error.to_string()), ..Staves::missing(review, &error.on_paper()) },
    };
    let score = |(place, (part, instrument)): (usize, &(Arc<Part>, Option<&Instrument>))| {
        // A tempo's note would embed a font in every picture, and nobody looks for it here.
        let part = Part { tempo_given: false, ..part.as_ref().clone() };
        let marked = MarkedPart { instrument: *instrument, prefix: prefix(place), ..MarkedPart::new(&part) };
        musicxml(None, &[marked]).map(|text| vec![text]).map_err(|error| error.to_string())
    };
    let mut staves: Vec<Result<Vec<String>, String>> = review.parts.iter().enumerate().map(score).collect();
    let good: Vec<usize> = staves.iter().enumerate().filter(|(_, it)| it.is_ok()).map(|(place, _)| place).collect();
    for places in good.chunks(AT_ONCE) {
        let texts = |places: &[usize]| -> Vec<String> {
            places.iter().filter_map(|&place| Some(staves[place].as_ref().ok()?.concat())).collect()
        };
        let engraved = match systems(&engraver, texts(places), paper) {
            // One that cannot be engraved does not take the others with it.
            Err(EngraverError::Refused(_)) => {
                places.iter().map(|place| systems(&engraver, texts(&[*place]), paper).map(|one| one.concat())).collect()
            }
            Ok(parts) => parts.into_iter().map(Ok).collect(),
            Err(error) => vec![Err(error)],
        };
        let mut engraved: Vec<Result<Vec<String>, String>> =
            engraved.into_iter().map(|it: Result<_, EngraverError>| it.map_err(|error| error.to_string())).collect();
        let last = engraved.last().cloned().unwrap_or_else(|| Ok(Vec::new()));
        engraved.resize(places.len(), last);
        for (&place, part) in places.iter().zip(engraved) {
            staves[place] = part;
        }
    }
    Staves { parts: staves, why: None }
}

fn systems(engraver: &Engraver, parts: Vec<String>, paper: Paper) -> Result<Vec<Vec<String>>, EngraverError> {
    match engraver.engrave(&Request::systems(parts, paper))? {
        Engraved::Svg(parts) => Ok(parts),
        Engraved::Pdf(_) => Ok(Vec::new()),
    }
}
