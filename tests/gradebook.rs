//! A school's gradebook: headers, order, required fields and vocabulary of the OneRoster 1.2 CSV binding (1EdTech, "OneRoster CSV
//! Binding 1.2"; read in the copy of imsjapan/imsjapan.github.io, `or12.html`, and in LongsightGroup/oneroster,
//! `src/one-roster-csv-gradebook-schema.ts`).

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot go on fails

#[path = "support/numbers.rs"]
mod numbers;
mod support;

use numbers::{FIRST_US, HOUR_US, band, enter, output, take};
use restward::book::Book;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

const IDS: &str =
    "[ids]\nclass = \"c-7\"\nsession = \"t-2026-2\"\nschool = \"o-1\"\n\n[ids.sections]\n\"Low Brass\" = \"c-8\"\n";
const ASK: [&str; 9] = ["grades", "--book", "band.db", "--format", "oneroster", "--gradebook", "ids.toml", "-o", "out"];

const HEADERS: [(&str, &str); 4] = [
    ("manifest.csv", "propertyName,value"),
    ("categories.csv", "sourcedId,status,dateLastModified,title,weight"),
    (
        "lineItems.csv",
        "sourcedId,status,dateLastModified,title,description,assignDate,dueDate,classSourcedId,categorySourcedId,\
         academicSessionSourcedId,resultValueMin,resultValueMax,schoolSourcedId",
    ),
    (
        "results.csv",
        "sourcedId,status,dateLastModified,lineItemSourcedId,studentSourcedId,scoreStatus,score,scoreDate,comment,textScore,\
         classSourcedId,inProgress,incomplete,late,missing",
    ),
];

type Rows = Vec<BTreeMap<String, String>>;

fn rows(folder: &Path, name: &str) -> Rows {
    let mut table = csv::Reader::from_path(folder.join("out").join(name)).unwrap();
    table.deserialize().map(|row| row.unwrap()).collect()
}

/// Nils of the low brass has an id and no take; Olek has a take and no id.
fn handed_in() -> tempfile::TempDir {
    let folder = band();
    let mut book = Book::open(&folder.path().join("band.db")).unwrap();
    enter(&mut book, "Nils", "tuba", "low brass", Some("s-9"));
    take(&mut book, "Mara", "Two\nLines", FIRST_US + 60 * HOUR_US, [(2, 4), (0, 0), (0, 0), (0, 0)]);
    std::fs::write(folder.path().join("ids.toml"), IDS).unwrap();
    let (status, out, errors) = output(folder.path(), &ASK);
    assert_eq!(status, 0, "{errors}");
    let results = rows(folder.path(), "results.csv").len();
    assert!(out.starts_with(&format!("{results} results in 3 exercises are in out: categories.csv, ")), "{out}");
    assert!(errors.contains("left out, without an id of the school: Olek"), "{errors}");
    folder
}

#[test]
fn files_are_as_the_binding_has_them() {
    let folder = handed_in();
    for (name, header) in HEADERS {
        let text = std::fs::read_to_string(folder.path().join("out").join(name)).unwrap();
        assert_eq!(text.lines().next(), Some(header));
        assert!(text.ends_with("\r\n"), "RFC 4180, section 2: a record ends with CRLF");
        assert!(text.lines().count() > 1, "no file without data rows");
    }
    let manifest = rows(folder.path(), "manifest.csv");
    let value = |name: &str| manifest.iter().find(|row| row["propertyName"] == name).map(|row| row["value"].as_str());
    assert_eq!((value("manifest.version"), value("oneroster.version")), (Some("1.0"), Some("1.2")));
    let files: BTreeSet<&str> =
        manifest.iter().filter(|row| row["value"] == "bulk").map(|row| row["propertyName"].as_str()).collect();
    assert_eq!(files, BTreeSet::from(["file.categories", "file.lineItems", "file.results"]));
    assert_eq!((value("file.users"), manifest.len()), (Some("absent"), 23), "2 versions and 21 files");
    let sent = std::fs::read_dir(folder.path().join("out")).unwrap().count();
    assert_eq!(sent, 4, "nothing else lies there");
}

