//! The notes, rests and barlines of one voice.

use super::super::beams::{beams, brackets};
use super::super::page::{Kind, Page, PageMeasure, Symbol, Tone};
use super::super::{MarkedPart, WriteError};
use super::{escaped, key_name, length, tempo_of};
use crate::exercise::{Alteration, Measure, Meter};
use crate::theory::{Key, Letter, Pitch};
use std::collections::{BTreeMap, BTreeSet};

/// Measures on one line of text.
const MEASURES_ON_A_LINE: usize = 4;

pub(super) struct Voice<'a> {
    marked: &'a MarkedPart<'a>,
    page: &'a Page<'a>,
    text: String,
    key: Key,
    meter: Meter,
    /// Added to what is written.
    semitones: i16,
    /// Tempo changes stand in the first voice.
    has_tempo: bool,
    accidentals: Accidentals,
    in_slur: bool,
    last: Option<usize>,
    courtesy: BTreeSet<usize>,
    releases: BTreeMap<usize, &'a str>,
}

/// The accidentals written in a measure, as readers may understand them.
#[derive(Default)]
struct Accidentals {
    /// For their letter in their octave (§11.3 propagate-accidentals: octave).
    in_octave: BTreeMap<i32, i8>,
    /// For their letter in all octaves (the same, pitch).
    everywhere: BTreeMap<i8, i8>,
    /// Written at grace notes, which count for some readers.
    unsure: BTreeSet<i8>,
}

impl Accidentals {
    /// What is written before the letter: nothing where every reader knows the alteration.
    fn sign(&mut self, pitch: Pitch, key: Key, is_printed: bool) -> &'static str {
        let signature = key.alter(pitch.letter);
        let letter = pitch.letter.step();
        let is_known = |written: Option<&i8>| *written.unwrap_or(&signature) == pitch.alter;
        let known = is_known(self.in_octave.get(&pitch.diatonic())) && is_known(self.everywhere.get(&letter));
        if known && !is_printed && !self.unsure.contains(&letter) {
            return "";
        }
        self.in_octave.insert(pitch.diatonic(), pitch.alter);
        self.everywhere.insert(letter, pitch.alter);
        match pitch.alter {
            ..=-2 => "__",
            -1 => "_",
            0 => "=",
            1 => "^",
            2.. => "^^",
        }
    }
}

