//! The instruments of a band: what they transpose by, where they play, what they can do.
//!
//! In: `config/instruments.toml` and `config/fingerings.toml`, built in and replaceable. Out: [`Instrument`] with the
//! ways to finger its notes, for readers, judge and sheets. Next is [`crate::exercise`].

mod brass;
mod catalogue;
mod recognise;
mod way;
mod woodwind;

pub use brass::{Brass, Fingering, Lengthening};
pub use catalogue::{Catalogue, CatalogueError, Meant, UnknownInstrument, catalogue};
pub(crate) use recognise::unaccented;
pub use way::{Press, Way};
pub use woodwind::{Charts, FingeringError, Hand, Hole, Holes, NamedHoles, SideKey, charts};

use crate::theory::{Changed, Key, Pitch, Transposition, changed_notes};

/// Instruments that sit and learn together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the sections of a band
pub enum Family {
    Woodwind,
    Brass,
    Mallets,
    Keyboard,
}

/// The clef of the part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the two clefs of a young band
pub enum Clef {
    Treble,
    Bass,
}

/// One instrument of the catalogue.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// As typed on the command line: `alto-sax`.
    pub id: String,
    /// As people say it: `alto saxophone`.
    pub name: String,
    /// Its section.
    pub family: Family,
    /// The clef of its part.
    pub clef: Clef,
    /// What is added to the written pitch to get the sounding one, octaves included.
    pub transposition: Transposition,
    /// Lowest and highest written note a beginner is asked for.
    pub beginner_range: (Pitch, Pitch),
    /// Lowest and highest written note of the instrument.
    pub full_range: (Pitch, Pitch),
    /// Whether a note lasts as long as the player holds it; mallets do not.
    pub sustains: bool,
    /// The first written note of the upper register, where the fingers change from few to all: the break of a
    /// clarinet.
    pub register_break: Option<Pitch>,
    /// The tube of a brass instrument.
    pub brass: Option<Brass>,
}

impl Instrument {
    /// The key printed in this instrument's part for a concert key, and its changed notes against the
    /// band's family of concert keys, most important first.
    pub fn changed_notes(&self, concert: Key, family: &[Key]) -> (Key, Vec<Changed>) {
        let written = |key: &Key| self.transposition.key_to_written(*key);
        let family: Vec<Key> = family.iter().map(written).collect();
        (written(&concert), changed_notes(written(&concert), &family))
    }

    /// Whether `played` is another harmonic of the tube that `expected` is usually played on: brass only,
    /// same preferred (shortest) fingering or slide position, not an octave apart, no 7th harmonic.
    /// Both are written pitches as MIDI numbers.
    pub fn is_wrong_partial(&self, expected: i16, played: i16) -> bool {
        self.brass.is_some_and(|brass| brass.is_wrong_partial(expected, played))
    }
}
