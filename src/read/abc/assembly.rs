//! Items to measures: time, chords, ties, slurs, marks; what bar lines and decorations say about the order of playing.
//!
//! In: the items of a voice and their values. Out: [`Page`]. Next is [`super::signs`].

use super::items::{Bar, Item, Tempo, Time, What};
use super::key::Signature;
use super::lines::At;
use super::marks::Mark;
use super::pitch::{Carried, Tuning};
use super::sounds::mark_slurs;
use super::staff::Staff;
use super::tune::{Reach, Start};
use super::wrong;
use crate::exercise::{Ending, Flow, MOST_MEASURES, Meter, Quarters, RepeatEnd, WrittenMeasure};
use crate::read::ReadError;

/// A voice on the page.
#[derive(Default)]
pub(super) struct Page {
    pub(super) measures: Vec<WrittenMeasure>,
    /// For each measure what numbers and repeats depend on.
    pub(super) edges: Vec<Edge>,
    /// Coda signs: the measure before the sign, the measure from it on.
    pub(super) codas: Vec<(usize, usize)>,
    /// The sections with the measure where each begins.
    pub(super) sections: Vec<(String, usize)>,
}

/// What is known of a measure besides its music.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Where it begins in the file.
    pub(super) at: At,
    /// Its meter; `None` where there is none.
    pub(super) meter: Option<Meter>,
    /// What ends it is no plain bar line: the next may be its second half.
    pub(super) may_be_divided: bool,
    /// It ends with a double bar.
    pub(super) ends_double: bool,
    /// A number that the file gives it.
    pub(super) number: Option<u32>,
}

/// Marks for the next note.
#[derive(Default)]
pub(super) struct Marks {
    pub(super) staccato: bool,
    pub(super) fermata: bool,
    pub(super) breath: bool,
    /// Signs of the order of playing.
    pub(super) signs: Vec<Mark>,
}

/// Puts measures together.
pub(super) struct Assembly {
    pub(super) page: Page,
    pub(super) tuning: Tuning,
    pub(super) reach: Reach,
    unit: Quarters,
    time: Time,
    pub(super) key: Signature,
    pub(super) staff: Staff,
    /// The measure being filled, and how far it is.
    pub(super) open: WrittenMeasure,
    edge: Edge,
    pub(super) now: Quarters,
    pub(super) carried: Carried,
    pub(super) marks: Marks,
    pub(super) graces: Vec<u8>,
    pub(super) chord: u32,
    in_ending: bool,
    /// Where slurs that are open began, and all slurs as (from, to), in notes of the line.
    slurs_open: Vec<usize>,
    slurs: Vec<(usize, usize)>,
    pub(super) lines: usize,
}

impl Assembly {
    /// The page of a voice: its items and their values.
    pub(super) fn page(
        items: &[Item],
        values: &[Quarters],
        start: &Start,
        staff: Staff,
        tuning: Tuning,
        reach: Reach,
    ) -> Result<Page, ReadError> {
        let at = items.first().map_or(At { line: 1, column: 1 }, |item| item.at);
        let mut assembly = Assembly {
            page: Page::default(),
            tuning,
            reach,
            unit: start.unit,
            time: start.time,
            key: start.key,
            staff,
            open: empty_measure(),
            edge: Edge { at, meter: None, may_be_divided: false, ends_double: false, number: None },
            now: Quarters::ZERO,
            carried: Carried::default(),
            marks: Marks::default(),
            graces: Vec::new(),
            chord: 0,
            in_ending: false,
            slurs_open: Vec::new(),
            slurs: Vec::new(),
            lines: 0,
        };
        assembly.begin();
        if let Some(tempo) = start.tempo {
            assembly.tempo(tempo);
        }
        for (item, &value) in items.iter().zip(values) {
            if assembly.now.is_zero() {
                assembly.edge.at = item.at;
            }
            assembly.item(item, value)?;
        }
        Ok(assembly.finished())
    }

    fn item(&mut self, item: &Item, value: Quarters) -> Result<(), ReadError> {
        match &item.what {
            What::Sound { first, others, .. } => self.sound(item.at, first, others, value)?,
            What::Rest(_) => {
                self.signs_here();
                self.breath_before();
                self.marks = Marks::default();
                self.carried.tied(Vec::new());
                self.pass(item.at, value)?;
            }
            What::MeasureRests(count) => self.measure_rests(item.at, *count)?,
            What::Graces(heads) => {
                for head in heads {
                    let (grace, _) = self.tone(item.at, head)?;
                    self.graces.push(grace.sounding);
                }
            }
            What::Spacer => {
                self.signs_here();
                self.breath_before();
            }
            What::Bar(bar) => self.bar(item.at, *bar)?,
            What::Ending(passes) => {
                self.divide()?;
                self.close_ending();
                self.open.flow.ending_start = Some(Ending { passes: passes.clone(), only_then: true });
                self.in_ending = true;
            }
            What::SlurStart => self.slurs_open.push(self.lines),
            What::SlurEnd => self.slurs.extend(self.slurs_open.pop().map(|from| (from, self.lines))),
            What::Mark(mark) => self.mark(*mark),
            What::Key(key) => {
                self.key = *key;
                self.carried.forget();
                self.begin();
            }
            What::Staff(staff) => self.staff = *staff,
            What::Meter(time) => {
                self.time = *time;
                self.begin();
            }
            What::Unit(unit) => self.unit = *unit,
            What::Tempo(tempo) => self.tempo(*tempo),
            What::Section(name) => {
                self.divide()?;
                self.open.phrase_start = true;
                if !name.is_empty() {
                    self.page.sections.push((name.clone(), self.page.measures.len()));
                }
            }
            What::Number(number) if self.now.is_zero() => self.edge.number = Some(*number),
            What::Number(_) | What::Tuplet { .. } | What::Broken(_) | What::Overlay(_) => {}
        }
        Ok(())
    }

