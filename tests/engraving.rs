//! The client of `restward-engrave`, and the program itself where it is built.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use restward::exercise::{Part, for_instrument};
use restward::instrument::catalogue;
use restward::read::{Choice, read_file};
use restward::show::engraver::{Engraved, Engraver, EngraverError, Paper, Request};
use restward::write::{MarkedPart, musicxml, printed_ids};
use std::path::{Path, PathBuf};

fn exercise() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("config/exercises/lantern-walk.musicxml")
}

fn part() -> Part {
    read_file(&exercise(), &Choice::default()).unwrap().part
}

/// `restward write` to a PDF, with an engraver somewhere.
fn write_pdf(engraver: &Path, output: &Path) -> assert_cmd::assert::Assert {
    let mut command = Command::cargo_bin("restward").unwrap();
    command.arg("write").arg(exercise()).arg("-o").arg(output).env("RESTWARD_ENGRAVE", engraver).assert()
}

#[test]
fn what_the_environment_names_must_be_there() {
    let folder = tempfile::tempdir().unwrap();
    let output = folder.path().join("out.pdf");
    let assert = write_pdf(&folder.path().join("nothing"), &output).failure().code(3);
    let message = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
    assert!(message.contains("RESTWARD_ENGRAVE names"), "{message}");
    assert!(!output.exists());
}

/// A program that says nothing, nonsense, or that it could not: each is told in a sentence, and no file is left.
#[cfg(unix)]
#[test]
fn an_engraver_that_does_not_answer_is_told_in_a_sentence() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let output = folder.path().join("out.pdf");
    for (name, script, told) in [
        ("silent", "exit 0", "ended without an answer"),
        ("dying", "kill -6 $$", "ended without an answer"),
        ("babbling", "read line; echo staff", "could not be used"),
        ("refusing", "read line; echo '{\"error\":\"part 1 cannot be made: no reason\"}'", "part 1 cannot be made"),
        ("damaged", "read line; echo '{\"pdf\":\"2x\"}'", "damaged"),
    ] {
        let (program, written) = (folder.path().join(name), folder.path().join(format!("{name}.sh")));
        std::fs::write(&written, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&written, std::fs::Permissions::from_mode(0o755)).unwrap();
        // What this process writes a test beside this one may hold open when it is run (execve(2), ETXTBSY); a copy it does not.
        assert!(std::process::Command::new("cp").arg(&written).arg(&program).status().unwrap().success());
        let assert = write_pdf(&program, &output).failure().code(3);
        let message = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
        assert!(message.contains(told), "{name}: {message}");
        assert!(!output.exists());
    }
}

fn engraver() -> Engraver {
    Engraver::find().unwrap()
}

/// As many parts as a band has in one start: each note of the MusicXML is in the picture of its part, once.
#[test]
#[ignore = "needs restward-engrave, which tools/test builds"]
fn every_note_is_in_the_picture_of_its_part() {
    let parts: Vec<Part> =
        catalogue().instruments().map(|instrument| for_instrument(&part(), instrument).unwrap().part).collect();
    let written: Vec<String> = parts
        .iter()
        .zip(catalogue().instruments())
        .map(|(part, instrument)| {
            let releases = vec![(0, "→4".to_owned())];
            let prefix = format!("{}-", instrument.id);
            let courtesy = (0..part.notes.len()).collect();
            musicxml(None, &[MarkedPart { instrument: Some(instrument), courtesy, releases, prefix, part }]).unwrap()
        })
        .collect();
    for paper in [Paper::A4, Paper::Letter] {
        let Engraved::Svg(pictures) = engraver().engrave(&Request::systems(written.clone(), paper)).unwrap() else {
            panic!("not SVG")
        };
        assert_eq!(pictures.len(), parts.len());
        let mut roots = Vec::new();
        for ((systems, part), instrument) in pictures.iter().zip(&parts).zip(catalogue().instruments()) {
            assert!(systems.len() > 1, "eight measures take more than one system");
            let all = systems.concat();
            for id in printed_ids(part) {
                let attribute = format!("id=\"{}-{id}\"", instrument.id);
                assert_eq!(all.matches(&attribute).count(), 1, "{attribute}");
            }
            assert!(all.contains("→4"), "the release of {}", instrument.id);
            for system in systems {
                // Well-formed, and no wider than the paper less its margins (30 mm together).
                let document = roxmltree::Document::parse(system).unwrap();
                let root = document.root_element();
                roots.push(root.attribute("id").unwrap_or_default().to_owned());
                let width: f64 = root.attribute("width").unwrap().trim_end_matches("mm").parse().unwrap();
                assert!((width - (f64::from(paper.size().0) / 10.0 - 30.0)).abs() < 0.2, "{width}");
            }
        }
        let count = roots.len();
        roots.sort();
        roots.dedup();
        assert_eq!(roots.len(), count, "no two pictures share the identifier of their fonts");
    }
}

