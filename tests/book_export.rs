//! `restward book export`: files, their owner, what they hide, what is documented.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::path::Path;

fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_restward")).current_dir(folder).args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap_or(-1), text(output.stdout), text(output.stderr))
}

fn export(folder: &Path, options: &[&str]) -> (i32, String, String) {
    run(folder, &[&["book", "export", "--book", "band.db"], options].concat())
}

/// A book with two players, one take and one finding of it.
fn book() -> tempfile::TempDir {
    let made = tempfile::tempdir().unwrap();
    let folder = made.path();
    std::fs::write(folder.join("players.csv"), "name,instrument,section,id\nInes,flute,\"a,\"\"b\"\"\",7\n=1+1,,,\n")
        .unwrap();
    assert_eq!(run(folder, &["book", "roster", "--book", "band.db", "players.csv", "--yes"]).0, 0);
    rusqlite::Connection::open(folder.join("band.db"))
        .unwrap()
        .execute_batch(
            "INSERT INTO exercise (hash, title, file_name, content, added_us) VALUES (x'0A', '@Hills', 'Ines.xml', x'00', 0);
             INSERT INTO take (player, exercise, begun_us, part, level, sends, family, record, engine, fits, notes)
             VALUES (1, 1, 1700000000123456, 'P1', 'first-year', 'auto', 'F major,Eb major', x'00', '0.1.0', 1, 8);
             INSERT INTO flag VALUES (1, 0, 0, 2, 'early-release', '3', 2.5, 'Bb4',
                '{\"off_beats\":-0.25,\"off_ms\":-200,\"sentence\":\"-x\"}');
             INSERT INTO tally VALUES (1, 'hold', '1.5', 1, 2), (1, 'changed', 'F#', 0, 1);
             INSERT INTO mark VALUES (1, 1, 'tone', 3, -1);
             INSERT INTO absence VALUES (2, 1700000000000000);",
        )
        .unwrap();
    made
}

fn read(folder: &Path, file: &str) -> String {
    std::fs::read_to_string(folder.join(file)).unwrap()
}

