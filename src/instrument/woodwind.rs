//! Woodwind fingerings and remarks on others: `config/fingerings.toml`, read once.
//!
//! In: the file, or a user's own of the same shape. Out: which holes and keys a written note needs.

use crate::theory::Pitch;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The built-in file.
const BUILT_IN: &str = include_str!("../../config/fingerings.toml");

/// The built-in fingerings.
pub fn charts() -> &'static Charts {
    static CHARTS: OnceLock<Charts> = OnceLock::new();
    // The built-in file is read by a test, so that it cannot fail here.
    CHARTS.get_or_init(|| Charts::from_toml(BUILT_IN).unwrap_or_default())
}

/// Fingerings by instrument and written note.
#[derive(Debug, Clone, Default)]
pub struct Charts {
    /// By instrument id and MIDI number of the written note, the usual way first.
    notes: BTreeMap<(String, i16), Vec<NamedHoles>>,
    remarks: BTreeMap<String, String>,
}

/// One way of a chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedHoles {
    /// What it is called, if the chart says so: `thumb B♭`.
    pub name: Option<String>,
    /// What the fingers do.
    pub holes: Holes,
}

/// What is wrong with a file of fingerings.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FingeringError {
    /// Not the expected shape; the message shows the place.
    #[error("{0}")]
    Shape(String),
    /// A note that cannot be read, or stands there twice.
    #[error("fingerings of {instrument}: '{note}' is no pitch, or stands there twice: write it once, as in Bb4")]
    Note {
        /// Whose.
        instrument: String,
        /// What stands there.
        note: String,
    },
    /// A fingering that cannot be read.
    #[error(
        "fingering of {note} on {instrument}: '{text}' cannot be read at '{at}': write both hands with | between them, \
         three fingers each (123, - for up, h for half) and keys that [chart.keys] names"
    )]
    Fingering {
        /// Whose.
        instrument: String,
        /// Of which note.
        note: String,
        /// What stands there.
        text: String,
        /// Where reading stopped.
        at: String,
    },
}

/// A finger on its hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Hole {
    /// The finger is up.
    Open,
    /// The finger is down.
    Covered,
    /// The finger covers half the hole.
    Half,
}

/// A key beside the six fingers.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SideKey {
    /// What a sheet calls it: `E♭`.
    pub label: String,
    /// Which finger presses it: `right little finger, E♭ key`.
    pub finger: String,
    /// Whether it is pressed.
    pub pressed: bool,
    /// Whether it is shown also where it is not pressed: a thumb hole, a key that most notes need.
    pub always: bool,
}

/// What ten fingers do, from the mouthpiece down.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Holes {
    /// The hand next to the mouthpiece.
    pub left: Hand,
    /// The other hand.
    pub right: Hand,
}

/// What one hand does.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Hand {
    /// Keys of the thumb.
    pub thumb: Vec<SideKey>,
    /// First, second, third finger.
    pub fingers: [Hole; 3],
    /// Keys of the other fingers and of the palm.
    pub keys: Vec<SideKey>,
}

