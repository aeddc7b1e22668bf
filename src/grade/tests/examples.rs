use super::super::{NoStep, NoTotal, Outcome, Retake, Total, percent};
use super::super::{Rounding, Rubric};
use super::{Counts, attempt, graded, mark, rubric, steps};
use crate::judge::Count;

const WELL: Counts = [(40, 40), (10, 10), (10, 10), (40, 40)];

fn total(total: &Total) -> (u8, &str) {
    match total {
        Total::Grade { percent, name, .. } => (*percent, name),
        Total::None(why) => panic!("{why:?}"),
    }
}

/// 30 of 40 are 75 percent, 36 of 40 are 90; together 66 of 80 = 82.5.
#[test]
fn the_best_the_last_and_all_takes() {
    let notes = |good, of| [(good, of), (0, 0), (0, 0), (0, 0)];
    let takes = [attempt(1, notes(36, 40)), attempt(2, notes(30, 40))];
    for (which, step, count, from) in [
        ("\"best\"", 4, Count { good: 36, of: 40 }, vec![0]),
        ("\"last\"", 2, Count { good: 30, of: 40 }, vec![1]),
        ("\"mean\"", 3, Count { good: 66, of: 80 }, vec![0, 1]),
    ] {
        let graded = graded(&takes, &[], &rubric(&[("takes_count = \"best\"", &format!("takes_count = {which}"))]));
        let Outcome::Measured(measured) = &graded.rows[0] else { panic!("{graded:?}") };
        assert_eq!((measured.step, measured.count, &measured.from), (step, count, &from), "{which}");
    }
}

/// Both takes have all notes right: the later one says what the player can do now.
#[test]
fn of_equal_takes_the_later_counts() {
    let graded = graded(&[attempt(1, WELL), attempt(2, WELL)], &[], &rubric(&[]));
    let Outcome::Measured(measured) = &graded.rows[0] else { panic!("{graded:?}") };
    assert_eq!(measured.from, [1]);
}

/// The bands begin at 70, 80 and 90 percent; 899 of 1000 are 89.9, 895 are 89.5.
#[test]
fn bands_from_both_sides() {
    for (good, down, half_up) in [
        (699, 1, 2),
        (700, 2, 2),
        (694, 1, 1),
        (695, 1, 2),
        (799, 2, 3),
        (800, 3, 3),
        (899, 3, 4),
        (894, 3, 3),
        (895, 3, 4),
        (900, 4, 4),
        (1000, 4, 4),
        (0, 1, 1),
    ] {
        let take = attempt(1, [(good, 1000), (0, 0), (0, 0), (0, 0)]);
        let with = |rounding| {
            let rubric = rubric(&[("rounding = \"down\"", rounding)]);
            graded(std::slice::from_ref(&take), &[], &rubric).rows[0].step()
        };
        assert_eq!(with("rounding = \"down\""), Some(down), "{good}");
        assert_eq!(with("rounding = \"half-up\""), Some(half_up), "{good}");
    }
    assert_eq!(percent(0, 0, Rounding::Down), 0);
    assert_eq!(percent(u64::MAX, u64::MAX, Rounding::HalfUp), 100);
    assert_eq!(percent(u64::MAX - 1, u64::MAX, Rounding::Down), 99);
}

/// Steps 4, 3, 2, 1 are worth 100, 85, 75, 50, each of weight 2: 620 / 8 = 77.5, rounded down 77: C.
/// With tone 4 and posture 3 of weight 1: (620 + 100 + 85) / 10 = 80.5: B.
#[test]
fn the_total_is_the_weighted_mean() {
    let take = [attempt(1, [(36, 40), (8, 10), (7, 10), (20, 40)])];
    let graded_by_takes = graded(&take, &[], &rubric(&[]));
    assert_eq!(steps(&graded_by_takes), [Some(4), Some(3), Some(2), Some(1)]);
    assert_eq!(total(&graded_by_takes.total), (77, "C"));
    let Total::Grade { points, weights, left_out, .. } = &graded_by_takes.total else { panic!() };
    assert_eq!((*points, *weights, &left_out[..]), (620, 8, &[4, 5, 6, 7][..]));
    let half_up = rubric(&[("rounding = \"down\"", "rounding = \"half-up\"")]);
    assert_eq!(total(&graded(&take, &[], &half_up).total), (78, "C"));
    let marked = graded(&take, &[mark("tone", 4), mark("posture", 3)], &rubric(&[]));
    assert_eq!(total(&marked.total), (80, "B"));
    // Below step 3: full value and rhythm.
    assert_eq!(marked.retake, [Retake::Below(2), Retake::Below(3)]);
}

/// Four changed notes are asked for, over two takes 3 and 1 are enough; of three there is no step.
#[test]
fn too_little_is_no_step() {
    let changed = |good, of| [(40, 40), (good, of), (10, 10), (40, 40)];
    let few = graded(&[attempt(1, changed(3, 3))], &[], &rubric(&[]));
    assert_eq!(few.rows[1], Outcome::None(NoStep::FewNotes { found: 3, least: 4 }));
    assert_eq!(few.retake, [Retake::Evidence(1)]);
    let enough = [attempt(1, changed(3, 3)), attempt(2, changed(0, 1))];
    // 3 of 4 are 75 percent.
    assert_eq!(graded(&enough, &[], &rubric(&[])).rows[1].step(), Some(2));
    let two_takes = rubric(&[("least_notes = 4", "least_notes = 4\nleast_takes = 2")]);
    let one = graded(&[attempt(1, changed(9, 9))], &[], &two_takes);
    assert_eq!(one.rows[1], Outcome::None(NoStep::FewTakes { found: 1, least: 2 }));
    assert_eq!(graded(&enough, &[], &two_takes).rows[1].step(), Some(2));
    let none = graded(&[attempt(1, changed(0, 0))], &[], &rubric(&[]));
    assert_eq!(none.rows[1], Outcome::None(NoStep::NothingToJudge));
    assert!(none.retake.is_empty(), "another take would not have any either");
}

