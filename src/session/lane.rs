//! One player's take while it is played: the engine, and the record of all that it was told.

use super::{Kept, PlayerPlan};
use crate::exercise::{Micros, Part};
use crate::judge::{Decision, Engine, Grid, Report, Settings};
use crate::listen::take::{Clock, MOST_NOTES, Record};
use crate::listen::{Input, Thinning, Timed, What};
use std::io;
use std::path::PathBuf;
use std::sync::Arc;

/// A running take. All times are from the start of the take.
///
/// The engine is told nothing that the record does not hold, at the very time that the record holds, so that
/// the saved take gives the same flags: an arrival that comes after its time has been decided counts as of now. Only
/// real-time bytes on which no note depends are not kept.
pub(super) struct Run {
    engine: Engine,
    /// What the engine was told: it takes a delay off its own click.
    settings: Settings,
    clock: Clock,
    thinning: Thinning,
    record: Record,
    keeps: Vec<Box<dyn Kept>>,
    /// Why something could not be kept, until it is told.
    trouble: Vec<io::Error>,
    decided_to: Micros,
    /// How many notes began.
    notes: usize,
    /// When a note began last.
    last_note: Micros,
    /// How long the next note may take.
    patience: Micros,
    /// When the click reaches the end of the part; 0 without one.
    end: Micros,
    over: Option<Micros>,
    /// It ended because it could hold no more, and that was not told yet.
    is_full: bool,
}

/// A take is over at the latest so long after the last note began, even if a note-off was lost and the note seems to
/// sound on (with a click also so long after the end of the part).
const AT_THE_LATEST: Micros = Micros(20_000_000);

/// The longest wait for the next note of a part: [`AT_THE_LATEST`], and twice its longest note and rest together at the
/// printed tempo, for those who play slower.
fn patience(part: &Part) -> Micros {
    let onsets = part.notes.iter().map(|note| part.tempo.micros_at(note.onset));
    let spans = onsets.clone().skip(1).zip(onsets).map(|(next, onset)| next - onset);
    AT_THE_LATEST + Micros(2 * spans.max().unwrap_or(Micros(0)).0)
}

impl Run {
    /// Begins a take.
    pub(super) fn new(plan: &PlayerPlan, mut settings: Settings) -> Run {
        // The click to the microsecond as the saved take will hold it.
        let clock = clock(settings.grid.as_ref());
        settings.grid = clock.click().map(|(start, tempo)| Grid::new(start, tempo));
        let end = plan.part.notes.last().zip(settings.grid.as_ref());
        Run {
            patience: patience(&plan.part),
            end: end.map_or(Micros(0), |(last, grid)| grid.start + grid.tempo.micros_at(last.end())),
            clock,
            engine: Engine::new(Arc::clone(&plan.part), settings.clone()),
            settings,
            thinning: Thinning::default(),
            record: Record::default(),
            keeps: Vec::new(),
            trouble: Vec::new(),
            decided_to: Micros(0),
            notes: 0,
            last_note: Micros(0),
            over: None,
            is_full: false,
        }
    }

    /// How it is judged.
    pub(super) fn settings(&self) -> &Settings {
        &self.settings
    }

    /// From here on what arrives is kept there too.
    pub(super) fn keep(&mut self, kept: Box<dyn Kept>) {
        self.keeps.push(kept);
    }

    /// Something arrived.
    pub(super) fn arrive(&mut self, at: Micros, what: What, is_note: bool) {
        let at = self.clock.snap(at).max(self.decided_to);
        self.advance(at);
        if self.over() {
            return;
        }
        if is_note {
            (self.notes, self.last_note) = (self.notes + 1, at);
        }
        let input = Timed { at, what: Input { port: 0, what } };
        let Run { thinning, record, keeps, trouble, .. } = self;
        thinning.push(&input, |input| {
            trouble.extend(keeps.iter_mut().filter_map(|kept| kept.arrived(&input).err()));
            record.push(&input);
        });
        self.engine.push(&input);
        if self.record.is_full() || self.notes >= MOST_NOTES {
            (self.is_full, self.over) = (true, Some(at));
        }
    }

    /// Time passed.
    pub(super) fn advance(&mut self, now: Micros) {
        let now = self.clock.snap(now);
        let written = self.keeps.iter_mut().map(|kept| kept.passed(now));
        self.trouble.extend(written.filter_map(Result::err));
        if now < self.decided_to || self.over() {
            return;
        }
        self.engine.advance(now);
        self.decided_to = now;
        let silent = now - self.last_note > self.patience && now > self.end + AT_THE_LATEST;
        if self.engine.is_over(now) || silent {
            self.over = Some(now);
        }
    }

    /// Whether the take has ended by itself; once it has, it stays so.
    pub(super) fn over(&self) -> bool {
        self.over.is_some()
    }

    /// Whether any note was played.
    pub(super) fn played(&self) -> bool {
        self.notes > 0
    }

    /// What was decided since the last call.
    pub(super) fn decisions(&mut self) -> Vec<Decision> {
        self.engine.take_decisions()
    }

    /// Why the take is no longer written down, each told once.
    pub(super) fn trouble(&mut self) -> Vec<io::Error> {
        std::mem::take(&mut self.trouble)
    }

    /// Whether it has just ended because a file can hold no more; told once.
    pub(super) fn has_filled(&mut self) -> bool {
        std::mem::take(&mut self.is_full)
    }

    /// Ends the take.
    pub(super) fn finish(mut self) -> Finished {
        let (end, played) = (self.decided_to, self.played());
        self.thinning.finish(|input| self.record.push(&input));
        let (report, decisions) = self.engine.finish(end);
        let saved = self.keeps.into_iter().map(|kept| match played {
            true => kept.end(&self.record, end, &report),
            false => kept.discard().map(|()| None),
        });
        let saved = saved.collect();
        Finished {
            report,
            decisions,
            saved,
            played,
            notes: self.notes,
            settings: self.settings,
            record: self.record,
            end,
        }
    }

    /// Drops the take.
    pub(super) fn discard(self) {
        for kept in self.keeps {
            // What cannot be removed is made into a take next time, which loses nothing.
            let _ = kept.discard();
        }
    }
}

/// A take that is over.
pub(super) struct Finished {
    pub(super) report: Report,
    /// The last decisions.
    pub(super) decisions: Vec<Decision>,
    /// Where it was saved, by each that keeps takes.
    pub(super) saved: Vec<io::Result<Option<PathBuf>>>,
    /// Whether any note was played.
    pub(super) played: bool,
    /// How many notes began.
    pub(super) notes: usize,
    settings: Settings,
    record: Record,
    end: Micros,
}

impl Finished {
    /// The take judged against another part, for another instrument.
    pub(super) fn judged_as(&self, other: &PlayerPlan) -> Report {
        let settings = Settings { sends: other.sends, instrument: other.instrument.clone(), ..self.settings.clone() };
        let mut engine = Engine::new(Arc::clone(&other.part), settings);
        self.record.iter().for_each(|input| engine.push(&input));
        engine.finish(self.end).0
    }
}

fn clock(grid: Option<&Grid>) -> Clock {
    Clock::new(grid.map(|grid| (grid.start, &grid.tempo)))
}
