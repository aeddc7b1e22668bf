//! The shapes of the JSON of sheets.

use crate::theory::Rank;
use serde::Serialize;

#[derive(Serialize)]
pub(in crate::show::sheet) struct Listing<'a> {
    pub(super) title: &'a str,
    pub(super) sheets: Vec<Entry<'a>>,
}

/// A sheet, or only a sentence.
#[derive(Serialize)]
#[serde(untagged)]
pub(super) enum Entry<'a> {
    Sheet(Box<JsonSheet<'a>>),
    Why { name: &'a str, remarks: [&'a str; 1] },
}

#[derive(Serialize)]
pub(super) struct JsonSheet<'a> {
    pub(super) name: String,
    /// Id of the catalogue; null where it is not known.
    pub(super) instrument: Option<&'a str>,
    pub(super) part: &'a str,
    /// Octaves above the line it was made from; null for the file's own part.
    pub(super) moved_octaves: Option<i8>,
    pub(super) remarks: Vec<String>,
    pub(super) keys: Vec<JsonKey<'a>>,
    pub(super) fingering_remark: Option<&'a str>,
    pub(super) measures: Vec<JsonMeasure<'a>>,
    pub(super) releases: Vec<JsonRelease<'a>>,
    pub(super) hardest: Vec<JsonSpot<'a>>,
    pub(super) longest_hold: Option<JsonNote<'a>>,
    pub(super) no_breath: Vec<JsonStretch<'a>>,
    pub(super) range: Option<JsonRange<'a>>,
}

#[derive(Serialize)]
pub(super) struct JsonKey<'a> {
    pub(super) from_measure: &'a str,
    pub(super) written_key: String,
    pub(super) concert_key: String,
    pub(super) accidentals: Vec<String>,
    pub(super) respelled: bool,
    pub(super) shared_by: &'a [String],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) printed: Option<String>,
    pub(super) changed: Vec<JsonChanged<'a>>,
}

#[derive(Serialize)]
pub(super) struct JsonChanged<'a> {
    pub(super) written: String,
    pub(super) sign: &'static str,
    pub(super) rank: Rank,
    pub(super) differing: usize,
    /// As played, repeats included.
    pub(super) occurrences: usize,
    /// Places of these notes, see `check --report json`.
    pub(super) indices: &'a [usize],
    pub(super) measures: Vec<&'a str>,
    pub(super) fingered: Vec<JsonFingered>,
}

#[derive(Serialize)]
pub(super) struct JsonFingered {
    pub(super) written: String,
    pub(super) fingerings: Vec<JsonWay>,
    pub(super) mistaken_for: String,
    pub(super) mistaken_fingerings: Vec<JsonWay>,
}

#[derive(Serialize)]
pub(super) struct JsonWay {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) name: Option<String>,
    pub(super) usual: bool,
    pub(super) short: String,
    pub(super) words: String,
}

/// A measure of the page with its count, or several of rest.
#[derive(Serialize)]
pub(super) struct JsonMeasure<'a> {
    pub(super) measure: &'a str,
    /// How many measures of rest there are from here; their counts are left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) rest_measures: Option<usize>,
    pub(super) counts: Vec<JsonCount>,
}

#[derive(Serialize)]
pub(super) struct JsonCount {
    pub(super) say: String,
    pub(super) at_quarters: String,
    /// `begins`, `sounds`, `rest`.
    pub(super) state: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) index: Option<usize>,
    /// The note that is let go here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) releases: Option<usize>,
}

#[derive(Serialize)]
pub(super) struct JsonNote<'a> {
    pub(super) index: usize,
    pub(super) measure: &'a str,
    pub(super) beat: String,
    pub(super) written: String,
    pub(super) value_beats: String,
}

#[derive(Serialize)]
pub(super) struct JsonRelease<'a> {
    #[serde(flatten)]
    pub(super) note: JsonNote<'a>,
    /// Null: the note lasts to the end of the music.
    pub(super) off_on: Option<JsonWord<'a>>,
    pub(super) fermata: bool,
}

#[derive(Serialize)]
pub(super) struct JsonWord<'a> {
    pub(super) measure: &'a str,
    pub(super) say: &'a str,
}

#[derive(Serialize)]
pub(super) struct JsonSpot<'a> {
    #[serde(flatten)]
    pub(super) note: JsonNote<'a>,
    pub(super) reasons: Vec<&'static str>,
    pub(super) sentence: String,
}

#[derive(Serialize)]
pub(super) struct JsonStretch<'a> {
    pub(super) first: &'a str,
    pub(super) last: &'a str,
}

#[derive(Serialize)]
pub(super) struct JsonRange<'a> {
    pub(super) lowest: String,
    pub(super) highest: String,
    pub(super) beginner: [String; 2],
    pub(super) full: [String; 2],
    pub(super) outside: Vec<JsonOutside<'a>>,
    pub(super) notes_outside: usize,
    pub(super) playable: bool,
    pub(super) suggested_octaves: Option<i8>,
}

#[derive(Serialize)]
pub(super) struct JsonOutside<'a> {
    pub(super) written: String,
    pub(super) first_measure: &'a str,
}
