//! The engine: any small part, anything played, looked at whenever. The judgement is one function of them, and what stands
//! at the end is what was told and not taken back.

use super::played::{arrivals, one_by_one};
use restward::exercise::{Micros, Part};
use restward::instrument::catalogue;
use restward::judge::{Decision, Engine, FlagKind, Grid, Level, Sends, Settings};
use restward::listen::take::Clock;
use restward::listen::{Input, Timed};
use restward::read::{Choice, read_exercise};
use restward::theory::default_family;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::sync::Arc;

/// A head of four bytes, a part of at most 15 notes of two bytes each, the rest is played.
pub(crate) fn engine(bytes: &[u8]) {
    let [how, key, count, timer, rest @ ..] = bytes else { return };
    let count = usize::from(count & 15).min(rest.len() / 2);
    let (notes, played) = rest.split_at(2 * count);
    let Ok(exercise) = read_exercise(tune(*key, notes).as_bytes(), &Choice::default()) else { return };
    let part = Arc::new(exercise.part);
    let settings = settings(*how, &part);
    let arrivals = arrivals(played, &Clock::new(settings.grid.as_ref().map(|grid| (grid.start, &grid.tempo))));
    let end = arrivals.last().map_or(Micros(0), |last| last.at) + Micros(2_000_000);
    let judged = |arrivals: &[Timed<Input>], timer| judged(&part, &settings, arrivals, timer, end);
    let whole = judged(&arrivals, None);
    assert_eq!(whole, judged(&arrivals, Some(1_000 * i64::from(*timer))), "looked at often");
    assert_eq!(whole, judged(&one_by_one(&arrivals), None), "byte by byte");
}

/// An ABC tune: of each note the first byte is its pitch and sign, the second its length and what stands around it.
fn tune(key: u8, notes: &[u8]) -> String {
    const KEYS: [&str; 8] = ["Eb", "F", "Bb", "Ab", "G", "C", "Gm", "C#"];
    const METERS: [&str; 4] = ["4/4", "6/8", "2/2", "5/8"];
    let pick = |of: &[&'static str], place: u8| of[usize::from(place) % of.len()];
    let mut tune = format!("X:1\nM:{}\nL:1/8\nQ:1/4=112\nK:{}\n", pick(&METERS, key >> 3), pick(&KEYS, key & 7));
    for pair in notes.chunks_exact(2) {
        let &[pitch, shape] = pair else { continue };
        let sign = pick(&["", "", "", "", "^", "_", "=", ""], pitch >> 5);
        let letter =
            pick(&["C", "D", "E", "F", "G", "A", "B", "c", "d", "e", "f", "g", "C,", "z", "[CE]", "{g}A"], pitch & 15);
        let sign = if letter.len() > 2 || letter == "z" { "" } else { sign };
        let around = pick(&["", "", ".", "!fermata!", "", "!breath!", "", ""], shape >> 5);
        let after = pick(&["", "", " | ", "-", "", " :|", "", ""], shape >> 2 & 7);
        let _ = write!(tune, "{around}{sign}{letter}{}{after}", pick(&["", "2", "4", "/2"], shape & 3));
    }
    tune
}

fn settings(how: u8, part: &Part) -> Settings {
    let level = [Level::FirstYear, Level::SecondYear, Level::ThirdYear][usize::from(how & 3) % 3];
    let sends = [Sends::Written, Sends::Concert, Sends::Auto, Sends::Auto][usize::from(how >> 2 & 3)];
    let id = [None, Some("trumpet"), Some("alto-sax"), Some("xylophone")][usize::from(how >> 4 & 3)];
    // As the session does it: the click to the microsecond as a file would hold it.
    let clock = Clock::new(Some((Micros(500_000), &part.tempo)));
    let grid = clock.click().filter(|_| how & 0x40 != 0).map(|(start, tempo)| Grid::new(start, tempo));
    Settings {
        level,
        sends,
        grid,
        delay: (how & 0x80 != 0).then_some(Micros(60_000)),
        instrument: id.and_then(|id| catalogue().get(id).ok()).cloned(),
        family: default_family(),
        stamp_error: Settings::stamp_error(Micros(0)),
    }
}

/// All decisions and the report as text.
fn judged(
    part: &Arc<Part>,
    settings: &Settings,
    arrivals: &[Timed<Input>],
    timer: Option<i64>,
    end: Micros,
) -> (Vec<Decision>, String) {
    let mut engine = Engine::new(Arc::clone(part), settings.clone());
    let mut decisions = Vec::new();
    let mut now = Micros(0);
    for arrival in arrivals {
        // A long pause is not looked at more than some dozen times.
        let step = timer.map(|step| step.max(1 + (arrival.at - now).0 / 48));
        while let Some(step) = step.filter(|step| now + Micros(*step) < arrival.at) {
            now = now + Micros(step);
            engine.advance(now);
            let _ = engine.is_over(now);
        }
        engine.push(arrival);
        decisions.extend(engine.take_decisions());
        now = arrival.at;
    }
    let (report, last) = engine.finish(end);
    decisions.extend(last);
    let mut standing: BTreeSet<(usize, FlagKind)> = BTreeSet::new();
    for decision in &decisions {
        match decision {
            Decision::Flag { flag, .. } => assert!(standing.insert((flag.index, flag.kind)), "told twice: {flag:?}"),
            Decision::Withdrawn { index, flag, .. } => assert!(standing.remove(&(*index, *flag)), "never told"),
            _ => {}
        }
    }
    let reported: BTreeSet<(usize, FlagKind)> = report.flags.iter().map(|flag| (flag.index, flag.kind)).collect();
    assert_eq!(standing, reported, "what stands is not what is reported");
    (decisions, serde_json::to_string(&report).unwrap())
}
