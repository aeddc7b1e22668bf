//! `note`: notes, chords, grace notes and rests in one shape.

use super::super::beams::Bracket;
use super::super::page::{Symbol, Tone};
use super::super::shape::Shape;
use super::super::xml::Xml;
use crate::exercise::Quarters;
use crate::theory::Pitch;

/// What stands at a note besides its pitch and value.
#[derive(Default)]
pub(super) struct Marks<'a> {
    pub(super) id: String,
    pub(super) beams: &'a [&'static str],
    pub(super) bracket: Bracket,
    pub(super) slur_starts: bool,
    pub(super) slur_stops: bool,
    /// Text below it.
    pub(super) release: Option<&'a str>,
}

/// How the accidental of a tone is printed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Printed {
    Not,
    Plain,
    InParentheses,
}

/// A tone of a note: the note itself, or a lower one of its chord.
pub(super) fn tone(
    xml: &mut Xml,
    tone: &Tone<'_>,
    symbol: &Symbol<'_>,
    (pitch, accidental): (Pitch, Printed),
    duration: i64,
    marks: Option<&Marks<'_>>,
) {
    let attributes: &[(&str, &str)] = match marks {
        Some(marks) => &[("id", &marks.id)],
        None => &[],
    };
    xml.element("note", attributes, |xml| {
        if marks.is_none() {
            xml.empty("chord", &[]);
        }
        write_pitch(xml, pitch);
        xml.text("duration", &[], duration);
        for kind in [tone.from_tie.then_some("stop"), tone.to_tie.then_some("start")].into_iter().flatten() {
            xml.empty("tie", &[("type", kind)]);
        }
        xml.text("voice", &[], 1);
        if let Some(shape) = symbol.shape {
            types(xml, shape);
        }
        write_accidental(xml, pitch, accidental);
        if let Some(shape) = symbol.shape {
            time_modification(xml, shape);
        }
        let Some(marks) = marks else { return notations(xml, tone, None) };
        for (level, beam) in (1..).zip(marks.beams) {
            xml.text("beam", &[("number", &format!("{level}"))], beam);
        }
        notations(xml, tone, Some(marks));
        if let Some(text) = marks.release {
            xml.element("lyric", &[("name", "release"), ("placement", "below")], |xml| {
                xml.text("syllabic", &[], "single");
                xml.text("text", &[], text);
            });
        }
    });
}

/// A grace note, whose value the exercise does not know: an eighth with a stroke.
pub(super) fn grace(xml: &mut Xml, pitch: Pitch, accidental: Printed) {
    xml.element("note", &[], |xml| {
        xml.empty("grace", &[("slash", "yes")]);
        write_pitch(xml, pitch);
        xml.text("voice", &[], 1);
        xml.text("type", &[], "eighth");
        write_accidental(xml, pitch, accidental);
    });
}

/// A rest.
pub(super) fn rest(xml: &mut Xml, shape: Option<Shape>, is_measure: bool, duration: i64, bracket: Bracket) {
    xml.element("note", &[], |xml| {
        let whole: &[(&str, &str)] = if is_measure { &[("measure", "yes")] } else { &[] };
        xml.empty("rest", whole);
        xml.text("duration", &[], duration);
        xml.text("voice", &[], 1);
        if let Some(shape) = shape {
            types(xml, shape);
            time_modification(xml, shape);
        }
        if bracket != Bracket::default() {
            xml.element("notations", &[], |xml| tuplet(xml, bracket));
        }
    });
}

fn write_pitch(xml: &mut Xml, pitch: Pitch) {
    xml.element("pitch", &[], |xml| {
        xml.text("step", &[], pitch.letter);
        if pitch.alter != 0 {
            xml.text("alter", &[], pitch.alter);
        }
        xml.text("octave", &[], pitch.octave);
    });
}

/// MusicXML 4.0 `note-type-value`.
pub(super) fn type_name(power: i8) -> &'static str {
    match power {
        3.. => "breve",
        2 => "whole",
        1 => "half",
        0 => "quarter",
        -1 => "eighth",
        -2 => "16th",
        -3 => "32nd",
        -4 => "64th",
        ..=-5 => "128th",
    }
}

fn types(xml: &mut Xml, shape: Shape) {
    xml.text("type", &[], type_name(shape.power));
    for _ in 0..shape.dots {
        xml.empty("dot", &[]);
    }
}

fn time_modification(xml: &mut Xml, shape: Shape) {
    if let Some((actual, normal)) = shape.tuplet {
        xml.element("time-modification", &[], |xml| {
            xml.text("actual-notes", &[], actual);
            xml.text("normal-notes", &[], normal);
        });
    }
}

/// MusicXML 4.0 `accidental-value`.
fn write_accidental(xml: &mut Xml, pitch: Pitch, accidental: Printed) {
    let name = match pitch.alter {
        ..=-3 => "triple-flat",
        -2 => "flat-flat",
        -1 => "flat",
        0 => "natural",
        1 => "sharp",
        2 => "double-sharp",
        3.. => "triple-sharp",
    };
    match accidental {
        Printed::Not => {}
        Printed::Plain => xml.text("accidental", &[], name),
        Printed::InParentheses => xml.text("accidental", &[("cautionary", "yes"), ("parentheses", "yes")], name),
    }
}

/// Ties as curves, and what stands once at the first or last shape of a note; `None` for the lower tones of a chord.
fn notations(xml: &mut Xml, tone: &Tone<'_>, marks: Option<&Marks<'_>>) {
    let note = tone.note;
    let staccato = marks.is_some() && note.staccato && !tone.from_tie;
    let breath = marks.is_some() && note.breath && tone.is_last;
    let fermata = marks.is_some() && note.fermata && tone.is_last;
    let (slur_stops, slur_starts, bracket) =
        marks.map_or((false, false, Bracket::default()), |marks| (marks.slur_stops, marks.slur_starts, marks.bracket));
    let is_plain = !(tone.from_tie || tone.to_tie || staccato || breath || fermata || slur_stops || slur_starts);
    if is_plain && bracket == Bracket::default() {
        return;
    }
    xml.element("notations", &[], |xml| {
        for (is_set, kind) in [(tone.from_tie, "stop"), (tone.to_tie, "start")] {
            if is_set {
                xml.empty("tied", &[("type", kind)]);
            }
        }
        for (is_set, kind) in [(slur_stops, "stop"), (slur_starts, "start")] {
            if is_set {
                xml.empty("slur", &[("type", kind), ("number", "1")]);
            }
        }
        tuplet(xml, bracket);
        if fermata {
            xml.empty("fermata", &[("type", "upright")]);
        }
        if staccato || breath {
            xml.element("articulations", &[], |xml| {
                if staccato {
                    xml.empty("staccato", &[]);
                }
                if breath {
                    xml.text("breath-mark", &[], "comma");
                }
            });
        }
    });
}

fn tuplet(xml: &mut Xml, bracket: Bracket) {
    for (is_set, kind) in [(bracket.starts, "start"), (bracket.stops, "stop")] {
        if is_set {
            xml.empty("tuplet", &[("type", kind), ("number", "1")]);
        }
    }
}

/// A value in whole divisions of a quarter.
pub(super) fn in_divisions(value: Quarters, divisions: i64) -> i64 {
    let units = value.times(divisions, 1);
    units.numerator() / units.denominator().max(1)
}
