//! One take of a simulated player, judged.

use crate::book::{TakeStart, judge};
use crate::exercise::{Micros, Part};
use crate::judge::{Grid, Report, Sends};
use crate::listen::take::Clock;
use crate::listen::{Input, Timed, What};
use crate::session::Student;
use std::sync::Arc;

/// The take starts so long before the count-in.
const LEAD_IN: Micros = Micros(400_000);
/// It ends so long after the last that arrived.
const AFTERWARDS: Micros = Micros(1_500_000);

/// A take that was played and judged.
pub(super) struct Performed {
    pub(super) start: TakeStart,
    pub(super) part: Arc<Part>,
    pub(super) record: Vec<Timed<Input>>,
    pub(super) end: Micros,
    pub(super) report: Report,
}

/// Plays a part with a click after a measure of count-in. `start` says who and what; its click is set here.
pub(super) fn perform(student: &Student, part: &Arc<Part>, mut start: TakeStart) -> Performed {
    let count_in = part.measures.first().map_or(Micros(0), |first| part.tempo.micros_at(first.meter.measure()));
    let clock = Clock::new(Some((LEAD_IN + count_in, &part.tempo)));
    start.click = clock.click().map(|(zero, tempo)| Grid::new(zero, tempo));
    start.sends = if student.sends_written { Sends::Written } else { Sends::Concert };
    let zero = start.click.as_ref().map(|click| click.start).unwrap_or_default();
    let played = student.play(part, &part.tempo, zero).into_iter();
    let arrival = |(at, bytes)| Timed { at: clock.snap(at), what: Input { port: 0, what: What::Bytes(bytes) } };
    let record: Vec<Timed<Input>> = played.map(arrival).collect();
    let end = clock.snap(record.last().map_or(zero, |last| last.at) + AFTERWARDS);
    let report = judge(part, &start, start.level, start.click.clone(), &record, end);
    Performed { start, part: Arc::clone(part), record, end, report }
}
