//! `measure`: attributes, directions, barlines, and the notes between them.

use super::super::beams::{Bracket, beams, brackets};
use super::super::marked::note_id;
use super::super::page::{Kind, Page, PageMeasure, Symbol, Tone};
use super::super::shape::Shape;
use super::super::xml::Xml;
use super::super::{MarkedPart, WriteError};
use super::note::{self, Marks, Printed, in_divisions, type_name};
use crate::exercise::{Accidentals, Alteration, Flow, Measure, Meter};
use crate::instrument::Clef;
use crate::theory::{Key, Mode, Pitch, Transposition};
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
        // A mark of a later pass stands where the first pass is printed.
        let printed = |index: &usize| page.printed_as.get(*index).copied().unwrap_or(*index);
        let courtesy = marked.courtesy.iter().flat_map(|index| [*index, printed(index)]).collect();
        let mut releases = BTreeMap::new();
        for (index, text) in &marked.releases {
            releases.entry(*index).or_insert(text.as_str());
            releases.entry(printed(index)).or_insert(text.as_str());
        }
        PartWriter {
            marked,
            page,
            divisions,
            prefix,
            courtesy,
            releases,
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
            self.ending = passes(&ending.passes);
        }
        left_barline(xml, page, &self.ending);
        self.attributes(xml, page.measure, index == 0);
        if let Some(flow) = page.flow {
            signs_at_start(xml, flow);
        }
        let mut tempos = page.tempos.iter().peekable();
        for (place, symbol) in page.symbols.iter().enumerate() {
            while let Some(&&(at, tempo)) = tempos.peek().filter(|(at, _)| *at < symbol.onset + symbol.value) {
                let offset = in_divisions(at - symbol.onset, self.divisions);
                write_tempo(xml, tempo, page.measure.meter, offset);
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
                    let after = page.symbols.get(place + 1..).unwrap_or_default();
                    let has_next = after.iter().chain(next.into_iter().flat_map(|next| &next.symbols)).next();
                    let is_followed = has_next.is_some_and(|next| matches!(next.kind, Kind::Tone(_)));
                    self.tone(xml, page.measure, symbol, tone, (beams, bracket, is_followed))?;
                }
            }
        }
        if let Some(flow) = page.flow {
            signs_at_end(xml, flow, self.page);
        }
        right_barline(xml, page, next.is_none(), &self.ending);
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
                write_key(xml, measure.key);
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
                    write_transposition(xml, own);
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
        (beams, bracket, is_followed): (&[&'static str], Bracket, bool),
    ) -> Result<(), WriteError> {
        let note = tone.note;
        if !tone.from_tie {
            self.changes(xml, tone);
        }
        let written = |midi: u8| Pitch::spelled_in(i16::from(midi) - i16::from(self.transposition.chromatic), note.key);
        let chord: Vec<Pitch> = note.chord.iter().chain(tone.also).map(|&midi| written(midi)).collect();
        let graces: Vec<Pitch> = note.graces.iter().map(|&midi| written(midi)).collect();
        let low_or_high = |pitch: &&Pitch| !(0..=9).contains(&pitch.octave);
        if let Some(pitch) = [note.written].iter().chain(&chord).chain(&graces).find(low_or_high) {
            return Err(WriteError::OutOfReach {
                part: self.marked.part.name.id.clone(),
                measure: measure.label.clone(),
                pitch: pitch.to_string(),
            });
        }
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
        let slur_stops = tone.is_last && self.in_slur && !note.slurred;
        let slur_starts = !tone.from_tie && !self.in_slur && note.slurred && (is_followed || !tone.is_last);
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
                write_key(xml, key);
            }
            if is_other {
                write_transposition(xml, self.transposition);
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

fn write_key(xml: &mut Xml, key: Key) {
    xml.element("key", &[], |xml| {
        xml.text("fifths", &[], key.fifths);
        xml.text("mode", &[], if key.mode == Mode::Minor { "minor" } else { "major" });
    });
}

fn write_transposition(xml: &mut Xml, transposition: Transposition) {
    let octaves = transposition.chromatic / 12;
    xml.element("transpose", &[], |xml| {
        xml.text("diatonic", &[], i16::from(transposition.diatonic) - 7 * i16::from(octaves));
        xml.text("chromatic", &[], transposition.chromatic % 12);
        if octaves != 0 {
            xml.text("octave-change", &[], octaves);
        }
    });
}

/// A tempo: the beats a minute to read, the exact tempo for programs.
fn write_tempo(xml: &mut Xml, micros_per_quarter: f64, meter: Meter, offset: i64) {
    let quarters = 60_000_000.0 / micros_per_quarter;
    let exact = quarters.to_string();
    // No note prints the beat of 3/256.
    let Some(beat) = Shape::of(meter.beat()) else {
        return xml.element("sound", &[("tempo", &exact)], |xml| xml.text("offset", &[], offset));
    };
    xml.element("direction", &[("placement", "above")], |xml| {
        xml.element("direction-type", &[], |xml| {
            xml.element("metronome", &[], |xml| {
                xml.text("beat-unit", &[], type_name(beat.power));
                for _ in 0..beat.dots {
                    xml.empty("beat-unit-dot", &[]);
                }
                // Two decimals are more than any printed tempo has.
                let per_minute = (quarters / meter.beat().to_f64() * 100.0).round() / 100.0;
                xml.text("per-minute", &[], per_minute);
            });
        });
        if offset != 0 {
            xml.text("offset", &[("sound", "yes")], offset);
        }
        xml.empty("sound", &[("tempo", &exact)]);
    });
}

fn left_barline(xml: &mut Xml, page: &PageMeasure<'_>, ending: &str) {
    let flow = page.flow;
    let repeats = flow.is_some_and(|flow| flow.repeat_start);
    let begins = flow.is_some_and(|flow| flow.ending_start.is_some());
    if !repeats && !begins && !page.double_bar {
        return;
    }
    xml.element("barline", &[("location", "left")], |xml| {
        if repeats {
            xml.text("bar-style", &[], "heavy-light");
        } else if page.double_bar {
            xml.text("bar-style", &[], "light-light");
        }
        if begins {
            xml.empty("ending", &[("number", ending), ("type", "start")]);
        }
        if repeats {
            xml.empty("repeat", &[("direction", "forward")]);
        }
    });
}

/// `1, 2`; one blank where the file does not say, as MusicXML 4.0 `ending-number` allows.
fn passes(passes: &[u32]) -> String {
    match passes {
        [] => " ".to_owned(),
        passes => passes.iter().map(u32::to_string).collect::<Vec<_>>().join(", "),
    }
}

fn right_barline(xml: &mut Xml, page: &PageMeasure<'_>, is_last: bool, ending: &str) {
    let repeat = page.flow.and_then(|flow| flow.repeat_end);
    let stops = page.flow.is_some_and(|flow| flow.ending_stop);
    if repeat.is_none() && !stops && !is_last {
        return;
    }
    xml.element("barline", &[("location", "right")], |xml| {
        if repeat.is_some() || is_last {
            xml.text("bar-style", &[], "light-heavy");
        }
        if stops {
            xml.empty("ending", &[("number", ending), ("type", if repeat.is_some() { "stop" } else { "discontinue" })]);
        }
        if let Some(repeat) = repeat {
            let times = repeat.times.to_string();
            let mut attributes = vec![("direction", "backward")];
            if repeat.times != 2 {
                attributes.push(("times", &times));
            }
            if repeat.after_jump {
                attributes.push(("after-jump", "yes"));
            }
            xml.empty("repeat", &attributes);
        }
    });
}

fn signs_at_start(xml: &mut Xml, flow: &Flow) {
    for (sign, name) in [("segno", &flow.segno), ("coda", &flow.coda)] {
        let Some(name) = name else { continue };
        xml.element("direction", &[("placement", "above")], |xml| {
            xml.element("direction-type", &[], |xml| xml.empty(sign, &[]));
            xml.empty("sound", &[(sign, name)]);
        });
    }
}

fn signs_at_end(xml: &mut Xml, flow: &Flow, page: &Page<'_>) {
    let has = |sign: fn(&Flow) -> bool| page.measures.iter().filter_map(|measure| measure.flow).any(sign);
    let until = if has(|flow| flow.to_coda.is_some()) {
        " al Coda"
    } else if has(|flow| flow.fine) {
        " al Fine"
    } else {
        ""
    };
    let mut signs = Vec::new();
    if let Some(name) = &flow.to_coda {
        signs.push(("To Coda".to_owned(), ("tocoda", name.as_str())));
    }
    if flow.fine {
        signs.push(("Fine".to_owned(), ("fine", "yes")));
    }
    if flow.da_capo {
        signs.push((format!("D.C.{until}"), ("dacapo", "yes")));
    }
    if let Some(name) = &flow.dal_segno {
        signs.push((format!("D.S.{until}"), ("dalsegno", name.as_str())));
    }
    for (words, sound) in signs {
        xml.element("direction", &[("placement", "above")], |xml| {
            xml.element("direction-type", &[], |xml| xml.text("words", &[], words));
            xml.empty("sound", &[sound]);
        });
    }
}
