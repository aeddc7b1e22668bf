//! `restward demo --book`: the book of the invented band, asked as a review asks, and by the program's own commands.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

use assert_cmd::Command;
use restward::book::{Attempt, Book, Practice, Practised, Wanted};
use std::path::Path;

fn restward(folder: &Path, arguments: &[&str]) -> assert_cmd::assert::Assert {
    Command::cargo_bin("restward").unwrap().current_dir(folder).args(arguments).assert()
}

/// Takes and what was practised.
fn content(path: &Path) -> (Vec<Attempt>, Vec<Practice>) {
    let mut book = Book::open(path).unwrap();
    (book.attempts(&Wanted::default()).unwrap(), book.practice(&Wanted::default()).unwrap())
}

/// Right changed notes as a share of those met.
fn share<'a>(practice: impl Iterator<Item = &'a Practice>) -> f64 {
    let (good, of) = practice.fold((0, 0), |(good, of), it| (good + it.count.good, of + it.count.of));
    assert!(of > 0, "nothing was met");
    good as f64 / of as f64
}

#[test]
fn the_term_of_the_invented_band() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    restward(folder.path(), &["demo", "--book", "band.db"]).success();
    let (attempts, practice) = content(&path);
    let mut book = Book::open(&path).unwrap();
    let players = book.players().unwrap();
    assert_eq!((players.len(), book.exercises().unwrap().len()), (30, 4));

    // 2026-02-03 and 2026-03-27, 0 h UTC: `date -u -d DATE +%s` (GNU coreutils).
    let begun = |day: i64| move |it: &&Attempt| it.begun_us >= day * 1_000_000;
    assert_eq!(attempts.iter().filter(begun(1_770_076_800)).count(), attempts.len());
    assert_eq!(attempts.iter().filter(begun(1_774_569_600)).count(), 0);
    assert!(attempts.iter().all(|attempt| attempt.fits));
    let takes = |name: &str| {
        let id = players.iter().find(|player| player.name == name).unwrap().id;
        attempts.iter().filter(|attempt| attempt.player == id).count()
    };
    assert!(takes("Pip") < takes("Ngozi A.") / 2, "{} of {}", takes("Pip"), takes("Ngozi A."));

    // Keala plays alto saxophone, where concert A flat is F: `config/demo-band.toml` has it wrong 9 times in 10.
    let id = players.iter().find(|player| player.name == "Keala M.").unwrap().id;
    let stays = |it: &&Practice| it.player == id && it.what == Practised::Changed("F".into());
    assert!(share(practice.iter().filter(stays)) < 0.35);
    // Amara improves.
    let id = players.iter().find(|player| player.name == "Amara O.").unwrap().id;
    let changed = |it: &&Practice| it.player == id && matches!(it.what, Practised::Changed(_));
    let middle = 1_772_323_200_000_000; // 2026-03-01
    let (before, after): (Vec<_>, Vec<_>) = practice.iter().filter(changed).partition(|it| it.begun_us < middle);
    assert!(share(after.into_iter()) > share(before.into_iter()) + 0.15);
    // The trumpets, of the brass that miss concert A flat.
    let trumpets: Vec<i64> = players
        .iter()
        .filter(|player| player.instrument.as_deref() == Some("trumpet"))
        .map(|player| player.id)
        .collect();
    let flat = |it: &&Practice| trumpets.contains(&it.player) && it.what == Practised::Changed("Bb".into());
    assert!(share(practice.iter().filter(flat)) < 0.5);
    let marks = book.marks().unwrap();
    assert!(!marks.is_empty() && marks.iter().all(|mark| (1..=4).contains(&mark.step)));

    // Judged as the program judges: what is kept is found again from what was played.
    let verified = restward(folder.path(), &["book", "verify", "--book", "band.db"]).success();
    assert!(String::from_utf8_lossy(&verified.get_output().stdout).ends_with("Nothing is wrong.\n"));
    let refused = restward(folder.path(), &["demo", "--book", "band.db"]).code(1);
    assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("there is a file already"));
    assert_eq!(content(&path).0.len(), attempts.len());
}

#[test]
fn the_same_seed_gives_the_same_book_on_other_days() {
    let folder = tempfile::tempdir().unwrap();
    let days = |name: &str, seed: &str, until: &str| {
        restward(folder.path(), &["demo", "--book", name, "--seed", seed, "--until", until]).success();
        content(&folder.path().join(name)).0
    };
    let spring = days("spring.db", "5", "2026-03-27");
    let mut summer = days("summer.db", "5", "2026-06-19");
    assert_ne!(days("other.db", "6", "2026-03-27").len(), 0);
    for attempt in &mut summer {
        attempt.begun_us -= 84 * 86_400_000_000; // twelve weeks
    }
    assert_eq!(summer, spring);
    restward(folder.path(), &["demo", "--until", "2026-03-27"]).code(2);
    let nowhere = restward(folder.path(), &["demo", "--book", "nope/x.db"]).code(3);
    let said = String::from_utf8_lossy(&nowhere.get_output().stderr).into_owned();
    assert_eq!(said, "restward: nope/x.db: could not be written: there is no folder nope; make it first\n");
    let beyond = restward(folder.path(), &["demo", "--book", "b.db", "--until=-009999-01-05"]).code(2);
    assert!(!folder.path().join("b.db").exists(), "{beyond}");
}
