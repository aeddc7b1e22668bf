//! The live session on a made-up clock, played by simulated players: what it tells does not depend on threads, timers
//! or the order in which lanes are seen, and survives a pulled cable, a quit and a crash.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

#[path = "support/band.rs"]
mod band;
#[path = "support/kept.rs"]
mod kept;

use band::plan;
use crossbeam_channel::{Sender, bounded};
use kept::flags_of_file;
use proptest::prelude::*;
use restward::exercise::Micros;
use restward::judge::{Decision, FlagKind, Level, Sends};
use restward::listen::{Input, MidiSource, Pace, PortError, Replay, Timed, What, take};
use restward::read::{Choice, read_exercise};
use restward::session::{Command, Outcome, Plan, PlayerPlan, Session, Silent, Stage, Student, Told, recover};
use restward::{instrument, theory};
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// What the three players play: the two typical faults of one, none of the others.
fn played(plan: &Plan, number: u64, zero: Micros) -> Vec<Timed<Input>> {
    let mut all = Vec::new();
    for (port, lane) in (0..).zip(&plan.players) {
        let changed = theory::changed_notes(lane.part.measures[0].key, &written_family(lane));
        let faults = usize::from(port == 2);
        let student = Student {
            number: number + u64::from(port),
            channel: port as u8,
            sends_written: true,
            changed: changed.iter().take(1).map(|changed| (changed.letter, changed.alter)).collect(),
            missed_changes: faults,
            short_holds: faults,
            ..Student::default()
        };
        let bytes = student.play(&lane.part, &lane.part.tempo, zero);
        all.extend(bytes.into_iter().map(|(at, bytes)| Timed { at, what: Input { port, what: What::Bytes(bytes) } }));
    }
    all
}

fn written_family(lane: &PlayerPlan) -> Vec<theory::Key> {
    let transposition = lane.part.transposition.unwrap_or_default();
    theory::default_family().into_iter().map(|key| transposition.key_to_written(key)).collect()
}

/// A source on the made-up clock. Without a click the players begin a second after the cue.
fn source(plan: &Plan, number: u64, change: impl Fn(&mut Vec<Timed<Input>>, Micros) + Send + 'static) -> Replay {
    let names = plan.lanes.iter().map(|lane| lane.port.clone()).collect();
    let wait = if plan.click.is_some() { Micros(0) } else { Micros(1_000_000) };
    let plan = plan.clone();
    let performance = move |_: usize, zero: Micros| {
        let mut arrivals = played(&plan, number, zero + wait);
        change(&mut arrivals, zero + wait);
        arrivals
    };
    Replay::new(names, Pace::Fast, Box::new(performance))
}

/// Runs a session; `steer` sees all that is told and may give commands.
fn run(
    plan: &Plan,
    source: &mut dyn MidiSource,
    mut steer: impl FnMut(&Told, &Sender<Command>),
) -> (Vec<Arc<Outcome>>, Vec<Told>) {
    let (commands, asked) = bounded(16);
    let mut log = Vec::new();
    let mut tell = |told: Told| {
        steer(&told, &commands);
        log.push(told);
    };
    let stage = Stage { source, commands: &asked, click: &mut Silent, thru: None, keeper: None, tell: &mut tell };
    let outcomes = Session::open(plan.clone(), stage).unwrap().run();
    (outcomes, log)
}

/// Findings of a lane at the end of a take.
fn flags(outcome: &Outcome) -> BTreeSet<(usize, FlagKind)> {
    outcome.report.flags.iter().map(|flag| (flag.index, flag.kind)).collect()
}

