//! Clocks that are set, step back or leap.

use crate::band::plan;
use crate::playing::{flags, flags_of_file, is_sound, played, run, source};
use restward::exercise::Micros;
use restward::judge::{Engine, Settings};
use restward::listen::{Input, MidiSource, Pace, PortError, Replay, Timed, take};
use restward::session::{Plan, Told};
use std::sync::Arc;

/// A source whose clocks do what `Clocks` says.
struct Odd<C> {
    inner: Replay,
    clocks: C,
}

/// What happens to time on the way from the players.
trait Clocks {
    /// The time of an arrival, as it is told.
    fn arrival(&mut self, arrival: &Timed<Input>) -> Micros {
        arrival.at
    }
    /// How far the clock of the source is ahead of the players', when that says so much.
    fn ahead(&self, _: Micros) -> Micros {
        Micros(0)
    }
    fn unix_seconds(&self) -> Option<f64> {
        None
    }
    fn cued(&mut self) {}
}

impl<C: Clocks> MidiSource for Odd<C> {
    fn list(&mut self) -> Result<Vec<String>, PortError> {
        self.inner.list()
    }
    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError> {
        self.inner.open(wanted)
    }
    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>> {
        let before = self.clocks.ahead(self.inner.now());
        let mut arrival = self.inner.next(deadline - before)?;
        arrival.at = self.clocks.arrival(&arrival) + self.clocks.ahead(arrival.at);
        Some(arrival)
    }
    fn now(&self) -> Micros {
        self.inner.now() + self.clocks.ahead(self.inner.now())
    }
    fn cue(&mut self, take: usize, score_zero: Option<Micros>) {
        self.clocks.cued();
        let ahead = self.clocks.ahead(self.inner.now());
        self.inner.cue(take, score_zero.map(|zero| zero - ahead));
    }
    fn unix_seconds(&self, _: Micros) -> Option<f64> {
        self.clocks.unix_seconds()
    }
    fn backend(&self) -> &'static str {
        "odd"
    }
}

/// The computer's clock is set back between takes: to 2001, then before 1970, from which computers count.
struct SetBack(usize);

impl Clocks for SetBack {
    fn unix_seconds(&self) -> Option<f64> {
        [2e9, 1e9, -5.5].get(self.0).copied()
    }
    fn cued(&mut self) {
        self.0 += 1;
    }
}

#[test]
fn a_computer_clock_set_back_loses_no_take() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let plan = Plan { save: Some(folder.path().join("takes")), ..plan(true, 3) };
    let inner = source(&plan, Pace::Fast, |_, _| ());
    let (outcomes, troubles) = run(&plan, &mut Odd { inner, clocks: SetBack(0) }, Some(&path), |_, _| ());
    assert_eq!((outcomes.len(), troubles.len()), (9, 0), "{troubles:?}");
    assert!(outcomes.iter().all(|outcome| outcome.is_kept));
    is_sound(&path, 9);
    let sql = rusqlite::Connection::open(&path).unwrap();
    let mut begun = sql.prepare("SELECT begun_us FROM take GROUP BY begun_us ORDER BY min(id)").unwrap();
    let begun: Vec<i64> = begun.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    assert_eq!(begun, [2_000_000_000_000_000, 1_000_000_000_000_000, -5_500_000]);
}

/// The time stamps of Ben's controller step back by an hour in the middle of the take.
struct StampsStepBack;

impl Clocks for StampsStepBack {
    fn arrival(&mut self, arrival: &Timed<Input>) -> Micros {
        let back = arrival.what.port == 1 && arrival.at > Micros(9_000_000);
        if back { arrival.at - Micros(3_600_000_000) } else { arrival.at }
    }
}

