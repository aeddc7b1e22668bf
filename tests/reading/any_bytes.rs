//! Whatever the bytes, a reader answers: no panic, no endless loop, and exact sums in what it accepts.

use crate::entries::musicxml as check;
use crate::score::{START, mxl, note, partwise, read, smf, whole_notes};
use proptest::prelude::*;
use restward::exercise::Quarters;

fn rich_score() -> String {
    let triplet = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
    partwise(&[
        &format!(
            "{START}<barline location=\"left\"><repeat direction=\"forward\"/></barline>{}",
            note('C', 0, 4, 1, triplet)
        ),
        &format!(
            "{}<backup><duration>8</duration></backup>{}<barline><ending number=\"1\" type=\"start\"/><repeat direction=\"backward\"/></barline>",
            note('B', -1, 4, 8, "<tie type=\"start\"/><voice>1</voice>"),
            note('D', 0, 4, 8, "<voice>2</voice>")
        ),
        &format!("{}<sound dacapo=\"yes\" tempo=\"96\"/>", note('B', -1, 4, 8, "<tie type=\"stop\"/>")),
        &format!("<direction><sound fine=\"yes\"/></direction>{}", note('G', 0, 4, 16, "")),
    ])
}

fn rich_midi() -> Vec<u8> {
    let track = [
        0, 0xFF, 0x58, 4, 3, 2, 24, 8, 0, 0xFF, 0x51, 3, 7, 0xA1, 0x20, 0, 0x90, 60, 80, 48, 62, 80, 48, 60, 0, 0,
        0xF0, 2, 1, 0xF7, 10, 0x82, 62, 0, 0, 0x80, 62, 0, 0, 0xFF, 0x2F, 0,
    ];
    smf(1, [0, 96], &[&track, &track])
}

fn rich_abc() -> String {
    "%abc-2.1\nM:C|\n\nX:1\nT:Tune \\'e &eacute;\nM:6/8\nL:1/8\nQ:\"Fast\" 3/8=90\nP:A2B\nU:n=!fermata!\nV:1 name=\"Flute\"\n\
     V:2 clef=bass middle=d transpose=-24\nK:D Phr ^f\n[V:1][P:A]|:\"Am\"A>B{/gf}c (3d_ef g2|[1 [CE-G]2[EG]/z3:|[2 n.A4-A2||\n\
     [V:2]x6|Z2|&C3D3|\n[V:1][P:B][K:Ador][M:3/4](5:4:3ABc !D.C.!d>>e & C4|Z2|]\n%%setbarnb 7\nw:la la\n"
        .to_owned()
}

/// Pieces of ABC in any order.
const ABC: [&str; 40] = [
    "A", "b,", "^c'", "__d2", "=e/", "F3/2", "z", "x2", "Z3", "|", "||", "|]", "|:", ":|", "::", "[|]", "|1", ":|2",
    "[1,3-5 ", "(3", "(5:4:2", "(", ")", "-", ">", "<<", "{", "}", "{gA}", "[", "]", "[CE-G]2", "\"Am\"", "!D.C.!",
    "!coda!", "&", "[K:F#m]", "[M:C|]", "\nV:2\n", " ",
];

/// Some bytes replaced, and perhaps the end cut off.
fn damage(bytes: &[u8], changes: &[(prop::sample::Index, u8)], cut: Option<prop::sample::Index>) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for (place, value) in changes {
        let place = place.index(bytes.len());
        bytes[place] = *value;
    }
    if let Some(cut) = cut {
        bytes.truncate(cut.index(bytes.len()));
    }
    bytes
}

fn changes() -> impl Strategy<Value = Vec<(prop::sample::Index, u8)>> {
    prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..6)
}

/// Signs that may stand in a measure, in any combination.
fn signs() -> impl Strategy<Value = Vec<Vec<usize>>> {
    prop::collection::vec(prop::collection::vec(0..SIGNS.len(), 0..4), 1..10)
}