/// RFC 4180 for quotes; 1700000000 is 2023-11-14T22:13:20Z by `date -u -d @1700000000` (GNU coreutils).
#[test]
fn cells_as_spreadsheets_and_programs_read_them() {
    let made = book();
    let folder = made.path();
    let (status, out, errors) = export(folder, &["--csv", "a/term"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert!(out.contains("        2 rows  a/term/players.csv\n") && out.contains("readable by you alone"), "{out}");
    assert!(out.contains("        1 row   a/term/takes.csv\n") && out.lines().all(|line| line.chars().count() <= 80));
    let lines = |name: &str| -> Vec<String> { read(folder, name).lines().skip(1).map(str::to_owned).collect() };
    assert_eq!(lines("a/term/players.csv"), ["1,Ines,flute,\"a,\"\"b\"\"\",,7", "2,'=1+1,,,,"]);
    assert_eq!(lines("a/term/exercises.csv"), ["1,'@Hills,Ines.xml,0a,1970-01-01T00:00:00.000000Z"]);
    let take = "1,1,1,2023-11-14T22:13:20.123456Z,P1,,first-year,auto,\"F major,Eb major\",false,,true,0.1.0,true,8,,,,,,,,,,,,first-year";
    assert_eq!(lines("a/term/takes.csv"), [take]);
    // A number below zero is no formula, a sentence that begins so is.
    assert_eq!(lines("a/term/flags.csv"), ["1,0,false,2,early-release,3,2.5,Bb4,,-0.25,-200,,,,,'-x"]);
    assert_eq!(lines("a/term/practice.csv"), ["1,changed,F#,,0,1", "1,hold,1.5,1.5,1,2"]);
    assert_eq!(lines("a/term/marks.csv"), ["1,1,tone,3,1969-12-31T23:59:59.999999Z"]);
    assert_eq!(lines("a/term/absences.csv"), ["2,2023-11-14T22:13:20.000000Z"]);
}

#[test]
fn without_names_no_name_is_in_any_file() {
    let made = book();
    let folder = made.path();
    let (status, out, errors) = export(folder, &["--csv", "term", "--without-names"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert!(out.contains("P1, P2 .. stand for the children"), "{out}");
    assert!(read(folder, "term/players.csv").contains("\n1,P1,flute,\"a,\"\"b\"\"\",,\n2,P2,,,,\n"));
    for entry in std::fs::read_dir(folder.join("term")).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(!text.contains("Ines") && !text.contains("1+1"), "{}: {text}", path.display());
    }
}

#[test]
fn nothing_is_written_over_and_nothing_is_left_half_done() {
    let made = book();
    let folder = made.path();
    std::fs::create_dir(folder.join("term")).unwrap();
    std::fs::write(folder.join("term/marks.csv"), "mine").unwrap();
    let (status, out, errors) = export(folder, &["--csv", "term"]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(errors.starts_with("restward: term/marks.csv: there is a file already"), "{errors}");
    assert_eq!(std::fs::read_dir(folder.join("term")).unwrap().count(), 1);
    assert_eq!(read(folder, "term/marks.csv"), "mine");
    // A file where a folder should be; a finding that is no JSON, found when half of the files are written.
    assert_eq!(export(folder, &["--csv", "players.csv"]).0, 3);
    rusqlite::Connection::open(folder.join("band.db")).unwrap().execute("UPDATE flag SET content = '{'", []).unwrap();
    let (status, _, errors) = export(folder, &["--csv", "half"]);
    assert!(status == 1 && errors.starts_with("restward: band.db: "), "{errors}");
    assert!(!folder.join("half").exists());
    assert_eq!(export(folder, &[]).0, 2, "no format, no export");
}

#[cfg(unix)]
#[test]
fn only_the_owner_reads_them() {
    use std::os::unix::fs::PermissionsExt;
    let made = book();
    let folder = made.path();
    assert_eq!(export(folder, &["--csv", "new/term"]).0, 0);
    let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!((mode(&folder.join("new")), mode(&folder.join("new/term"))), (0o700, 0o700));
    let files: Vec<_> =
        std::fs::read_dir(folder.join("new/term")).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(files.len(), 7);
    files.iter().for_each(|file| assert_eq!(mode(file), 0o600, "{}", file.display()));
}

/// Every column stands in the page that explains them, with its kind, in its order, and no other does.
#[test]
fn the_page_names_every_column() {
    use restward::book::{Kind, tables};
    let kind = |kind| match kind {
        Kind::Whole => "whole",
        Kind::Real => "real",
        Kind::Text => "text",
        Kind::Truth => "truth",
        Kind::Time => "time",
    };
    let expected: Vec<String> = tables()
        .iter()
        .flat_map(|table| {
            let rows = table.columns.iter().map(move |column| {
                let optional = if column.is_optional { "yes" } else { "no" };
                format!("| {} | {} | {optional} |", column.name, kind(column.kind))
            });
            std::iter::once(format!("## {}", table.name)).chain(rows)
        })
        .collect();
    let page = include_str!("../tools/export/SCHEMA.md");
    let found: Vec<String> = page
        .lines()
        .skip_while(|line| *line != "## players")
        .filter(|line| {
            line.starts_with("## ")
                || (line.starts_with("| ") && !line.starts_with("| column") && !line.starts_with("| ---"))
        })
        .filter(|line| *line != "## Questions")
        .map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            if line.starts_with("##") { line.into() } else { format!("| {} | {} | {} |", cells[1], cells[2], cells[3]) }
        })
        .collect();
    assert_eq!(found, expected);
}

#[cfg(not(feature = "parquet"))]
#[test]
fn a_build_without_parquet_says_how_to_get_it() {
    let made = book();
    let (status, out, errors) = export(made.path(), &["--parquet", "term"]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(errors.contains("built without Parquet") && errors.contains("--features parquet"), "{errors}");
    assert!(!made.path().join("term").exists());
}