/// All weights are 12. Three measured rows weigh 6, that is 50 percent: a total. Two weigh 4: none. 51 percent: none.
#[test]
fn too_few_rows_are_no_total() {
    let rows = |changed: usize| [(40, 40), (changed, changed), (10, 10), (0, 0)];
    assert_eq!(total(&graded(&[attempt(1, rows(10))], &[], &rubric(&[])).total), (100, "A"));
    let little = Total::None(NoTotal::LittleWeight { weights: 4, of: 12 });
    assert_eq!(graded(&[attempt(1, rows(0))], &[], &rubric(&[])).total, little);
    let stricter = rubric(&[("least_weight = 50", "least_weight = 51")]);
    let little = Total::None(NoTotal::LittleWeight { weights: 6, of: 12 });
    assert_eq!(graded(&[attempt(1, rows(10))], &[], &stricter).total, little);
    let whole = rubric(&[("without_evidence = \"left-out\"", "without_evidence = \"no-total\"")]);
    let missing = Total::None(NoTotal::Missing(vec![4, 5, 6, 7]));
    assert_eq!(graded(&[attempt(1, WELL)], &[], &whole).total, missing);
    let marks = ["tone", "posture", "articulation", "dynamics"].map(|row| mark(row, 4));
    assert_eq!(total(&graded(&[attempt(1, WELL)], &marks, &whole).total), (100, "A"));
}

#[test]
fn without_a_take_there_is_nothing() {
    let no_rule = Rubric { retake: None, least_weight: 0, ..rubric(&[]) };
    let nothing = graded(&[], &[], &no_rule);
    assert_eq!(nothing.rows[0], Outcome::None(NoStep::NoTake));
    assert_eq!(nothing.rows[4], Outcome::None(NoStep::NotMarked));
    assert_eq!(nothing.total, Total::None(NoTotal::LittleWeight { weights: 0, of: 12 }));
    assert!(nothing.retake.is_empty());
    assert_eq!(graded(&[], &[], &rubric(&[])).retake.len(), 4, "all four measured rows want a take");
}

#[test]
fn a_take_of_something_else_is_no_evidence() {
    let other = crate::book::Attempt { fits: false, ..attempt(2, [(0, 40), (0, 10), (0, 10), (0, 40)]) };
    let graded_both = graded(&[attempt(1, WELL), other.clone()], &[], &rubric(&[]));
    assert_eq!((steps(&graded_both), graded_both.unfit), ([Some(4); 4], 1));
    assert_eq!(graded(&[other], &[], &rubric(&[])).rows[0], Outcome::None(NoStep::NoTake));
}

/// Takes of 50, 80 and 100 percent.
#[test]
fn so_many_takes_count() {
    let notes = |good| [(good, 10), (0, 0), (0, 0), (0, 0)];
    let takes = [attempt(1, notes(5)), attempt(2, notes(8)), attempt(3, notes(10))];
    let two = ("# takes_at_most = 3", "takes_at_most = 2");
    let first = graded(&takes, &[], &rubric(&[two, ("which_takes = \"newest\"", "which_takes = \"first\"")]));
    assert_eq!((first.rows[0].step(), first.beyond, first.takes.len()), (Some(3), 1, 2));
    assert!(first.retake.is_empty(), "the takes are used up");
    let newest = graded(&takes[..], &[], &rubric(&[two]));
    assert_eq!((newest.rows[0].step(), newest.takes[0].take), (Some(4), 2));
}

/// The first take reaches step 1 (50 percent) or 4 (100 percent), the second 4 and 1.
#[test]
fn a_retake_lifts_so_far() {
    let notes = |good| [(good, 10), (0, 0), (0, 0), (0, 0)];
    let held = rubric(&[("# lifts_to_step = 3", "lifts_to_step = 3")]);
    let lifted = graded(&[attempt(1, notes(5)), attempt(2, notes(10))], &[], &held);
    let Outcome::Measured(measured) = &lifted.rows[0] else { panic!("{lifted:?}") };
    assert_eq!((measured.step, measured.held_from, measured.percent), (3, Some(4), 100));
    let kept = graded(&[attempt(1, notes(10)), attempt(2, notes(5))], &[], &held);
    let Outcome::Measured(measured) = &kept.rows[0] else { panic!("{kept:?}") };
    assert_eq!((measured.step, measured.held_from), (4, None));
}

#[test]
fn a_mark_that_the_scale_does_not_have_is_none() {
    for (step, expected) in [(4, Some(4)), (5, None), (0, None), (1, Some(1))] {
        let graded = graded(&[], &[mark("tone", step)], &rubric(&[]));
        assert_eq!(graded.rows[4].step(), expected, "{step}");
    }
}
