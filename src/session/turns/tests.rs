//! Turns without a session: each step, and that no player is ever in two places or lost.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use super::*;
use crate::exercise::{Micros, Part};
use crate::judge::{Level, Report, Sends, Totals};
use crate::read::{Choice, read_exercise};
use crate::session::{LanePlan, PlayerPlan};
use proptest::prelude::*;
use std::sync::LazyLock;

static PART: LazyLock<Arc<Part>> = LazyLock::new(|| {
    let exercise = include_bytes!("../../../config/exercises/lantern-walk.musicxml");
    Arc::new(read_exercise(exercise, &Choice::default()).unwrap().part)
});

/// Players 0, 1, .. shared out to queues, each with so many lanes.
fn plan(queues: &[(usize, &[usize])], takes: Option<usize>) -> Plan {
    let lanes = queues.iter().enumerate().flat_map(|(queue, &(lanes, _))| std::iter::repeat_n(queue, lanes));
    let lane = |queue| LanePlan { port: String::new(), plays: Plays::Queue(queue), delay: None };
    let count = queues.iter().map(|(_, players)| players.len()).sum();
    let player = |number: usize| PlayerPlan {
        player: number.to_string(),
        part: Arc::clone(&PART),
        instrument: None,
        sends: Sends::Auto,
        level: Level::FirstYear,
    };
    Plan {
        exercise: String::new(),
        players: (0..count).map(player).collect(),
        lanes: lanes.map(lane).collect(),
        queues: queues.iter().map(|(_, players)| players.to_vec()).collect(),
        click: None,
        count_in: 1,
        takes,
        pause: Micros(0),
        handover: Micros(0),
        lingers: false,
        family: Vec::new(),
        save: None,
    }
}

fn outcome(turn: Turn) -> Arc<Outcome> {
    let (notes, flags, close, extra, restarts, remarks) = (vec![], vec![], vec![], vec![], vec![], vec![]);
    let report = Report { notes, flags, close, extra, restarts, remarks, totals: Totals::default(), ended: Micros(0) };
    Arc::new(Outcome { turn, round: 1, played: true, report, saved: None, is_kept: true })
}

fn seated(turns: &Turns) -> Vec<(usize, usize)> {
    turns.ahead().iter().map(|turn| (turn.player, turn.take)).collect()
}

/// All who have a seat play.
fn round(turns: &mut Turns) -> Vec<Arc<Outcome>> {
    turns.begun();
    let ahead = turns.ahead();
    ahead.iter().for_each(|&turn| turns.played(turn, true));
    turns.fill();
    ahead.into_iter().map(outcome).collect()
}

#[test]
fn one_after_the_other_each_so_many_takes() {
    let mut turns = Turns::new(&plan(&[(1, &[0, 1])], Some(2)));
    let mut order = Vec::new();
    while !turns.is_through() {
        order.extend(seated(&turns));
        round(&mut turns);
    }
    assert_eq!(order, [(0, 1), (0, 2), (1, 1), (1, 2)]);
}

#[test]
fn two_controllers_share_a_queue() {
    let mut turns = Turns::new(&plan(&[(2, &[0, 1, 2])], None));
    assert_eq!((seated(&turns), turns.waiting()), (vec![(0, 1), (1, 1)], vec![vec![2], vec![2]]));
    round(&mut turns);
    assert_eq!(seated(&turns), [(2, 1)]);
}

#[test]
fn each_step_and_back() {
    let mut turns = Turns::new(&plan(&[(1, &[0, 1, 2])], None));
    assert_eq!(turns.skip(0), Ok(Step::Skipped(0)));
    assert_eq!((seated(&turns), turns.waiting()), (vec![(1, 1)], vec![vec![2, 0]]));
    assert_eq!(turns.absent(0), Ok(Step::Absent(1)));
    assert_eq!((seated(&turns), turns.waiting()), (vec![(2, 1)], vec![vec![0]]));
    assert!(matches!(turns.undo(&[]), Some(Undone::Step(Step::Absent(1)))));
    assert!(matches!(turns.undo(&[]), Some(Undone::Step(Step::Skipped(0)))));
    assert_eq!((seated(&turns), turns.waiting()), (vec![(0, 1)], vec![vec![1, 2]]));
    assert!(turns.undo(&[]).is_none());
    assert!(turns.retake(0, None).is_err(), "nobody has played yet");
    let played = round(&mut turns);
    assert_eq!(turns.retake(0, None), Ok(Step::Retake(0)));
    assert_eq!(
        (seated(&turns), turns.waiting()),
        (vec![(0, 2)], vec![vec![1, 2]]),
        "a second take, who was next waits"
    );
    turns.undo(&[]);
    assert_eq!((seated(&turns), turns.waiting()), (vec![(1, 1)], vec![vec![2]]));
    turns.thrown(played, true);
    assert_eq!((seated(&turns), turns.waiting()), (vec![(0, 1)], vec![vec![1, 2]]), "the first take again");
    assert!(matches!(turns.undo(&[]), Some(Undone::Back(back)) if back.len() == 1));
    assert_eq!((seated(&turns), turns.waiting()), (vec![(1, 1)], vec![vec![2]]));
}

#[test]
fn a_take_that_was_thrown_away_while_played_comes_back_as_played() {
    let mut turns = Turns::new(&plan(&[(1, &[0, 1])], None));
    turns.begun();
    let running = turns.ahead().into_iter().map(outcome).collect();
    turns.thrown(running, false);
    assert_eq!(seated(&turns), [(0, 1)], "to be played again");
    turns.undo(&[]);
    assert_eq!(seated(&turns), [(1, 1)], "it counts after all");
    assert!(turns.begun().is_empty());
}

