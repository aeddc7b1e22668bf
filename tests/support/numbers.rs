//! A small band whose takes have the numbers that a test wants, and the program run on its book.

use crate::support::cases;
use assert_cmd::Command;
use restward::book::{Book, Entry, TakeStart};
use restward::judge::{Count, Engine};
use restward::theory;
use std::path::Path;

/// 2026-03-02 10:00 UTC.
pub(crate) const FIRST_US: i64 = 1_772_445_600_000_000;
pub(crate) const HOUR_US: i64 = 3_600_000_000;

/// In a zone five hours behind UTC, in the notation of POSIX (8.3, TZ), so that no table of zones is needed.
pub(crate) fn output(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_restward"));
    let output = command.current_dir(folder).env("TZ", "<-05>5").args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap_or(-1), text(output.stdout), text(output.stderr))
}

/// Right notes, changed notes, releases, entrances: good and of.
pub(crate) type Counts = [(usize, usize); 4];

/// A take as a session leaves it, with these numbers.
pub(crate) fn take(book: &mut Book, player: &str, title: &str, begun_us: i64, counts: Counts) {
    let case = &cases()[0];
    let player = book.player(player).unwrap().unwrap().id;
    let exercise = book.keep_exercise(title, "in.musicxml", title.as_bytes(), 1).unwrap();
    let start = TakeStart {
        player,
        exercise,
        begun_us,
        part: case.part.name.id.clone(),
        instrument: None,
        level: case.settings.level,
        sends: case.settings.sends,
        family: theory::default_family(),
        click: case.settings.grid.clone(),
        delay: None,
    };
    let mut report = Engine::new(case.part.clone(), case.settings.clone()).finish(case.end).0;
    let [right_pitches, changed_notes, full_releases, entrances] = counts.map(|(good, of)| Count { good, of });
    let totals = &mut report.totals;
    (totals.right_pitches, totals.changed_notes, totals.full_releases, totals.entrances) =
        (right_pitches, changed_notes, full_releases, entrances);
    totals.fits = true;
    let number = book.begin_take(&start).unwrap();
    book.finish_take(number, &[], &start, case.end, &case.part, &report).unwrap();
}

pub(crate) fn enter(book: &mut Book, name: &str, instrument: &str, section: &str, id: Option<&str>) {
    let (name, outside_id) = (name.to_owned(), id.map(str::to_owned));
    let (instrument, section) = (Some(instrument.to_owned()), Some(section.to_owned()));
    book.enter(&[Entry { name, instrument, section, level: None, outside_id }]).unwrap();
}

/// Ines: two takes of the march; Olek: one; Mara, a flute as Ines, none.
pub(crate) fn band() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    enter(&mut book, "Ines", "flute", "flutes", Some("s-1"));
    enter(&mut book, "Mara", "flute", "flutes", Some("s-2"));
    enter(&mut book, "Olek", "tuba", "low brass", None);
    take(&mut book, "Ines", "March", FIRST_US, [(30, 40), (8, 10), (10, 10), (39, 40)]);
    take(&mut book, "Ines", "March", FIRST_US + 48 * HOUR_US, [(36, 40), (7, 10), (9, 10), (20, 40)]);
    take(&mut book, "Olek", "March", FIRST_US + 24 * HOUR_US, [(20, 20), (2, 3), (5, 6), (20, 20)]);
    folder
}
