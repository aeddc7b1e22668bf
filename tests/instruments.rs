//! The catalogue against the simulated students' takes, whose truth was written by another program.

#![allow(clippy::unwrap_used, clippy::panic)] // a test that cannot go on has failed

use restward::instrument::catalogue;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// One flagged note: the case, the part's name, the flag, expected and played written pitch.
struct Wrong {
    case: String,
    part: String,
    flag: String,
    expected: i16,
    played: i16,
}

fn text_between(text: &str, start: &str, end: &str) -> String {
    let from = text.find(start).unwrap() + start.len();
    text[from..].split(end).next().unwrap().to_owned()
}

fn wrong_pitches() -> Vec<Wrong> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/takes");
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let Some(case) = path.file_name().unwrap().to_str().unwrap().strip_suffix(".truth.json").map(str::to_owned)
        else {
            continue;
        };
        let truth: Value = serde_json::from_str(&fs::read_to_string(&path).unwrap()).unwrap();
        let score = fs::read_to_string(path.with_file_name(format!("{case}.musicxml"))).unwrap();
        let part = text_between(&score, "<part-name>", "<");
        let instrument = catalogue().recognise(&[&part]).unwrap_or_else(|| panic!("{case}: {part} is not recognised"));
        assert_eq!(instrument.sustains, truth["judged"]["releases"].as_bool().unwrap(), "{case}: {part}");
        for note in truth["notes"].as_array().unwrap() {
            let number = |value: &Value| value.as_i64().unwrap() as i16;
            for flag in note["flags"].as_array().unwrap().iter().map(|flag| flag.as_str().unwrap()) {
                if flag.starts_with("wrong-") {
                    let (written, sounding) = (number(&note["written_midi"]), number(&note["sounding_midi"]));
                    let sent = number(&note["played"]["midi"]);
                    let concert = truth["options"]["sends"] == "concert";
                    let played = if concert { sent + written - sounding } else { sent };
                    found.push(Wrong {
                        case: case.clone(),
                        part: part.clone(),
                        flag: flag.into(),
                        expected: written,
                        played,
                    });
                }
            }
        }
    }
    found
}

/// Every wrong partial of the truth is one by acoustics, and no other wrong pitch is.
#[test]
fn wrong_partials_agree_with_the_truth() {
    let all = wrong_pitches();
    assert!(all.iter().filter(|wrong| wrong.flag == "wrong-partial").count() >= 40);
    for Wrong { case, part, flag, expected, played } in all {
        let instrument = catalogue().recognise(&[&part]).unwrap();
        let found = instrument.is_wrong_partial(expected, played);
        assert_eq!(found, flag == "wrong-partial", "{case} ({part}): {played} played for {expected} is {flag}");
    }
}
