//! Messy inputs with right values, run through the built program as a user runs it.
//!
//! Each folder of `tests/data/cases` is one input, made by hand together with its right values by people who did not write
//! the readers; `tests/data/cases/README.md` says how notation is to be read and what the fields of `case.json` mean.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use serde_json::Value;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::time::Duration;

/// "Always: no panic, no signal, at most 5 s".
const LONGEST: Duration = Duration::from_secs(5);

#[test]
fn notes_cases() {
    run_all("notes", 40);
}

#[test]
fn clean_cases() {
    run_all("clean", 15);
}

/// Runs every case of a command and tells all that fail; `at_least` guards against an empty folder.
fn run_all(command: &str, at_least: usize) {
    let folders = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/cases");
    let mut cases: Vec<(PathBuf, Value)> = std::fs::read_dir(folders)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|folder| folder.is_dir())
        .map(|folder| {
            let text = std::fs::read_to_string(folder.join("case.json")).unwrap();
            (folder, serde_json::from_str(&text).unwrap())
        })
        .filter(|(_, case): &(PathBuf, Value)| case["command"] == command)
        .collect();
    cases.sort_by(|a, b| a.0.cmp(&b.0));
    assert!(cases.len() >= at_least, "only {} cases", cases.len());
    let failures: Vec<String> = cases
        .iter()
        .filter_map(|(folder, case)| {
            run(folder, case).err().map(|why| format!("{}: {why}\n    {}", case["id"], case["about"]))
        })
        .collect();
    assert!(failures.is_empty(), "{} of {} cases fail:\n{}", failures.len(), cases.len(), failures.join("\n"));
}

fn run(folder: &Path, case: &Value) -> Result<(), String> {
    let file = folder.join(case["file"].as_str().unwrap());
    // Nobody may connect to this port while the file is read.
    let trap = case["no_connect"].as_u64().map(|port| TcpListener::bind(("127.0.0.1", port as u16)).unwrap());
    let mut program = Command::cargo_bin("restward").unwrap();
    program.arg(case["command"].as_str().unwrap()).arg(&file).arg("--json").timeout(LONGEST);
    if let Some(part) = case["part"].as_str() {
        program.args(["--part", part]);
    }
    let output = program.output().map_err(|error| error.to_string())?;
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    if output.status.code().is_none() || said.contains("panicked") {
        return Err(format!("crashed or took too long: {said}"));
    }
    if let Some(listener) = trap {
        listener.set_nonblocking(true).unwrap();
        if listener.accept().is_ok() {
            return Err("connected to a port named in the file".into());
        }
    }
    for forbidden in case["must_not_contain"].as_array().into_iter().flatten() {
        if said.contains(forbidden.as_str().unwrap()) {
            return Err(format!("the output contains {forbidden}"));
        }
    }
    let forms = case["any_of"].as_array().cloned().unwrap_or_else(|| vec![case["expect"].clone()]);
    let mut why = Vec::new();
    for form in &forms {
        match check(form, &output, &file) {
            Ok(()) => return Ok(()),
            Err(reason) => why.push(reason),
        }
    }
    Err(why.join("; or "))
}

fn check(form: &Value, output: &Output, file: &Path) -> Result<(), String> {
    let error = String::from_utf8_lossy(&output.stderr);
    if form["error"] == true {
        return check_error(form, output.status.code(), &error, file);
    }
    if !output.status.success() {
        return Err(format!("refused: {}", error.trim()));
    }
    let printed: Value = serde_json::from_slice(&output.stdout).map_err(|error| format!("no JSON: {error}"))?;
    match (form.get("notes"), form.get("clean")) {
        (Some(expected), _) => check_notes(expected, &printed["notes"], tolerance(&form["tolerance_quarters"])),
        (_, Some(expected)) => check_clean(form, expected, &printed["notes"]),
        _ => Err("the case expects nothing that this test knows".into()),
    }
}