impl Default for Hand {
    fn default() -> Hand {
        Hand { thumb: Vec::new(), fingers: [Hole::Open; 3], keys: Vec::new() }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    chart: Vec<Chart>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Chart {
    instruments: Vec<String>,
    #[serde(default)]
    always: Vec<String>,
    remark: Option<String>,
    /// Label and finger of each key.
    #[serde(default)]
    keys: BTreeMap<String, (String, String)>,
    #[serde(default)]
    notes: BTreeMap<String, OneOrMore>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum OneOrMore {
    One(String),
    More(Vec<String>),
}

impl Charts {
    /// Reads fingerings in the format of `config/fingerings.toml`.
    pub fn from_toml(text: &str) -> Result<Charts, FingeringError> {
        let file: File = toml::from_str(text).map_err(|error| FingeringError::Shape(error.to_string()))?;
        let mut charts = Charts::default();
        for chart in file.chart {
            for instrument in &chart.instruments {
                charts.add(instrument, &chart)?;
            }
        }
        Ok(charts)
    }

    /// The ways to play a written note (a MIDI number), the usual one first.
    pub fn ways(&self, instrument: &str, written: i16) -> &[NamedHoles] {
        self.notes.get(&(instrument.to_owned(), written)).map_or(&[], Vec::as_slice)
    }

    /// A sentence that belongs under the fingerings of an instrument.
    pub fn remark(&self, instrument: &str) -> Option<&str> {
        self.remarks.get(instrument).map(String::as_str)
    }

    fn add(&mut self, instrument: &str, chart: &Chart) -> Result<(), FingeringError> {
        if let Some(remark) = &chart.remark {
            self.remarks.insert(instrument.to_owned(), remark.clone());
        }
        for (note, texts) in &chart.notes {
            let wrong = || FingeringError::Note { instrument: instrument.to_owned(), note: note.clone() };
            let written = Pitch::parse(note).ok_or_else(wrong)?.midi();
            let texts = match texts {
                OneOrMore::One(text) => std::slice::from_ref(text),
                OneOrMore::More(texts) => texts.as_slice(),
            };
            let ways = texts.iter().map(|text| {
                chart.way(text).map_err(|at| FingeringError::Fingering {
                    instrument: instrument.to_owned(),
                    note: note.clone(),
                    text: text.clone(),
                    at: at.to_owned(),
                })
            });
            let ways = ways.collect::<Result<Vec<_>, _>>()?;
            if ways.is_empty() || self.notes.insert((instrument.to_owned(), written), ways).is_some() {
                return Err(wrong());
            }
        }
        Ok(())
    }
}

impl Chart {
    /// Reads `name: T 123 | 12- E♭`; the error is the place where that fails.
    fn way<'a>(&self, text: &'a str) -> Result<NamedHoles, &'a str> {
        let (name, fingering) = match text.split_once(": ") {
            Some((name, fingering)) => (Some(name.to_owned()), fingering),
            None => (None, text),
        };
        let (left, right) = fingering.split_once('|').ok_or(fingering)?;
        let mut holes = Holes { left: self.hand(left)?, right: self.hand(right)? };
        for absent in &self.always {
            let (label, finger) = self.keys.get(absent).ok_or(fingering)?;
            if !holes.left.thumb.iter().any(|key| key.label.starts_with(label)) {
                let key = SideKey { label: label.clone(), finger: finger.clone(), pressed: false, always: true };
                holes.left.thumb.push(key);
            }
        }
        Ok(NamedHoles { name, holes })
    }

    fn hand<'a>(&self, text: &'a str) -> Result<Hand, &'a str> {
        let mut hand = Hand::default();
        let mut seen_fingers = false;
        for word in text.split_whitespace() {
            if let Some(fingers) = fingers(word).filter(|_| !seen_fingers) {
                hand.fingers = fingers;
                seen_fingers = true;
                continue;
            }
            let (label, finger) = self.keys.get(word).ok_or(word)?;
            let always = self.always.iter().any(|always| always == word);
            let key = SideKey { label: label.clone(), finger: finger.clone(), pressed: true, always };
            if seen_fingers { hand.keys.push(key) } else { hand.thumb.push(key) }
        }
        if seen_fingers { Ok(hand) } else { Err(text) }
    }
}

/// `1-3`, `h23`: each finger at its place.
fn fingers(word: &str) -> Option<[Hole; 3]> {
    let signs: Vec<char> = word.chars().collect();
    let [first, second, third] = signs.as_slice() else { return None };
    let hole = |sign: char, finger: char| match sign {
        '-' => Some(Hole::Open),
        'h' => Some(Hole::Half),
        _ => (sign == finger).then_some(Hole::Covered),
    };
    Some([hole(*first, '1')?, hole(*second, '2')?, hole(*third, '3')?])
}