#[test]
fn what_was_thrown_away_is_gone_when_the_next_take_begins() {
    let mut turns = Turns::new(&plan(&[(1, &[0, 1])], None));
    let played = round(&mut turns);
    turns.absent(0).unwrap();
    turns.thrown(played, true);
    assert_eq!(turns.begun().len(), 1);
    // The step before it can still be taken back.
    assert!(matches!(turns.undo(&[]), Some(Undone::Step(Step::Absent(1)))));
    assert!(turns.undo(&[]).is_none());
}

#[test]
fn who_plays_nothing_keeps_the_turn() {
    let plan = plan(&[(1, &[0, 1])], None);
    let mut turns = Turns::new(&plan);
    turns.played(turns.ahead()[0], false);
    turns.fill();
    assert_eq!((seated(&turns), turns.unplayed(&plan)), (vec![(0, 1)], vec![0, 1]));
}

#[test]
fn a_retake_of_who_went_home_is_not_taken_for_the_take_that_was_thrown_away() {
    let mut turns = Turns::new(&plan(&[(1, &[0, 1])], None));
    let played = round(&mut turns);
    turns.retake(0, None).unwrap();
    turns.absent(0).unwrap();
    turns.thrown(played, true);
    round(&mut turns);
    assert!(matches!(turns.undo(&[]), Some(Undone::Step(Step::Absent(0)))));
    assert_eq!((seated(&turns), turns.waiting()), (vec![(0, 2)], vec![vec![1]]), "the retake is still to be played");
}

#[test]
fn a_retake_can_be_taken_back_until_that_player_has_played_again() {
    let mut turns = Turns::new(&plan(&[(1, &[0, 1])], None));
    round(&mut turns);
    turns.retake(0, None).unwrap();
    turns.skip(0).unwrap();
    turns.begun();
    turns.played(turns.ahead()[0], true);
    assert!(matches!(turns.undo(&[]), Some(Undone::Step(Step::Skipped(0)))));
    assert!(matches!(turns.undo(&[]), Some(Undone::Step(Step::Retake(0)))));
    assert!(turns.is_through());
}

proptest! {
    /// Any keys in any order: everybody is on one seat, in one queue, absent or through.
    #[test]
    fn nobody_is_lost_or_doubled(
        takes in prop::option::of(1usize..3),
        steps in prop::collection::vec((0usize..8, 0usize..3), 0..60),
    ) {
        let plan = plan(&[(2, &[0, 1, 2, 3, 4]), (1, &[5, 6])], takes);
        let mut turns = Turns::new(&plan);
        let mut last = Vec::new();
        let mut playing: Vec<Turn> = Vec::new();
        let mut more = vec![0usize; plan.players.len()];
        for (step, lane) in steps {
            match step {
                // A take begins; whatever is done then, it ends.
                0 if playing.is_empty() => {
                    turns.begun();
                    (playing, last) = (turns.ahead(), Vec::new());
                }
                0 => {
                    playing.iter().for_each(|&turn| turns.played(turn, true));
                    turns.fill();
                    last = playing.drain(..).map(outcome).collect();
                }
                // Who has not played a note yet: the session ends the take.
                1 => {
                    let is_absent = turns.absent(lane).is_ok();
                    playing.retain(|turn| !is_absent || turn.lane != lane);
                }
                2 => {
                    let is_skipped = turns.skip(lane).is_ok();
                    playing.retain(|turn| !is_skipped || turn.lane != lane);
                }
                3 => {
                    let playing = playing.iter().find(|turn| turn.lane == lane).map(|turn| turn.player);
                    if let Ok(Step::Retake(player)) = turns.retake(lane, playing) {
                        more[player] += 1;
                    }
                }
                4 => match turns.undo(&playing.iter().map(|turn| turn.lane).collect::<Vec<_>>()) {
                    Some(Undone::Step(Step::Retake(player))) => more[player] -= 1,
                    Some(Undone::Back(back)) => last = back,
                    _ => {}
                },
                5 if !last.is_empty() => turns.thrown(std::mem::take(&mut last), true),
                _ if playing.is_empty() => turns.played(turns.ahead().first().copied().unwrap_or(Turn { lane, player: 0, take: 1 }), false),
                _ => {}
            }
            let seats = turns.seats.iter().filter_map(|seat| seat.now);
            let here: Vec<Waiting> = seats.chain(turns.queues.iter().flatten().copied()).collect();
            prop_assert!(here.iter().all(|waiting| waiting.left > 0));
            let mut places: Vec<usize> = here.iter().map(|waiting| waiting.player).collect();
            places.sort_unstable();
            prop_assert!(places.windows(2).all(|pair| pair[0] != pair[1]), "{places:?}");
            // Played or to be played, here or at home: as many takes as were planned and asked for again.
            let gone = turns.done.iter().filter_map(|done| match done {
                Done::Absent { waiting, .. } => Some(*waiting),
                _ => None,
            });
            let mut count = turns.takes.clone();
            here.into_iter().chain(gone).for_each(|Waiting { player, left }| count[player] += left);
            for (player, count) in count.into_iter().enumerate() {
                prop_assert_eq!(count, takes.unwrap_or(1) + more[player], "takes of {}", player);
            }
        }
    }
}
