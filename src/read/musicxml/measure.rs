//! One measure after the other: time, notes, attributes, signs.
//!
//! In: a measure of one part. Out: a [`RawMeasure`], in which everything that changes on the way (key,
//! transposition) has its place in time. Next is [`super::line`].

use super::super::error::shown;
use super::super::notices::Notices;
use super::super::{Choice, ReadError};
use super::clock::Clock;
use super::note::{self, RawNote};
use super::number::decimal;
use super::score::{MeasureSource, Score};
use super::tree::{child, child_text, elements, text_of, wrong};
use super::value::{notated, repaired};
use super::{attributes, direction, flow};
use crate::exercise::{Flow, Meter, Quarters, RepeatEnd};
use crate::theory::{Key, Transposition};
use roxmltree::Node;

/// A measure as it stands in the file.
pub(super) struct RawMeasure<'a> {
    /// Which measure of the file it is, from 0.
    pub(super) page: usize,
    /// Which piece of it, if a repeat sign divides it; else 0.
    pub(super) half: usize,
    pub(super) label: String,
    pub(super) implicit: bool,
    pub(super) duration: Quarters,
    pub(super) meter: Meter,
    /// (from, key), the first at 0.
    pub(super) keys: Vec<(Quarters, Key)>,
    /// (from, transposition), the first at 0.
    pub(super) shifts: Vec<(Quarters, Shift)>,
    /// All notes and rests, in the file's order.
    pub(super) notes: Vec<RawNote<'a>>,
    pub(super) tempos: Vec<TempoMark>,
    pub(super) signs: Signs,
}

/// What the barlines, sounds and directions of a measure say about the order of playing.
#[derive(Default)]
pub(super) struct Signs {
    pub(super) flow: Flow,
    /// Stands at its left barline but ends the measure before.
    pub(super) repeat_end_before: Option<RepeatEnd>,
    /// Stands at its left barline but ends an ending with the measure before.
    pub(super) ending_stop_before: bool,
    /// Stands at its right barline but begins the measure after.
    pub(super) after: Flow,
    /// A rehearsal letter or a double bar on its left.
    pub(super) phrase_here: bool,
    /// A double bar on its right.
    pub(super) phrase_after: bool,
}

/// A tempo of the score.
#[derive(Debug, Clone, Copy)]
pub(super) struct TempoMark {
    pub(super) at: Quarters,
    /// Microseconds a quarter.
    pub(super) micros: f64,
    /// From a `sound`: counts before a printed mark at the same place.
    pub(super) is_sound: bool,
    /// From the part itself: counts before one that stands in another part.
    pub(super) is_own: bool,
}

/// Transposition in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Shift {
    /// From `transpose`, octaves included; in a concert score only its octaves count.
    pub(super) transpose: Option<Transposition>,
    /// The octaves of `transpose`.
    pub(super) octaves: i8,
    /// From `for-part`: how the printed part of a concert score is transposed.
    pub(super) for_part: Option<Transposition>,
}

/// The first tone of the chord that may go on.
struct Chord {
    onset: Quarters,
    value: Quarters,
    /// What its type, dots and tuplet say.
    printed: Option<Quarters>,
}

/// Reads the measures of one part in order.
pub(super) struct PartReader {
    /// The staff that is judged: attributes of other staves are not its own.
    pub(super) staff: u8,
    pub(super) is_concert: bool,
    /// Only time and signs: another part than the chosen one.
    marks_only: bool,
    /// How long one division is; `None` before the file says.
    pub(super) division: Option<Quarters>,
    pub(super) key: Key,
    /// `None` without a meter: a whole-measure rest is then as long as it says.
    pub(super) meter: Option<Meter>,
    pub(super) shift: Shift,
    /// Measures read.
    page: usize,
    /// It was said that tones of a chord are made as long as its first.
    is_chord_evened: bool,
    notices: Notices,
}

impl PartReader {
    pub(super) fn new(score: &Score<'_, '_>, choice: &Choice, marks_only: bool) -> PartReader {
        PartReader {
            staff: choice.staff.unwrap_or(1),
            is_concert: score.is_concert,
            marks_only,
            division: None,
            key: Key::major(0),
            meter: None,
            shift: Shift::default(),
            page: 0,
            is_chord_evened: false,
            notices: Notices::default(),
        }
    }

    /// What was skipped or decided.
    pub(super) fn into_notices(self) -> Vec<String> {
        self.notices.into_list()
    }

