//! `restward grades --format html` and `--slips`, as a user types them.

use super::band;
use assert_cmd::Command;
use std::path::{Path, PathBuf};

fn filled(folder: &Path) -> PathBuf {
    let path = folder.join("band.db");
    band::band(&mut restward::book::Book::open_or_begin(&path).unwrap());
    path
}

fn grades(book: &Path) -> Command {
    let mut command = Command::cargo_bin("restward").unwrap();
    command.args(["grades", "--book"]).arg(book);
    // No staves: what names no program is told on the page.
    command.env("RESTWARD_ENGRAVE", book.join("nothing"));
    command
}

/// Both are children's data: files for their owner only.
#[cfg(unix)]
#[test]
fn pages_and_slips_are_for_their_owner_only() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let book = filled(folder.path());
    for (name, options) in [("pages.html", &["--takes", "2"][..]), ("slips.html", &["--slips"][..])] {
        let file = folder.path().join(name);
        grades(&book).args(options).arg("-o").arg(&file).assert().success();
        let mode = std::fs::metadata(&file).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{name}");
        assert!(std::fs::read_to_string(&file).unwrap().ends_with("</html>\n"), "{name}");
    }
}

/// Where there is no engraver the page says so once, and what to do.
#[test]
fn without_an_engraver_the_page_says_so_once() {
    let folder = tempfile::tempdir().unwrap();
    let done = grades(&filled(folder.path())).args(["--format", "html"]).assert().success();
    let page = String::from_utf8(done.get_output().stdout.clone()).unwrap();
    assert_eq!(page.matches("RESTWARD_ENGRAVE names").count(), 1);
    assert!(page.contains("let go after"), "the sentences are there");
}

/// One section, one player: nobody else is on the page.
#[test]
fn only_those_who_are_asked_for_are_shown() {
    let folder = tempfile::tempdir().unwrap();
    let book = filled(folder.path());
    for options in [&["--section", "woodwinds"][..], &["--player", "Ines"]] {
        for kind in [&["--slips"][..], &["--format", "html"]] {
            let done = grades(&book).args(options).args(kind).assert().success();
            let page = String::from_utf8(done.get_output().stdout.clone()).unwrap();
            assert!(page.contains("Ines"));
            assert!(!page.contains("Olek") && !page.contains("Pia"), "{options:?} {kind:?}");
        }
    }
}

#[test]
fn slips_are_pages_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    grades(&filled(folder.path())).args(["--slips", "--format", "csv"]).assert().failure().code(2);
}
