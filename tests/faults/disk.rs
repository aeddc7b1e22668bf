//! The disk: full, and folders that vanish.

use crate::band::plan;
use crate::playing::{flags, flags_of_file, is_sound, run, source};
use restward::listen::Pace;
use restward::session::{Plan, Told};
use std::io::Write;
use std::path::{Path, PathBuf};

/// The folder of `--save` is deleted in the middle of a take: the take is there at its end, whole, and so is the next.
#[test]
fn a_folder_that_vanishes_is_made_again() {
    let folder = tempfile::tempdir().unwrap();
    let takes = folder.path().join("a/takes");
    let plan = Plan { save: Some(takes.clone()), ..plan(true, 2) };
    let mut decided = 0;
    let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast, |_, _| ()), None, |told, _| {
        decided += usize::from(matches!(told, Told::Decided { turn, .. } if turn.take == 1));
        if decided == 20 {
            std::fs::remove_dir_all(folder.path().join("a")).unwrap();
            decided += 1;
        }
    });
    assert!(decided > 21);
    assert_eq!((outcomes.len(), troubles.len()), (6, 0), "{troubles:?}");
    for outcome in &outcomes {
        let file = outcome.saved.as_ref().unwrap();
        assert!(outcome.is_kept && file.exists());
        assert_eq!(flags_of_file(file, &plan, outcome.turn.lane), flags(outcome));
    }
    assert_eq!(takes.read_dir().unwrap().count(), 6, "no journal is left");
}

/// Something else stands where the folder was: said, and the session goes on.
#[test]
fn a_folder_that_cannot_be_made_again_stops_no_take() {
    let folder = tempfile::tempdir().unwrap();
    let takes = folder.path().join("takes");
    let plan = Plan { save: Some(takes.clone()), ..plan(true, 2) };
    let mut decided = 0;
    let (outcomes, troubles) = run(&plan, &mut source(&plan, Pace::Fast, |_, _| ()), None, |told, _| {
        decided += usize::from(matches!(told, Told::Decided { turn, .. } if turn.take == 1));
        if decided == 20 {
            std::fs::remove_dir_all(&takes).unwrap();
            std::fs::write(&takes, "a file").unwrap();
            decided += 1;
        }
    });
    assert_eq!(outcomes.len(), 6);
    assert!(outcomes.iter().all(|outcome| outcome.played && !outcome.is_kept && !outcome.report.notes.is_empty()));
    // One sentence for each take, whoever plays it.
    assert_eq!(troubles.len(), 2, "{troubles:?}");
    assert!(troubles.iter().all(|trouble| trouble.contains("'s take cannot be saved: ")), "{troubles:?}");
}

const SMALL_DISK: &str = "RESTWARD_SMALL_DISK";

/// Fills a disk to the last byte.
fn fill(ballast: &Path) {
    let mut file = std::fs::File::create(ballast).unwrap();
    let mut piece = vec![0; 1 << 16];
    while !piece.is_empty() {
        if file.write_all(&piece).is_err() {
            piece.truncate(piece.len() / 2);
        }
    }
}

/// A disk that is full while the second take is played, and has room again for the third.
#[test]
#[ignore = "needs a small disk of its own: tools/faults/run"]
fn a_full_disk_costs_no_other_take() {
    let disk = PathBuf::from(std::env::var_os(SMALL_DISK).unwrap());
    let (path, ballast) = (disk.join("band.db"), disk.join("ballast"));
    let plan = Plan { save: Some(disk.join("takes")), ..plan(true, 3) };
    let (outcomes, troubles) =
        run(&plan, &mut source(&plan, Pace::Fast, |_, _| ()), Some(&path), |told, _| match told {
            Told::Cued { turns, .. } if turns.iter().any(|turn| turn.take == 2) => fill(&ballast),
            Told::Ahead { turns, .. } if turns.iter().any(|turn| turn.take == 3) => {
                std::fs::remove_file(&ballast).unwrap()
            }
            _ => {}
        });
    troubles.iter().for_each(|trouble| eprintln!("{trouble}"));
    assert_eq!(outcomes.len(), 9);
    assert!(outcomes.iter().all(|outcome| outcome.played && !outcome.report.notes.is_empty()));
    assert!(outcomes.iter().all(|outcome| outcome.is_kept == (outcome.turn.take != 2)));
    assert!(troubles.iter().any(|trouble| trouble.contains("band.db: the disk is full: make room")), "{troubles:?}");
    let saved = |take| outcomes.iter().filter(move |outcome| outcome.turn.take == take);
    for outcome in saved(1).chain(saved(3)) {
        assert_eq!(flags_of_file(outcome.saved.as_ref().unwrap(), &plan, outcome.turn.lane), flags(outcome));
    }
    // What had arrived before the disk was full may be there as a take cut off; everything else is finished.
    let mut book = restward::book::Book::open(&path).unwrap();
    let cut_off = book.finish_cut_off().unwrap().len() as u64;
    eprintln!("{cut_off} takes were cut off by the full disk and are kept as far as they had arrived");
    drop(book);
    is_sound(&path, 6 + cut_off);
}