    /// Says once what was skipped or decided.
    pub(super) fn notice(&mut self, notice: String) {
        self.notices.say(notice);
    }

    /// Reads a measure; one with a repeat sign in its middle becomes two of one label.
    pub(super) fn measure<'a>(&mut self, source: &MeasureSource<'a, '_>) -> Result<Vec<RawMeasure<'a>>, ReadError> {
        let mut done = Vec::new();
        let mut measure = self.begin(source, 0);
        let mut clock = Clock::new();
        let mut chord = Chord { onset: Quarters::ZERO, value: Quarters::ZERO, printed: None };
        for element in elements(source.content) {
            match element.tag_name().name() {
                "note" => self.note(element, &mut clock, &mut chord, &mut measure)?,
                "backup" => clock.back(self.span(element)?),
                "forward" => clock.forward(self.span(element)?).ok_or_else(|| too_long(element))?,
                "attributes" => attributes::read(self, element, clock.now(), &mut measure)?,
                "direction" => direction::read(self, element, clock.now(), &mut measure),
                "sound" => direction::sound(self, element, clock.now(), &mut measure),
                "barline" => {
                    flow::barline(element, &mut measure);
                    if flow::divides(element) && !clock.now().is_zero() {
                        if has_backup_after(element) {
                            let place = in_measure(element);
                            self.notice(format!(
                                "The repeat sign in the middle of {place} is read as if it stood at its end."
                            ));
                        } else {
                            let second = self.begin(source, measure.half + 1);
                            done.push(finished(std::mem::replace(&mut measure, second), &clock));
                            clock = Clock::new();
                        }
                    }
                }
                _ => {}
            }
        }
        done.push(finished(measure, &clock));
        self.page += 1;
        Ok(done)
    }

    fn begin<'a>(&self, source: &MeasureSource<'a, '_>, half: usize) -> RawMeasure<'a> {
        RawMeasure {
            page: self.page,
            half,
            label: source.measure.attribute("number").unwrap_or_default().to_owned(),
            implicit: source.measure.attribute("implicit") == Some("yes"),
            duration: Quarters::ZERO,
            meter: self.meter.unwrap_or(Meter::COMMON),
            keys: vec![(Quarters::ZERO, self.key)],
            shifts: vec![(Quarters::ZERO, self.shift)],
            notes: Vec::new(),
            tempos: Vec::new(),
            signs: Signs::default(),
        }
    }

