//! A part as it stands on the page: printed measures with their notes and rests in printed shapes.
//!
//! In: a [`Part`] in performed order. Out: [`Page`], which [`super::musicxml()`] and [`super::abc`] write down. Repeats and
//! jumps are printed as signs where these play out to the same order; otherwise everything is written as performed.

use super::shape::{Grid, Shape};
use super::spans::Spans;
use super::{MarkedPart, WriteError};
use crate::exercise::{Flow, Measure, Note, Part, Quarters, performed_order};
use crate::theory::Pitch;
use std::collections::{HashMap, HashSet};

/// Octaves that can be written (MusicXML 4.0 `octave`).
const OCTAVES: std::ops::RangeInclusive<i8> = 0..=9;

/// The measures to print.
pub(super) struct Page<'a> {
    pub(super) measures: Vec<PageMeasure<'a>>,
    /// For each note of the part the index of the note that is printed for it: its own, or that of an earlier pass.
    pub(super) printed_as: Vec<usize>,
}

/// One printed measure.
pub(super) struct PageMeasure<'a> {
    pub(super) measure: &'a Measure,
    /// Repeats, endings and jumps; `None` where they are played out.
    pub(super) flow: Option<&'a Flow>,
    /// A double bar on its left, where no other sign says that a phrase begins.
    pub(super) double_bar: bool,
    /// (from the start of the measure, microseconds a quarter).
    pub(super) tempos: Vec<(Quarters, f64)>,
    pub(super) symbols: Vec<Symbol<'a>>,
}

impl PageMeasure<'_> {
    /// What is missing before the first note of a pickup, which a short first measure is, so that beats are counted from
    /// the barline.
    pub(super) fn missing(&self, index: usize) -> Quarters {
        let missing = self.measure.meter.measure() - self.measure.duration;
        if index == 0 && missing > Quarters::ZERO { missing } else { Quarters::ZERO }
    }
}

/// A note or rest in one shape.
pub(super) struct Symbol<'a> {
    /// From the start of the measure.
    pub(super) onset: Quarters,
    pub(super) value: Quarters,
    /// `None`: no shape lasts so long.
    pub(super) shape: Option<Shape>,
    pub(super) kind: Kind<'a>,
}

pub(super) enum Kind<'a> {
    Rest,
    /// A rest that fills its measure, whatever the meter.
    MeasureRest,
    Tone(Tone<'a>),
}

/// One shape of a note.
pub(super) struct Tone<'a> {
    pub(super) note: &'a Note,
    /// Other notes of the part that begin together with it, sounding: one line can only print a chord.
    pub(super) also: &'a [u8],
    pub(super) from_tie: bool,
    /// Tied on, in whichever pass.
    pub(super) to_tie: bool,
    /// The note ends with this shape.
    pub(super) is_last: bool,
}

impl Tone<'_> {
    /// The lower tones of its chord and the grace notes before it as they are written; an error where one of them or the note
    /// itself is too low or too high.
    pub(super) fn spelled(
        &self,
        marked: &MarkedPart<'_>,
        measure: &Measure,
    ) -> Result<(Vec<Pitch>, Vec<Pitch>), WriteError> {
        let note = self.note;
        let chromatic = i16::from(note.sounding) - note.written.midi();
        let written = |midi: &u8| Pitch::spelled_in(i16::from(*midi) - chromatic, note.key);
        let chord: Vec<Pitch> = note.chord.iter().chain(self.also).map(written).collect();
        let graces: Vec<Pitch> = note.graces.iter().map(written).collect();
        let is_off = |pitch: &&Pitch| !OCTAVES.contains(&pitch.octave);
        match [note.written].iter().chain(&chord).chain(&graces).find(is_off) {
            None => Ok((chord, graces)),
            Some(pitch) => Err(WriteError::OutOfReach {
                part: marked.part.name.id.clone(),
                measure: measure.label.clone(),
                pitch: pitch.to_string(),
            }),
        }
    }
}

