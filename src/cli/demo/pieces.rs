//! The exercises of the invented band: our own march for every instrument, and drills.

use super::super::Failure;
use super::{EXERCISE, TITLE};
use crate::exercise::{Meter, Part, for_instrument};
use crate::instrument::Instrument;
use crate::judge::Level;
use crate::prepare::drill::{Brief, Kind, compose};
use crate::read::{Choice, read_exercise};
use crate::theory::{Key, default_family};
use crate::write::{MarkedPart, musicxml};

/// An exercise with a part for each instrument of the band.
pub(super) struct Piece {
    pub(super) title: &'static str,
    pub(super) file_name: &'static str,
    pub(super) content: String,
}

/// A drill: its title, the name of its file, the concert key, a key that it turns into, what it is for, how long, which.
type Made = (&'static str, &'static str, &'static str, Option<&'static str>, Kind, usize, u64);

const DRILLS: [Made; 3] = [
    ("Long Shadows", "long-shadows.musicxml", "Bb", None, Kind::Hold, 12, 4),
    ("Low Tide", "low-tide.musicxml", "Ab", None, Kind::Changed(None), 8, 11),
    ("Two Bridges", "two-bridges.musicxml", "F", Some("Eb"), Kind::Changed(None), 8, 5),
];

/// All exercises of the term, in the order in which they are rehearsed.
pub(super) fn pieces(instruments: &[&Instrument]) -> Result<Vec<Piece>, Failure> {
    let mut pieces = vec![march(instruments)?];
    for (title, file_name, key, to, kind, measures, seed) in DRILLS {
        let concert = |text: &str| Key::parse(text).map_err(Failure::input);
        let kind = match to {
            Some(to) => Kind::TwoKeys(concert(to)?),
            None => kind,
        };
        let brief = Brief {
            kind,
            key: concert(key)?,
            family: &default_family(),
            instruments,
            level: Level::FirstYear,
            meter: Meter::COMMON,
            measures,
            seed,
        };
        let drill = compose(&brief).map_err(Failure::input)?;
        pieces.push(Piece { title, file_name, content: page(title, &drill.parts, &drill.courtesy, instruments)? });
    }
    Ok(pieces)
}

/// The exercise of the demo, printed for everybody.
fn march(instruments: &[&Instrument]) -> Result<Piece, Failure> {
    let flute = read_exercise(EXERCISE, &Choice::default()).map_err(Failure::input)?.part;
    let mut parts = Vec::new();
    for instrument in instruments {
        // The march spans an octave and a half: there is an octave of it for everybody.
        let too_far = || Failure::input(format!("{TITLE} cannot be printed for {}", instrument.name));
        parts.push(for_instrument(&flute, instrument).ok_or_else(too_far)?.part);
    }
    Ok(Piece { title: TITLE, file_name: "lantern-walk.musicxml", content: page(TITLE, &parts, &[], instruments)? })
}

/// The score as it is kept.
fn page(title: &str, parts: &[Part], courtesy: &[Vec<usize>], instruments: &[&Instrument]) -> Result<String, Failure> {
    let marked = parts.iter().zip(instruments).enumerate().map(|(place, (part, instrument))| MarkedPart {
        instrument: Some(instrument),
        courtesy: courtesy.get(place).cloned().unwrap_or_default(),
        ..MarkedPart::new(part)
    });
    musicxml(Some(title), &marked.collect::<Vec<_>>()).map_err(Failure::input)
}
