//! The live log for people: each kind of line, at 80 columns, without colour; and what a terminal gets besides.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use restward::exercise::Micros;
use restward::instrument::catalogue;
use restward::judge::{Count, Decision, Flag, FlagKind, Level, Report, Restart, Sends, Totals};
use restward::read::{Choice, read_exercise};
use restward::session::{Beat, LanePlan, Outcome, Plan, PlayerPlan, Plays, Step, Told, Turn};
use restward::show::{Console, Face, Look};
use restward::theory::{Letter, default_family};
use std::sync::Arc;

const EXERCISE: &[u8] = include_bytes!("../config/exercises/lantern-walk.musicxml");

fn plan(players: &[&str]) -> Plan {
    let player = |player: &&str| {
        let choice = Choice { part: Some("P3".into()), ..Choice::default() };
        PlayerPlan {
            player: (*player).into(),
            part: Arc::new(read_exercise(EXERCISE, &choice).unwrap().part),
            instrument: Some(catalogue().get("alto-sax").unwrap().clone()),
            sends: Sends::Auto,
            level: Level::FirstYear,
        }
    };
    let lane = |place| LanePlan { port: "port".into(), plays: Plays::Always(place), delay: None };
    Plan {
        exercise: "lantern-walk".into(),
        players: players.iter().map(player).collect(),
        lanes: (0..players.len()).map(lane).collect(),
        queues: Vec::new(),
        click: Some(Default::default()),
        count_in: 1,
        takes: None,
        pause: Micros(0),
        handover: Micros(0),
        lingers: false,
        family: default_family(),
        save: None,
    }
}

/// Whose take: one on each lane, as without queues.
fn turn(player: usize) -> Turn {
    Turn { lane: player, player, take: 1 }
}

/// What a session writes of these things.
fn written(players: &[&str], look: Look, told: &[Told]) -> String {
    log(plan(players), look, told)
}

fn log(plan: Plan, look: Look, told: &[Told]) -> String {
    let face = |player: &PlayerPlan| Face {
        player: player.player.clone(),
        instrument: Some("alto saxophone".into()),
        changed: vec![(Letter::F, 0), (Letter::B, 0)],
    };
    let faces = plan.players.iter().map(face).collect();
    let mut out = Vec::new();
    let mut console = Console::new(anstream::StripStream::new(&mut out), look, plan, faces);
    told.iter().for_each(|told| console.tell(told).unwrap());
    String::from_utf8(out).unwrap()
}

fn flag(lane: usize, kind: FlagKind, measure: &str, beat: f64, written: &str, sentence: &str) -> Told {
    let flag = Flag {
        index: 4,
        kind,
        measure: measure.into(),
        beat,
        written: written.into(),
        played: None,
        off_beats: None,
        off_ms: None,
        beats_given: None,
        beats_due: None,
        alteration: None,
        changed_note: None,
        sentence: sentence.into(),
    };
    Told::Decided { turn: turn(lane), decision: Decision::Flag { at_s: 1.0, flag } }
}

fn over(lane: usize, played: bool) -> Told {
    let totals = Totals {
        notes: 20,
        right_pitches: Count { good: 17, of: 20 },
        changed_notes: Count { good: 3, of: 4 },
        full_releases: Count { good: 2, of: 3 },
        entrances: Count { good: 0, of: 0 },
        extra: 1,
        restarts: 2,
        delay: None,
        ..Totals::default()
    };
    let remarks = vec!["The whole take sits an octave low.".into()];
    let report = Report {
        notes: vec![],
        flags: vec![],
        close: vec![],
        extra: vec![],
        restarts: vec![],
        remarks,
        totals,
        ended: Micros(0),
    };
    Told::Over(Arc::new(Outcome {
        turn: turn(lane),
        round: 1,
        played,
        report,
        saved: Some("takes/Tom-take1.mid".into()),
        is_kept: true,
    }))
}

