//! What a drill may ask of each level: `config/drills.toml`.

use crate::exercise::{Meter, Quarters};
use crate::judge::Level;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The built-in file.
const BUILT_IN: &str = include_str!("../../../config/drills.toml");

/// One note or rest of a measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Value {
    pub(super) length: Quarters,
    pub(super) is_rest: bool,
}

/// A measure as notes and rests, in order.
pub(super) type Pattern = Vec<Value>;

/// The measures that phrases of one meter are made of.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rhythms {
    /// Within a phrase.
    pub(super) moving: Vec<Pattern>,
    /// Within a phrase, ending with a rest or a long note.
    pub(super) breathing: Vec<Pattern>,
    /// The last of a phrase.
    pub(super) closing: Vec<Pattern>,
}

/// What one level may be asked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Vocabulary {
    pub(super) beats_a_minute: u16,
    /// Semitones from the lowest to the highest note.
    pub(super) span: i16,
    /// Semitones of the widest leap.
    pub(super) widest: i16,
    rhythms: BTreeMap<String, Rhythms>,
}

impl Vocabulary {
    /// The vocabulary of a level.
    pub(super) fn of(level: Level) -> &'static Vocabulary {
        static LEVELS: OnceLock<[Vocabulary; 3]> = OnceLock::new();
        // A test reads the built-in file, so that it cannot fail here.
        let levels = LEVELS.get_or_init(|| read(BUILT_IN).unwrap_or_else(|_| std::array::from_fn(|_| nothing())));
        match level {
            Level::FirstYear => &levels[0],
            Level::SecondYear => &levels[1],
            Level::ThirdYear => &levels[2],
        }
    }

    /// The measures of a meter, if drills are made in it.
    pub(super) fn rhythms(&self, meter: Meter) -> Option<&Rhythms> {
        self.rhythms.get(&format!("{}/{}", meter.count, meter.unit))
    }

    /// The meters that drills are made in.
    pub(super) fn meters(&self) -> impl Iterator<Item = &str> {
        self.rhythms.keys().map(String::as_str)
    }
}

fn nothing() -> Vocabulary {
    Vocabulary { beats_a_minute: 80, span: 12, widest: 7, rhythms: BTreeMap::new() }
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct File {
    first_year: Entry,
    second_year: Entry,
    third_year: Entry,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    beats_a_minute: u16,
    span: i16,
    widest: i16,
    rhythms: BTreeMap<String, Lists>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Lists {
    moving: Vec<String>,
    breathing: Vec<String>,
    closing: Vec<String>,
}

/// Reads the file; the message names the measure that does not fit.
fn read(text: &str) -> Result<[Vocabulary; 3], String> {
    let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
    Ok([vocabulary(file.first_year)?, vocabulary(file.second_year)?, vocabulary(file.third_year)?])
}

fn vocabulary(entry: Entry) -> Result<Vocabulary, String> {
    let Entry { beats_a_minute, span, widest, rhythms } = entry;
    let rhythms = rhythms.into_iter().map(|(name, lists)| {
        let meter = Meter::parse(&name).ok_or_else(|| format!("\"{name}\" is no meter: write 4/4"))?;
        let patterns = |list: &[String]| list.iter().map(|text| pattern(text, meter)).collect::<Result<Vec<_>, _>>();
        let rhythms = Rhythms {
            moving: patterns(&lists.moving)?,
            breathing: patterns(&lists.breathing)?,
            closing: patterns(&lists.closing)?,
        };
        if [&rhythms.moving, &rhythms.breathing, &rhythms.closing].iter().any(|list| list.is_empty()) {
            return Err(format!("\"{name}\": each of the three lists needs a measure"));
        }
        Ok((name, rhythms))
    });
    Ok(Vocabulary { beats_a_minute, span, widest, rhythms: rhythms.collect::<Result<_, _>>()? })
}

/// `q. e -q` and the like; it must fill the measure and begin with a note.
fn pattern(text: &str, meter: Meter) -> Result<Pattern, String> {
    let values: Option<Pattern> = text.split_whitespace().map(value).collect();
    let values = values.ok_or_else(|| format!("\"{text}\": write w h q e s, a dot behind, a minus before a rest"))?;
    let total = values.iter().fold(Quarters::ZERO, |sum, value| sum + value.length);
    if total != meter.measure() {
        return Err(format!("\"{text}\" does not fill a measure of {}/{}", meter.count, meter.unit));
    }
    match values.first() {
        Some(first) if !first.is_rest => Ok(values),
        _ => Err(format!("\"{text}\" does not begin with a note")),
    }
}

fn value(text: &str) -> Option<Value> {
    let (is_rest, name) = text.strip_prefix('-').map_or((false, text), |name| (true, name));
    let (name, dotted) = name.strip_suffix('.').map_or((name, false), |name| (name, true));
    let length = match name {
        "w" => Quarters::new(4, 1),
        "h" => Quarters::new(2, 1),
        "q" => Quarters::new(1, 1),
        "e" => Quarters::new(1, 2),
        "s" => Quarters::new(1, 4),
        _ => return None,
    };
    Some(Value { length: if dotted { length.times(3, 2) } else { length }, is_rest })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_file_is_read() {
        let levels = read(BUILT_IN).unwrap();
        for vocabulary in &levels {
            assert_eq!(vocabulary.meters().collect::<Vec<_>>(), ["2/2", "2/4", "3/4", "4/4", "6/8"]);
        }
        let first = levels[0].rhythms(Meter::COMMON).unwrap();
        let quarters = |measure: &Pattern| measure.iter().map(|value| value.length.to_f64()).collect::<Vec<_>>();
        assert_eq!(quarters(&first.moving[2]), [2.0, 1.0, 1.0]);
        assert_eq!((quarters(&first.closing[0]), first.closing[0][1].is_rest), (vec![3.0, 1.0], true));
    }

    #[test]
    fn a_measure_that_does_not_fit_is_named() {
        let refused = |from: &str, to: &str| read(&BUILT_IN.replacen(from, to, 1)).unwrap_err();
        assert_eq!(refused("\"q q q q\"", "\"q q q\""), "\"q q q\" does not fill a measure of 4/4");
        assert!(refused("\"q q q q\"", "\"q q q x\"").contains("\"q q q x\": write"));
        assert_eq!(refused("\"q q q q\"", "\"-q q q q\""), "\"-q q q q\" does not begin with a note");
        assert_eq!(refused("\"4/4\"", "\"four\""), "\"four\" is no meter: write 4/4");
    }
}