/// Ada's controller in Ben's hands, and his in hers.
#[test]
fn swapped_controllers_are_told() {
    let mut plan = plan(true, 1);
    // Parts that sound different: the saxophone plays the tune backwards in time, as a second voice.
    let part = Arc::make_mut(&mut plan.players[2].part);
    let pitches: Vec<_> = part.notes.iter().rev().map(|note| (note.written, note.sounding)).collect();
    for (note, (written, sounding)) in part.notes.iter_mut().zip(pitches) {
        (note.written, note.sounding) = (written, sounding);
    }
    let swap = |arrivals: &mut Vec<Timed<Input>>, _: Micros| {
        for arrival in arrivals {
            arrival.what.port = [2, 1, 0][arrival.what.port as usize];
        }
    };
    let said = |log: &[Told]| {
        let sentences = log.iter().filter_map(|told| match told {
            Told::Trouble(sentence) => Some(sentence.clone()),
            _ => None,
        });
        sentences.collect::<Vec<_>>()
    };
    let (_, log) = run(&plan, &mut source(&plan, 3, swap), |_, _| ());
    assert_eq!(said(&log), ["Ada and Cleo seem to have each other's controller: change them over and play again"]);
    let (_, log) = run(&plan, &mut source(&plan, 3, |_, _| ()), |_, _| ());
    assert_eq!(said(&log), Vec::<String>::new());
}

/// Findings told live and not taken back.
fn standing(log: &[Told], of: usize) -> BTreeSet<(usize, FlagKind)> {
    let mut standing = BTreeSet::new();
    for told in log {
        match told {
            Told::Decided { turn, decision: Decision::Flag { flag, .. } } if turn.lane == of => {
                standing.insert((flag.index, flag.kind));
            }
            Told::Decided { turn, decision: Decision::Withdrawn { index, flag, .. } } if turn.lane == of => {
                standing.remove(&(*index, *flag));
            }
            _ => {}
        }
    }
    standing
}

#[test]
fn the_two_typical_faults_are_found_and_nothing_else() {
    for click in [true, false] {
        let plan = plan(click, 1);
        let (outcomes, log) = run(&plan, &mut source(&plan, 3, |_, _| ()), |_, _| ());
        assert_eq!(outcomes.len(), 3);
        assert_eq!(flags(&outcomes[0]), BTreeSet::new(), "click {click}");
        assert_eq!(flags(&outcomes[1]), BTreeSet::new(), "click {click}");
        let kinds: Vec<FlagKind> = flags(&outcomes[2]).into_iter().map(|(_, kind)| kind).collect();
        assert!(kinds.contains(&FlagKind::WrongAccidental) && kinds.contains(&FlagKind::EarlyRelease), "{kinds:?}");
        assert_eq!(kinds.len(), 2, "{kinds:?}");
        for (lane, outcome) in outcomes.iter().enumerate() {
            assert_eq!(standing(&log, lane), flags(outcome), "what stands at the end is the report");
        }
    }
}

/// A source whose timer is coarse and whose lanes are seen in any order, each arrival at most 4 ms late.
struct Unruly {
    inner: Replay,
    now: Micros,
    waiting: Vec<(Micros, Timed<Input>)>,
    chance: u64,
    coarse: i64,
}

impl Unruly {
    fn chance(&mut self, below: i64) -> i64 {
        self.chance = self.chance.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        ((self.chance >> 33) % below.max(1) as u64) as i64
    }
}

impl MidiSource for Unruly {
    fn list(&mut self) -> Result<Vec<String>, PortError> {
        self.inner.list()
    }

    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError> {
        self.inner.open(wanted)
    }

    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>> {
        // All that has happened by the deadline is on its way, and seen up to 4 ms later.
        while let Some(arrival) = self.inner.next(deadline) {
            let late = Micros(self.chance(4_000));
            let lane = arrival.what.port;
            // Within a lane the order stays.
            let earlier = self.waiting.iter().filter(|(_, other)| other.what.port == lane).map(|(seen, _)| *seen).max();
            self.waiting.push(((arrival.at + late).max(earlier.unwrap_or(Micros(0))), arrival));
        }
        let due = self.waiting.iter().enumerate().filter(|(_, (seen, _))| *seen <= deadline);
        if let Some(place) = due.min_by_key(|(place, (seen, _))| (*seen, *place)).map(|(place, _)| place) {
            return Some(self.waiting.remove(place).1);
        }
        self.now = deadline + Micros(self.chance(self.coarse));
        None
    }

