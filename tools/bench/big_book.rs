//! What a book of very many takes costs: each question that reviews, grades and plans ask, and its care.
//!
//!     cargo bench --bench big_book                      100,000 takes, in a folder that is removed afterwards
//!     cargo bench --bench big_book -- 10000             so many
//!     cargo bench --bench big_book -- 100000 FILE       keeps the book; one that is there is used as it is
//!     cargo bench --bench big_book -- 100000 FILE all   also looks the book over and lets it forget a player
//!
//! The takes are those of `restward demo --book`, copied with other players and other weeks. The reference is a walk
//! through one of the book's tables with SQLite alone, in the same run; the goal is 300 ms for a question. `busy` is the
//! processor's time for one run, the mean: on a machine that does other things it is what can be compared.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // a program for developers, run by hand

use restward::book::{Book, Wanted};
use rusqlite::Connection;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Bands of thirty: so many players there are.
const BANDS: i64 = 4;
/// The demo's term, eight weeks.
const TERM_US: i64 = 56 * 86_400_000_000;
const RUNS: usize = 7;
const GOAL_MS: f64 = 300.0;

fn main() {
    let mut arguments = std::env::args().skip(1).filter(|argument| argument != "--bench");
    let takes = arguments.next().map_or(100_000, |count| count.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let path = arguments.next().map_or_else(|| folder.path().join("big.db"), Into::into);
    let all = arguments.next().is_some();
    if !path.exists() {
        let begun = Instant::now();
        make(&path, takes);
        println!("Made in {:.1} s.", begun.elapsed().as_secs_f64());
    }
    let mut book = Book::open(&path).unwrap();
    let contents = book.contents().unwrap();
    let megabytes = std::fs::metadata(&path).unwrap().len() / 1_000_000;
    println!("{} players, {} takes, {megabytes} MB.\n", contents.players, contents.takes);
    let reference = reference(&path);
    println!("{:<44} {:>8} {:>8} {:>8} {:>8} {:>6}", "milliseconds", "first", "median", "largest", "busy", "/walk");
    println!("{:<44} {:>8} {reference:>8.1}", "the reference: SQLite walks through tally", "");
    questions(&path, reference);
    commands(&path);
    judging(&mut book);
    if all {
        care(&path);
    }
    println!("\nMost memory ever: {}.", most_memory());
}

/// The demo's book, multiplied.
fn make(path: &Path, takes: i64) {
    let program = env!("CARGO_BIN_EXE_restward");
    let made = Command::new(program).args(["demo", "--book"]).arg(path).stdout(Stdio::null()).status().unwrap();
    assert!(made.success());
    let sql = Connection::open(path).unwrap();
    sql.execute_batch("PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF; PRAGMA cache_size = -200000").unwrap();
    let number = |question: &str| sql.query_row(question, [], |row| row.get::<_, i64>(0)).unwrap();
    let (players, last) = (number("SELECT max(id) FROM player"), number("SELECT max(id) FROM take"));
    for band in 1..BANDS {
        let new = format!("id + {}, name || ' {band}', outside_id || '-{band}'", band * players);
        let copied = format!(
            "INSERT INTO player (id, name, outside_id, instrument, section, level)
             SELECT {new}, instrument, section, level FROM player WHERE id <= {players}"
        );
        sql.execute(&copied, []).unwrap();
    }
    for copy in 1.. {
        let had = number("SELECT count(*) FROM take");
        if had >= takes {
            break;
        }
        let (band, term) = (copy % BANDS, copy / BANDS);
        let most = last.min(takes - had);
        let player = format!("player + {}", band * players);
        let begun = format!("begun_us - {}", term * TERM_US);
        let number = format!("take + {}", copy * last);
        let id = format!("id + {}", copy * last);
        let changed = [("id", id.as_str()), ("player", &player), ("begun_us", &begun)];
        copied(&sql, "take", &changed, &format!("id <= {most}"));
        for table in ["flag", "tally"] {
            copied(&sql, table, &[("take", &number)], &format!("take <= {most}"));
        }
    }
    // Moves all into the one file.
    sql.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
}

/// Copies rows of a table, with other values in some columns.
fn copied(sql: &Connection, table: &str, changed: &[(&str, &str)], which: &str) {
    let mut query = sql.prepare(&format!("SELECT name FROM pragma_table_info('{table}')")).unwrap();
    let columns: Vec<String> = query.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    let values: Vec<&str> = columns
        .iter()
        .map(|column| changed.iter().find(|(name, _)| name == column).map_or(column.as_str(), |&(_, value)| value))
        .collect();
    let (columns, values) = (columns.join(", "), values.join(", "));
    sql.execute(&format!("INSERT INTO {table} ({columns}) SELECT {values} FROM {table} WHERE {which}"), []).unwrap();
}

/// Milliseconds of the reference, the median.
fn reference(path: &Path) -> f64 {
    let sql = Connection::open(path).unwrap();
    let walk = || sql.query_row("SELECT sum(good), sum(of) FROM tally", [], |row| row.get::<_, i64>(0)).unwrap();
    let mut times = times(|| {
        black_box(walk());
    });
    times.sort_by(f64::total_cmp);
    times[RUNS / 2]
}

/// Milliseconds of each run.
fn times(mut run: impl FnMut()) -> Vec<f64> {
    let once = |_| {
        let begun = Instant::now();
        run();
        begun.elapsed().as_secs_f64() * 1_000.0
    };
    (0..RUNS).map(once).collect()
}

/// Milliseconds that the processor has spent on this thread, where the system tells (Linux: proc(5), schedstat).
fn busy() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    told.split(' ').next().and_then(|nanoseconds| nanoseconds.parse::<f64>().ok()).unwrap_or(f64::NAN) / 1e6
}