impl<'a> Page<'a> {
    /// Repeats and jumps as signs, if these are known.
    pub(super) fn new(part: &'a Part, spans: &'a Spans) -> Page<'a> {
        Page::with(part, spans, page_visits(part))
    }

    /// Everything as performed, without signs.
    pub(super) fn played_out(part: &'a Part, spans: &'a Spans) -> Page<'a> {
        Page::with(part, spans, None)
    }

    fn with(part: &'a Part, spans: &'a Spans, visits: Option<Vec<usize>>) -> Page<'a> {
        let has_signs = visits.is_some();
        let tied_on = if has_signs { tied_on(part, spans) } else { HashSet::new() };
        let visits = visits.unwrap_or_else(|| (0..part.measures.len()).collect());
        let mut measures: Vec<PageMeasure<'a>> = Vec::with_capacity(visits.len());
        let mut tempo = None;
        for visit in visits {
            let Some(measure) = part.measures.get(visit) else { continue };
            let mut page = PageMeasure {
                measure,
                flow: has_signs.then_some(&measure.flow),
                double_bar: measure.phrase_start && !is_implied(part, visit, measures.last(), has_signs),
                tempos: tempos(part, measure, measures.is_empty()),
                symbols: Vec::new(),
            };
            let missing = page.missing(measures.len());
            page.symbols = symbols(part, spans, measure, missing, &tied_on);
            // What holds already, as after a jump, is not printed again.
            page.tempos.retain(|&(_, new)| tempo.replace(new) != Some(new));
            measures.push(page);
        }
        Page { measures, printed_as: printed_as(part, has_signs) }
    }

    /// The notes and what is printed for them: a mark of a later pass stands where the first pass is printed.
    pub(super) fn printed(&self, notes: impl Iterator<Item = usize>) -> impl Iterator<Item = usize> {
        notes.flat_map(|note| [note, self.printed_as.get(note).copied().unwrap_or(note)])
    }

    /// The index of the last note on the page.
    pub(super) fn last_note(&self) -> Option<usize> {
        let mut symbols = self.measures.iter().rev().flat_map(|measure| measure.symbols.iter().rev());
        symbols.find_map(|symbol| match &symbol.kind {
            Kind::Tone(tone) => Some(tone.note.index),
            Kind::Rest | Kind::MeasureRest => None,
        })
    }
}

/// The visits in which each measure of the page is played first, in the order of the page; `None` if the signs that are
/// known do not play out to the order in which the part is performed.
fn page_visits(part: &Part) -> Option<Vec<usize>> {
    let mut first: Vec<Option<usize>> = Vec::new();
    for (visit, measure) in part.measures.iter().enumerate() {
        // A page longer than its performance has measures that are never played, so that their signs are not known.
        if measure.page_index >= part.measures.len() {
            return None;
        }
        first.resize(first.len().max(measure.page_index + 1), None);
        first[measure.page_index].get_or_insert(visit);
    }
    let visits: Vec<usize> = first.into_iter().collect::<Option<_>>()?;
    let flows: Vec<&Flow> = visits.iter().map(|&visit| &part.measures[visit].flow).collect();
    let order = performed_order(&flows).ok()?;
    order.iter().eq(part.measures.iter().map(|measure| &measure.page_index)).then_some(visits)
}

/// The places of the page (measure, onset in it) where a shape is tied on, in whichever pass.
fn tied_on(part: &Part, spans: &Spans) -> HashSet<(usize, Quarters)> {
    let mut places = HashSet::new();
    for measure in &part.measures {
        let end = measure.onset + measure.duration;
        for span in spans.between(measure.onset, end).iter().filter(|span| span.end > end) {
            places.insert((measure.page_index, end - span.onset.max(measure.onset)));
        }
    }
    places
}

/// Whether something else than a double bar says that a phrase begins.
fn is_implied(part: &Part, visit: usize, before: Option<&PageMeasure<'_>>, has_signs: bool) -> bool {
    let Some(before) = before else { return true };
    let rested = !before.symbols.iter().any(|symbol| matches!(symbol.kind, Kind::Tone(_)));
    let Some(measure) = part.measures.get(visit).filter(|_| has_signs) else { return rested };
    let flow = &measure.flow;
    let from_elsewhere =
        visit.checked_sub(1).and_then(|before| part.measures.get(before)).map(|before| before.page_index + 1)
            != Some(measure.page_index);
    rested
        || from_elsewhere
        || flow.repeat_start
        || flow.segno.is_some()
        || flow.coda.is_some()
        || before.measure.flow.repeat_end.is_some()
}

