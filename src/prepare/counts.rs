//! The spoken count: what is said in each measure, which counts sound, where each release falls.
//!
//! The words are those of many American bands (common practice, no source): the beats by number, `1 & 2 &` where a
//! measure has halves of beats, `1 e & a` in a beat that has quarters of it, `1 la li` where a beat has thirds: triplets
//! and compound meters, whose beat is the dotted note. In cut time the half note is the beat. A pickup is counted as the
//! end of a full measure.

use crate::exercise::{FollowedBy, Measure, Note, Part, Quarters};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The count of one measure of the page.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasureCount {
    /// Index into [`Part::measures`]: where the page's measure is first played.
    pub measure: usize,
    /// The counts in order.
    pub counts: Vec<Count>,
}

impl MeasureCount {
    /// Whether nothing sounds in it, and nothing is let go.
    pub fn is_silent(&self) -> bool {
        self.counts.iter().all(|count| count.state == State::Rest && count.releases.is_none())
    }
}

/// One word of the count.
#[derive(Debug, Clone, PartialEq)]
pub struct Count {
    /// What is said: `1`, `&`, `la`; `·` where a value is too short to be said.
    pub spoken: String,
    /// How far into the measure.
    pub at: Quarters,
    /// What is heard there.
    pub state: State,
    /// The note, as an index into [`Part::notes`], whose full value ends here, silence after it.
    pub releases: Option<usize>,
}

/// What a count hears.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// This note begins (an index into [`Part::notes`]).
    Begins(usize),
    /// This note goes on.
    Sounds(usize),
    /// Silence.
    Rest,
}

/// Where a note before silence, or the last one, ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Release {
    /// Index into [`Part::notes`].
    pub note: usize,
    /// The measure (an index into [`Part::measures`]) and the word on which silence begins. `None`: the note lasts to
    /// the end of the music.
    pub on: Option<(usize, String)>,
    /// How many beats the note lasts.
    pub beats: Quarters,
    /// Under a fermata: held until the director lets it go.
    pub fermata: bool,
}

/// The finest division of a beat that is looked for.
const FINEST: i64 = 24;

/// Counts every measure of the page, and tells every release. Measures that are repeated stand there once.
pub fn count(part: &Part) -> (Vec<MeasureCount>, Vec<Release>) {
    let mut places = BTreeMap::new();
    let mut measures = Vec::new();
    let mut first = 0;
    for (visit, measure) in part.measures.iter().enumerate() {
        if let Entry::Vacant(place) = places.entry(measure.page_index) {
            while part.notes.get(first).is_some_and(|note| note.end() < measure.onset) {
                first += 1;
            }
            place.insert(measures.len());
            measures.push(measure_count(part, visit, &part.notes[first..]));
        }
    }
    // The measure of the page that sounds at a point, and its count.
    let at = |point: Quarters| {
        let visit = part.measures.partition_point(|measure| measure.onset <= point).checked_sub(1)?;
        let measure = &part.measures[visit];
        Some((measure, &measures[*places.get(&measure.page_index)?]))
    };
    let is_counted = |note: &&Note| at(note.onset).is_some_and(|(_, counted)| counted.measure == note.measure);
    let release = |note: &Note| {
        let word = at(note.end()).filter(|_| note.followed_by == FollowedBy::Rest).and_then(|(measure, counted)| {
            let count = counted.counts.iter().find(|count| measure.onset + count.at == note.end())?;
            Some((counted.measure, count.spoken.clone()))
        });
        let beats = note.duration.in_beats(part.beat_unit(note));
        Release { note: note.index, on: word, beats, fermata: note.fermata }
    };
    let releases = part.notes.iter().filter(|note| is_released(note)).filter(is_counted).map(release).collect();
    (measures, releases)
}

/// Whether a note is to be held up to a point: silence follows, and it is no staccato.
fn is_released(note: &Note) -> bool {
    note.followed_by != FollowedBy::Note && !note.staccato
}

