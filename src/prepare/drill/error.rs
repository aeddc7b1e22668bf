//! Why a drill cannot be made.

use crate::theory::Letter;

/// Why a drill cannot be made; the messages name the option.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DrillError {
    /// Fewer or more measures than a drill has.
    #[error("--measures {0}: a drill has 4 to 64 measures")]
    Measures(usize),
    /// A meter without rhythms.
    #[error("--meter {asked}: drills are made in {known}")]
    Meter {
        /// As asked for.
        asked: String,
        /// Those that there are.
        known: String,
    },
    /// Nobody to play it.
    #[error("no instrument: name one with --instrument, or several with --section")]
    NoInstrument,
    /// The band's other keys alter every letter as this one does.
    #[error(
        "{key}: no other key of the band changes a note of it; give its keys with --family, as in --family F,Bb,Eb,Ab"
    )]
    NothingChanges {
        /// The key in question, as printed in the part.
        key: String,
    },
    /// A letter that is the same in all keys of the band.
    #[error("--changed-note {asked}: in {key} the changed notes are {changed}")]
    NotChanged {
        /// The letter.
        asked: Letter,
        /// The key, as printed in the part.
        key: String,
        /// The changed notes, most important first.
        changed: String,
    },
    /// Two keys with one signature.
    #[error("--to {to}: it has the signature of {from}, so that no note changes; choose another key")]
    SameSignature {
        /// The first key.
        from: String,
        /// The second one.
        to: String,
    },
    /// No stretch of notes that all can play.
    #[error(
        "the beginner ranges of {instruments} have too few notes in common for this drill, even in octaves: {advice}"
    )]
    NoCommonRange {
        /// Their names.
        instruments: String,
        /// Whom to leave out.
        advice: String,
    },
    /// No line was found.
    #[error("with seed {seed} no line was found that keeps all rules: try another --seed, or more --measures")]
    NoLine {
        /// The seed.
        seed: u64,
    },
}