    fn now(&self) -> Micros {
        self.now
    }

    fn cue(&mut self, take: usize, score_zero: Option<Micros>) {
        self.inner.cue(take, Some(score_zero.unwrap_or(self.now)));
    }

    fn backend(&self) -> &'static str {
        "unruly"
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn flags_do_not_depend_on_timers_or_the_order_of_lanes(chance: u64, coarse in 1i64..60_000, click: bool) {
        let plan = plan(click, 1);
        let calm = run(&plan, &mut source(&plan, 3, |_, _| ()), |_, _| ()).0;
        let inner = source(&plan, 3, |_, _| ());
        let mut unruly = Unruly { inner, now: Micros(0), waiting: vec![], chance, coarse };
        let (wild, log) = run(&plan, &mut unruly, |_, _| ());
        prop_assert_eq!(wild.len(), calm.len());
        for (lane, (wild, calm)) in wild.iter().zip(&calm).enumerate() {
            prop_assert_eq!(flags(wild), flags(calm));
            prop_assert_eq!(&wild.report.totals, &calm.report.totals);
            prop_assert_eq!(standing(&log, lane), flags(calm));
        }
    }
}

#[test]
fn a_pulled_cable_ends_the_note_and_the_take_goes_on() {
    let plan = plan(true, 1);
    // Ada's cable is out from the middle of measure 2 to the end of measure 3 (2.14 s a measure at 112).
    let (out, back) = (Micros(3_200_000), Micros(6_400_000));
    let cable = move |arrivals: &mut Vec<Timed<Input>>, zero: Micros| {
        arrivals.retain(|arrival| arrival.what.port != 0 || arrival.at < zero + out || arrival.at > zero + back);
        arrivals.push(Timed { at: zero + out, what: Input { port: 0, what: What::Disconnect } });
        arrivals.push(Timed { at: zero + back, what: Input { port: 0, what: What::Connect } });
    };
    let (outcomes, log) = run(&plan, &mut source(&plan, 3, cable), |_, _| ());
    let cables: Vec<bool> = log
        .iter()
        .filter_map(|told| match told {
            Told::Unplugged { lane: 0 } => Some(false),
            Told::Replugged { lane: 0 } => Some(true),
            _ => None,
        })
        .collect();
    assert_eq!(cables, [false, true]);
    let ada = &outcomes[0].report;
    // Note 3 is the dotted half of measure 2, notes 4 to 7 are measure 3.
    let released = ada.notes[3].release_s.unwrap() - ada.notes[3].onset_s.unwrap();
    assert!(released < 1.2, "the note ends with the cable: {released}");
    let missed: Vec<usize> =
        (0..ada.notes.len()).filter(|&note| ada.notes[note].flags.contains(&FlagKind::MissedNote)).collect();
    assert_eq!(missed, [4, 5, 6, 7]);
    assert_eq!(flags(&outcomes[1]), BTreeSet::new(), "the others are not disturbed");
}

/// The cable is pulled in the pause and put back half a minute later: nobody is counted in meanwhile, unless `n` is pressed.
#[test]
fn the_count_in_waits_for_a_pulled_cable() {
    for presses_n in [false, true] {
        let plan = plan(true, 2);
        let cable = |arrivals: &mut Vec<Timed<Input>>, _: Micros| {
            let last = arrivals.iter().map(|arrival| arrival.at).max().unwrap();
            // The take ends some beats after its last note, the pause is two seconds.
            let at = |seconds: i64| last + Micros(seconds * 1_000_000);
            let cables = [(3, What::Disconnect), (33, What::Connect)];
            arrivals.extend(cables.map(|(after, what)| Timed { at: at(after), what: Input { port: 1, what } }));
        };
        let plan = Plan { pause: Micros(2_000_000), ..plan };
        let (outcomes, log) = run(&plan, &mut source(&plan, 3, cable), |told, commands| {
            if presses_n && matches!(told, Told::Trouble(sentence) if sentence.contains("the cable of controller 2")) {
                commands.send(Command::Next).unwrap();
            }
        });
        assert_eq!(outcomes.len(), 6);
        let place = |is: &dyn Fn(&Told) -> bool| log.iter().position(is);
        let waits = place(&|told| matches!(told, Told::Trouble(sentence) if sentence.contains("controller 2 is out")));
        let back = place(&|told| matches!(told, Told::Replugged { lane: 1 }));
        let second = log.iter().skip(waits.unwrap()).position(|told| matches!(told, Told::Cued { .. }));
        let second = second.unwrap() + waits.unwrap();
        assert_eq!(back.is_some_and(|back| back < second), !presses_n, "{back:?} {second}");
        assert_eq!(log.iter().filter(|told| matches!(told, Told::Trouble(_))).count(), 1, "said once");
    }
}

