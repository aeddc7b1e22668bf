//! Rosters as schools export them, and what changes in a book that knows some of the players already.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use std::path::Path;

fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_restward")).current_dir(folder).args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap_or(-1), text(output.stdout), text(output.stderr))
}

/// `restward book roster` of this content; whatever it says fits 80 columns.
fn roster(folder: &Path, content: impl AsRef<[u8]>, options: &[&str]) -> (i32, String, String) {
    std::fs::write(folder.join("players.csv"), content).unwrap();
    let result = run(folder, &[&["book", "roster", "--book", "band.db", "players.csv"], options].concat());
    assert!(result.1.lines().all(|line| line.chars().count() <= 80), "{}", result.1);
    result
}

/// Name, instrument, section, level, school id of all players.
fn known(folder: &Path) -> Vec<[String; 5]> {
    let (status, out, errors) = run(folder, &["book", "players", "--book", "band.db", "--json"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    let found: serde_json::Value = serde_json::from_str(&out).unwrap();
    let text = |value: &serde_json::Value| value.as_str().unwrap_or("-").to_owned();
    let fields = ["name", "instrument", "section", "level", "outside_id"];
    let mut players: Vec<_> =
        found["players"].as_array().unwrap().iter().map(|player| fields.map(|field| text(&player[field]))).collect();
    players.sort();
    players
}

const BEFORE: &str = "name,instrument,section,level,id\nInes,flute,winds,first-year,7\nOlek,tuba,,,8\nMara,horn,,,\n";

#[test]
fn the_rosters_values_count_only_where_that_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_eq!(roster(folder, BEFORE, &["--yes"]).0, 0);
    let before = known(folder);
    let next = "name,instrument,section,level,id\nInes,clarinet,,2,7\nOlek,tuba,brass,,8\n";
    // The book's stay, and the way to change them is told.
    let (status, out, _) = roster(folder, next, &[]);
    assert!(status == 0 && out.contains("instrument is clarinet here and flute in the book; the book's"), "{out}");
    assert!(out.contains("--over puts its values into the book"), "{out}");
    // Shown before, never unasked.
    let (status, out, _) = roster(folder, next, &["--over"]);
    assert_eq!(status, 0);
    assert!(out.contains("Line 2: Ines's instrument was flute and becomes clarinet."), "{out}");
    assert!(out.contains("Line 2: Ines's level was first-year and becomes second-year."), "{out}");
    assert!(out.contains("Nothing was entered."), "{out}");
    assert_eq!(known(folder), before);
    let (status, out, _) = roster(folder, next, &["--over", "--yes"]);
    assert!(status == 0 && out.contains("0 players entered; 2 known already, 2 of them changed."), "{out}");
    let [ines, mara, olek] = known(folder).try_into().unwrap();
    // An empty cell takes nothing away, and who is not in the roster stays.
    assert_eq!(ines, ["Ines", "clarinet", "winds", "second-year", "7"]);
    assert_eq!(mara, ["Mara", "horn", "-", "-", "-"]);
    assert_eq!(olek, ["Olek", "tuba", "brass", "-", "8"]);
    let (_, out, _) = roster(folder, next, &["--over", "--yes"]);
    assert!(out.contains("2 known already."), "the second time nothing changes: {out}");
}

#[test]
fn a_child_is_renamed_by_its_school_id() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_eq!(roster(folder, BEFORE, &["--yes"]).0, 0);
    let renamed = "name,id\nInes Novák,7\n";
    let (status, _, errors) = roster(folder, renamed, &["--yes"]);
    assert!(status == 1 && errors.contains("line 2: Ines Novák has the id 7, which Ines has in the book"), "{errors}");
    assert!(errors.contains("--over"), "{errors}");
    let (status, out, _) = roster(folder, renamed, &["--over", "--yes"]);
    assert!(status == 0 && out.contains("Line 2: Ines becomes Ines Novák."), "{out}");
    assert_eq!(known(folder)[0], ["Ines Novák", "flute", "winds", "first-year", "7"]);
    // Two exchange their names.
    let (status, out, errors) = roster(folder, "name,id\nOlek,7\nInes Novák,8\n", &["--over", "--yes"]);
    assert_eq!((status, errors.as_str()), (0, ""), "{out}");
    assert_eq!(known(folder)[0], ["Ines Novák", "tuba", "-", "-", "8"]);
    assert_eq!(known(folder)[2], ["Olek", "flute", "winds", "first-year", "7"]);
    // Two of one name cannot be: nothing changes, the rest of the roster included.
    let before = known(folder);
    let (status, _, errors) = roster(folder, "name,id\nNils,\nMara,8\n", &["--over", "--yes"]);
    assert!(status == 1 && errors.contains("line 3: the book has another Mara already"), "{errors}");
    assert_eq!(known(folder), before);
    // Capitals do not make another child, accents included.
    let (status, out, _) = roster(folder, "name,section\nINES NOVÁK,low brass\n", &["--yes"]);
    assert!(status == 0 && out.contains("0 players entered; 1 known already, 1 of them changed."), "{out}");
    assert_eq!(known(folder)[0][2], "low brass");
}