impl<'a> Voice<'a> {
    /// `key` and `meter`: what the head of the tune says.
    pub(super) fn new(
        marked: &'a MarkedPart<'a>,
        page: &'a Page<'a>,
        key: Key,
        meter: Meter,
        has_tempo: bool,
    ) -> Voice<'a> {
        Voice {
            marked,
            page,
            text: String::new(),
            key,
            meter,
            semitones: marked.part.transposition.unwrap_or_default().chromatic.into(),
            has_tempo,
            accidentals: Accidentals::default(),
            in_slur: false,
            last: page.last_note(),
            courtesy: page.printed(marked.courtesy.iter().copied()).collect(),
            releases: marked.releases_by_note(page),
        }
    }

    pub(super) fn write(mut self) -> Result<String, WriteError> {
        let page = self.page;
        for (index, measure) in page.measures.iter().enumerate() {
            let (before, next) = (index.checked_sub(1), page.measures.get(index + 1));
            let line = bar(before.and_then(|before| page.measures.get(before)), measure);
            self.fields(measure);
            self.text.push_str(&line.begins);
            self.measure(measure, index)?;
            self.text.push_str(next.map_or_else(|| last_bar(measure), |next| bar(Some(measure), next).ends));
            let ends = (index + 1) % MEASURES_ON_A_LINE == 0 || next.is_none();
            self.text.push(if ends { '\n' } else { ' ' });
        }
        Ok(self.text)
    }

    /// What changes with a measure, on lines of its own.
    fn fields(&mut self, page: &PageMeasure<'a>) {
        let mut fields = String::new();
        if self.meter != page.measure.meter {
            self.meter = page.measure.meter;
            fields.push_str(&format!("M:{}/{}\n", self.meter.count, self.meter.unit));
        }
        if self.key != page.measure.key {
            self.key = page.measure.key;
            fields.push_str(&format!("K:{}\n", key_name(self.key)));
        }
        if !fields.is_empty() && !self.text.is_empty() && !self.text.ends_with('\n') {
            self.text.truncate(self.text.trim_end().len());
            self.text.push('\n');
        }
        self.text.push_str(&fields);
    }

    fn measure(&mut self, page: &PageMeasure<'a>, index: usize) -> Result<(), WriteError> {
        let missing = page.missing(index);
        let (beams, brackets) = (beams(&page.symbols, page.measure.meter, missing), brackets(&page.symbols, missing));
        self.accidentals = Accidentals::default();
        let mut tempos = page.tempos.iter().filter(|(at, _)| index > 0 || !at.is_zero()).peekable();
        let mut in_tuplet = false;
        for (place, symbol) in page.symbols.iter().enumerate() {
            // §3.1.8: a tempo holds from where it stands, so one inside a note comes after it.
            while let Some((_, tempo)) = tempos.next_if(|(at, _)| self.has_tempo && *at <= symbol.onset) {
                self.field(&format!("Q:{}", tempo_of(*tempo, self.meter)));
            }
            if let Some((actual, normal)) = symbol.shape.and_then(|shape| shape.tuplet) {
                let starts = brackets.get(place).is_some_and(|bracket| bracket.starts);
                if starts || !in_tuplet {
                    // §4.13: so many in the time of so many, for the next so many notes; a lone one counts itself.
                    let end = brackets.iter().skip(place).position(|bracket| bracket.stops).filter(|_| starts);
                    self.text.push_str(&format!("({actual}:{normal}:{}", end.map_or(1, |end| end + 1)));
                }
                in_tuplet = (in_tuplet || starts) && !brackets.get(place).is_some_and(|bracket| bracket.stops);
            }
            match &symbol.kind {
                Kind::MeasureRest | Kind::Rest => {
                    self.text.push('z');
                    self.text.push_str(&length(symbol.value, symbol.shape));
                }
                Kind::Tone(tone) => self.tone(page.measure, symbol, tone)?,
            }
            // §4.7: notes without a space between them share a beam.
            let goes_on = beams.get(place).and_then(|beams| beams.first());
            if !goes_on.is_some_and(|beam| ["begin", "continue"].contains(beam)) {
                self.text.push(' ');
            }
        }
        Ok(())
    }

    fn tone(&mut self, measure: &Measure, symbol: &Symbol<'_>, tone: &Tone<'_>) -> Result<(), WriteError> {
        let note = tone.note;
        if !tone.from_tie {
            self.set_key(note.key);
            self.set_transposition(i16::from(note.sounding) - note.written.midi());
        }
        let slur_starts = !tone.from_tie && !self.in_slur && note.slurred && Some(note.index) != self.last;
        let slur_stops = tone.is_last && self.in_slur && (!note.slurred || Some(note.index) == self.last);
        self.in_slur = (self.in_slur || slur_starts) && !slur_stops;
        if slur_starts {
            self.text.push('(');
        }
        let (chord, graces) = tone.spelled(self.marked, measure)?;
        if !tone.from_tie && !graces.is_empty() {
            self.text.push('{');
            for pitch in graces {
                let sign = self.accidentals.sign(pitch, note.key, false);
                self.accidentals.unsure.insert(pitch.letter.step());
                self.text.push_str(&format!("{sign}{}", letter(pitch)));
            }
            self.text.push('}');
        }
        if let Some(text) = self.releases.get(&note.index).filter(|_| tone.is_last) {
            self.text.push_str(&format!("\"_{}\"", escaped(text).replace('"', "'")));
        }
        for (is_set, decoration) in [
            (note.fermata && tone.is_last, "!fermata!"),
            (note.breath && tone.is_last, "!breath!"),
            (note.staccato && !tone.from_tie, "."),
        ] {
            if is_set {
                self.text.push_str(decoration);
            }
        }
        let is_chord = !chord.is_empty();
        if is_chord {
            self.text.push('[');
        }
        // A tie over the barline says its accidental again: whether it carries is nowhere written.
        let is_over_bar = tone.from_tie && symbol.onset.is_zero();
        for (place, pitch) in [note.written].into_iter().chain(chord).enumerate() {
            let is_printed = place == 0 && !tone.from_tie && note.alteration == Alteration::Printed;
            let is_courtesy = place == 0 && !tone.from_tie && self.courtesy.contains(&note.index);
            let is_repeated = is_over_bar && pitch.alter != note.key.alter(pitch.letter);
            let sign = self.accidentals.sign(pitch, note.key, is_printed || is_courtesy || is_repeated);
            self.text.push_str(&format!("{sign}{}", letter(pitch)));
        }
        if is_chord {
            self.text.push(']');
        }
        self.text.push_str(&length(symbol.value, symbol.shape));
        if tone.to_tie {
            self.text.push('-');
        }
        if slur_stops {
            self.text.push(')');
        }
        Ok(())
    }

    fn set_key(&mut self, key: Key) {
        if self.key != key {
            self.key = key;
            self.accidentals = Accidentals::default();
            self.field(&format!("K:{}", key_name(key)));
        }
    }

    /// A player who changes the instrument: §4.6, the transposition belongs to the key field.
    fn set_transposition(&mut self, semitones: i16) {
        if self.semitones != semitones {
            self.semitones = semitones;
            self.accidentals = Accidentals::default();
            self.field(&format!("K:{} transpose={semitones}", key_name(self.key)));
        }
    }

    /// §3.2: a field inside the music.
    fn field(&mut self, field: &str) {
        self.text.push_str(&format!("[{field}]"));
    }
}