/// ISO 216: A4 is 210 by 297 mm, 595.28 by 841.89 points; ANSI Y14.1: Letter is 8.5 by 11 inches, 612 by 792 points.
#[test]
#[ignore = "needs restward-engrave, which tools/test builds"]
fn a_pdf_has_the_size_of_its_paper() {
    let written = musicxml(Some("Lantern Walk"), &[MarkedPart::new(&part())]).unwrap();
    for (paper, width, height) in [(Paper::A4, 595.28, 841.89), (Paper::Letter, 612.0, 792.0)] {
        let request = Request::pdf(vec![written.clone(), written.clone()], paper);
        let Engraved::Pdf(document) = engraver().engrave(&request).unwrap() else { panic!("not PDF") };
        assert!(document.starts_with(b"%PDF-"));
        let text = String::from_utf8_lossy(&document);
        let boxes: Vec<&str> = text.split("/MediaBox").skip(1).collect();
        assert_eq!(boxes.len(), 2, "one page for each part");
        for found in boxes {
            let inside = found.split(['[', ']']).nth(1).unwrap();
            let numbers: Vec<f64> = inside.split_whitespace().map(|number| number.parse().unwrap()).collect();
            assert!((numbers[2] - width).abs() < 0.5 && (numbers[3] - height).abs() < 0.5, "{numbers:?}");
        }
    }
}

/// What cannot be engraved is refused with its place, and nothing is left in the temporary folder.
#[test]
#[ignore = "needs restward-engrave, which tools/test builds"]
fn what_cannot_be_engraved_is_refused() {
    let good = musicxml(None, &[MarkedPart::new(&part())]).unwrap();
    for bad in ["", "no notation", "<score-timewise"] {
        let request = Request::systems(vec![good.clone(), bad.to_owned()], Paper::A4);
        match engraver().engrave(&request) {
            Err(EngraverError::Refused(message)) => assert!(message.starts_with("part 2 cannot be made"), "{message}"),
            other => panic!("{bad:?}: {other:?}"),
        }
    }
}

/// As a person uses it: one file in, one picture out; fonts that it unpacked are gone afterwards.
#[test]
#[ignore = "needs restward-engrave, which tools/test builds"]
fn one_file_makes_one_picture() {
    let folder = tempfile::tempdir().unwrap();
    let program = std::env::var_os("RESTWARD_ENGRAVE").unwrap();
    let written = musicxml(Some("Lantern Walk"), &[MarkedPart::new(&part())]).unwrap();
    for (format, begins) in [("svg", "<svg"), ("pdf", "%PDF-")] {
        let mut command = Command::new(&program);
        let command = command.args(["--format", format]).env("TMPDIR", folder.path()).write_stdin(written.clone());
        let output = command.assert().success().get_output().stdout.clone();
        assert!(output.starts_with(begins.as_bytes()), "{format}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    Command::new(&program).write_stdin("no notation").assert().failure().code(1);
}

/// A page of sheets has the staff of every instrument, with every note of it under an identifier of its own.
#[test]
#[ignore = "needs restward-engrave, which tools/test builds"]
fn every_sheet_has_its_staff() {
    let mut command = Command::cargo_bin("restward").unwrap();
    let done = command.arg("sheet").arg(exercise()).args(["--all", "--format", "html"]).assert().success();
    let page = String::from_utf8(done.get_output().stdout.clone()).unwrap();
    assert!(!page.contains("No staff here"));
    let sheets = catalogue().instruments().count();
    for (sheet, note) in (0..sheets).flat_map(|sheet| (0..part().notes.len()).map(move |note| (sheet, note))) {
        assert_eq!(page.matches(&format!("\"s{sheet}-n{note}\"")).count(), 1, "sheet {sheet}, note {note}");
    }
}
