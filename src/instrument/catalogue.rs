//! Reads the catalogue of instruments: the built-in one, or a user's own file of the same shape.

use super::recognise::{Names, longest, words};
use super::{Brass, Clef, Family, Instrument, Lengthening};
use crate::theory::{Pitch, Transposition};
use serde::Deserialize;
use std::sync::OnceLock;

/// The built-in file.
const BUILT_IN: &str = include_str!("../../config/instruments.toml");

/// The built-in catalogue.
pub fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    // The built-in file is read by a test, so that it cannot fail here.
    CATALOGUE.get_or_init(|| Catalogue::from_toml(BUILT_IN).unwrap_or_default())
}

/// The instruments a band knows, in score order.
#[derive(Debug, Clone, Default)]
pub struct Catalogue {
    entries: Vec<(Instrument, Names)>,
    groups: Vec<Group>,
    /// Words for instruments without pitches.
    unpitched: Vec<Vec<String>>,
}

/// A family under its own names: the saxophones.
#[derive(Debug, Clone)]
struct Group {
    called: Vec<Vec<String>>,
    /// Ids.
    members: Vec<String>,
}

/// A name is near that shares at least so much with what was typed, 1 is the same (ours, no source): a letter or two
/// mistyped, not another instrument.
const NEAR: f64 = 0.75;
/// And so much that it cannot be the name of a family or relative.
const VERY_NEAR: f64 = 0.85;

/// What is wrong with a catalogue file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CatalogueError {
    /// Not the expected shape; the message shows the place.
    #[error("{0}")]
    Shape(String),
    /// A pitch that cannot be read.
    #[error("instrument {id}: '{text}' is no pitch: write a letter, b or #, and an octave, as in Bb3")]
    Pitch {
        /// Whose.
        id: String,
        /// What stands there.
        text: String,
    },
    /// A range that runs downward, or a beginner's range beyond the full one.
    #[error("instrument {0}: its ranges do not go from low to high, the beginner's within the full one")]
    Range(String),
    /// Two instruments of one name.
    #[error("instrument {0} stands there twice: every id must be used once")]
    Twice(String),
    /// A group with a member that is no instrument.
    #[error("a group has the member {0}, which is no instrument of the file")]
    Member(String),
}

/// An instrument id that is not in the catalogue.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no instrument '{asked}'{} All ids: {}", .meant.hint().map_or(".".into(), |hint| format!(": {hint}")), .known.join(", "))]
pub struct UnknownInstrument {
    /// What was asked for.
    pub asked: String,
    /// What may have been meant.
    pub meant: Meant,
    /// All ids.
    pub known: Vec<String>,
}

/// What may have been meant by a name that is no instrument's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meant {
    /// A name with a slip in it: the ids most like it, one to three.
    Near(Vec<String>),
    /// A family, or a relative that is not there: its ids.
    Family(Vec<String>),
    /// An instrument without pitches: the ids of the pitched ones that a percussionist plays.
    Unpitched(Vec<String>),
    /// Nothing that is known.
    Nothing,
}

impl Meant {
    /// It in words, from a small letter to the full stop; `None` where nothing is like it.
    pub fn hint(&self) -> Option<String> {
        let and = |ids: &[String]| match ids {
            [most @ .., last] if !most.is_empty() => format!("{} and {last}", most.join(", ")),
            _ => ids.concat(),
        };
        match self {
            Meant::Near(ids) => Some(format!("did you mean {}?", ids.join(" or "))),
            Meant::Family(ids) => {
                Some(format!("of its family restward knows {}; if it is one of these, write that.", and(ids)))
            }
            Meant::Unpitched(ids) => {
                Some(format!("restward judges pitched instruments; of percussion it knows {}.", and(ids)))
            }
            Meant::Nothing => None,
        }
    }
}

impl Catalogue {
    /// Reads a catalogue in the format of `config/instruments.toml`.
    pub fn from_toml(text: &str) -> Result<Catalogue, CatalogueError> {
        let file: File = toml::from_str(text).map_err(|error| CatalogueError::Shape(error.to_string()))?;
        let mut catalogue = Catalogue::default();
        for entry in file.instrument {
            if catalogue.entries.iter().any(|(known, _)| known.id == entry.id) {
                return Err(CatalogueError::Twice(entry.id));
            }
            catalogue.entries.push(entry.read()?);
        }
        let ready = |names: &[String]| names.iter().map(|name| words(name)).collect();
        for FileGroup { called, members } in file.group {
            if let Some(other) = members.iter().find(|id| !catalogue.entries.iter().any(|(known, _)| known.id == **id))
            {
                return Err(CatalogueError::Member(other.clone()));
            }
            catalogue.groups.push(Group { called: ready(&called), members });
        }
        catalogue.unpitched = ready(&file.unpitched);
        Ok(catalogue)
    }

