//! Books that are none, that cannot be written, and disks that are full: a sentence each, an exit status, and nothing
//! lost.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

#[path = "support/disk.rs"]
mod disk;

use disk::Disk;
use std::path::Path;
use std::process::{Command, Output};

const EXERCISE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/config/exercises/lantern-walk.musicxml");

/// Every way to use a book, with the arguments that follow `--book FILE`.
const COMMANDS: [(&[&str], &[&str]); 10] = [
    (&["book", "players"], &[]),
    (&["book", "player"], &["Ines", "--section", "x"]),
    (&["book", "roster"], &["players.csv", "--yes"]),
    (&["book", "verify"], &[]),
    (&["book", "rejudge"], &[]),
    (&["book", "backup"], &["copy.db"]),
    (&["book", "forget"], &["Ines", "--yes"]),
    (&["book", "export"], &["--csv", "term"]),
    (&["listen", EXERCISE], &["--player", "Ines=#1"]),
    (&["listen", EXERCISE], &["--player", "Ines=#1", "--no-click"]),
];

fn command(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_restward"));
    command.current_dir(folder).args(arguments);
    command
}

fn said(output: Output) -> (i32, String, String) {
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap_or(-1), text(output.stdout), text(output.stderr))
}

fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    said(command(folder, arguments).output().unwrap())
}

fn with_book<'a>((before, after): (&[&'a str], &[&'a str]), book: &'a str) -> Vec<&'a str> {
    [before, &["--book", book], after].concat()
}

/// A folder with a roster, and a book of it.
fn folder_with_book(folder: &Path) {
    let names: String = (1..=30).map(|number| format!("Player {number},flute\n")).collect();
    std::fs::write(folder.join("players.csv"), format!("name,instrument\nInes,flute\n{names}")).unwrap();
    assert_eq!(run(folder, &["book", "roster", "--book", "band.db", "players.csv", "--yes"]).0, 0);
}

