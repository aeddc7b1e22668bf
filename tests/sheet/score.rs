//! Writes small exercises for tests.

use restward::exercise::Exercise;
use restward::read::{Choice, read_exercise};

/// Divisions of a quarter: thirds, fifths and eighths of it are whole.
const DIVISIONS: i64 = 120;

/// A part of one staff. Each measure is a text of its own: notes as `F#4:3` (value in quarters, also `1/3`), rests as
/// `r:1`; after the value `~` begins a tie, `.` is a staccato, `'` a breath mark, `^` a fermata. `pickup ` before the
/// notes makes a measure that is not counted.
pub(crate) fn xml(
    part: &str,
    transpose: Option<(i8, i8)>,
    fifths: &[(usize, i8)],
    time: (u8, u8),
    measures: &[&str],
) -> String {
    let mut body = String::new();
    let mut tied = false;
    for (index, measure) in measures.iter().enumerate() {
        let (implicit, notes) = match measure.strip_prefix("pickup ") {
            Some(notes) => (" implicit=\"yes\"", notes),
            None => ("", *measure),
        };
        let number = index + usize::from(!measures[0].starts_with("pickup "));
        body += &format!("<measure number=\"{number}\"{implicit}><attributes>");
        if index == 0 {
            body += &format!("<divisions>{DIVISIONS}</divisions>");
        }
        if let Some((_, fifths)) = fifths.iter().find(|(from, _)| *from == index) {
            body += &format!("<key><fifths>{fifths}</fifths></key>");
        }
        if index == 0 {
            body += &format!("<time><beats>{}</beats><beat-type>{}</beat-type></time>", time.0, time.1);
            if let Some((diatonic, chromatic)) = transpose {
                body += &format!(
                    "<transpose><diatonic>{diatonic}</diatonic><chromatic>{chromatic}</chromatic></transpose>"
                );
            }
        }
        body += "</attributes>";
        for word in notes.split_whitespace() {
            body += &note(word, &mut tied);
        }
        body += "</measure>";
    }
    format!(
        "<score-partwise version=\"4.0\"><work><work-title>Four Lanterns</work-title></work><part-list>\
         <score-part id=\"P1\"><part-name>{part}</part-name></score-part></part-list><part id=\"P1\">{body}</part>\
         </score-partwise>"
    )
}

fn note(word: &str, tied: &mut bool) -> String {
    let (pitch, value) = word.split_once(':').expect("a value after the colon");
    let marks = value.trim_start_matches(|sign: char| sign.is_ascii_digit() || sign == '/');
    let (top, bottom) =
        value[..value.len() - marks.len()].split_once('/').unwrap_or((&value[..value.len() - marks.len()], "1"));
    let duration = top.parse::<i64>().expect("a number") * DIVISIONS / bottom.parse::<i64>().expect("a number");
    let ends = if std::mem::take(tied) { "<tie type=\"stop\"/>" } else { "" };
    *tied = marks.contains('~');
    let begins = if *tied { "<tie type=\"start\"/>" } else { "" };
    let what = if pitch == "r" {
        "<rest/>".to_owned()
    } else if pitch == "x" {
        "<unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>".to_owned()
    } else {
        let (letter, rest) = pitch.split_at(1);
        let alter = match rest.chars().next() {
            Some('b') => -1,
            Some('#') => 1,
            _ => 0,
        };
        let octave = rest.trim_start_matches(['b', '#']);
        format!("<pitch><step>{letter}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>")
    };
    let mut notations = String::new();
    if marks.contains('.') {
        notations += "<articulations><staccato/></articulations>";
    }
    if marks.contains('\'') {
        notations += "<articulations><breath-mark/></articulations>";
    }
    if marks.contains('^') {
        notations += "<fermata/>";
    }
    format!("<note>{what}<duration>{duration}</duration>{ends}{begins}<notations>{notations}</notations></note>")
}

/// The same, read: a flute part in no key.
pub(crate) fn read(time: (u8, u8), measures: &[&str]) -> Exercise {
    read_exercise(xml("Flute", None, &[(0, 0)], time, measures).as_bytes(), &Choice::default()).expect("it reads")
}