#[test]
fn every_kind_of_line_fits() {
    let long = "dotted half let go after 2.1 of 3 beats: it lasts until the rest on beat 4";
    let decided = |decision| Told::Decided { turn: turn(1), decision };
    let told = [
        Told::Listening { ports: vec!["Wind Controller 20:0".into(), "Pad 24:0".into()] },
        Told::Ahead { turns: vec![turn(0), turn(1)], waiting: vec![vec![], vec![]] },
        Told::CheckNote { player: 0, sends: Some(Sends::Written) },
        Told::CheckNote { player: 1, sends: None },
        Told::Cued { turns: vec![turn(0), turn(1)], score_zero: Some(Micros(2_500_000)), unix_s: None },
        Told::Beat(Beat { at: Micros(0), number: 1, of: 4, measure: "1".into() }),
        flag(1, FlagKind::WrongAccidental, "4", 1.0, "F#5", "played F♮: the key signature makes every F sharp"),
        flag(0, FlagKind::EarlyRelease, "8", 1.0, "Bb4", long),
        flag(0, FlagKind::LateEntrance, "12", 2.5, "C5", "late by 0.4 of a beat"),
        flag(0, FlagKind::MissedNote, "101", 1.33, "C5", "not played"),
        decided(Decision::Withdrawn {
            at_s: 2.0,
            index: 4,
            flag: FlagKind::WrongAccidental,
            because: "the whole take shows it otherwise".into(),
        }),
        decided(Decision::Restart { at_s: 2.0, restart: Restart { from_index: 9, to_index: 4 } }),
        decided(Decision::Remark { at_s: 2.0, sentence: "the whole take sounds one octave too high".into() }),
        Told::Unplugged { lane: 0 },
        Told::Replugged { lane: 0 },
        Told::Trouble("Tom's take cannot be saved: no space left on device".into()),
        over(0, false),
        over(1, true),
        Told::End { unplayed: vec![] },
    ];
    let text = written(&["Maximiliane-Sophie", "Tom"], Look::default(), &told);
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    insta::assert_snapshot!("every_kind_of_line", text);
}

#[test]
fn many_notes_left_out_at_once_are_two_lines() {
    let missed = |lane, measure: &str| flag(lane, FlagKind::MissedNote, measure, 1.0, "C5", "not played");
    let told = [missed(0, "3"), missed(0, "4"), missed(0, "5"), missed(1, "3"), over(0, true)];
    let text = written(&["Mia", "Tom"], Look::default(), &told);
    let lines: Vec<&str> = text.lines().take(3).collect();
    assert_eq!(
        lines,
        [
            "Mia  o m3 b1   C5    not played",
            "Mia  o and 2 more notes not played, up to m5 b1   C5",
            "Tom  o m3 b1   C5    not played",
        ]
    );
}

/// What was said of the whole take while it was played does not stand below it again.
#[test]
fn a_remark_is_said_once() {
    let sentence = "The whole take sits an octave low.";
    let remark = Decision::Remark { at_s: 2.0, sentence: sentence.into() };
    let cued = Told::Cued { turns: vec![turn(0), turn(1)], score_zero: None, unix_s: None };
    let told = [cued, Told::Decided { turn: turn(0), decision: remark }, over(0, true), over(1, true)];
    let text = written(&["Mia", "Tom"], Look::default(), &told);
    assert_eq!(text.matches(sentence).count(), 2, "once for each: {text}");
}

#[test]
fn a_terminal_shows_the_beat_and_rubs_it_out() {
    let beat = Beat { at: Micros(0), number: 2, of: 3, measure: "7".into() };
    let look = Look { terminal: true, keys: true, ..Look::default() };
    // The escape sequences are the matter here, so nothing is stripped.
    let mut out = Vec::new();
    let mut console = Console::new(&mut out, look, plan(&["Tom"]), vec![]);
    console.tell(&Told::Beat(beat)).unwrap();
    console.tell(&Told::Discarded { turns: vec![turn(0)], is_kept: true }).unwrap();
    let text = String::from_utf8(out).unwrap();
    // Erase to the end of the line: ECMA-48, EL. With single keys the terminal needs the carriage return.
    assert_eq!(text, "\r\x1b[Kmeasure 7      1 [2] 3 \r\x1b[KTake 1 is thrown away. u brings it back.\r\n");
}