    /// What is in force where a measure begins.
    fn begin(&mut self) {
        if !self.now.is_zero() {
            return;
        }
        self.open.key = self.tuning.key(self.key.key);
        self.edge.meter = match self.time {
            Time::Of(meter) => Some(meter),
            Time::Free => None,
        };
        self.open.meter = self.edge.meter.unwrap_or(Meter::COMMON);
    }

    fn tempo(&mut self, tempo: Tempo) {
        let beat = tempo.beat.unwrap_or_else(|| self.unit.times(i64::from(tempo.units), 1));
        let micros = 60_000_000.0 / (tempo.per_minute * beat.to_f64());
        // As for MusicXML: from one to ten thousand quarters a minute.
        if (6_000.0..=60_000_000.0).contains(&micros) {
            self.open.tempos.push((self.now, micros));
        }
    }

    /// Time passes.
    pub(super) fn pass(&mut self, at: At, value: Quarters) -> Result<(), ReadError> {
        self.now = self
            .now
            .checked_add(value)
            .ok_or_else(|| wrong(at, "this measure is too long to be counted: write its bar lines"))?;
        Ok(())
    }

    fn measure_rests(&mut self, at: At, count: u32) -> Result<(), ReadError> {
        self.divide()?;
        self.signs_here();
        self.breath_before();
        self.carried.tied(Vec::new());
        for rest in 0..count {
            if rest > 0 {
                self.close()?;
            }
            self.pass(at, self.open.meter.measure())?;
        }
        Ok(())
    }

    /// Ends the measure here although no bar line stands here: its second half follows.
    fn divide(&mut self) -> Result<(), ReadError> {
        if !self.now.is_zero() {
            self.close()?;
            if let Some(edge) = self.page.edges.last_mut() {
                edge.may_be_divided = true;
            }
        }
        Ok(())
    }

    fn bar(&mut self, at: At, bar: Bar) -> Result<(), ReadError> {
        if !self.now.is_zero() {
            self.close()?;
        }
        self.breath_before();
        self.signs_at_bar();
        self.marks = Marks::default();
        self.carried.forget();
        self.edge.at = at;
        let divides = bar.times > 0 || bar.starts || bar.is_double;
        if divides {
            self.close_ending();
        }
        if let (Some(last), Some(edge)) = (self.page.measures.last_mut(), self.page.edges.last_mut()) {
            if bar.times > 0 {
                let times = bar.times.max(last.flow.repeat_end.map_or(0, |end| end.times));
                last.flow.repeat_end = Some(RepeatEnd { times, after_jump: false });
            }
            edge.ends_double |= bar.is_double;
            edge.may_be_divided |= divides || bar.is_editorial;
        }
        self.open.flow.repeat_start |= bar.starts;
        self.open.phrase_start |= divides;
        Ok(())
    }

    /// An ending that is open ends with the measure before.
    fn close_ending(&mut self) {
        if std::mem::take(&mut self.in_ending)
            && let Some(last) = self.page.measures.last_mut()
        {
            last.flow.ending_stop = true;
        }
    }

    /// The open measure is done.
    fn close(&mut self) -> Result<(), ReadError> {
        if self.page.measures.len() >= MOST_MEASURES {
            return Err(ReadError::TooLong);
        }
        let mut done = std::mem::replace(&mut self.open, empty_measure());
        done.duration = std::mem::replace(&mut self.now, Quarters::ZERO);
        done.trailing_graces = std::mem::take(&mut self.graces);
        self.page.measures.push(done);
        let edge = Edge { may_be_divided: false, ends_double: false, number: None, ..self.edge };
        self.page.edges.push(std::mem::replace(&mut self.edge, edge));
        self.chord = 0;
        self.begin();
        Ok(())
    }

    fn finished(mut self) -> Page {
        if !self.now.is_zero() && self.close().is_err() {
            return self.page;
        }
        self.signs_at_bar();
        self.close_ending();
        if let Some(last) = self.page.measures.last_mut() {
            last.trailing_graces.append(&mut self.graces);
        }
        mark_slurs(&mut self.page.measures, &self.slurs, self.lines);
        self.page
    }
}

fn empty_measure() -> WrittenMeasure {
    WrittenMeasure {
        label: String::new(),
        duration: Quarters::ZERO,
        meter: Meter::COMMON,
        key: Signature::default().key,
        implicit: false,
        phrase_start: false,
        notes: Vec::new(),
        trailing_graces: Vec::new(),
        tempos: Vec::new(),
        flow: Flow::default(),
    }
}