#[test]
fn one_player_is_shown_changed_and_renamed() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_eq!(roster(folder, BEFORE, &["--yes"]).0, 0);
    let player = |options: &[&str]| run(folder, &[&["book", "player", "--book", "band.db"], options].concat());
    assert_eq!(player(&["ines"]).1, "Ines: flute, winds, first-year, id 7.\n");
    let (status, out, errors) =
        player(&["Ines", "--rename", "Inés", "--instrument", "Klarinette", "--level", "second-year", "--section", ""]);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert_eq!(out, "Was: Ines: flute, winds, first-year, id 7.\nNow: Inés: clarinet, second-year, id 7.\n");
    assert_eq!(player(&["INÉS"]).1, "Inés: clarinet, second-year, id 7.\n");
    for (options, says, expected) in [
        (&["Nils"][..], "band.db: nobody is called Nils", 1),
        (&["Mara", "--rename", "olek"], "another player is called olek already", 1),
        (&["Mara", "--id", "8"], "the id 8 of Mara belongs to another player", 1),
        (&["Mara", "--rename", " "], "a player needs a name", 1),
        (&["Mara", "--instrument", "kazoo"], "kazoo", 1),
        (&["Mara", "--level", "expert"], "write first-year, second-year or third-year", 2),
        (&["Mara", "--rename", &"x".repeat(81)], "the name xxxxxxxxxxxxxxxxxxxx… is longer than 80 letters", 1),
    ] {
        let (status, out, errors) = player(options);
        assert_eq!((status, out.as_str()), (expected, ""), "{options:?}");
        assert!(errors.contains(says), "{errors}");
    }
    assert_eq!(player(&["Mara"]).1, "Mara: horn.\n");
    // The words of a roster.
    for (typed, level) in [("third", "third-year"), ("1", "first-year"), ("2nd year", "second-year"), ("", "")] {
        assert_eq!(player(&["Mara", "--level", typed]).0, 0);
        let expected = if level.is_empty() { "Mara: horn.\n".into() } else { format!("Mara: horn, {level}.\n") };
        assert_eq!(player(&["Mara"]).1, expected);
    }
}

/// What the help shows works, one after the other.
#[test]
fn the_examples_of_book_player_work() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_eq!(roster(folder, BEFORE, &["--yes"]).0, 0);
    let (_, help, _) = run(folder, &["book", "player", "--help"]);
    let examples: Vec<&str> =
        help.lines().filter_map(|line| line.trim().strip_prefix("restward book player ")).collect();
    assert_eq!(examples.len(), 3, "{help}");
    for example in examples {
        let (before, quoted) = example.split_once(" \"").unwrap_or((example, ""));
        let mut arguments = vec!["book", "player"];
        arguments.extend(before.split(' '));
        arguments.extend(quoted.strip_suffix('"'));
        let (status, _, errors) = run(folder, &arguments);
        assert_eq!((status, errors.as_str()), (0, ""), "{example}");
    }
}