fn is_whole(folder: &Path, book: &str, players: usize) {
    let (status, out, errors) = run(folder, &["book", "verify", "--book", book]);
    assert_eq!((status, errors.as_str()), (0, ""), "{out}");
    assert!(out.starts_with(&format!("{book}: {players} players")) && out.ends_with("Nothing is wrong.\n"), "{out}");
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn what_is_no_book_of_this_version_is_left_as_it_is_by_every_command() {
    let made = tempfile::tempdir().unwrap();
    let folder = made.path();
    folder_with_book(folder);
    std::fs::copy(folder.join("band.db"), folder.join("newer.db")).unwrap();
    let sql = |name: &str, what: &str| {
        rusqlite::Connection::open(folder.join(name)).unwrap().execute_batch(what).unwrap();
    };
    sql("newer.db", "PRAGMA journal_mode = DELETE; PRAGMA user_version = 2000");
    sql("other.db", "CREATE TABLE recipe (name TEXT); INSERT INTO recipe VALUES ('soup')");
    // Another program's file that happens to have tables of our names (SQLite file format, 1.3: application id 0).
    sql("likeness.db", "CREATE TABLE player (id INTEGER); CREATE TABLE take (id INTEGER)");
    std::fs::write(folder.join("notes.txt"), "dear diary\n".repeat(500)).unwrap();
    let before = names(folder);
    for (book, says) in [
        ("newer.db", "the book is of version 2000, this program knows up to"),
        ("other.db", "this file is no book of restward"),
        ("likeness.db", "this file is no book of restward"),
        ("notes.txt", "this file is no book of restward"),
        (".", "this file is no book of restward"),
    ] {
        let content = std::fs::read(folder.join(book)).unwrap_or_default();
        for arguments in COMMANDS {
            let (status, out, errors) = run(folder, &with_book(arguments, book));
            assert_eq!((status, out.as_str()), (1, ""), "{arguments:?} {book}: {errors}");
            assert!(errors.starts_with(&format!("restward: {book}: {says}")), "{arguments:?}: {errors}");
        }
        assert!(std::fs::read(folder.join(book)).unwrap_or_default() == content, "{book} was changed");
    }
    assert_eq!(names(folder), before);
}

#[cfg(unix)]
#[test]
fn a_link_to_nothing_is_no_book_and_nothing_is_made_at_its_end() {
    let made = tempfile::tempdir().unwrap();
    let folder = made.path();
    std::fs::write(folder.join("players.csv"), "name\nInes\n").unwrap();
    std::os::unix::fs::symlink("gone/band.db", folder.join("link.db")).unwrap();
    for arguments in COMMANDS {
        let (status, _, errors) = run(folder, &with_book(arguments, "link.db"));
        assert!(matches!(status, 1 | 3) && errors.starts_with("restward: link.db: "), "{arguments:?}: {errors}");
    }
    assert_eq!(names(folder), ["link.db", "players.csv"]);
}

#[test]
fn an_empty_file_becomes_a_book() {
    let made = tempfile::tempdir().unwrap();
    let folder = made.path();
    std::fs::write(folder.join("band.db"), "").unwrap();
    folder_with_book(folder);
    is_whole(folder, "band.db", 31);
}

#[test]
fn a_damaged_book_is_told_of_and_the_backup_is_good() {
    let made = tempfile::tempdir().unwrap();
    let folder = made.path();
    folder_with_book(folder);
    assert_eq!(run(folder, &["book", "backup", "--book", "band.db", "copy.db"]).0, 0);
    let whole = std::fs::read(folder.join("band.db")).unwrap();
    // Cut off in the middle, as by a copy that was stopped; pages from a disk that failed.
    let cut = whole[..whole.len() / 2].to_vec();
    let mut spoiled = whole.clone();
    spoiled[4096..].fill(0xA5);
    for content in [cut, spoiled] {
        std::fs::write(folder.join("band.db"), &content).unwrap();
        let (status, _, errors) = run(folder, &["book", "verify", "--book", "band.db"]);
        assert!(status == 1 && errors.starts_with("restward: band.db: "), "{status} {errors}");
        assert!(errors.contains("copy your last backup to here") && errors.contains("for repair"), "{errors}");
        // A log of the damaged book must not be read into the backup; and a command that makes backups is no help now.
        assert!(errors.contains("-wal and -shm") && !errors.contains("book backup"), "{errors}");
        // A damaged book is not passed on as a backup.
        let (status, _, errors) = run(folder, &["book", "backup", "--book", "band.db", "other.db"]);
        assert!(status == 1 && !folder.join("other.db").exists(), "{errors}");
    }
    is_whole(folder, "copy.db", 31);
}

#[test]
fn a_book_on_a_disk_that_cannot_be_written_is_refused() {
    let Some(disk) = Disk::mounted(1) else { return };
    folder_with_book(disk.path());
    let content = std::fs::read(disk.path().join("band.db")).unwrap();
    disk.only_read();
    for arguments in COMMANDS {
        let (status, _, errors) = run(disk.path(), &with_book(arguments, "band.db"));
        assert_eq!(status, 3, "{arguments:?}: {errors}");
        assert!(errors.starts_with("restward: band.db: the book may only be read: look at"), "{arguments:?}: {errors}");
    }
    let roster = run(disk.path(), &["book", "roster", "--book", "new.db", "players.csv", "--yes"]);
    assert!(roster.0 == 3 && roster.2.starts_with("restward: new.db: the book may only be read"), "{roster:?}");
    assert!(std::fs::read(disk.path().join("band.db")).unwrap() == content);
}

/// Rights do not hold root back, so root's test runs the program as nobody (user id 65534, Linux Standard Base).
#[cfg(unix)]
#[test]
fn a_book_without_the_right_to_write_is_refused() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let made = tempfile::tempdir().unwrap();
    let folder = made.path();
    folder_with_book(folder);
    let is_root = std::fs::metadata(folder).unwrap().uid() == 0;
    let program = folder.join("restward");
    // Not copied by this process: a test beside this one might start a program while the copy is open for writing, which then
    // could not be run (execve(2), ETXTBSY).
    assert!(Command::new("cp").arg(env!("CARGO_BIN_EXE_restward")).arg(&program).status().unwrap().success());
    let mode = |path: &Path, mode| std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).unwrap();
    mode(&program, 0o755);
    let whole = std::fs::read(folder.join("band.db")).unwrap();
    for (of_file, of_folder) in [(0o444, 0o555), (0o000, 0o755), (0o444, 0o777)] {
        mode(&folder.join("band.db"), of_file);
        mode(folder, of_folder);
        for arguments in COMMANDS {
            let mut command = Command::new(&program);
            command.current_dir(folder).args(with_book(arguments, "band.db"));
            if is_root {
                command.uid(65_534).gid(65_534);
            }
            let (status, out, errors) = said(command.output().unwrap());
            // What only reads may succeed where the file can be read.
            if status == 0 {
                assert!(of_file == 0o444 && arguments.0[0] == "book", "{arguments:?}: {out}");
                continue;
            }
            assert_eq!(status, 3, "{arguments:?} {of_file:o} {of_folder:o}: {errors}");
            assert!(errors.starts_with("restward: "), "{errors}");
            assert!(
                errors.contains("may only be read") || errors.contains("Permission denied"),
                "{arguments:?}: {errors}"
            );
        }
    }
    mode(folder, 0o755);
    mode(&folder.join("band.db"), 0o600);
    assert!(std::fs::read(folder.join("band.db")).unwrap() == whole);
    is_whole(folder, "band.db", 31);
}

#[test]
fn a_full_disk_loses_nothing_that_was_in_the_book() {
    let Some(disk) = Disk::mounted(1) else { return };
    folder_with_book(disk.path());
    let many: String =
        (1..=3_000).map(|number| format!("Player {number} of many,tuba,a long section,{number}\n")).collect();
    std::fs::write(disk.path().join("players.csv"), format!("name,instrument,section,id\n{many}")).unwrap();
    for (free, arguments) in [
        (65_536, COMMANDS[2]),
        (8_192, COMMANDS[2]),
        (16_384, COMMANDS[5]),
        (0, COMMANDS[5]),
        (4_096, COMMANDS[7]),
        (0, COMMANDS[7]),
    ] {
        disk.fill(free);
        let (status, _, errors) = run(disk.path(), &with_book(arguments, "band.db"));
        assert_eq!(status, 3, "{arguments:?} with {free} bytes free: {errors}");
        assert!(
            errors.starts_with("restward: ") && errors.contains("the disk is full: make room"),
            "{arguments:?}: {errors}"
        );
        disk.clear();
        assert!(!["copy.db", "copy.db.new", "term"].iter().any(|name| disk.path().join(name).exists()));
        is_whole(disk.path(), "band.db", 31);
    }
    // And with room again it goes on.
    assert_eq!(run(disk.path(), &with_book(COMMANDS[5], "band.db")).0, 0);
    is_whole(disk.path(), "copy.db", 31);
}
