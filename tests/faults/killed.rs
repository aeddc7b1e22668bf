//! A session that is killed in the middle of a take (POSIX: SIGKILL cannot be caught). Eight kills here, 200 by
//! `tools/faults/run`: RESTWARD_KILLS.

use crate::band::plan;
use crate::playing::{run, source};
use restward::book::Book;
use restward::exercise::Micros;
use restward::listen::{Input, MidiSource, Pace, PortError, Replay, Timed, What};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};

/// The promise of `book::LONGEST_WAIT`, with ten milliseconds for the session's own clock.
const NEVER_LOST: i64 = 50_000;
const BOOK: &str = "RESTWARD_TEST_BOOK";
const KILLS: &str = "RESTWARD_KILLS";
/// Sessions at once: they mostly wait.
const AT_ONCE: usize = 20;
/// A take of the three sends some 5,000 messages.
const MOST_ARRIVALS: u64 = 4_000;

/// Says on stdout what is handed to the session, and when on the source's clock, which is the wall's unless the machine
/// stalls.
struct Loud(Replay);

impl MidiSource for Loud {
    fn list(&mut self) -> Result<Vec<String>, PortError> {
        self.0.list()
    }
    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError> {
        self.0.open(wanted)
    }
    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>> {
        let arrival = self.0.next(deadline)?;
        let What::Bytes(bytes) = &arrival.what.what else { return Some(arrival) };
        writeln!(std::io::stdout().lock(), "ARRIVED {} {} {bytes:?}", arrival.at.0, arrival.what.port).unwrap();
        Some(arrival)
    }
    fn now(&self) -> Micros {
        self.0.now()
    }
    fn cue(&mut self, take: usize, score_zero: Option<Micros>) {
        self.0.cue(take, score_zero);
    }
    fn backend(&self) -> &'static str {
        self.0.backend()
    }
}

#[test]
#[ignore = "played by the test that kills it"]
fn to_be_killed() {
    let Some(path) = std::env::var_os(BOOK) else { return };
    let plan = plan(false, 1);
    let mut source = Loud(source(&plan, Pace::Real, |_, _| ()));
    run(&plan, &mut source, Some(Path::new(&path)), |_, _| ());
}

/// A session that runs, and after how many arrivals it is killed.
struct Victim {
    after: usize,
    path: PathBuf,
    child: Child,
    _folder: tempfile::TempDir,
}

fn begin(after: usize) -> Victim {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.db");
    let child = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "killed::to_be_killed", "--ignored", "--nocapture"])
        .env(BOOK, &path)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    Victim { after, path, child, _folder: folder }
}

/// One arrival as the session was handed it.
struct Handed {
    at: i64,
    lane: i64,
    bytes: String,
}

/// Reads what is handed until the session dies of us.
fn kill(victim: &mut Victim) -> Vec<Handed> {
    let mut handed: Vec<Handed> = Vec::new();
    for line in BufReader::new(victim.child.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        let Some(rest) = line.split("ARRIVED ").nth(1) else { continue };
        let mut words = rest.splitn(3, ' ');
        // A line may have been cut off with its writer.
        let (Some(at), Some(lane), Some(bytes)) = (words.next(), words.next(), words.next()) else { continue };
        handed.push(Handed { at: at.parse().unwrap(), lane: lane.parse().unwrap(), bytes: bytes.into() });
        if handed.len() == victim.after {
            victim.child.kill().unwrap();
        }
    }
    victim.child.wait().unwrap();
    assert!(handed.len() >= victim.after, "it ended before it was killed: {}", handed.len());
    handed
}

/// How old the oldest arrival is that is not in the book, in microseconds before the last one handed.
fn look(victim: &Victim, handed: &[Handed]) -> i64 {
    let last = handed.last().unwrap().at;
    let mut book = Book::open(&victim.path).unwrap();
    assert_eq!(book.faults().unwrap(), Vec::<String>::new());
    let unfinished = book.unfinished().unwrap();
    assert_eq!(unfinished.len(), 3);
    let mut oldest_lost = 0;
    for (lane, unfinished) in (0..).zip(&unfinished) {
        let kept: Vec<String> = unfinished
            .record
            .iter()
            .map(|arrival| match &arrival.what.what {
                What::Bytes(bytes) => format!("{bytes:?}"),
                other => format!("{other:?}"),
            })
            .collect();
        let of_lane: Vec<&Handed> = handed.iter().filter(|handed| handed.lane == lane).collect();
        assert!(kept.iter().zip(&of_lane).all(|(kept, handed)| *kept == handed.bytes), "in order, unchanged");
        let lost = of_lane.get(kept.len()).map_or(0, |lost| last - lost.at);
        assert!(lost <= NEVER_LOST, "lane {lane}: lost what was {lost} us old, after {} arrivals", handed.len());
        oldest_lost = oldest_lost.max(lost);
    }
    // At the next start the takes are finished; whoever had not played yet has none.
    let played = unfinished.iter().filter(|take| !restward::listen::clean_notes(&take.record).is_empty()).count();
    let told = book.finish_cut_off().unwrap();
    assert_eq!(told.len(), played);
    assert!(told.iter().all(|cut_off| cut_off.notes > 0 && cut_off.trouble.is_none()), "{told:?}");
    drop(book);
    crate::playing::is_sound(&victim.path, played as u64);
    oldest_lost
}

#[test]
fn a_killed_session_loses_at_most_the_last_fifty_milliseconds() {
    let kills: usize = std::env::var(KILLS).map_or(8, |kills| kills.parse().unwrap());
    // Moments at random, others each time, so that many runs see many moments.
    let seed = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap().as_nanos() as u64;
    let mut state = seed;
    let moments: Vec<usize> = (0..kills)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            20 + ((state >> 33) % MOST_ARRIVALS) as usize
        })
        .collect();
    let mut oldest_lost = Vec::new();
    for moments in moments.chunks(AT_ONCE) {
        let victims: Vec<Victim> = moments.iter().map(|&after| begin(after)).collect();
        let lookers: Vec<_> = victims
            .into_iter()
            .map(|mut victim| {
                std::thread::spawn(move || {
                    let handed = kill(&mut victim);
                    look(&victim, &handed)
                })
            })
            .collect();
        oldest_lost.extend(lookers.into_iter().map(|looker| looker.join().unwrap()));
    }
    oldest_lost.sort_unstable();
    let (middle, most) = (oldest_lost[kills / 2], oldest_lost[kills - 1]);
    eprintln!("{kills} kills: what was lost was {} us old in the middle, {most} us at most", middle);
}
