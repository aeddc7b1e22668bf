//! `measure`: attributes, directions, barlines, and the notes between them.

use super::super::beams::{Bracket, beams, brackets};
use super::super::marked::note_id;
use super::super::page::{Kind, Page, PageMeasure, Symbol, Tone};
use super::super::xml::Xml;
use super::super::{MarkedPart, WriteError};
use super::around;
use super::note::{self, Marks, Printed, in_divisions};
use crate::exercise::{Accidentals, Alteration, Measure, Meter};
use crate::instrument::Clef;
use crate::theory::{Key, Pitch, Transposition};
use std::collections::{BTreeMap, BTreeSet};

/// Writes the measures of one part in order.
pub(super) struct PartWriter<'a> {
    marked: &'a MarkedPart<'a>,
    page: &'a Page<'a>,
    divisions: i64,
    /// Before each identifier.
    prefix: String,
    courtesy: BTreeSet<usize>,
    releases: BTreeMap<usize, &'a str>,
    /// The last note on the page, which no slur leaves.
    last: Option<usize>,
    /// Shapes written of each note.
    shapes: BTreeMap<usize, usize>,
    key: Option<Key>,
    meter: Option<Meter>,
    transposition: Transposition,
    accidentals: Accidentals,
    /// A slur is open.
    in_slur: bool,
    /// The passes of the ending that is open.
    ending: String,
}

