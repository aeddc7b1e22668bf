//! An invented band in a book: takes of the demo exercise, each played exactly but for the faults that are asked for.

use jiff::tz::TimeZone;
use restward::book::{Book, TakeStart, Wanted};
use restward::exercise::{FollowedBy, Micros, Part};
use restward::instrument::catalogue;
use restward::judge::{Engine, Grid, Level, Report, Sends, Settings};
use restward::listen::{Input, Timed, What};
use restward::read::{Choice, read_exercise};
use restward::show::review::{Asked, Review};
use restward::theory::default_family;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Eight measures in concert E♭ major: 20 notes; notes 3, 8 and 19 are dotted halves before a rest, 3, 11, 15 and 18 the
/// A♭ of concert pitch.
pub(crate) const LANTERN_WALK: &[u8] = include_bytes!("../../config/exercises/lantern-walk.musicxml");
pub(crate) const DAY_US: i64 = 86_400_000_000;
/// Monday, 12 January 2026, 15:00 UTC (`date -u -d 2026-01-12T15:00 +%s`).
pub(crate) const FIRST_US: i64 = 1_768_230_000 * 1_000_000;

/// What goes wrong at a note.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Fault {
    /// So many semitones off.
    Off(i16),
    /// Not played.
    Missed,
    /// Held for this share of its value.
    Held(f64),
    /// Begun so many beats later (negative: sooner).
    Begun(f64),
}

pub(crate) fn part(instrument: &str) -> Part {
    let transposition = catalogue().get(instrument).unwrap().transposition;
    read_exercise(LANTERN_WALK, &Choice { instrument: Some(transposition), ..Choice::default() }).unwrap().part
}

/// A take: the raw messages, and when it ends.
fn play(part: &Part, zero: Micros, faults: &[(usize, Fault)]) -> (Vec<Timed<Input>>, Micros) {
    let faults: BTreeMap<usize, Fault> = faults.iter().copied().collect();
    let mut arrivals = Vec::new();
    let mut end = zero;
    for note in &part.notes {
        let (mut on, off) = (zero + part.tempo.micros_at(note.onset), zero + part.tempo.micros_at(note.end()));
        end = off;
        let beat = (off - on).0 as f64 / note.duration.to_f64();
        let (mut midi, mut share) =
            (i16::from(note.sounding), if note.followed_by == FollowedBy::Rest { 1.0 } else { 0.96 });
        match faults.get(&note.index) {
            Some(Fault::Missed) => continue,
            Some(Fault::Off(semitones)) => midi += semitones,
            Some(Fault::Held(held)) => share = *held,
            Some(Fault::Begun(beats)) => on = on + Micros((beats * beat) as i64),
            None => {}
        }
        let length = (off - on).0 as f64;
        let mut message = |at: Micros, status: u8| {
            let bytes = vec![status, u8::try_from(midi).unwrap(), 80];
            arrivals.push(Timed { at, what: Input { port: 0, what: What::Bytes(bytes) } });
        };
        message(on, 0x90);
        message(on + Micros((length * share) as i64), 0x80);
    }
    arrivals.sort_by_key(|arrival| arrival.at);
    (arrivals, end + Micros(4_000_000))
}

/// Keeps a take of a player in the book, judged as a session does; returns its number and report.
pub(crate) fn keep(
    book: &mut Book,
    (player, instrument, section): (&str, &str, &str),
    begun_us: i64,
    faults: &[(usize, Fault)],
) -> (i64, Report) {
    let mut known = book.player_or_new(player).unwrap();
    (known.instrument, known.section) = (Some(instrument.into()), Some(section.into()));
    book.change(&known).unwrap();
    let part = Arc::new(part(instrument));
    let zero = Micros(2_000_000);
    let grid = Grid::new(zero, part.tempo.clone());
    let start = TakeStart {
        player: known.id,
        exercise: book.keep_exercise("Lantern Walk", "lantern-walk.musicxml", LANTERN_WALK, 1).unwrap(),
        begun_us,
        part: part.name.id.clone(),
        instrument: Some(instrument.into()),
        level: Level::FirstYear,
        sends: Sends::Concert,
        family: default_family(),
        click: Some(grid.clone()),
        delay: None,
    };
    let settings = Settings {
        level: start.level,
        sends: start.sends,
        grid: start.click.clone(),
        delay: None,
        instrument: catalogue().get(instrument).ok().cloned(),
        family: default_family(),
        stamp_error: Settings::stamp_error(Micros(0)),
    };
    let (inputs, end) = play(&part, zero, faults);
    let mut engine = Engine::new(Arc::clone(&part), settings);
    inputs.iter().for_each(|input| engine.push(input));
    let report = engine.finish(end).0;
    let take = book.begin_take(&start).unwrap();
    book.finish_take(take, &inputs, &start, end, &part, &report).unwrap();
    (take, report)
}

/// Four players of two sections over four weeks, and one who never plays. One has a name that is markup.
pub(crate) fn band(book: &mut Book) {
    const HORNS: &str = "trumpets & horn";
    let week = |number: i64| FIRST_US + number * 7 * DAY_US;
    let a_flat: Vec<usize> = vec![3, 11, 15, 18];
    for number in 0..4 {
        // Fewer faults from week to week.
        let missed = |most: usize| a_flat.iter().take(most.saturating_sub(number)).map(|&note| (note, Fault::Off(1)));
        let week = week(number as i64);
        let short = [(8, Fault::Held(0.6)), (19, Fault::Held(0.7))];
        let ines: Vec<_> = missed(4).chain([(8, Fault::Held(0.55))]).collect();
        keep(book, ("Ines", "alto-sax", "woodwinds"), week, &ines);
        keep(
            book,
            ("<b>Max & \"Moritz\"</b>", "flute", "woodwinds"),
            week + 60_000_000,
            &missed(2).collect::<Vec<_>>(),
        );
        keep(book, ("Olek", "trumpet", HORNS), week + 120_000_000, &short[..2 - usize::from(number > 2)]);
        if number != 1 {
            let zoe: Vec<_> = (12..20).map(|note| (note, Fault::Missed)).collect();
            keep(book, ("Zoë", "horn", HORNS), week + 180_000_000, if number == 3 { &[] } else { &zoe });
        }
    }
    let mut silent = book.player_or_new("Pia").unwrap();
    silent.section = Some(HORNS.into());
    book.change(&silent).unwrap();
}

pub(crate) fn review(book: &mut Book, counting: &[i64]) -> Review {
    let counting: BTreeSet<i64> = counting.iter().copied().collect();
    let wanted = Wanted::default();
    let asked = Asked { wanted: &wanted, players: &[], counting: &counting, latest: 1, zone: TimeZone::UTC };
    Review::of(book, &asked).unwrap()
}

/// A book of its own.
pub(crate) fn book() -> (tempfile::TempDir, Book) {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
    (folder, book)
}