/// `n` in the count-in, which is what it asks for, and when everybody is through.
#[test]
fn a_key_pressed_twice_ends_no_take() {
    let plan = plan(true, 1);
    let twice = |told: &Told, commands: &Sender<Command>| {
        if matches!(told, Told::Cued { .. }) {
            commands.send(Command::Next).unwrap();
        }
    };
    let (outcomes, _) = run(&plan, &mut source(&plan, 3, |_, _| ()), twice);
    assert_eq!(outcomes.len(), 3);
    assert!(outcomes.iter().all(|outcome| outcome.played && outcome.report.totals.fits));
}

/// Quits when the first flag is told.
fn quit_at_first_flag(told: &Told, commands: &Sender<Command>) {
    if matches!(told, Told::Decided { decision: Decision::Flag { .. }, .. }) {
        let _ = commands.try_send(Command::Quit);
    }
}

#[test]
fn quitting_keeps_what_was_played() {
    let folder = tempfile::tempdir().unwrap();
    let plan = Plan { save: Some(folder.path().join("takes")), ..plan(true, 5) };
    let (outcomes, log) = run(&plan, &mut source(&plan, 3, |_, _| ()), quit_at_first_flag);
    assert_eq!(outcomes.len(), 3, "one take of each player, not five");
    assert!(outcomes.iter().all(|outcome| outcome.saved.as_ref().is_some_and(|file| file.exists())));
    assert!(matches!(log.last(), Some(Told::End { .. })));
    let missed = outcomes[0].report.totals.flags.get(&FlagKind::MissedNote).copied().unwrap_or(0);
    assert!(missed > 0, "what was not played any more is missed");
}

#[test]
fn a_saved_take_has_the_same_flags() {
    for (click, quits) in [(true, false), (false, false), (true, true), (false, true)] {
        let folder = tempfile::tempdir().unwrap();
        let plan = Plan { save: Some(folder.path().into()), ..plan(click, 1) };
        let steer = |told: &Told, commands: &Sender<Command>| {
            if quits {
                quit_at_first_flag(told, commands);
            }
        };
        let (outcomes, _) = run(&plan, &mut source(&plan, 11, |_, _| ()), steer);
        for (lane, outcome) in outcomes.iter().enumerate() {
            let file = outcome.saved.as_ref().unwrap();
            assert_eq!(flags_of_file(file, &plan, lane), flags(outcome), "{}", file.display());
        }
    }
}