fn questions(path: &Path, reference: f64) {
    // As a command has it: a connection of its own, nothing in its memory yet.
    let mut book = Book::open(path).unwrap();
    let players = book.players().unwrap();
    let player = players.first().map(|player| player.id);
    let exercise = book.exercises().unwrap().first().map(|exercise| exercise.id);
    let newest = book.attempts(&Wanted::default()).unwrap().iter().map(|attempt| attempt.begun_us).max();
    let take = book.attempts(&Wanted { player, ..Wanted::default() }).unwrap()[0].take;
    let week = newest.map(|newest| newest - 7 * 86_400_000_000);
    let whole = Wanted::default();
    let wanted = [
        ("whole book", whole.clone()),
        ("one player", Wanted { player, ..whole.clone() }),
        ("one section", Wanted { section: Some("brass".into()), ..whole.clone() }),
        ("one exercise", Wanted { exercise, ..whole.clone() }),
        ("the last week", Wanted { since_us: week, ..whole.clone() }),
        ("the last eight weeks", Wanted { since_us: newest.map(|newest| newest - TERM_US), ..whole }),
    ];
    let ask = |name: &str, question: &dyn Fn(&mut Book) -> usize| {
        let mut book = Book::open(path).unwrap();
        let mut rows = 0;
        let before = busy();
        let mut times = times(|| rows = black_box(question(&mut book)));
        let busy = (busy() - before) / RUNS as f64;
        let first = times[0];
        times.sort_by(f64::total_cmp);
        let (median, largest) = (times[RUNS / 2], times[RUNS - 1]);
        let over = if median > GOAL_MS { "  over the goal" } else { "" };
        let name = format!("{name}: {rows}");
        let ratio = median / reference;
        println!("{name:<44} {first:>8.1} {median:>8.1} {largest:>8.1} {busy:>8.1} {ratio:>6.2}{over}");
    };
    ask("players", &|book| book.players().unwrap().len());
    for (which, wanted) in &wanted {
        ask(&format!("attempts, {which}"), &|book| book.attempts(wanted).unwrap().len());
    }
    for (which, wanted) in &wanted {
        ask(&format!("practice, {which}"), &|book| book.practice(wanted).unwrap().len());
    }
    ask("findings of a take", &|book| book.findings(take).unwrap().len());
    ask("marks", &|book| book.marks().unwrap().len());
    ask("unfinished takes", &|book| book.unfinished().unwrap().len());
    ask("how much is in the book", &|book| book.contents().unwrap().takes as usize);
}

/// Whole commands, from their start to their end.
fn commands(path: &Path) {
    println!();
    for arguments in [&["grades"][..], &["grades", "--format", "csv"], &["plan"]] {
        let begun = Instant::now();
        let mut command = Command::new(env!("CARGO_BIN_EXE_restward"));
        let done = command.args(arguments).arg("--book").arg(path).stdout(Stdio::null()).stderr(Stdio::null()).status();
        if done.is_ok_and(|status| status.success()) {
            println!("restward {}: {:.0} ms", arguments.join(" "), begun.elapsed().as_secs_f64() * 1_000.0);
        }
    }
}

/// How many takes are judged again in a second, of so many.
fn judging(book: &mut Book) {
    const ENOUGH: usize = 5_000;
    let begun = Instant::now();
    let mut measured = None;
    // A book that is only looked over may be left in the middle: what is measured is measured.
    let again = book.judge_again(restward::book::At::Judged, false, &mut |judging| {
        if let restward::book::Judging::Done(done, _) = judging
            && done >= ENOUGH
            && measured.is_none()
        {
            measured = Some(done as f64 / begun.elapsed().as_secs_f64());
        }
    });
    let again = again.unwrap();
    let all = again.takes as f64 / begun.elapsed().as_secs_f64();
    println!(
        "\nJudged again: {} takes, {all:.0} a second; the first {ENOUGH}: {:.0}.",
        again.takes,
        measured.unwrap_or(all)
    );
    assert_eq!((again.different, again.not_judged), (0, 0));
}

fn care(path: &Path) {
    let mut book = Book::open(path).unwrap();
    let timed = |name: &str, run: &mut dyn FnMut()| {
        let begun = Instant::now();
        run();
        println!("{name}: {:.1} s", begun.elapsed().as_secs_f64());
    };
    timed("Looked over (verify, without judging)", &mut || assert_eq!(book.faults().unwrap(), Vec::<String>::new()));
    let copy = path.with_extension("copy");
    timed("Backed up", &mut || book.back_up(&copy).unwrap());
    let mut other = Book::open(&copy).unwrap();
    let player = other.players().unwrap().remove(0);
    timed("A player forgotten", &mut || assert!(other.forget(&player).unwrap()));
    drop(other);
    std::fs::remove_file(&copy).unwrap();
    let _ = std::fs::remove_file(path.with_extension("copy-listening"));
}

/// The most memory that this process had, where the system tells (Linux: proc(5), VmHWM).
fn most_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or_else(|| "not known here".to_owned(), |line| line.trim().to_owned())
}