#[test]
fn a_discarded_take_is_not_in_the_closing_summary() {
    let told = [
        over(0, true),
        Told::Discarded { turns: vec![turn(0)], is_kept: true },
        over(0, true),
        Told::End { unplayed: vec![] },
    ];
    let text = written(&["Tom"], Look::default(), &told);
    assert!(!text.contains("entrances\n"), "one take needs no table: {text}");
    let told = [over(0, true), over(0, true), Told::End { unplayed: vec![] }];
    assert!(written(&["Tom"], Look::default(), &told).contains("17 of 20    3 of 4    2 of 3         -\n"));
}

/// A queue of four on one controller: names, what the director does, who comes next and who has not played.
#[test]
fn players_who_take_turns_are_called() {
    let mut plan = plan(&["Ines Berg", "Tom", "\u{c9}va", "Olek"]);
    plan.lanes = vec![LanePlan { port: "wind".into(), plays: Plays::Queue(0), delay: None }];
    plan.queues = vec![vec![0, 1, 2, 3]];
    let turn = |player, take| Turn { lane: 0, player, take };
    let ahead = |player, take, waiting: &[usize]| Told::Ahead {
        turns: vec![turn(player, take)],
        waiting: vec![waiting.to_vec()],
    };
    let over = |player| {
        let Told::Over(outcome) = over(0, true) else { panic!("over") };
        Told::Over(Arc::new(Outcome { turn: turn(player, 1), saved: None, ..(*outcome).clone() }))
    };
    let told = [
        Told::Listening { ports: vec!["Wind Controller".into()] },
        ahead(0, 1, &[1, 2, 3]),
        over(0),
        ahead(1, 1, &[2, 3]),
        Told::Step(Step::Absent(1)),
        ahead(2, 1, &[3]),
        Told::Undone(Step::Absent(1)),
        ahead(1, 1, &[2, 3]),
        Told::Step(Step::Absent(1)),
        ahead(2, 1, &[3]),
        Told::Discarded { turns: vec![turn(0, 1)], is_kept: true },
        ahead(0, 1, &[2, 3]),
        Told::Trouble("there is no take to throw away".into()),
        over(0),
        Told::Through,
        Told::End { unplayed: vec![1, 2, 3] },
    ];
    let look = Look { kept_in: Some("band.db".into()), ..Look::default() };
    let text = log(plan.clone(), look, &told);
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    insta::assert_snapshot!("players_who_take_turns", text);
    // A terminal shows names to be read from a chair, and each key.
    let look = Look { terminal: true, keys: true, ..Look::default() };
    let text = log(plan.clone(), look.clone(), &told[..2]).replace('\r', "");
    insta::assert_snapshot!("a_name_on_a_terminal", text);
    let text = log(plan, Look { ascii: true, ..look }, &told[5..6]).replace('\r', "");
    assert!(text.is_ascii() && text.contains("##### #   #"), "{text}");
}

/// Two controllers: who is called up on one of them while somebody still sits at the other.
#[test]
fn who_still_has_to_play_is_named_beside_somebody_new() {
    let mut plan = plan(&["Ada", "Ben", "Cleo"]);
    let lane = |port: &str| LanePlan { port: port.into(), plays: Plays::Queue(0), delay: None };
    (plan.lanes, plan.queues) = (vec![lane("wind"), lane("pad")], vec![vec![0, 1, 2]]);
    let turn = |lane, player| Turn { lane, player, take: 1 };
    let ahead = |lanes: [usize; 2]| Told::Ahead {
        turns: vec![turn(0, lanes[0]), turn(1, lanes[1])],
        waiting: vec![vec![], vec![]],
    };
    let Told::Over(outcome) = over(1, false) else { panic!("over") };
    let silent = Told::Over(Arc::new(Outcome { turn: turn(1, 1), ..(*outcome).clone() }));
    let text = log(plan, Look::default(), &[ahead([0, 1]), silent, ahead([2, 1])]);
    assert!(text.contains("\nBen has not played yet, and keeps the turn.\n"), "{text}");
    assert!(text.contains("take 1 on controller 1"), "{text}");
    assert_eq!(text.matches("Still to play: Ben on controller 2.").count(), 1, "{text}");
    assert!(!text.contains("look at the cable"), "{text}");
}