#[test]
fn time_stamps_that_step_back_disturb_no_other_lane() {
    let folder = tempfile::tempdir().unwrap();
    let plan = Plan { save: Some(folder.path().into()), ..plan(true, 1) };
    let calm = run(&plan, &mut source(&plan, Pace::Fast, |_, _| ()), None, |_, _| ()).0;
    let inner = source(&plan, Pace::Fast, |_, _| ());
    let (outcomes, _) = run(&plan, &mut Odd { inner, clocks: StampsStepBack }, None, |_, _| ());
    for (outcome, calm) in outcomes.iter().zip(&calm) {
        let file = outcome.saved.as_ref().unwrap();
        assert_eq!(flags_of_file(file, &plan, outcome.turn.lane), flags(outcome), "lane {}", outcome.turn.lane);
        let inputs = take::read_file(file).unwrap().inputs;
        assert_eq!(inputs.len(), take::read_file(calm.saved.as_ref().unwrap()).unwrap().inputs.len());
        assert!(outcome.turn.lane == 1 || flags(outcome) == flags(calm));
        // An arrival from the past counts as of now, a hundredth of a second behind: Ben's take stays what he played.
        assert_eq!(outcome.report.totals.right_pitches, calm.report.totals.right_pitches);
    }
}

/// The computer sleeps for two hours when the players' clock says so much.
struct Sleeps(Micros);

impl Clocks for Sleeps {
    fn ahead(&self, now: Micros) -> Micros {
        if now >= self.0 { Micros(7_200_000_000) } else { Micros(0) }
    }
}

/// After waking the take is over, with a click as without one; what is played then is the next take. No message is lost but
/// those played into a take that is over, as always.
#[test]
fn a_computer_that_slept_ends_the_take_and_goes_on() {
    for click in [true, false] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let plan = Plan { save: Some(folder.path().join("takes")), ..plan(click, 2) };
        let mut beats = 0;
        let inner = source(&plan, Pace::Fast, |_, _| ());
        let mut source = Odd { inner, clocks: Sleeps(Micros(9_000_000)) };
        let (outcomes, troubles) =
            run(&plan, &mut source, Some(&path), |told, _| beats += usize::from(matches!(told, Told::Beat(_))));
        assert_eq!(troubles, Vec::<String>::new());
        assert_eq!(outcomes.len(), 6, "click {click}");
        for outcome in &outcomes {
            let file = outcome.saved.as_ref().unwrap();
            assert_eq!(flags_of_file(file, &plan, outcome.turn.lane), flags(outcome), "click {click}");
        }
        let notes = |take| {
            outcomes
                .iter()
                .filter(move |outcome| outcome.turn.take == take)
                .map(|outcome| outcome.report.notes.iter().filter(|note| note.played_midi.is_some()).count())
        };
        // About nine of 17 seconds, then all of the second take.
        assert!(notes(1).all(|notes| (4..18).contains(&notes)), "{:?}", notes(1).collect::<Vec<_>>());
        assert!(!click || notes(2).all(|notes| notes >= 19), "{:?}", notes(2).collect::<Vec<_>>());
        // Two takes of a measure of count-in and eight measures; none of the beats that were slept through.
        assert!(beats <= 2 * 9 * 4, "{beats} beats");
        is_sound(&path, 6);
    }
}

/// A clock that counts from long ago: 3,000 years are the most that a stream may say, 140,000 years what a MIDI file can add up
/// to. Floating numbers of seconds then lie many microseconds apart, and the judge must come to an end all the same.
#[test]
fn a_clock_that_counts_centuries_is_judged() {
    let plan = plan(false, 1);
    for zero in [0, 100_000_000_000_000_000, 4_000_000_000_000_000_000] {
        let settings = Settings {
            level: plan.players[0].level,
            sends: plan.players[0].sends,
            grid: None,
            delay: None,
            instrument: plan.players[0].instrument.clone(),
            family: plan.family.clone(),
            stamp_error: Settings::stamp_error(Micros(0)),
        };
        let mut engine = Engine::new(Arc::clone(&plan.players[0].part), settings);
        let inputs = played(&plan, 1, Micros(zero));
        inputs.iter().filter(|input| input.what.port == 0).for_each(|input| engine.push(input));
        let (report, _) = engine.finish(inputs.last().unwrap().at + Micros(2_000_000));
        assert_eq!(report.totals.right_pitches.good, 19, "of 20, one changed note missed");
    }
}
