//! `restward grades` and `restward mark` as a director types them. Numbers are calculated by hand, with the bands and weights of
//! `config/rubric.toml`.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot go on fails

#[path = "support/numbers.rs"]
mod numbers;
mod support;

use numbers::{FIRST_US, HOUR_US, band, enter, output, take};
use restward::book::{Book, Mark};
use std::path::Path;

fn json(folder: &Path, more: &[&str]) -> serde_json::Value {
    let (status, out, errors) = output(folder, &[&["grades", "--book", "band.db", "--format", "json"], more].concat());
    assert_eq!((status, errors.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

/// The page as a reader has it: 80 columns, each mark with how it came about.
#[test]
fn grades_are_told() {
    let folder = band();
    let folder = folder.path();
    let mark = ["mark", "--book", "band.db", "--player", "ines", "--exercise", "march"];
    let (status, out, errors) = output(folder, &[&mark[..], &["tone=3", "posture=4"]].concat());
    assert_eq!((status, out.as_str(), errors.as_str()), (0, "Ines, March: Tone 3, Posture 4.\n", ""));
    // Given again on a day that does not change.
    let mut book = Book::open(&folder.join("band.db")).unwrap();
    for mark in book.marks().unwrap() {
        book.give_mark(&Mark { marked_us: FIRST_US, ..mark }).unwrap();
    }
    let (status, out, errors) = output(folder, &["grades", "--book", "band.db"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    insta::assert_snapshot!("grades", out);
}

/// Ines's best rows: 36 of 40 = 90 percent (4), 8 of 10 = 80 (3), 10 of 10 (4), 39 of 40 = 97.5 (4):
/// (2 × 100 + 2 × 85 + 2 × 100 + 2 × 100) / 8 = 96.25: A. Olek has 3 changed notes of the 4 needed:
/// (2 × 100 + 2 × 85 + 2 × 100) / 6 = 95: A, with the key left out and asked for again. 5 of 6 = 83 percent.
#[test]
fn programs_have_every_number() {
    let folder = band();
    let found = json(folder.path(), &[]);
    let of = |player: &str| found["grades"].as_array().unwrap().iter().find(|it| it["player"] == player).unwrap();
    let ines = of("Ines");
    assert_eq!(ines["total"]["percent"], 96);
    assert_eq!(ines["total"]["points"], 770);
    let steps: Vec<_> = ines["rows"].as_array().unwrap().iter().map(|row| row["step"].as_u64()).collect();
    assert_eq!(steps, [Some(4), Some(3), Some(4), Some(4), None, None, None, None]);
    assert_eq!(
        (&ines["rows"][0]["takes"], &ines["rows"][1]["takes"]),
        (&serde_json::json!([2]), &serde_json::json!([1]))
    );
    assert_eq!(ines["takes"][0]["begun"], "2026-03-02T05:00:00-05:00");
    let olek = of("Olek");
    assert_eq!((&olek["total"]["grade"], &olek["total"]["percent"]), (&"A".into(), &95.into()));
    assert_eq!(olek["total"]["left_out"][0], "key");
    assert_eq!(olek["play_again"], serde_json::json!([{"row": "key", "because": "not-enough-evidence"}]));
    let mara = of("Mara");
    assert_eq!((&mara["total"]["grade"], &mara["takes"]), (&serde_json::Value::Null, &serde_json::json!([])));
}

/// The first take began on 2026-03-02 at 05:00, the second on 2026-03-04 at 05:00 here.
#[test]
fn days_are_those_of_the_computers_zone() {
    let folder = band();
    let takes = |more: &[&str]| -> Vec<i64> {
        let found = json(folder.path(), &[&["--player", "Ines"], more].concat());
        let of = |graded: &serde_json::Value| graded["takes"].as_array().unwrap().clone();
        let all = found["grades"].as_array().unwrap().iter().flat_map(of);
        all.map(|take| take["take"].as_i64().unwrap()).collect()
    };
    assert_eq!(takes(&["--since", "2026-03-02"]), [1, 2]);
    assert_eq!(takes(&["--since", "2026-03-03"]), [2]);
    assert_eq!(takes(&["--until", "2026-03-03"]), [1]);
    assert_eq!(takes(&["--until", "2026-03-04"]), [1, 2]);
    assert_eq!(takes(&["--since", "2026-03-05"]), Vec::<i64>::new());
    let mut book = Book::open(&folder.path().join("band.db")).unwrap();
    // One minute before and one after midnight here, which is 05:00 UTC.
    let midnight = FIRST_US + 19 * HOUR_US;
    let well = [(40, 40), (10, 10), (10, 10), (40, 40)];
    take(&mut book, "Ines", "March", midnight - 60_000_000, well);
    take(&mut book, "Ines", "March", midnight, well);
    assert_eq!(takes(&["--until", "2026-03-02"]), [1, 4]);
    assert_eq!(takes(&["--since", "2026-03-03"]), [5, 2]);
}

#[test]
fn who_is_not_there_is_said() {
    let folder = band();
    let folder = folder.path();
    let ask = |more: &[&str]| output(folder, &[&["grades", "--book", "band.db"], more].concat());
    for (more, status, says) in [
        (&["--player", "Innes"][..], 1, "band.db: nobody is called Innes; do you mean Ines?"),
        (
            &["--player", "Zacharias"],
            1,
            "nobody is called Zacharias; restward book players --book band.db lists all names\n",
        ),
        (&["--section", "flotes"], 1, "there is no section flotes in the book; do you mean flutes?"),
        (&["--exercise", "Marsh"], 1, "there is no exercise Marsh in the book; do you mean March?"),
        (&["--section", "xyz"], 1, "there is no section xyz in the book; there is flutes, low brass\n"),
        (&["--exercise", "qqq"], 1, "there is no exercise qqq in the book; there is "),
        (&["--since", "2.3.2026"], 2, "a date is written 2026-03-02"),
        (&["--since", "2026-02-30"], 2, "a date is written 2026-03-02"),
        (&["--since", "2026-03-02", "--until", "2026-03-01"], 2, "--until 2026-03-01 is before"),
        (
            &["--rubric", "gone.toml"],
            1,
            "restward: gone.toml: there is no such file; look at its name and its folder\n",
        ),
        (&["--rubric", "."], 1, "restward: .: this is a folder; name a file in it\n"),
        (&["-o", "band.db"], 1, "band.db: this is the file that it is made from"),
    ] {
        let (found, out, errors) = ask(more);
        assert_eq!((found, out.as_str()), (status, ""), "{more:?}: {errors}");
        assert!(errors.contains(says), "{more:?}: {errors}");
    }
    let (status, out, _) = ask(&["--exercise", "1", "--section", "LOW brass"]);
    assert!(status == 0 && out.contains("Olek") && !out.contains("Ines"), "{out}");
    std::fs::write(folder.join("ours.toml"), "takes_count = \"best\"\nleast_weight = 50\n[[step]]\nname = 1\n")
        .unwrap();
    let (status, _, errors) = ask(&["--rubric", "ours.toml"]);
    assert!(status == 1 && errors.starts_with("restward: ours.toml: line 4: "), "{errors}");
}

/// A director's own: the built-in rubric with 4, 3, 2, 1 for A, B, C, D and all takes counted together.
/// Ines: 66 of 80 = 82.5 percent (3), 15 of 20 = 75 (2), 19 of 20 = 95 (4), 59 of 80 = 73.75 (2):
/// (2 × 85 + 2 × 75 + 2 × 100 + 2 × 75) / 8 = 83.75, rounded down 83.
#[test]
fn a_rubric_of_ones_own() {
    let folder = band();
    let folder = folder.path();
    assert_eq!(output(folder, &["grades", "--print-rubric", "-o", "ours.toml"]).0, 0);
    let mut text = std::fs::read_to_string(folder.join("ours.toml")).unwrap();
    assert_eq!(text, include_str!("../config/rubric.toml"));
    for (from, to) in [("\"A\"", "\"4\""), ("\"B\"", "\"3\""), ("\"best\"\n\n", "\"mean\"\n\n")] {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    std::fs::write(folder.join("ours.toml"), text).unwrap();
    let found = json(folder, &["--rubric", "ours.toml", "--player", "ines"]);
    let total = &found["grades"][0]["total"];
    assert_eq!((&total["grade"], &total["percent"], &total["points"]), (&"3".into(), &83.into(), &670.into()));
}

#[test]
fn an_empty_book_has_nothing_to_grade() {
    let folder = tempfile::tempdir().unwrap();
    drop(Book::open_or_begin(&folder.path().join("band.db")).unwrap());
    let (status, out, _) = output(folder.path(), &["grades", "--book", "band.db"]);
    assert!(status == 0 && out.starts_with("There is nothing to grade"), "{out}");
    assert_eq!(json(folder.path(), &[])["grades"], serde_json::json!([]));
    let (status, out, _) = output(folder.path(), &["grades", "--book", "band.db", "--format", "csv"]);
    assert_eq!((status, out.lines().count()), (0, 1), "the header row alone");
}

/// RFC 4180, section 2: lines end with CRLF, a cell with a comma, a quote or a line break stands in quotes.
#[test]
fn hostile_names_are_text() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    let names = ["=cmd()", "<b>Bo</b>", "a,\"b\"", "Two\nlines"];
    for (number, name) in names.iter().enumerate() {
        enter(&mut book, name, "flute", "@section", Some(&format!("s-{number}")));
        take(&mut book, name, "+1\n=2", FIRST_US, [(40, 40), (10, 10), (10, 10), (40, 40)]);
    }
    let folder = folder.path();
    let (status, _, errors) = output(folder, &["grades", "--book", "band.db", "-o", "out.csv"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    let mut table = csv::Reader::from_path(folder.join("out.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(|row| row.unwrap()).collect();
    assert_eq!(rows.len(), names.len() * 8);
    let players: Vec<&str> = rows.iter().step_by(8).map(|row| &row[1]).collect();
    assert_eq!(players, ["<b>Bo</b>", "'=cmd()", "a,\"b\"", "Two lines"]);
    for row in &rows {
        assert_eq!((&row[0], &row[4]), ("'@section", "'+1 =2"));
        assert!(row.iter().all(|cell| !cell.starts_with(['=', '+', '@', '\r', '\n'])), "{row:?}");
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(folder.join("out.csv")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "children's data is for its owner");
    }
    let (_, out, _) = output(folder, &["grades", "--book", "band.db"]);
    assert!(out.contains("<b>Bo</b>") && out.contains("Two lines"), "{out}");
}

#[test]
fn marks_are_refused_outside_the_scale() {
    let folder = band();
    let mark = |more: &[&str]| output(folder.path(), &[&["mark", "--book", "band.db"], more].concat());
    let whom = ["--player", "Ines", "--exercise", "March"];
    for (more, status, says) in [
        (&["tone=5"][..], 1, "tone=5: steps are 1 to 4"),
        (&["tone=0"], 1, "steps are 1 to 4"),
        (&["posture=3", "tone=-1"], 1, "steps are 1 to 4"),
        (&["key=3"], 1, "key is measured; marked by hand are: tone, posture, articulation, dynamics"),
        (&["mood=3"], 1, "the rubric has no row mood"),
        (&["tone"], 2, "ROW=STEP"),
    ] {
        let (found, out, errors) = mark(&[&whom[..], more].concat());
        assert_eq!((found, out.as_str()), (status, ""), "{more:?}: {errors}");
        assert!(errors.contains(says), "{more:?}: {errors}");
    }
    assert!(Book::open(&folder.path().join("band.db")).unwrap().marks().unwrap().is_empty(), "all or nothing");
    let (status, _, errors) = mark(&["--player", "Ines", "tone=3"]);
    assert!(status == 2 && errors.contains("one --player and one --exercise"), "{errors}");
    let (status, _, errors) = mark(&["--player", "Ines"]);
    assert!(status == 2 && errors.contains("this is no terminal"), "{errors}");
    assert_eq!(mark(&[&whom[..], &["tone=3"]].concat()).0, 0);
    let (status, out, _) = mark(&[&whom[..], &["tone=none"]].concat());
    assert_eq!((status, out.as_str()), (0, "Ines, March: Tone taken back.\n"));
    assert!(Book::open(&folder.path().join("band.db")).unwrap().marks().unwrap().is_empty());
}
