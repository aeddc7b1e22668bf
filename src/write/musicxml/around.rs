//! What stands around the notes: keys, transpositions, tempos, signs, barlines.

use super::super::page::{Page, PageMeasure};
use super::super::shape::Shape;
use super::super::xml::Xml;
use super::note::type_name;
use crate::exercise::{Flow, Meter};
use crate::theory::{Key, Mode, Transposition};

pub(super) fn write_key(xml: &mut Xml, key: Key) {
    xml.element("key", &[], |xml| {
        xml.text("fifths", &[], key.fifths);
        xml.text("mode", &[], if key.mode == Mode::Minor { "minor" } else { "major" });
    });
}

pub(super) fn write_transposition(xml: &mut Xml, transposition: Transposition) {
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
pub(super) fn write_tempo(xml: &mut Xml, micros_per_quarter: f64, meter: Meter, offset: i64) {
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

pub(super) fn left_barline(xml: &mut Xml, page: &PageMeasure<'_>, ending: &str) {
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
pub(super) fn passes(passes: &[u32]) -> String {
    match passes {
        [] => " ".to_owned(),
        passes => passes.iter().map(u32::to_string).collect::<Vec<_>>().join(", "),
    }
}

pub(super) fn right_barline(xml: &mut Xml, page: &PageMeasure<'_>, is_last: bool, ending: &str) {
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

pub(super) fn signs_at_start(xml: &mut Xml, flow: &Flow) {
    for (sign, name) in [("segno", &flow.segno), ("coda", &flow.coda)] {
        let Some(name) = name else { continue };
        xml.element("direction", &[("placement", "above")], |xml| {
            xml.element("direction-type", &[], |xml| xml.empty(sign, &[]));
            xml.empty("sound", &[(sign, name)]);
        });
    }
}

pub(super) fn signs_at_end(xml: &mut Xml, flow: &Flow, page: &Page<'_>) {
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
