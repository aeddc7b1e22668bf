//! Beams by the beat, and tuplets from one plain place of the measure to the next. Common practice, no source.

use super::page::{Kind, Symbol};
use super::shape::odd_part;
use crate::exercise::{Meter, Quarters};

/// For each symbol its beams, the first is the one of eighths (MusicXML 4.0 `beam-value`).
pub(super) fn beams(symbols: &[Symbol<'_>], meter: Meter, missing: Quarters) -> Vec<Vec<&'static str>> {
    let flags: Vec<usize> = symbols
        .iter()
        .map(|symbol| match symbol.kind {
            Kind::Tone(_) => symbol.shape.map_or(0, |shape| shape.flags()),
            Kind::Rest | Kind::MeasureRest => 0,
        })
        .collect();
    let group = |index: usize| (flags[index] > 0).then(|| group(meter, missing + symbols[index].onset));
    let indices: Vec<usize> = (0..symbols.len()).collect();
    let mut beams = vec![Vec::new(); symbols.len()];
    for run in indices.chunk_by(|&a, &b| group(a).is_some() && group(a) == group(b)) {
        if run.len() < 2 {
            continue;
        }
        for (place, &index) in run.iter().enumerate() {
            for level in 1..=flags[index] {
                let reaches = |other: Option<&usize>| other.is_some_and(|&other| flags[other] >= level);
                let before = reaches(place.checked_sub(1).and_then(|before| run.get(before)));
                let symbol = &symbols[index];
                beams[index].push(match (before, reaches(run.get(place + 1))) {
                    (true, true) => "continue",
                    (true, false) => "end",
                    (false, true) => "begin",
                    // A single one points into the pair that it makes with its neighbour.
                    (false, false) if place == 0 => "forward hook",
                    (false, false) if place + 1 == run.len() => "backward hook",
                    (false, false) => match (missing + symbol.onset).in_beats(symbol.value.times(2, 1)).denominator() {
                        1 => "forward hook",
                        _ => "backward hook",
                    },
                });
            }
        }
    }
    beams
}

/// Which of the beamed groups of the measure a place is in.
fn group(meter: Meter, at: Quarters) -> i64 {
    let (beat, eighths) = (meter.beat(), i64::from(meter.count));
    let floor = |unit: Quarters| {
        let count = at.in_beats(unit);
        count.numerator().div_euclid(count.denominator())
    };
    match meter.unit {
        // The whole measure of 3/8; pairs in the other uneven meters, the last three together: 2+3, 2+2+3.
        8 if beat == Quarters::new(1, 2) && eighths % 2 == 1 => floor(Quarters::new(1, 1)).min((eighths - 1) / 2 - 1),
        8 if beat == Quarters::new(1, 2) => floor(Quarters::new(1, 1)),
        _ => floor(beat.max(Quarters::new(3, 4))),
    }
}

/// Where a tuplet begins and ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Bracket {
    pub(super) starts: bool,
    pub(super) stops: bool,
}

/// For each symbol the bracket that begins or ends with it.
pub(super) fn brackets(symbols: &[Symbol<'_>], missing: Quarters) -> Vec<Bracket> {
    let mut brackets = vec![Bracket::default(); symbols.len()];
    let tuplet = |index: usize| symbols.get(index).and_then(|symbol| symbol.shape?.tuplet);
    let mut open: Option<usize> = None;
    for (index, symbol) in symbols.iter().enumerate() {
        let Some(own) = tuplet(index) else { continue };
        let start = *open.get_or_insert(index);
        let is_plain_after = odd_part(missing + symbol.onset + symbol.value) == 1;
        if is_plain_after || tuplet(index + 1) != Some(own) {
            // A lone one has its numbers, but nothing to bracket.
            if start < index {
                brackets[start].starts = true;
                brackets[index].stops = true;
            }
            open = None;
        }
    }
    brackets
}

#[cfg(test)]
mod tests {
    use super::super::shape::Shape;
    use super::*;
    use crate::exercise::Part;
    use crate::read::{Choice, read_exercise};

    /// Notes of one measure, in 192nds of a quarter.
    fn part(count: u16, unit: u16, durations: &[i64]) -> Part {
        let note = |duration: &i64| {
            format!("<note><pitch><step>C</step><octave>4</octave></pitch><duration>{duration}</duration></note>")
        };
        let notes: String = durations.iter().map(note).collect();
        let text = format!(
            "<score-partwise><part-list><score-part id='P1'><part-name>x</part-name></score-part></part-list>\
             <part id='P1'><measure number='1'><attributes><divisions>192</divisions><time><beats>{count}</beats>\
             <beat-type>{unit}</beat-type></time></attributes>{notes}</measure></part></score-partwise>"
        );
        read_exercise(text.as_bytes(), &Choice::default()).unwrap().part
    }

    fn first_beams(count: u16, unit: u16, durations: &[i64]) -> String {
        let part = part(count, unit, durations);
        let spans = super::super::spans::Spans::new(&part);
        let page = super::super::page::Page::new(&part, &spans);
        let beams = beams(&page.measures[0].symbols, Meter { count, unit }, Quarters::ZERO);
        let level = |beams: &Vec<&str>| beams.iter().map(|beam| beam.chars().next().unwrap()).collect::<String>();
        beams
            .iter()
            .map(level)
            .map(|beams| if beams.is_empty() { "-".into() } else { beams })
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// Common practice, no source: eighths in pairs in 4/4, in threes in 6/8, a 16th after a dotted eighth has a hook
    /// backward.
    #[test]
    fn beams_show_the_beats() {
        assert_eq!(first_beams(4, 4, &[96, 96, 96, 96, 192, 192]), "b e b e - -");
        assert_eq!(first_beams(6, 8, &[96; 6]), "b c e b c e");
        assert_eq!(first_beams(2, 4, &[144, 48, 48, 144]), "b eb bf e");
        assert_eq!(first_beams(2, 4, &[48, 48, 48, 48, 96, 48, 48]), "bb cc cc ee b cb ee");
        assert_eq!(first_beams(3, 8, &[96; 3]), "b c e");
        assert_eq!(first_beams(7, 8, &[96; 7]), "b e b e b c e");
        assert_eq!(first_beams(2, 4, &[96, 192, 96]), "- - -");
    }

    #[test]
    fn tuplets_are_closed_at_plain_places() {
        let part = part(4, 4, &[64, 64, 64, 128, 64, 192, 96, 96]);
        let spans = super::super::spans::Spans::new(&part);
        let page = super::super::page::Page::new(&part, &spans);
        let symbols = &page.measures[0].symbols;
        let found = brackets(symbols, Quarters::ZERO);
        let starts: Vec<usize> = (0..found.len()).filter(|&index| found[index].starts).collect();
        let stops: Vec<usize> = (0..found.len()).filter(|&index| found[index].stops).collect();
        assert_eq!((starts, stops), (vec![0, 3], vec![2, 4]));
        assert_eq!(symbols[3].shape, Some(Shape { power: 0, dots: 0, tuplet: Some((3, 2)) }));
    }
}