/// A measured delay goes with the take: `check` needs to be told nothing. Ada's controller is 90 ms late, Ben's was
/// measured too high, Cleo's was not measured.
#[test]
fn a_saved_take_keeps_its_delay() {
    let folder = tempfile::tempdir().unwrap();
    let mut plan = Plan { save: Some(folder.path().into()), ..plan(true, 1) };
    plan.players.iter_mut().for_each(|player| player.level = Level::ThirdYear);
    plan.lanes[0].delay = Some(Micros(90_000));
    plan.lanes[1].delay = Some(Micros(130_000));
    let late = |arrivals: &mut Vec<Timed<Input>>, _: Micros| {
        arrivals.iter_mut().filter(|arrival| arrival.what.port == 0).for_each(|arrival| {
            arrival.at = arrival.at + Micros(90_000);
        });
    };
    let (outcomes, _) = run(&plan, &mut source(&plan, 11, late), |_, _| ());
    // At 112 a minute the third-year tolerance is 0.15 of 536 ms, 80 ms: late by 90 all would be off.
    assert_eq!(flags(&outcomes[0]), BTreeSet::new());
    // On time, but with 130 ms taken off: early.
    assert_eq!(outcomes[1].report.totals.flags.get(&FlagKind::EarlyEntrance), Some(&20));
    for (lane, (outcome, delay)) in outcomes.iter().zip([Some(90_000), Some(130_000), None]).enumerate() {
        let file = outcome.saved.as_ref().unwrap();
        assert_eq!(take::read_file(file).unwrap().delay, delay.map(Micros));
        assert_eq!(flags_of_file(file, &plan, lane), flags(outcome), "{}", file.display());
    }
}

#[test]
fn takes_are_private_and_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let takes = folder.path().join("a/b");
    let plan = Plan { save: Some(takes.clone()), ..plan(true, 2) };
    run(&plan, &mut source(&plan, 3, |_, _| ()), |_, _| ());
    run(&plan, &mut source(&plan, 3, |_, _| ()), |_, _| ());
    let mut names: Vec<String> =
        takes.read_dir().unwrap().map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    let expected: Vec<String> = ["Ada", "Ben", "Cleo"]
        .iter()
        .flat_map(|player| (1..=4).map(move |take| format!("{player}-Lantern-Walk-take{take}.mid")))
        .collect();
    assert_eq!(names, expected);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |path: &Path| path.metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&takes), 0o700);
        assert_eq!(mode(&takes.join(&names[0])), 0o600);
    }
}

#[test]
fn a_crash_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let whole = Plan { save: Some(folder.path().join("whole")), ..plan(true, 1) };
    let (outcomes, _) = run(&whole, &mut source(&whole, 3, |_, _| ()), |_, _| ());
    // The program dies when the last decision before the end of the take is told: the journals lie as they were.
    let crashed = folder.path().join("crashed");
    let copy = crashed.clone();
    std::fs::create_dir(&crashed).unwrap();
    let live = folder.path().join("live");
    let mut plan = Plan { save: Some(live.clone()), ..plan(true, 1) };
    plan.lanes[0].delay = Some(Micros(42_000));
    run(&plan, &mut source(&plan, 3, |_, _| ()), move |told, _| {
        if matches!(told, Told::Decided { decision: Decision::Placed { .. }, .. }) {
            for file in live.read_dir().unwrap().map(|file| file.unwrap().path()) {
                std::fs::copy(&file, copy.join(file.file_name().unwrap())).unwrap();
            }
        }
    });
    assert_eq!(recover(&crashed, Duration::from_secs(60)).unwrap(), Vec::<std::path::PathBuf>::new(), "may be in use");
    let mut recovered = recover(&crashed, Duration::ZERO).unwrap();
    recovered.sort();
    assert_eq!(recovered.len(), 3);
    assert_eq!(take::read_file(&recovered[0]).unwrap().delay, Some(Micros(42_000)), "Ada's, the first by name");
    // All but what came after the last note's placement: every note-on is there.
    for (file, outcome) in recovered.iter().zip(&outcomes) {
        let count = |file: &Path| take::read_file(file).unwrap().inputs.len();
        let (there, all) = (count(file), count(outcome.saved.as_ref().unwrap()));
        assert!(there > all * 8 / 10, "{there} of {all}");
    }
    assert_eq!(crashed.read_dir().unwrap().count(), 3, "the journals are gone");
}

