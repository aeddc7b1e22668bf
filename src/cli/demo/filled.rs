//! `restward demo --book`: a book with the term of an invented band.

use super::super::{Failure, Outcome, book, output};
use super::invented::Band;
use super::performed::Performed;
use super::pieces::pieces;
use super::stage;
use super::term::{Day, Seat, WEEKS, days};
use crate::book::{Book, Entry, Mark, Parts, TakeStart};
use crate::exercise::Part;
use crate::instrument::{Instrument, catalogue};
use crate::judge::Sends;
use crate::theory::default_family;
use jiff::civil::Date;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What the director marks by hand, and of whom: the id of the row, the section, the lowest step given.
const MARKS: [(&str, &str, u8); 3] = [("tone", "woodwinds", 2), ("posture", "woodwinds", 3), ("tone", "brass", 2)];

/// Fills a new book. It is made aside and put in place when it is whole.
pub(super) fn run(path: &Path, seed: u64, until: Date) -> Outcome {
    let file = path.display();
    if path.exists() {
        return Err(Failure::Input(format!("{file}: there is a file already; name another, so that it is kept")));
    }
    output::has_folder(path)?;
    let days = days(until)?;
    let mut aside = path.as_os_str().to_owned();
    aside.push(".new");
    let aside = PathBuf::from(aside);
    remove(&aside);
    let filled = fill(&aside, &days, seed).and_then(|takes| {
        let moved = std::fs::rename(&aside, path);
        moved.map_err(|error| Failure::Machine(format!("{file}: could not be written: {error}")))?;
        Ok(takes)
    });
    let takes = match filled {
        Ok(takes) => takes,
        Err(failure) => {
            remove(&aside);
            return Err(failure);
        }
    };
    let band = Band::built_in();
    let first = days.first().map_or(until, |day| day.date());
    stage::print(&[
        &format!("The {}, {} players, {WEEKS} weeks from {first} to {until}:", band.name, band.players.len()),
        &format!("{takes} takes are in {file}. All names are invented. Type next:"),
        &format!("  restward book players --book {file}"),
        &format!("  restward grades --book {file}"),
        &format!("  restward grades --book {file} -o pages.html"),
        &format!("  restward plan --book {file}"),
    ])?;
    Ok(())
}

/// Removes a book that is not whole, with what SQLite keeps beside it.
fn remove(aside: &Path) {
    for ending in ["", "-wal", "-shm"] {
        let mut beside = aside.as_os_str().to_owned();
        beside.push(ending);
        // Mostly there is nothing.
        let _ = std::fs::remove_file(PathBuf::from(beside));
    }
}

/// Returns how many takes there are.
fn fill(path: &Path, days: &[Day], seed: u64) -> Result<usize, Failure> {
    let band = Band::built_in();
    let mut book = Book::open_or_begin(path)?;
    let seats = seats(&band, &mut book, days)?;
    let mut count = 0;
    for (number, day) in days.iter().enumerate() {
        let mut takes = played(&seats, |seat| day.takes(&band, seat, seed));
        takes.sort_by_key(|take| take.start.begun_us);
        for take in &takes {
            let id = book.begin_take(&take.start)?;
            book.finish_take(id, &take.record, &take.start, take.end, &take.part, &take.report)?;
        }
        count += takes.len();
        book::progress("rehearsals", number + 1, days.len());
    }
    marks(&band, &seats, &mut book, days)?;
    Ok(count)
}

/// Enters players and exercises.
fn seats<'a>(band: &'a Band, book: &mut Book, days: &[Day]) -> Result<Vec<Seat<'a>>, Failure> {
    let mut instruments: Vec<&Instrument> = Vec::new();
    for player in &band.players {
        let instrument = catalogue().get(&player.instrument).map_err(Failure::input)?;
        if !instruments.iter().any(|known| known.id == instrument.id) {
            instruments.push(instrument);
        }
    }
    let added_us = days.first().map_or(0, |day| day.noon_us());
    let mut exercises = Vec::new();
    for piece in pieces(&instruments)? {
        exercises.push(book.keep_exercise(piece.title, piece.file_name, piece.content.as_bytes(), added_us)?);
    }
    let entry = |player: &super::invented::Invented| Entry {
        name: player.name.clone(),
        instrument: Some(player.instrument.clone()),
        section: Some(player.section.clone()),
        level: player.level.clone(),
        outside_id: player.id.clone(),
    };
    book.enter(&band.players.iter().map(entry).collect::<Vec<_>>())?;
    let mut read = Parts::default();
    let mut seats = Vec::new();
    for (place, invented) in band.players.iter().enumerate() {
        let player = book.player_or_new(&invented.name)?.id;
        let number = instruments.iter().position(|known| known.id == invented.instrument).unwrap_or(0);
        let mut parts: Vec<(i64, Arc<Part>)> = Vec::new();
        for &exercise in &exercises {
            let start = TakeStart {
                player,
                exercise,
                begun_us: 0,
                // The writer numbers parts in the order of the score.
                part: format!("P{}", number + 1),
                instrument: Some(invented.instrument.clone()),
                level: invented.level(),
                sends: Sends::Written,
                family: default_family(),
                click: None,
                delay: None,
            };
            parts.push((exercise, book.part_of(&mut read, &start)?.map_err(Failure::Input)?));
        }
        seats.push(Seat { invented, place, player, parts });
    }
    Ok(seats)
}

/// The takes of all players, on all processors.
fn played(seats: &[Seat<'_>], takes: impl Fn(&Seat<'_>) -> Vec<Performed> + Sync) -> Vec<Performed> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        while let Some(seat) = seats.get(next.fetch_add(1, Ordering::Relaxed)) {
            done.push((seat.place, takes(seat)));
        }
        done
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut all: Vec<(usize, Vec<Performed>)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        let done =
            workers.into_iter().map(|worker| worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        done.flatten().collect()
    });
    all.sort_by_key(|(place, _)| *place);
    all.into_iter().flat_map(|(_, takes)| takes).collect()
}

/// Some marks by hand, on the last day: better for who misses less.
fn marks(band: &Band, seats: &[Seat<'_>], book: &mut Book, days: &[Day]) -> Result<(), Failure> {
    let marked_us = days.last().map_or(0, |day| day.noon_us());
    for (row, section, lowest) in MARKS {
        for seat in seats.iter().filter(|seat| seat.invented.section == section) {
            let Some((exercise, part)) = seat.parts.first() else { continue };
            let habits = band.habits(seat.invented, part, 1.0);
            let step = lowest + u8::from(habits.wrong_notes < 0.05) + u8::from(habits.short_holds < 0.1);
            let row = row.to_owned();
            book.give_mark(&Mark { player: seat.player, exercise: *exercise, row, step: step.min(4), marked_us })?;
        }
    }
    Ok(())
}
