//! The spoken count: what is said in each measure, which counts sound, where each release falls.
//!
//! The words are those of many American bands (common practice, no source): the beats by number, `1 & 2 &` where a
//! measure has halves of beats, `1 e & a` in a beat that has quarters of it, `1 la li` where a beat has thirds: triplets
//! and compound meters, whose beat is the dotted note. In cut time the half note is the beat. A pickup is counted as the
//! end of a full measure.

use crate::exercise::{FollowedBy, Measure, Note, Part, Quarters};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BinaryHeap};
use std::ops::Range;

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
/// More beats than a measure of notation can have: 255 in a MIDI file.
const MOST_BEATS: i64 = 1_000;

/// Counts every measure of the page, and tells every release. Measures that are repeated stand there once.
pub fn count(part: &Part) -> (Vec<MeasureCount>, Vec<Release>) {
    let mut places = BTreeMap::new();
    let mut measures = Vec::new();
    // Notes that reach into the measure or end at its beginning, and the first that is not looked at yet.
    let mut here: Vec<&Note> = Vec::new();
    let mut next = 0;
    for (visit, measure) in part.measures.iter().enumerate() {
        if let Entry::Vacant(place) = places.entry(measure.page_index) {
            let end = measure.onset + measure.duration;
            let begun = part.notes[next..].partition_point(|note| note.onset < end);
            here.extend(&part.notes[next..next + begun]);
            next += begun;
            here.retain(|note| note.end() >= measure.onset);
            place.insert(measures.len());
            measures.push(measure_count(part, visit, &here));
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

/// `here` are the notes of the part that sound in the measure, or end at its beginning.
fn measure_count(part: &Part, visit: usize, here: &[&Note]) -> MeasureCount {
    let measure = &part.measures[visit];
    let mut ended: BTreeMap<Quarters, usize> = BTreeMap::new();
    for note in here.iter().filter(|note| is_released(note)) {
        ended.entry(note.end()).or_insert(note.index);
    }
    // Where notes overlap (a MIDI file), the later one is heard.
    let mut sounding: BinaryHeap<usize> = BinaryHeap::new();
    let mut coming = here.iter().peekable();
    let counts = grid(measure, here).into_iter().map(|(spoken, at)| {
        let now = measure.onset + at;
        while let Some(note) = coming.next_if(|note| note.onset <= now) {
            sounding.push(note.index);
        }
        while sounding.peek().is_some_and(|&note| part.notes[note].end() <= now) {
            sounding.pop();
        }
        let state = match sounding.peek() {
            Some(&note) if part.notes[note].onset == now => State::Begins(note),
            Some(&note) => State::Sounds(note),
            None => State::Rest,
        };
        Count { spoken, at, state, releases: ended.get(&now).copied() }
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
    let numbers = beats(floor(first)..ceiling(last).max(floor(first) + 1), &points);
    let mut divisions: Vec<i64> = numbers.iter().map(|&number| division(&points, number, is_compound)).collect();
    // Halves (thirds in compound meters) anywhere: the whole measure is counted with them.
    let common = if is_compound { 3 } else { 2 };
    if divisions.iter().any(|division| division % common == 0 && (is_compound || division % 3 != 0)) {
        divisions.iter_mut().filter(|division| **division == 1).for_each(|division| *division = common);
    }
    let words = numbers.into_iter().zip(divisions).flat_map(|(number, division)| {
        (0..division)
            .map(move |place| (word(number + 1, place, division), Quarters::new(number * division + place, division)))
    });
    words
        .filter(|(_, place)| (first..last).contains(place))
        .map(|(word, place)| (word, (place - first).times(beat.numerator(), beat.denominator())))
        .collect()
}

/// The beats that are counted, from 0: all, or of a measure that no band counts (a silence of hours in a MIDI file) those
/// in which something happens.
fn beats(all: Range<i64>, points: &[Quarters]) -> Vec<i64> {
    if all.end - all.start <= MOST_BEATS {
        return all.collect();
    }
    let mut numbers: Vec<i64> = std::iter::once(all.start).chain(points.iter().map(|&point| floor(point))).collect();
    numbers.dedup();
    numbers
}

/// Into how many parts a beat must be divided so that every point of it has a word.
fn division(points: &[Quarters], number: i64, is_compound: bool) -> i64 {
    // The points are in order.
    let from = |number: i64| points.partition_point(|&point| point < Quarters::new(number, 1));
    let inside = &points[from(number)..from(number + 1)];
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