/// Headings as school systems write them in four languages; common practice, no source.
#[test]
fn headings_in_other_languages() {
    for (text, player) in [
        ("Schülername;Instrument;Register\nInes Novak;Querflöte;Holz\n", ["Ines Novak", "flute", "Holz"]),
        ("Nachname;Vorname;Stimme;Gruppe\nNovak;Ines;Klarinette;Holz\n", ["Ines Novak", "clarinet", "Holz"]),
        ("Nom;Prénom;Instrument;Pupitre\nNovak;Ines;Flûte;Bois\n", ["Ines Novak", "flute", "Bois"]),
        (
            "NOM DE FAMILLE;PRENOM;INSTRUMENT;GROUPE\nNovak;Ines;Trompette;Cuivres\n",
            ["Ines Novak", "trumpet", "Cuivres"],
        ),
        ("Nombre;Apellidos;Instrumento;Sección\nInes;Novak;Trompeta;Metales\n", ["Ines Novak", "trumpet", "Metales"]),
        ("Alumno/a,Instrumento,Cuerda\nInes Novak,Clarinete,Maderas\n", ["Ines Novak", "clarinet", "Maderas"]),
        ("Name,Surname,Instrument,Section\nInes Novak,Novak,flute,a\n", ["Ines Novak", "flute", "a"]),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (status, out, errors) = roster(folder.path(), text, &["--yes"]);
        assert_eq!((status, errors.as_str()), (0, ""), "{out}");
        assert_eq!(known(folder.path())[0][..3], player, "{out}");
    }
}

#[test]
fn what_is_no_roster_is_told_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_eq!(roster(folder, BEFORE, &["--yes"]).0, 0);
    let before = known(folder);
    // An empty workbook as a zip (PKWARE APPNOTE, 4.3.7: local file header) and an old one (MS-CFB, 2.2: header).
    let xlsx = [&b"PK\x03\x04\x14\0\0\0\x08\0"[..], &[0; 16], b"[Content_Types].xml"].concat();
    let xls = [&b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1"[..], &[0; 504]].concat();
    let large = "Ines,flute\n".repeat(10 << 20 >> 3);
    let long = format!("name\n{}\n", "x".repeat(5_000));
    for (content, says) in [
        (&b""[..], "the file is empty"),
        (b"\xEF\xBB\xBF \r\n", "the file is empty"),
        (&xlsx, "exported as CSV"),
        (&xls, "exported as CSV"),
        (large.as_bytes(), "larger than 4 megabytes"),
        (long.as_bytes(), "is longer than 80 letters"),
        (b"Ines,flute\n", "line 1: no column is headed name"),
        (b"<html><table><tr><td>Ines</td></tr></table></html>", "line 1: no column is headed name"),
        (b"name,instrument\nInes,flute\nInes,oboe\n", "line 3: Ines stands in line 2 already"),
        (b"name,instrument\nNovak, Ines,flute\n", "line 2: there are 3 cells below 2 headings"),
    ] {
        let (status, _, errors) = roster(folder, content, &["--yes", "--over"]);
        assert_eq!(status, 1, "{says}");
        assert!(errors.starts_with("restward: players.csv: ") && errors.contains(says), "{errors}");
        assert!(errors.ends_with("Nothing was entered.\n"), "{errors}");
        assert_eq!(known(folder), before, "{says}");
    }
    let (status, _, errors) = run(folder, &["book", "roster", "--book", "band.db", "."]);
    assert_eq!((status, errors.as_str()), (1, "restward: .: this is a folder; name a file in it\n"));
    let (status, _, errors) = run(folder, &["book", "roster", "--book", "band.db", "gone.csv"]);
    assert_eq!(status, 1);
    assert_eq!(errors, "restward: gone.csv: there is no such file; look at its name and its folder\n");
}

#[test]
fn a_quoted_line_break_is_part_of_the_name_and_a_lost_quote_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (status, _, errors) = roster(folder, "name,instrument\n\"Novak,\nInes\",flute\nOlek,kazoo\n", &["--yes"]);
    assert_eq!((status, errors.as_str()), (0, ""));
    assert_eq!(known(folder)[0][..2], ["Novak, Ines", "flute"]);
    let (_, out, _) = roster(folder, "name,instrument\n\"Mara,flute\nNils,tuba\n", &[]);
    assert!(out.contains("Line 2: a quotation mark is opened there and never closed"), "{out}");
}
