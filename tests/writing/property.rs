//! Any line, however odd its values, is written and read again as it was.

use crate::same::difference;
use proptest::prelude::*;
use restward::exercise::{Part, for_instrument};
use restward::instrument::catalogue;
use restward::read::{Choice, read_exercise};
use restward::write::{MarkedPart, abc, musicxml, printed_ids};

/// Divisions of a quarter: triplets, quintuplets and 16ths, and everything in between that nothing prints.
const DIVISIONS: i64 = 60;

/// Durations as music has them, and now and then any other.
fn duration() -> impl Strategy<Value = i64> {
    prop_oneof![
        8 => prop::sample::select(vec![15, 30, 45, 60, 90, 105, 120, 180, 240, 20, 40, 80, 10, 12, 24, 48]),
        1 => 1..400_i64,
    ]
}

/// (is a rest, MIDI number, duration).
fn line() -> impl Strategy<Value = Vec<(bool, u8, i64)>> {
    prop::collection::vec((prop::bool::weighted(0.2), 52..84_u8, duration()), 1..60)
}

/// A line laid out in measures, tied over the barlines.
fn score(line: &[(bool, u8, i64)], (beats, unit): (i64, i64), fifths: i8) -> String {
    let full = beats * DIVISIONS * 4 / unit;
    let mut measures = vec![String::new()];
    let mut left = full;
    for &(is_rest, midi, duration) in line {
        let mut rest_of_note = duration;
        while rest_of_note > 0 {
            let here = rest_of_note.min(left);
            let what = match is_rest {
                true => "<rest/>".to_owned(),
                false => {
                    let key = restward::theory::Key::major(fifths);
                    let pitch = restward::theory::Pitch::spelled_in(midi.into(), key);
                    format!(
                        "<pitch><step>{}</step><alter>{}</alter><octave>{}</octave></pitch>",
                        pitch.letter, pitch.alter, pitch.octave
                    )
                }
            };
            let stop = if !is_rest && rest_of_note < duration { "<tie type='stop'/>" } else { "" };
            let start = if !is_rest && here < rest_of_note { "<tie type='start'/>" } else { "" };
            if let Some(measure) = measures.last_mut() {
                measure.push_str(&format!("<note>{what}<duration>{here}</duration>{stop}{start}</note>"));
            }
            rest_of_note -= here;
            left -= here;
            if left == 0 {
                measures.push(String::new());
                left = full;
            }
        }
    }
    if measures.last().is_some_and(String::is_empty) {
        measures.pop();
    }
    let attributes = format!(
        "<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key><time><beats>{beats}</beats>\
         <beat-type>{unit}</beat-type></time></attributes>"
    );
    let measures: String = (1..)
        .zip(&measures)
        .map(|(number, notes)| {
            let attributes = if number == 1 { attributes.as_str() } else { "" };
            format!("<measure number='{number}'>{attributes}{notes}</measure>")
        })
        .collect();
    format!(
        "<score-partwise><part-list><score-part id='P1'><part-name>Line</part-name></score-part></part-list>\
         <part id='P1'>{measures}</part></score-partwise>"
    )
}

fn part(line: &[(bool, u8, i64)], meter: (i64, i64), fifths: i8) -> Option<Part> {
    // A line of rests alone is no exercise.
    read_exercise(score(line, meter, fifths).as_bytes(), &Choice::default()).ok().map(|exercise| exercise.part)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_line_is_read_again(
        line in line(),
        meter in prop::sample::select(vec![(4, 4), (3, 4), (2, 2), (6, 8), (5, 8), (7, 8), (12, 8), (5, 4), (3, 8)]),
        fifths in -7..=7_i8,
        instrument in 0..19_usize,
    ) {
        let Some(part) = part(&line, meter, fifths) else { return Ok(()) };
        let instrument = catalogue().instruments().nth(instrument).unwrap();
        let printed = for_instrument(&part, instrument).unwrap().part;
        for part in [&part, &printed] {
            let text = musicxml(None, &[MarkedPart::new(part)]).unwrap();
            let again = read_exercise(text.as_bytes(), &Choice::default()).unwrap();
            prop_assert_eq!(difference(part, &again.part), None);
            // Each note has its identifier in the file, once.
            for id in printed_ids(part) {
                prop_assert_eq!(text.matches(&format!(" id=\"{id}\"")).count(), 1);
            }
            prop_assert!(abc(None, &[MarkedPart::new(part)]).is_ok());
        }
    }
}
