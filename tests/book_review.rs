//! What reviews ask of a book, against the reports that were kept: each number counted here from the report itself.

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

mod support;

use restward::book::{Attempt, Book, Mark, Practised, TakeStart, Wanted};
use restward::exercise::FollowedBy;
use restward::judge::{Engine, FlagKind, Report};
use restward::theory::{self, Rank};
use std::collections::BTreeMap;
use support::{Case, cases};

const DAY_US: i64 = 86_400_000_000;

/// Two players of two sections, a take a day each in turn.
fn filled(book: &mut Book) -> Vec<(i64, &'static Case, Report)> {
    let mut kept = Vec::new();
    for (number, case) in cases().iter().enumerate() {
        let name = ["Olek", "Ines"][number % 2];
        let mut player = book.player_or_new(name).unwrap();
        player.section = Some(["low brass", "flutes"][number % 2].into());
        book.change(&player).unwrap();
        let exercise = book.keep_exercise("Scales", "scales.musicxml", format!("{number}").as_bytes(), 1).unwrap();
        let start = TakeStart {
            player: player.id,
            exercise,
            begun_us: number as i64 * DAY_US,
            part: case.part.name.id.clone(),
            instrument: None,
            level: case.settings.level,
            sends: case.settings.sends,
            family: theory::default_family(),
            click: case.settings.grid.clone(),
            delay: None,
        };
        let mut engine = Engine::new(case.part.clone(), case.settings.clone());
        case.inputs.iter().for_each(|input| engine.push(input));
        let report = engine.finish(case.end).0;
        let take = book.begin_take(&start).unwrap();
        book.finish_take(take, &case.inputs, &start, case.end, &case.part, &report).unwrap();
        kept.push((take, case, report));
    }
    kept
}

#[test]
fn takes_are_found_by_player_section_exercise_and_time() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    let kept = filled(&mut book);
    let mut takes = |wanted: Wanted| -> Vec<i64> {
        let mut takes: Vec<i64> = book.attempts(&wanted).unwrap().iter().map(|attempt| attempt.take).collect();
        takes.sort_unstable();
        takes
    };
    let all: Vec<i64> = kept.iter().map(|(take, ..)| *take).collect();
    let every = |first: usize| all.iter().copied().skip(first).step_by(2).collect::<Vec<_>>();
    assert_eq!(takes(Wanted::default()), all);
    assert_eq!(takes(Wanted { section: Some("LOW Brass".into()), ..Wanted::default() }), every(0));
    assert_eq!(takes(Wanted { section: Some("nobody".into()), ..Wanted::default() }), Vec::<i64>::new());
    let since = Wanted { since_us: Some(3 * DAY_US), until_us: Some(5 * DAY_US), ..Wanted::default() };
    assert_eq!(takes(since), all[3..5]);
    let ines = book.player("ines").unwrap().unwrap().id;
    let of = |book: &mut Book, wanted: Wanted| -> Vec<Attempt> { book.attempts(&wanted).unwrap() };
    let found = of(&mut book, Wanted { player: Some(ines), ..Wanted::default() });
    assert_eq!(found.iter().map(|attempt| attempt.take).collect::<Vec<_>>(), every(1));
    let one = of(&mut book, Wanted { exercise: Some(found[0].exercise), ..Wanted::default() });
    assert_eq!(one, found[..1]);
}

#[test]
fn numbers_and_findings_are_those_of_the_reports() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    let kept = filled(&mut book);
    let attempts = book.attempts(&Wanted::default()).unwrap();
    let practice = book.practice(&Wanted::default()).unwrap();
    let mut changed_seen = 0;
    for (take, case, report) in &kept {
        let attempt = attempts.iter().find(|attempt| attempt.take == *take).unwrap();
        let totals = &report.totals;
        assert_eq!(
            (attempt.right_pitches, attempt.changed_notes, attempt.full_releases, attempt.entrances),
            (totals.right_pitches, totals.changed_notes, totals.full_releases, totals.entrances)
        );
        assert_eq!((attempt.extra, attempt.restarts, attempt.close), (totals.extra, totals.restarts, totals.close));
        let findings = book.findings(*take).unwrap();
        let of = |counts: bool| findings.iter().filter(move |it| it.counts == counts).map(|it| it.flag.clone());
        assert_eq!(of(true).collect::<Vec<_>>(), report.flags);
        assert_eq!(of(false).collect::<Vec<_>>(), report.close);

        let of_take: Vec<_> = practice.iter().filter(|practice| practice.take == *take).collect();
        let sum = |is_changed: bool| -> usize {
            let of_kind = of_take.iter().filter(|it| matches!(it.what, Practised::Changed(_)) == is_changed);
            of_kind.map(|it| it.count.of).sum()
        };
        let played = |it: &&restward::judge::NoteResult| it.onset_s.is_some();
        let is_changed = |it: &&restward::judge::NoteResult| it.changed_note.is_some_and(|rank| rank != Rank::Other);
        assert_eq!(sum(true), report.notes.iter().filter(played).filter(is_changed).count());
        changed_seen += sum(true);
        let mut holds: BTreeMap<String, (usize, usize)> = BTreeMap::new();
        for (note, result) in case.part.notes.iter().zip(&report.notes) {
            if note.followed_by == FollowedBy::Rest && result.release_judged && result.onset_s.is_some() {
                let hold = holds.entry(result.value_beats.to_string()).or_default();
                hold.1 += 1;
                hold.0 += usize::from(!result.flags.contains(&FlagKind::EarlyRelease));
            }
        }
        let found: BTreeMap<String, (usize, usize)> = of_take
            .iter()
            .filter_map(|it| match &it.what {
                Practised::Hold(beats) => Some((beats.clone(), (it.count.good, it.count.of))),
                Practised::Changed(_) => None,
            })
            .collect();
        assert_eq!(found, holds);
    }
    assert!(changed_seen > 0);
}

#[test]
fn a_mark_stands_until_it_is_given_again_or_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    let player = book.player_or_new("Olek").unwrap().id;
    let exercise = book.keep_exercise("Scales", "scales.musicxml", b"<score/>", 1).unwrap();
    let mark = |step| Mark { player, exercise, row: "tone".into(), step, marked_us: 5 };
    book.give_mark(&mark(2)).unwrap();
    book.give_mark(&mark(4)).unwrap();
    assert_eq!(book.marks().unwrap(), [mark(4)]);
    assert!(book.take_mark_back(player, exercise, "tone").unwrap());
    assert!(!book.take_mark_back(player, exercise, "tone").unwrap());
    assert!(book.marks().unwrap().is_empty());
}