    /// All instruments in the file's order.
    pub fn instruments(&self) -> impl Iterator<Item = &Instrument> {
        self.entries.iter().map(|(instrument, _)| instrument)
    }

    /// The instrument with this id; a name that [`Catalogue::recognise`] knows will do as well.
    pub fn get(&self, id: &str) -> Result<&Instrument, UnknownInstrument> {
        self.instruments()
            .find(|instrument| instrument.id.eq_ignore_ascii_case(id.trim()))
            .or_else(|| self.recognise(&[id]))
            .ok_or_else(|| self.unknown(id))
    }

    /// The instruments of a family under exactly one of its names, as saxophones; none: it is no family.
    pub fn family(&self, name: &str) -> Vec<&Instrument> {
        let name = words(name);
        let group = self.groups.iter().find(|group| group.called.contains(&name));
        let is_member = |instrument: &&Instrument| group.is_some_and(|group| group.members.contains(&instrument.id));
        self.instruments().filter(is_member).collect()
    }

    /// The instrument that the names in a score mean, the first telling hint first: part name,
    /// abbreviation, instrument names, MusicXML sound identifiers. `None` where nothing fits, or where the
    /// name is that of a relative that transposes otherwise (clarinet in A, English horn).
    pub fn recognise(&self, hints: &[&str]) -> Option<&Instrument> {
        self.recognise_among(hints, |_| true)
    }

    /// The same for a part that prints a transposition: of two that share a name the one with that transposition is
    /// meant (a euphonium in treble clef), octaves aside. A part that prints none is at concert pitch or in C.
    pub fn recognise_printed(&self, hints: &[&str], printed: Option<Transposition>) -> Option<&Instrument> {
        let fits = |instrument: &Instrument| {
            printed.is_none_or(|printed| (printed.chromatic - instrument.transposition.chromatic) % 12 == 0)
        };
        self.recognise_among(hints, fits).or_else(|| self.recognise(hints))
    }

    fn recognise_among(&self, hints: &[&str], fits: impl Fn(&Instrument) -> bool) -> Option<&Instrument> {
        let (fitting, names): (Vec<&Instrument>, Vec<&Names>) =
            self.entries.iter().filter(|(instrument, _)| fits(instrument)).map(|(i, names)| (i, names)).unzip();
        super::recognise::first_telling(&names, hints).and_then(|place| fitting.get(place).copied())
    }

    fn unknown(&self, asked: &str) -> UnknownInstrument {
        let asked = asked.trim().to_owned();
        UnknownInstrument {
            meant: self.meant(&asked),
            known: self.instruments().map(|instrument| instrument.id.clone()).collect(),
            asked,
        }
    }

    fn meant(&self, asked: &str) -> Meant {
        let near = |least: f64| Some(self.nearest(asked, least)).filter(|ids| !ids.is_empty()).map(Meant::Near);
        if let Some(near) = near(VERY_NEAR) {
            return near;
        }
        let hint = words(asked);
        let groups = self.groups.iter().map(|group| (longest(&hint, &group.called), group));
        // Of equals the first, as `max_by_key` takes the last.
        if let Some((_, group)) = groups.filter(|(length, _)| *length > 0).rev().max_by_key(|(length, _)| *length) {
            return Meant::Family(group.members.clone());
        }
        if longest(&hint, &self.unpitched) > 0 {
            let mallets = self.instruments().filter(|instrument| instrument.family == Family::Mallets);
            return Meant::Unpitched(mallets.map(|instrument| instrument.id.clone()).collect());
        }
        near(NEAR).unwrap_or(Meant::Nothing)
    }