#[test]
fn a_discarded_take_leaves_no_file_and_is_played_again() {
    let folder = tempfile::tempdir().unwrap();
    let plan = Plan { save: Some(folder.path().into()), ..plan(true, 1) };
    let mut discarded = false;
    let (outcomes, log) = run(&plan, &mut source(&plan, 3, |_, _| ()), |told, commands| {
        if !discarded && matches!(told, Told::Decided { decision: Decision::Flag { .. }, .. }) {
            discarded = true;
            commands.send(Command::Discard(None)).unwrap();
        }
    });
    assert_eq!(
        log.iter().filter(|told| matches!(told, Told::Discarded { turns, .. } if turns[0].take == 1)).count(),
        1
    );
    assert_eq!(outcomes.len(), 3);
    assert_eq!(folder.path().read_dir().unwrap().count(), 3);
}

#[test]
fn takes_follow_one_another_by_themselves() {
    for click in [true, false] {
        let plan = plan(click, 3);
        let (outcomes, _) = run(&plan, &mut source(&plan, 3, |_, _| ()), |_, _| ());
        let takes: Vec<(usize, usize)> =
            outcomes.iter().map(|outcome| (outcome.turn.take, outcome.turn.lane)).collect();
        assert_eq!(takes, [(1, 0), (1, 1), (1, 2), (2, 0), (2, 1), (2, 2), (3, 0), (3, 1), (3, 2)], "click {click}");
    }
}

#[test]
fn nobody_playing_does_not_click_for_ever() {
    let plan = plan(true, 4);
    let mut cued = 0;
    let mut source = source(&plan, 3, |arrivals, _| arrivals.clear());
    let (outcomes, _) = run(&plan, &mut source, |told, commands| match told {
        Told::Cued { .. } => cued += 1,
        // The second take does not begin by itself; the director ends the session.
        Told::Waiting => commands.send(Command::Quit).unwrap(),
        _ => {}
    });
    assert_eq!(cued, 1);
    assert!(outcomes.iter().all(|outcome| !outcome.played));
}

/// All simulated takes of tests/data/takes, played into a session: the same flags as from the file, and no take ends
/// before its last note.
#[test]
fn takes_played_live_have_the_flags_of_the_file() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/takes");
    let mut names: Vec<std::path::PathBuf> = folder.read_dir().unwrap().map(|file| file.unwrap().path()).collect();
    names.retain(|path| path.extension().is_some_and(|ending| ending == "mid"));
    names.sort();
    assert!(names.len() >= 60, "{}", names.len());
    for file in names {
        let truth = std::fs::read_to_string(file.with_extension("truth.json")).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
        let options = &truth["options"];
        let exercise = std::fs::read(file.with_extension("musicxml")).unwrap();
        let part = read_exercise(&exercise, &Choice::default()).unwrap().part;
        let hints: Vec<&str> = std::iter::once(&part.name.name).chain(&part.name.hints).map(String::as_str).collect();
        let instrument = instrument::catalogue().recognise_printed(&hints, part.transposition).cloned();
        let take = take::read_file(&file).unwrap();
        let level = match options["level"].as_str().unwrap() {
            "first-year" => Level::FirstYear,
            "second-year" => Level::SecondYear,
            _ => Level::ThirdYear,
        };
        let player = PlayerPlan {
            player: "Ada".into(),
            part: Arc::new(part),
            instrument,
            sends: if options["sends"] == "written" { Sends::Written } else { Sends::Concert },
            level,
        };
        let mut plan = Plan { click: take.start.map(|_| take.tempo.clone()), players: vec![player], ..plan(true, 1) };
        plan.lanes.truncate(1);
        let from_file = flags_of_file(&file, &plan, 0);
        let shift = take.start.map_or(Micros(1_000_000), |start| Micros(-start.0));
        let performance = move |_: usize, zero: Micros| {
            let arrivals = take.inputs.iter().map(|arrival| Timed {
                at: arrival.at + shift + zero,
                what: Input { port: 0, what: arrival.what.what.clone() },
            });
            arrivals.collect()
        };
        let mut source = Replay::new(vec!["Ada".into()], Pace::Fast, Box::new(performance));
        let (outcomes, log) = run(&plan, &mut source, |_, _| ());
        assert_eq!(flags(&outcomes[0]), from_file, "{}", file.display());
        assert_eq!(standing(&log, 0), from_file, "{}", file.display());
    }
}