/// Ines: 96.25 percent, rounded down (see tests/grades.rs); Mara: no take of the march, of the other 4 notes of 8 needed; Nils: no take.
#[test]
fn results_belong_to_line_items() {
    let folder = handed_in();
    let (items, results) = (rows(folder.path(), "lineItems.csv"), rows(folder.path(), "results.csv"));
    let titles: Vec<(&str, &str)> =
        items.iter().map(|row| (row["title"].as_str(), row["classSourcedId"].as_str())).collect();
    assert_eq!(titles, [("March", "c-7"), ("March", "c-8"), ("Two Lines", "c-7")]);
    assert_eq!((items[0]["assignDate"].as_str(), items[0]["dueDate"].as_str()), ("2026-03-02", "2026-03-04"));
    // Olek played it in this class, though he has no id.
    assert!(items[1]["assignDate"].starts_with("2026-03-"), "{:?}", items[1]);
    let found: Vec<[&str; 5]> = results
        .iter()
        .map(|row| {
            ["studentSourcedId", "scoreStatus", "score", "textScore", "scoreDate"].map(|name| row[name].as_str())
        })
        .collect();
    assert_eq!(found[0], ["s-1", "partially graded", "96", "A", "2026-03-04"]);
    assert_eq!(found[1][..4], ["s-2", "not submitted", "", ""]);
    assert_eq!(found[2][..4], ["s-9", "not submitted", "", ""]);
    assert_eq!(found[3][..2], ["s-1", "not submitted"]);
    assert_eq!(found[4], ["s-2", "submitted", "", "", "2026-03-04"]);
    assert_eq!(results.len(), 5, "each player of the section in each of its exercises, without Olek");
    let ids: BTreeSet<&String> = results.iter().chain(&items).map(|row| &row["sourcedId"]).collect();
    assert_eq!(ids.len(), results.len() + items.len(), "every id is given once");
    for result in &results {
        let item = items.iter().find(|item| item["sourcedId"] == result["lineItemSourcedId"]).unwrap();
        assert_eq!(item["classSourcedId"], result["classSourcedId"]);
    }
}

/// A gradebook knows a result again by its id: the same after another take and in another book of the same exercise.
#[test]
fn ids_stay() {
    let folder = handed_in();
    let ids = |folder: &Path| -> BTreeSet<(String, String)> {
        rows(folder, "results.csv")
            .iter()
            .map(|row| (row["sourcedId"].clone(), row["studentSourcedId"].clone()))
            .collect()
    };
    let before = ids(folder.path());
    let mut book = Book::open(&folder.path().join("band.db")).unwrap();
    take(&mut book, "Mara", "March", FIRST_US + 99 * HOUR_US, [(40, 40), (10, 10), (10, 10), (40, 40)]);
    assert_eq!(output(folder.path(), &ASK).0, 0);
    assert_eq!(ids(folder.path()), before);
    let other = handed_in();
    assert_eq!(ids(other.path()), before);
}

#[test]
fn what_is_missing_is_said() {
    let folder = band();
    let folder = folder.path();
    let (status, out, errors) = output(folder, &["grades", "--book", "band.db", "--format", "oneroster", "-o", "out"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(errors.contains("needs --gradebook FILE") && errors.contains("session = "), "{errors}");
    for (text, says) in [
        ("[ids]\nclass = \"c\"\nsession = \"t\"\n", "ids.toml: line 1: `school` is missing"),
        ("\n[ids]\nclass = \"c\"\nsession = \"\"\nschool = \"o\"\n", "ids.toml: line 2: session = \"\""),
        ("[ids]\nclass = \"=c\"\nsession = \"t\"\nschool = \"o\"\n", "ids.toml: line 1: class = \"=c\""),
        ("[ids]\nclass = \"...\"\nsession = \"t\"\nschool = \"o\"\n", "ids.toml: line 1: class = \"...\""),
        ("[ids]\nklass = \"c\"\n", "ids.toml: line 2: there is nothing called `klass`"),
    ] {
        std::fs::write(folder.join("ids.toml"), text).unwrap();
        let (status, out, errors) = output(folder, &ASK);
        assert_eq!((status, out.as_str()), (1, ""), "{errors}");
        assert!(errors.contains(says), "{errors}");
    }
    std::fs::write(folder.join("ids.toml"), IDS).unwrap();
    let (status, _, errors) = output(folder, &[&ASK[..], &["--player", "Olek"]].concat());
    assert!(status == 1 && errors.contains("band.db: nobody has an id"), "{errors}");
    let (status, _, errors) = output(folder, &[&ASK[..], &["--since", "2027-01-01"]].concat());
    assert!(status == 1 && errors.contains("nothing to hand in"), "{errors}");
    assert!(!folder.join("out").exists(), "no file without data rows");
    let (status, _, errors) = output(folder, &ASK[..7]);
    assert!(status == 2 && errors.contains("-o FOLDER"), "{errors}");
}