impl<'a> PartWriter<'a> {
    pub(super) fn new(
        marked: &'a MarkedPart<'a>,
        page: &'a Page<'a>,
        divisions: i64,
        prefix: String,
    ) -> PartWriter<'a> {
        PartWriter {
            marked,
            page,
            divisions,
            prefix,
            courtesy: page.printed(marked.courtesy.iter().copied()).collect(),
            releases: marked.releases_by_note(page),
            last: page.last_note(),
            shapes: BTreeMap::new(),
            key: None,
            meter: None,
            transposition: marked.part.transposition.unwrap_or_default(),
            accidentals: Accidentals::default(),
            in_slur: false,
            ending: String::new(),
        }
    }

    pub(super) fn write(mut self, xml: &mut Xml) -> Result<(), WriteError> {
        let mut outcome = Ok(());
        let page = self.page;
        for (index, measure) in page.measures.iter().enumerate() {
            let mut attributes = vec![("number", measure.measure.label.as_str())];
            if measure.measure.implicit {
                attributes.push(("implicit", "yes"));
            }
            xml.element("measure", &attributes, |xml| {
                let written = self.measure(xml, measure, index);
                if outcome.is_ok() {
                    outcome = written;
                }
            });
        }
        outcome
    }

    fn measure(&mut self, xml: &mut Xml, page: &PageMeasure<'a>, index: usize) -> Result<(), WriteError> {
        let missing = page.missing(index);
        let (beams, brackets) = (beams(&page.symbols, page.measure.meter, missing), brackets(&page.symbols, missing));
        let next = self.page.measures.get(index + 1);
        self.accidentals = Accidentals::default();
        if let Some(ending) = page.flow.and_then(|flow| flow.ending_start.as_ref()) {
            self.ending = around::passes(&ending.passes);
        }
        around::left_barline(xml, page, &self.ending);
        self.attributes(xml, page.measure, index == 0);
        if let Some(flow) = page.flow {
            around::signs_at_start(xml, flow);
        }
        let mut tempos = page.tempos.iter().peekable();
        for (place, symbol) in page.symbols.iter().enumerate() {
            while let Some(&&(at, tempo)) = tempos.peek().filter(|(at, _)| *at < symbol.onset + symbol.value) {
                let offset = in_divisions(at - symbol.onset, self.divisions);
                around::write_tempo(xml, tempo, page.measure.meter, offset);
                tempos.next();
            }
            let bracket = brackets.get(place).copied().unwrap_or_default();
            match &symbol.kind {
                Kind::MeasureRest => note::rest(xml, None, true, in_divisions(symbol.value, self.divisions), bracket),
                Kind::Rest if symbol.shape.is_none() => {
                    xml.element("forward", &[], |xml| {
                        xml.text("duration", &[], in_divisions(symbol.value, self.divisions));
                    });
                }
                Kind::Rest => note::rest(xml, symbol.shape, false, in_divisions(symbol.value, self.divisions), bracket),
                Kind::Tone(tone) => {
                    let beams = beams.get(place).map_or(&[][..], Vec::as_slice);
                    self.tone(xml, page.measure, symbol, tone, (beams, bracket))?;
                }
            }
        }
        if let Some(flow) = page.flow {
            around::signs_at_end(xml, flow, self.page);
        }
        around::right_barline(xml, page, next.is_none(), &self.ending);
        Ok(())
    }

    fn attributes(&mut self, xml: &mut Xml, measure: &Measure, is_first: bool) {
        let (is_new_key, is_new_meter) = (self.key != Some(measure.key), self.meter != Some(measure.meter));
        (self.key, self.meter) = (Some(measure.key), Some(measure.meter));
        if !is_new_key && !is_new_meter {
            return;
        }
        xml.element("attributes", &[], |xml| {
            if is_first {
                xml.text("divisions", &[], self.divisions);
            }
            if is_new_key {
                around::write_key(xml, measure.key);
            }
            if is_new_meter {
                xml.element("time", &[], |xml| {
                    xml.text("beats", &[], measure.meter.count);
                    xml.text("beat-type", &[], measure.meter.unit);
                });
            }
            if is_first {
                let (sign, line) = if self.marked.clef() == Clef::Bass { ("F", 4) } else { ("G", 2) };
                xml.element("clef", &[], |xml| {
                    xml.text("sign", &[], sign);
                    xml.text("line", &[], line);
                });
                let own = self.marked.part.transposition.unwrap_or_default();
                if own != Transposition::default() {
                    around::write_transposition(xml, own);
                }
            }
        });
    }

    /// A note: what changes before it, its grace notes, itself, the lower tones of its chord.
    fn tone(
        &mut self,
        xml: &mut Xml,
        measure: &Measure,
        symbol: &Symbol<'_>,
        tone: &Tone<'_>,
        (beams, bracket): (&[&'static str], Bracket),
    ) -> Result<(), WriteError> {
        let note = tone.note;
        if !tone.from_tie {
            self.changes(xml, tone);
        }
        let (chord, graces) = tone.spelled(self.marked, measure)?;
        if !tone.from_tie {
            for pitch in graces {
                let accidental = self.accidental(pitch, note.key, false);
                note::grace(xml, pitch, accidental);
            }
        }
        let mut accidental = Printed::Not;
        if !tone.from_tie {
            accidental = self.accidental(note.written, note.key, note.alteration == Alteration::Printed);
            if accidental == Printed::Not && self.courtesy.contains(&note.index) {
                accidental = Printed::InParentheses;
            }
        }
        let slur_stops = tone.is_last && self.in_slur && (!note.slurred || Some(note.index) == self.last);
        let slur_starts = !tone.from_tie && !self.in_slur && note.slurred && Some(note.index) != self.last;
        self.in_slur = (self.in_slur || slur_starts) && !slur_stops;
        let marks = Marks {
            id: self.id(note.index),
            beams,
            bracket,
            slur_starts,
            slur_stops,
            release: self.releases.get(&note.index).copied().filter(|_| tone.is_last),
        };
        let duration = in_divisions(symbol.value, self.divisions);
        note::tone(xml, tone, symbol, (note.written, accidental), duration, Some(&marks));
        for pitch in chord {
            let accidental = if tone.from_tie { Printed::Not } else { self.accidental(pitch, note.key, false) };
            note::tone(xml, tone, symbol, (pitch, accidental), duration, None);
        }
        Ok(())
    }

    /// Key and transposition where a note has others than those in force.
    fn changes(&mut self, xml: &mut Xml, tone: &Tone<'_>) {
        let key = Some(tone.note.key).filter(|key| self.key != Some(*key));
        let chromatic = i16::from(tone.note.sounding) - tone.note.written.midi();
        let is_other = i16::from(self.transposition.chromatic) != chromatic;
        if key.is_none() && !is_other {
            return;
        }
        if let Some(key) = key {
            self.key = Some(key);
            self.accidentals = Accidentals::default();
        }
        if is_other {
            let own = self.marked.part.transposition.unwrap_or_default();
            let is_own = i16::from(own.chromatic) == chromatic;
            self.transposition = if is_own { own } else { Transposition::usual(chromatic as i8) };
        }
        xml.element("attributes", &[], |xml| {
            if let Some(key) = key {
                around::write_key(xml, key);
            }
            if is_other {
                around::write_transposition(xml, self.transposition);
            }
        });
    }

    /// Whether a tone shows its accidental.
    fn accidental(&mut self, pitch: Pitch, key: Key, is_printed: bool) -> Printed {
        match self.accidentals.source(pitch, key, is_printed, false) {
            Alteration::Printed => Printed::Plain,
            Alteration::Signature | Alteration::Carried => Printed::Not,
        }
    }

    /// The identifier of the next shape of a note.
    fn id(&mut self, note: usize) -> String {
        let printed = self.page.printed_as.get(note).copied().unwrap_or(note);
        let count = self.shapes.entry(printed).or_insert(0);
        *count += 1;
        let piece = if *count > 1 { format!("-{count}") } else { String::new() };
        format!("{}{}{piece}", self.prefix, note_id(printed))
    }
}