/// `notes` are those of the part that may still sound in the measure, or begin later.
fn measure_count(part: &Part, visit: usize, notes: &[Note]) -> MeasureCount {
    let measure = &part.measures[visit];
    let end = measure.onset + measure.duration;
    let here = notes.iter().take_while(|note| note.onset < end);
    let here: Vec<&Note> = here.filter(|note| note.end() >= measure.onset).collect();
    let counts = grid(measure, &here).into_iter().map(|(spoken, at)| {
        let now = measure.onset + at;
        // Where notes overlap (a MIDI file), the later one is heard.
        let sounding = here.iter().rev().find(|note| note.onset <= now && now < note.end());
        let state = match sounding {
            Some(note) if note.onset == now => State::Begins(note.index),
            Some(note) => State::Sounds(note.index),
            None => State::Rest,
        };
        let ended = here.iter().find(|note| note.end() == now && is_released(note));
        Count { spoken, at, state, releases: ended.map(|note| note.index) }
    });
    MeasureCount { measure: visit, counts: counts.collect() }
}

/// The words of a measure, each with its place.
fn grid(measure: &Measure, notes: &[&Note]) -> Vec<(String, Quarters)> {
    let beat = measure.meter.beat();
    let missing = measure.meter.measure() - measure.duration;
    // A pickup is the end of a full measure.
    let skipped =
        if measure.implicit && measure.onset.is_zero() && missing > Quarters::ZERO { missing } else { Quarters::ZERO };
    let beats_before = |at: Quarters| (at + skipped).in_beats(beat);
    let mut points: Vec<Quarters> = notes
        .iter()
        .flat_map(|note| [note.onset, note.end()])
        .filter(|&point| point >= measure.onset)
        .map(|point| point - measure.onset)
        .filter(|&point| point < measure.duration)
        .map(beats_before)
        .collect();
    points.sort();
    let last = beats_before(measure.duration);
    let first = beats_before(Quarters::ZERO);
    let is_compound = beat.numerator() == 3;
    let spans = floor(first)..ceiling(last).max(floor(first) + 1);
    let mut divisions: Vec<i64> = spans.clone().map(|number| division(&points, number, is_compound)).collect();
    // Halves (thirds in compound meters) anywhere: the whole measure is counted with them.
    let common = if is_compound { 3 } else { 2 };
    if divisions.iter().any(|division| division % common == 0 && (is_compound || division % 3 != 0)) {
        divisions.iter_mut().filter(|division| **division == 1).for_each(|division| *division = common);
    }
    let words = spans.zip(divisions).flat_map(|(number, division)| {
        (0..division)
            .map(move |place| (word(number + 1, place, division), Quarters::new(number * division + place, division)))
    });
    words
        .filter(|(_, place)| (first..last).contains(place))
        .map(|(word, place)| (word, (place - first).times(beat.numerator(), beat.denominator())))
        .collect()
}

/// Into how many parts a beat must be divided so that every point of it has a word.
fn division(points: &[Quarters], number: i64, is_compound: bool) -> i64 {
    let inside = points.iter().map(|&point| point - Quarters::new(number, 1));
    let inside: Vec<Quarters> =
        inside.filter(|&point| point >= Quarters::ZERO && point < Quarters::new(1, 1)).collect();
    let usual: &[i64] = if is_compound { &[1, 3, 6, 2, 4, 12] } else { &[1, 2, 4, 3, 6, 8] };
    let fits = |division: i64| inside.iter().all(|point| point.times(division, 1).denominator() == 1);
    usual.iter().copied().chain(1..=FINEST).find(|&division| fits(division)).unwrap_or(1)
}

/// The word for one part of a beat; the beats count from 1.
fn word(beat: i64, place: i64, division: i64) -> String {
    let words: &[&str] = match division {
        2 => &["&"],
        3 => &["la", "li"],
        4 => &["e", "&", "a"],
        6 => &["ta", "la", "ta", "li", "ta"],
        8 => &["·", "e", "·", "&", "·", "a", "·"],
        12 => &["·", "ta", "·", "la", "·", "ta", "·", "li", "·", "ta", "·"],
        _ => &[],
    };
    match place {
        0 => beat.to_string(),
        _ => words.get((place - 1) as usize).unwrap_or(&"·").to_string(),
    }
}

fn floor(value: Quarters) -> i64 {
    value.numerator().div_euclid(value.denominator())
}

fn ceiling(value: Quarters) -> i64 {
    -(-value.numerator()).div_euclid(value.denominator())
}