    /// The ids that are most like a name and at least so like, three at most.
    fn nearest(&self, asked: &str, least: f64) -> Vec<String> {
        let asked = asked.to_lowercase();
        let like = |name: &str| strsim::normalized_damerau_levenshtein(&asked, &name.to_lowercase());
        let mut near: Vec<(f64, &str)> = self
            .instruments()
            .map(|instrument| (like(&instrument.id).max(like(&instrument.name)), instrument.id.as_str()))
            .filter(|(likeness, _)| *likeness >= least)
            .collect();
        near.sort_by(|one, other| other.0.total_cmp(&one.0));
        let best = near.first().map_or(1.0, |(likeness, _)| *likeness);
        near.iter().take(3).filter(|(likeness, _)| *likeness == best).map(|(_, id)| (*id).to_owned()).collect()
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    instrument: Vec<Entry>,
    #[serde(default)]
    group: Vec<FileGroup>,
    #[serde(default)]
    unpitched: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileGroup {
    called: Vec<String>,
    members: Vec<String>,
}

/// An instrument as the file has it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    id: String,
    name: String,
    family: Family,
    clef: Clef,
    transposition: Steps,
    beginner: [String; 2],
    full: [String; 2],
    sustains: bool,
    #[serde(rename = "break")]
    register_break: Option<String>,
    brass: Option<Tube>,
    called: Vec<String>,
    #[serde(default)]
    never: Vec<String>,
    #[serde(default)]
    sounds: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Steps {
    diatonic: i8,
    chromatic: i8,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tube {
    first_harmonic: String,
    lengthened_by: Lengthening,
    thumb_side: Option<String>,
    #[serde(default)]
    fourth_valve: bool,
}

impl Entry {
    fn read(self) -> Result<(Instrument, Names), CatalogueError> {
        let pitch = |text: &String| {
            Pitch::parse(text).ok_or_else(|| CatalogueError::Pitch { id: self.id.clone(), text: text.clone() })
        };
        let [low, high] = &self.full;
        let full_range = (pitch(low)?, pitch(high)?);
        let [low, high] = &self.beginner;
        let beginner_range = (pitch(low)?, pitch(high)?);
        let rising = [full_range.0, beginner_range.0, beginner_range.1, full_range.1].map(Pitch::midi);
        if !rising.is_sorted() {
            return Err(CatalogueError::Range(self.id));
        }
        let brass = match &self.brass {
            None => None,
            Some(tube) => Some(Brass {
                first_harmonic: pitch(&tube.first_harmonic)?,
                lengthened_by: tube.lengthened_by,
                thumb_side: tube.thumb_side.as_ref().map(pitch).transpose()?,
                fourth_valve: tube.fourth_valve,
            }),
        };
        let register_break = self.register_break.as_ref().map(pitch).transpose()?;
        let Steps { diatonic, chromatic } = self.transposition;
        let instrument = Instrument {
            id: self.id,
            name: self.name,
            family: self.family,
            clef: self.clef,
            transposition: Transposition { diatonic, chromatic },
            beginner_range,
            full_range,
            sustains: self.sustains,
            register_break,
            brass,
        };
        Ok((instrument, Names::new(&self.called, &self.never, self.sounds)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_file_is_read() {
        let ids: Vec<&str> = catalogue().instruments().map(|instrument| instrument.id.as_str()).collect();
        assert_eq!(
            ids.join(" "),
            "flute piccolo oboe bassoon clarinet bass-clarinet alto-sax tenor-sax bari-sax trumpet horn trombone \
             euphonium euphonium-tc tuba bells xylophone marimba keyboard"
        );
    }

    /// Letters and semitones from written to sounding: music21 10.5, instrument.py (its intervals, octaves
    /// included). Bells, xylophone and euphonium are not there: common practice, no source.
    #[test]
    fn transpositions_as_published() {
        for (ids, diatonic, chromatic) in [
            ("flute oboe bassoon trombone tuba marimba keyboard", 0, 0),
            ("piccolo", 7, 12),
            ("clarinet trumpet", -1, -2),
            ("bass-clarinet tenor-sax", -8, -14),
            ("alto-sax", -5, -9),
            ("bari-sax", -12, -21),
            ("horn", -4, -7),
            ("euphonium", 0, 0),
            ("euphonium-tc", -8, -14),
            ("xylophone", 7, 12),
            ("bells", 14, 24),
        ] {
            for id in ids.split(' ') {
                let expected = Transposition { diatonic, chromatic };
                assert_eq!(catalogue().get(id).unwrap().transposition, expected, "{id}");
            }
        }
    }

    #[test]
    fn only_brass_has_a_tube_and_only_mallets_do_not_sustain() {
        for instrument in catalogue().instruments() {
            assert_eq!(instrument.brass.is_some(), instrument.family == Family::Brass, "{}", instrument.id);
            assert_eq!(!instrument.sustains, instrument.family == Family::Mallets, "{}", instrument.id);
        }
    }

    /// A beginner's range is an octave at least, and sounds on a piano.
    #[test]
    fn ranges_are_sane() {
        for instrument in catalogue().instruments() {
            let (low, high) = instrument.beginner_range;
            assert!(high.midi() - low.midi() >= 12, "{}", instrument.id);
            let (low, high) = instrument.full_range;
            for end in [low, high] {
                let sounding = instrument.transposition.to_concert(end).midi();
                assert!((21..=108).contains(&sounding), "{} {end} sounds {sounding}", instrument.id);
            }
        }
    }

    #[test]
    fn an_unknown_id_gets_the_nearest() {
        let meant = |asked: &str| catalogue().get(asked).unwrap_err().meant;
        for (asked, id) in [
            ("trumpit", "trumpet"),
            ("trumbone", "trombone"),
            ("flutte", "flute"),
            ("tubba", "tuba"),
            ("alt-sax", "alto-sax"),
        ] {
            assert_eq!(meant(asked), Meant::Near(vec![id.into()]));
        }
        for asked in ["kazoo", "violin", "Cello", "Guitar", "Mellophone", "voice", "x", ""] {
            assert_eq!(meant(asked), Meant::Nothing, "{asked}");
        }
        let family = |ids: &[&str]| Meant::Family(ids.iter().map(|&id| id.to_owned()).collect());
        for asked in ["Saxophone", "sax", "Saxes", "Soprano Sax", "Saxophon"] {
            assert_eq!(meant(asked), family(&["alto-sax", "tenor-sax", "bari-sax"]), "{asked}");
        }
        assert_eq!(meant("Alto Clarinet"), family(&["clarinet", "bass-clarinet"]));
        assert_eq!(meant("Low Brass"), family(&["trombone", "euphonium", "tuba"]), "the longest name counts");
        assert_eq!(meant("Tuned Percussion"), family(&["bells", "xylophone", "marimba"]));
        let mallets = Meant::Unpitched(["bells", "xylophone", "marimba"].map(String::from).into());
        for asked in ["Percussion", "Drums", "Snare Drum", "Schlagzeug", "Bass drum", "Percusión"] {
            assert_eq!(meant(asked), mallets, "{asked}");
        }
        let said = catalogue().get("kazoo").unwrap_err().to_string();
        assert!(said.starts_with("no instrument 'kazoo'. All ids: flute, piccolo"), "{said}");
        let said = catalogue().get("drums").unwrap_err().to_string();
        assert!(said.contains("judges pitched instruments; of percussion it knows bells, xylophone and marimba. All"));
        assert!(
            catalogue()
                .get("trumpit")
                .unwrap_err()
                .to_string()
                .starts_with("no instrument 'trumpit': did you mean trumpet? All ids: flute, piccolo, oboe")
        );
        assert_eq!(catalogue().get("Alto-Sax").unwrap().id, "alto-sax");
        assert_eq!(catalogue().get("Alto Saxophone").unwrap().id, "alto-sax");
    }

    #[test]
    fn a_bad_file_is_refused_with_its_place() {
        let good = BUILT_IN.lines().take_while(|line| !line.contains("id = \"piccolo\"")).collect::<Vec<_>>();
        let flute = good[..good.len() - 1].join("\n");
        assert_eq!(Catalogue::from_toml(&flute).unwrap().instruments().count(), 1);
        let twice = format!("{flute}\n{}", &flute[flute.find("[[").unwrap()..]);
        assert_eq!(Catalogue::from_toml(&twice).unwrap_err(), CatalogueError::Twice("flute".into()));
        let grouped = format!("{flute}\n[[group]]\ncalled = [\"reeds\"]\nmembers = [\"oboe\"]\n");
        assert_eq!(Catalogue::from_toml(&grouped).unwrap_err(), CatalogueError::Member("oboe".into()));
        let refused = |from: &str, to: &str| Catalogue::from_toml(&flute.replace(from, to)).unwrap_err().to_string();
        assert!(refused("\"C4\"", "\"H4\"").contains("'H4' is no pitch"));
        assert!(refused("\"C4\"", "\"E5\"").contains("instrument flute: its ranges"));
        assert!(refused("sustains", "sustain").contains("sustain"), "the message names the field");
        assert!(refused("true", "yes").contains("line"), "the message has the line");
    }
}