const SIGNS: [&str; 12] = [
    r#"<barline location="left"><repeat direction="forward"/></barline>"#,
    r#"<barline location="right"><repeat direction="backward"/></barline>"#,
    r#"<barline location="right"><repeat direction="backward" times="3" after-jump="yes"/></barline>"#,
    r#"<barline location="left"><ending number="1" type="start"/></barline>"#,
    r#"<barline location="left"><ending number="2" type="start"/></barline>"#,
    r#"<barline location="right"><ending number="1" type="stop"/></barline>"#,
    r#"<sound dacapo="yes"/>"#,
    r#"<sound segno="a"/>"#,
    r#"<sound dalsegno="a"/>"#,
    r#"<sound tocoda="b"/>"#,
    r#"<sound coda="b"/>"#,
    r#"<sound fine="yes"/>"#,
];

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        check(&bytes);
        check(&[b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\x01\0", &bytes[..]].concat());
        check(&[b"PK\x03\x04", &bytes[..]].concat());
        check(&[b"X:1\nK:C\n", &bytes[..]].concat());
        check(&[b"X:1\nT:", &bytes[..], b"\nK:", &bytes[..]].concat());
        check(&[b"<?xml version=\"1.0\"?>", &bytes[..]].concat());
    }

    #[test]
    fn damaged_scores(changes in changes(), cut in any::<Option<prop::sample::Index>>()) {
        check(&damage(rich_score().as_bytes(), &changes, cut));
        check(&damage(&mxl(&[("score.xml", rich_score().as_bytes())]), &changes, cut));
    }

    #[test]
    fn damaged_midi_files(changes in changes(), cut in any::<Option<prop::sample::Index>>()) {
        check(&damage(&rich_midi(), &changes, cut));
    }

    #[test]
    fn damaged_tunes(changes in changes(), cut in any::<Option<prop::sample::Index>>()) {
        check(&damage(rich_abc().as_bytes(), &changes, cut));
    }

    /// Constructs in any order, however senseless.
    #[test]
    fn any_constructs(pieces in prop::collection::vec(0..ABC.len(), 0..60)) {
        let music: String = pieces.into_iter().map(|piece| ABC[piece]).collect();
        check(format!("X:1\nM:4/4\nL:1/4\nK:G\n{music}").as_bytes());
    }

    /// Numbers of any size where the score has numbers.
    #[test]
    fn any_numbers(numbers in prop::collection::vec(any::<i64>(), 8), small in prop::collection::vec(-3i64..40, 8)) {
        for n in [&numbers, &small] {
            let score = partwise(&[&format!(
                "<attributes><divisions>{}</divisions><key><fifths>{}</fifths></key><time><beats>{}</beats><beat-type>{}</beat-type>\
                 </time><transpose><diatonic>{}</diatonic><chromatic>{}</chromatic></transpose></attributes>\
                 <note><pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration></note>\
                 <backup><duration>{}</duration></backup><note><pitch><step>D</step><octave>4</octave></pitch><duration>7</duration></note>",
                n[0], n[1], n[2], n[3], n[4], n[5], n[6], n[7]
            )]);
            check(score.as_bytes());
        }
    }

    /// Any signs, however contradictory, end; something is played, and only measures of the page.
    #[test]
    fn any_signs(signs in signs()) {
        let measures: Vec<String> =
            signs.iter().map(|measure| measure.iter().map(|&sign| SIGNS[sign]).collect()).collect();
        let measures: Vec<(char, &str, &str)> = measures.iter().map(|signs| ('C', "", signs.as_str())).collect();
        let score = whole_notes(&measures);
        check(score.as_bytes());
        let part = read(&score).unwrap().part;
        prop_assert!(part.measures.iter().all(|measure| measure.page_index < measures.len()));
        prop_assert!(!part.notes.is_empty());
    }

    /// A repeat of any number of times lasts exactly so many times its passage.
    #[test]
    fn exact_lengths(times in 1u32..40, before in 0usize..5, inside in 1usize..5) {
        let open = SIGNS[0];
        let close = format!("<barline location=\"right\"><repeat direction=\"backward\" times=\"{times}\"/></barline>");
        let count = before + inside;
        let measures: Vec<(char, &str, &str)> = (0..count)
            .map(|i| ('C', if i == before { open } else { "" }, if i + 1 == count { close.as_str() } else { "" }))
            .collect();
        let part = read(whole_notes(&measures)).unwrap().part;
        let expected = before + inside * times as usize;
        prop_assert_eq!(part.notes.len(), expected);
        prop_assert_eq!(part.notes[expected - 1].end(), Quarters::new(4 * expected as i64, 1));
    }
}