/// §4.1: `C,` `C` `c` `c'`, middle C is `C`.
fn letter(pitch: Pitch) -> String {
    let (name, marks) = match pitch.octave {
        octave @ 5.. => (lower(pitch.letter), "'".repeat((octave - 5).unsigned_abs().into())),
        octave => (pitch.letter.to_string(), ",".repeat((4 - octave).unsigned_abs().into())),
    };
    format!("{name}{marks}")
}

fn lower(letter: Letter) -> String {
    letter.to_string().to_lowercase()
}

/// What stands at the end of one measure and at the beginning of the next: between them fields may stand.
struct Bar {
    ends: &'static str,
    begins: String,
}

/// The barline before a measure, with the repeats and endings at it (§4.8, §4.9).
fn bar(before: Option<&PageMeasure<'_>>, after: &PageMeasure<'_>) -> Bar {
    let flow_before = before.and_then(|page| page.flow);
    let ending = after.flow.and_then(|flow| flow.ending_start.as_ref());
    let starts = after.flow.is_some_and(|flow| flow.repeat_start);
    let stops = flow_before.is_some_and(|flow| flow.ending_stop) && ending.is_none();
    let ends = if flow_before.is_some_and(|flow| flow.repeat_end.is_some()) {
        ":|"
    } else if stops || after.double_bar {
        "||"
    } else if starts {
        // The next measure begins with it.
        ""
    } else {
        "|"
    };
    let mut begins = if starts { "|:".to_owned() } else { String::new() };
    if let Some(ending) = ending {
        let passes = ending.passes.iter().map(u32::to_string).collect::<Vec<_>>().join(",");
        begins.push_str(&format!("[{passes} "));
    }
    Bar { ends, begins }
}

fn last_bar(page: &PageMeasure<'_>) -> &'static str {
    if page.flow.is_some_and(|flow| flow.repeat_end.is_some()) { ":|" } else { "|]" }
}