    fn note<'a>(
        &mut self,
        element: Node<'a, '_>,
        clock: &mut Clock,
        chord: &mut Chord,
        measure: &mut RawMeasure<'a>,
    ) -> Result<(), ReadError> {
        let is_chord = child(element, "chord").is_some();
        let is_grace = child(element, "grace").is_some();
        let (counted, exact) = if is_grace { (Quarters::ZERO, Quarters::ZERO) } else { self.duration(element)? };
        let onset = if is_chord { chord.onset } else { clock.now() };
        if !is_chord && !is_grace {
            *chord = Chord { onset, value: exact, printed: notated(element) };
            clock.pass(counted, exact).ok_or_else(|| too_long(element))?;
        }
        let exact = if is_chord && !is_grace { self.value_in_chord(element, exact, chord) } else { exact };
        if !self.marks_only {
            let chord_of = measure.notes.last().filter(|_| is_chord);
            let note = note::read(self, element, onset, exact, chord_of)?;
            measure.notes.push(RawNote { is_chord, is_grace, ..note });
        }
        Ok(())
    }

    /// What a further tone of a chord lasts. It may be shorter than the first (MusicXML 4.0 `chord`), but not where both are
    /// printed alike: some programs leave dots and tuplets out of its duration.
    fn value_in_chord(&mut self, tone: Node<'_, '_>, exact: Quarters, chord: &Chord) -> Quarters {
        if exact == chord.value || chord.printed.is_none() || notated(tone) != chord.printed {
            return exact;
        }
        if !std::mem::replace(&mut self.is_chord_evened, true) {
            let place = in_measure(tone);
            self.notice(format!(
                "Notes of a chord are printed alike but the file makes some shorter or longer (first in {place}): all last as \
                 long as the first of their chord."
            ));
        }
        chord.value
    }

    /// The duration of a note as the file counts it, and exact.
    fn duration(&mut self, note: Node<'_, '_>) -> Result<(Quarters, Quarters), ReadError> {
        // A whole rest stands for a measure of any meter, whether or not the file marks it as one.
        let rest = child(note, "rest");
        let is_marked = rest.is_some_and(|rest| rest.attribute("measure") == Some("yes"));
        let is_plain = rest.is_some() && child(note, "dot").is_none();
        let is_whole = is_plain && matches!(child_text(note, "type"), None | Some("whole"));
        let longest = self.meter.filter(|_| is_marked || is_whole).map(Meter::measure);
        let Some(element) = child(note, "duration") else {
            let value = longest
                .filter(|_| is_marked)
                .or_else(|| notated(note))
                .ok_or_else(|| wrong(note, "a note has no duration"))?;
            self.notice(format!("A note without a duration in {} lasts what its type says.", in_measure(note)));
            return Ok((value, value));
        };
        let divisions = divisions(element)?;
        if self.division.is_none() {
            self.division_from_type(note, divisions)?;
        }
        let division = self.division.unwrap_or(Quarters::new(1, 1));
        let counted = scaled(divisions, division).ok_or_else(|| too_long(element))?;
        // The type of a marked one is always whole and says nothing.
        let exact = if is_marked { counted } else { repaired(note, counted, division) };
        match longest {
            Some(longest) if exact > longest => Ok((counted.min(longest), longest)),
            _ => Ok((counted, exact)),
        }
    }

    /// Where a file forgets its divisions, the first note with a type tells them.
    fn division_from_type(&mut self, note: Node<'_, '_>, divisions: Quarters) -> Result<(), ReadError> {
        let value = notated(note).filter(|_| !divisions.is_zero());
        let value =
            value.ok_or_else(|| wrong(note, "a duration comes before any <divisions>, so its length is not known"))?;
        self.division = Some(value.in_beats(divisions));
        self.notice(format!("The part gives no divisions; the first note, in {}, tells them.", in_measure(note)));
        Ok(())
    }

    /// The duration of a `backup` or `forward`.
    fn span(&self, element: Node<'_, '_>) -> Result<Quarters, ReadError> {
        let name = element.tag_name().name();
        let duration =
            child(element, "duration").ok_or_else(|| wrong(element, format!("a <{name}> has no duration")))?;
        let division =
            self.division.ok_or_else(|| wrong(element, format!("a <{name}> comes before any <divisions>")))?;
        scaled(divisions(duration)?, division).ok_or_else(|| too_long(element))
    }

    /// An `offset` in divisions.
    pub(super) fn offset(&self, element: Node<'_, '_>) -> Quarters {
        let divisions = decimal(text_of(element));
        divisions.and_then(|divisions| scaled(divisions, self.division?)).unwrap_or(Quarters::ZERO)
    }
}

fn finished<'a>(mut measure: RawMeasure<'a>, clock: &Clock) -> RawMeasure<'a> {
    measure.duration = clock.furthest();
    // A backup may have turned the order around; of two at one place the later in the file counts.
    measure.keys.sort_by_key(|&(from, _)| from);
    measure.shifts.sort_by_key(|&(from, _)| from);
    measure
}

/// Whether another voice of the measure is still to come, which cannot be divided here.
fn has_backup_after(element: Node<'_, '_>) -> bool {
    element.next_siblings().any(|later| later.has_tag_name("backup"))
}

/// The divisions of a `duration`: not negative.
fn divisions(element: Node<'_, '_>) -> Result<Quarters, ReadError> {
    let number = decimal(text_of(element)).filter(|number| *number >= Quarters::ZERO);
    number
        .ok_or_else(|| wrong(element, format!("a duration is \"{}\", not a number from 0 up", shown(text_of(element)))))
}

fn scaled(divisions: Quarters, division: Quarters) -> Option<Quarters> {
    let (top, bottom) = (divisions.numerator(), divisions.denominator());
    let top = top.checked_mul(division.numerator())?;
    let bottom = bottom.checked_mul(division.denominator())?;
    Some(Quarters::new(top, bottom)).filter(|span| span.is_in_range())
}

fn too_long(element: Node<'_, '_>) -> ReadError {
    wrong(element, "the durations are too long or too fine to be counted")
}

/// `measure 12`, for notices.
pub(super) fn in_measure(node: Node<'_, '_>) -> String {
    let measure = node.ancestors().find(|up| up.has_tag_name("measure"));
    format!("measure {}", measure.and_then(|measure| measure.attribute("number")).map(shown).unwrap_or_default())
}
