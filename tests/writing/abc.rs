//! ABC, against the text that the standard asks for; music21 reads it in tools/reference.

use crate::same::exercises;
use restward::exercise::for_instrument;
use restward::instrument::catalogue;
use restward::read::{Choice, read_exercise};
use restward::write::{MarkedPart, abc};

/// Notes of a measure: (step, alter, octave, duration in 12ths of a quarter, what else stands at it).
fn measure(attributes: &str, notes: &[(&str, i8, i8, i64, &str)]) -> String {
    let notes = notes.iter().map(|(step, alter, octave, duration, more)| match *step {
        "rest" => format!("<note><rest/><duration>{duration}</duration></note>"),
        step => format!(
            "<note><pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>\
             <duration>{duration}</duration>{more}</note>"
        ),
    });
    format!("<measure number='1'>{attributes}{}</measure>", notes.collect::<String>())
}

fn score(measures: &[String]) -> String {
    format!(
        "<score-partwise><movement-title>100% \\ A</movement-title><part-list><score-part id='P1'><part-name>Solo \
         \"1\"</part-name></score-part></part-list><part id='P1'>{}</part></score-partwise>",
        measures.concat()
    )
}

/// By hand from the ABC standard 2.1: §4.1 pitches, §4.2 accidentals, §4.3 lengths, §4.8 and §4.9 repeats and endings, §4.11
/// ties and slurs, §4.12 grace notes, §4.13 tuplets, §4.14 decorations, §8.2 text. G major: an accidental is said again
/// in another octave and after a tie over the barline, where readers differ.
#[test]
fn a_tune_by_hand() {
    let tie = |kind: &str| format!("<tie type='{kind}'/>");
    let notations = |inside: &str| format!("<notations>{inside}</notations>");
    let (start, stop) = (notations("<slur type='start'/>"), notations("<slur type='stop'/>"));
    let staccato = notations("<articulations><staccato/></articulations>");
    let end = notations("<fermata/><articulations><breath-mark/></articulations>");
    let (tie_start, tie_stop) = (tie("start"), tie("stop"));
    let attributes = "<attributes><divisions>12</divisions><key><fifths>1</fifths></key><time><beats>4</beats>\
                      <beat-type>4</beat-type></time></attributes>";
    let repeat = "<barline location='left'><repeat direction='forward'/></barline>";
    let first = "<barline location='left'><ending number='1' type='start'/></barline>";
    let back = "<barline location='right'><ending number='1' type='stop'/><repeat direction='backward'/></barline>";
    let second = "<barline location='left'><ending number='2' type='start'/></barline>";
    let text = score(&[
        measure(
            &format!("{attributes}{repeat}"),
            &[
                ("F", 1, 4, 18, &start),
                ("F", 0, 5, 6, &stop),
                ("F", 1, 4, 12, ""),
                ("C", 0, 3, 6, &staccato),
                ("rest", 0, 0, 6, ""),
            ],
        ),
        measure(first, &[("G", 0, 4, 4, ""), ("A", 0, 4, 4, ""), ("B", 0, 4, 4, ""), ("B", -1, 5, 36, "")])
            .replace("</measure>", &format!("{back}</measure>")),
        measure(second, &[("B", -1, 5, 48, &tie_start)]),
        measure("", &[("B", -1, 5, 12, &tie_stop), ("B", -1, 5, 36, &end)]),
    ]);
    let part = read_exercise(text.as_bytes(), &Choice::default()).unwrap();
    let marked = MarkedPart { releases: vec![(13, "→4".to_owned())], ..MarkedPart::new(&part.part) };
    let expected = "%abc-2.1\nX:1\nT:100\\% \\\\ A\nM:4/4\nL:1/8\nK:G\nV:1 name=\"Solo '1'\" clef=treble\n\
                    |:(F3 =f) ^F2 .C, z | [1 (3:2:3GAB _b6 :| [2 _b8- | _b2 \"_→4\"!fermata!!breath!_b6 |]\n";
    assert_eq!(abc(part.title.as_deref(), &[marked]).unwrap(), expected);
}

/// A transposed part says what to add (§4.6 transpose), a part in the bass has its clef.
#[test]
fn voices_have_their_clef_and_transposition() {
    let text = score(&[measure("<attributes><divisions>12</divisions></attributes>", &[("C", 0, 5, 48, "")])]);
    let part = read_exercise(text.as_bytes(), &Choice::default()).unwrap().part;
    let print = |id: &str| for_instrument(&part, catalogue().get(id).unwrap()).unwrap().part;
    let (bari, tuba) = (print("bari-sax"), print("tuba"));
    let marked = ["bari-sax", "tuba"].map(|id| catalogue().get(id).ok());
    let parts = [
        MarkedPart { instrument: marked[0], ..MarkedPart::new(&bari) },
        MarkedPart { instrument: marked[1], ..MarkedPart::new(&tuba) },
    ];
    let written = abc(None, &parts).unwrap();
    assert!(written.contains("K:A\nV:1 name=\"Baritone saxophone\" clef=treble transpose=-21\n"), "{written}");
    assert!(written.contains("V:2 name=\"Tuba\" clef=bass\nK:C\nC,,8 |]\n"), "{written}");
}

/// Whatever there is can be written; every line is a field or music, and no title can break out of its line.
#[test]
fn every_exercise_is_written() {
    for (name, exercise) in exercises() {
        let title = format!("{}\nK:none % [x]", exercise.title.as_deref().unwrap_or_default());
        let written = abc(Some(&title), &[MarkedPart::new(&exercise.part)]).unwrap();
        assert_eq!(written.matches("\nT:").count(), 1, "{name}");
        assert_eq!(written.matches("\nK:none").count(), 0, "{name}");
    }
}