fn tempos(part: &Part, measure: &Measure, is_first: bool) -> Vec<(Quarters, f64)> {
    if !part.tempo_given {
        return Vec::new();
    }
    let end = measure.onset + measure.duration;
    let steps = part.tempo.steps();
    let inside = steps.iter().filter(|(at, _)| *at >= measure.onset && *at < end);
    let mut tempos: Vec<(Quarters, f64)> = inside.map(|&(at, tempo)| (at - measure.onset, tempo)).collect();
    // What is said before the beginning holds at the beginning.
    if is_first && tempos.first().is_none_or(|(at, _)| !at.is_zero()) && steps.iter().any(|(at, _)| *at < measure.onset)
    {
        tempos.insert(0, (Quarters::ZERO, part.tempo.micros_per_quarter(measure.onset)));
    }
    tempos
}

fn symbols<'a>(
    part: &'a Part,
    spans: &'a Spans,
    measure: &'a Measure,
    missing: Quarters,
    tied_on: &HashSet<(usize, Quarters)>,
) -> Vec<Symbol<'a>> {
    let end = measure.onset + measure.duration;
    let here = spans.between(measure.onset, end);
    if here.is_empty() && measure.duration <= measure.meter.measure() {
        let rest = Symbol { onset: Quarters::ZERO, value: measure.duration, shape: None, kind: Kind::MeasureRest };
        return if measure.duration.is_zero() { Vec::new() } else { vec![rest] };
    }
    let grid = Grid::new(measure.meter);
    let mut symbols = Vec::new();
    let mut at = Quarters::ZERO;
    let rests = |from: Quarters, to: Quarters, symbols: &mut Vec<Symbol<'a>>| {
        let mut onset = from;
        for (value, shape) in grid.rest(missing + from, missing + to) {
            symbols.push(Symbol { onset, value, shape, kind: Kind::Rest });
            onset += value;
        }
    };
    for span in here {
        let Some(note) = part.notes.get(span.note) else { continue };
        let (from, to) = (span.onset.max(measure.onset), span.end.min(end));
        if from - measure.onset > at {
            rests(at, from - measure.onset, &mut symbols);
        }
        let goes_on = span.end > end || tied_on.contains(&(measure.page_index, end - from));
        let cuts = note.ties.iter().map(|&tie| span.onset + tie).filter(|&tie| tie > from && tie < to);
        let cuts: Vec<Quarters> = [from].into_iter().chain(cuts).chain([to]).collect();
        let local = |at: Quarters| missing + (at - measure.onset);
        let shapes = cuts.windows(2).flat_map(|cut| grid.note(local(cut[0]), local(cut[1])));
        let mut onset = from;
        for (value, shape) in shapes {
            let kind = Kind::Tone(Tone {
                note,
                also: &span.also,
                from_tie: onset > span.onset,
                to_tie: onset + value < to || goes_on,
                is_last: onset + value == span.end,
            });
            symbols.push(Symbol { onset: onset - measure.onset, value, shape, kind });
            onset += value;
        }
        at = to - measure.onset;
    }
    if at < measure.duration {
        rests(at, measure.duration, &mut symbols);
    }
    symbols
}

/// For each note the one that is printed for it.
fn printed_as(part: &Part, has_signs: bool) -> Vec<usize> {
    let mut first: HashMap<(usize, Quarters), usize> = HashMap::new();
    let place = |note: &Note| {
        let measure = part.measures.get(note.measure)?;
        Some((measure.page_index, note.onset - measure.onset))
    };
    let printed = |note: &Note| match place(note).filter(|_| has_signs) {
        Some(place) => *first.entry(place).or_insert(note.index),
        None => note.index,
    };
    part.notes.iter().map(printed).collect()
}