fn check_error(form: &Value, status: Option<i32>, error: &str, file: &Path) -> Result<(), String> {
    if !matches!(status, Some(1 | 2)) {
        return Err(format!("exit status {status:?}, not 1 or 2"));
    }
    let name = file.file_name().unwrap().to_string_lossy();
    if !error.contains(&*name) {
        return Err(format!("the message does not name the file: {error}"));
    }
    match form["locates"].as_str() {
        Some(place) if place != "byte" && !error.contains(place) => {
            Err(format!("the message does not say {place}: {error}"))
        }
        _ => Ok(()),
    }
}

/// Expected notes in order; those marked `other` may be left out.
fn check_notes(expected: &Value, printed: &Value, tolerance: (i64, i64)) -> Result<(), String> {
    let printed: Vec<&Value> = printed
        .as_array()
        .ok_or("no list of notes")?
        .iter()
        .filter(|note| fraction(&note["duration_quarters"]).0 != 0)
        .collect();
    let mut next = printed.iter().peekable();
    for wanted in expected.as_array().unwrap() {
        let fits = next.peek().is_some_and(|note| is_note(wanted, note, tolerance));
        if fits {
            next.next();
        } else if wanted[5]["other"] != true {
            return Err(format!("expected {wanted}, found {:?}", next.peek()));
        }
    }
    next.next().map_or(Ok(()), |note| Err(format!("one note too many: {note}")))
}

fn is_note(wanted: &Value, note: &Value, tolerance: (i64, i64)) -> bool {
    let same = |wanted: &Value, found: &Value| wanted.is_null() || wanted == found;
    let key = &wanted[5]["key_fifths"];
    let tempo = &wanted[5]["tempo_qpm"];
    same(&wanted[0], &note["written_midi"])
        && same(&wanted[1], &note["sounding_midi"])
        && is_near(&wanted[2], &note["onset_quarters"], tolerance)
        && is_near(&wanted[3], &note["duration_quarters"], tolerance)
        && same(&wanted[4], &note["measure"])
        && (key.is_null() || key.as_i64() == fifths(note["key"].as_str().unwrap()))
        && (tempo.is_null() || is_near(tempo, &note["tempo_qpm"], (0, 1)))
}

/// Signature of a major key, circle of fifths.
fn fifths(key: &str) -> Option<i64> {
    let majors = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"];
    let tonic = key.strip_suffix(" major")?;
    majors.iter().position(|major| *major == tonic).map(|place| place as i64 - 7)
}

fn check_clean(form: &Value, expected: &Value, printed: &Value) -> Result<(), String> {
    let (expected, printed) = (expected.as_array().unwrap(), printed.as_array().ok_or("no list of notes")?);
    if expected.len() != printed.len() {
        return Err(format!("expected {} notes, found {}: {printed:?}", expected.len(), printed.len()));
    }
    for (wanted, note) in expected.iter().zip(printed) {
        let off = |place: usize, name: &str, tolerance: &str| {
            let limit = form[tolerance].as_f64().unwrap_or(0.003) + 1e-9;
            note[name].as_f64().is_none_or(|found| (wanted[place].as_f64().unwrap() - found).abs() > limit)
        };
        if wanted[0] != note["midi"] || off(1, "on_s", "tol_on_s") || off(2, "off_s", "tol_off_s") {
            return Err(format!("expected {wanted}, found {note}"));
        }
    }
    Ok(())
}

fn tolerance(text: &Value) -> (i64, i64) {
    if text.is_null() { (0, 1) } else { fraction(text) }
}

fn is_near(wanted: &Value, found: &Value, (top, bottom): (i64, i64)) -> bool {
    let ((a, b), (c, d)) = (fraction(wanted), fraction(found));
    // |a/b - c/d| <= top/bottom, in whole numbers.
    let difference = (i128::from(a) * i128::from(d) - i128::from(c) * i128::from(b)).abs();
    difference * i128::from(bottom) <= i128::from(top) * i128::from(b) * i128::from(d)
}

/// `"3/2"`.
fn fraction(text: &Value) -> (i64, i64) {
    let (top, bottom) = text.as_str().unwrap().split_once('/').unwrap();
    (top.parse().unwrap(), bottom.parse().unwrap())
}
