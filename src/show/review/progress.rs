//! A player's term as two small plots and a table: full values and changed notes, week by week.
//!
//! Drawn here, through a template, and not by a plotting library: a few lines with texts that a screen reader can read,
//! where a library would bring its own fonts and no words.

use super::dates::{day, days_between, monday, named, short};
use super::table::sustains;
use super::wilson::wilson;
use super::{Review, Reviewed};
use crate::book::Attempt;
use crate::judge::Count;
use askama::Template;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// A shorter time is shown by days, a longer one by weeks.
const SHORT_DAYS: i32 = 14;
/// Of the plot, in the units of its view box: a panel with its room on all sides.
const LEFT: f64 = 40.0;
const WIDTH: f64 = 340.0;
const TOP: f64 = 30.0;
const HEIGHT: f64 = 84.0;
/// Dates that fit below a panel.
const MOST_DATES: usize = 9;

/// The plots and their table, HTML.
#[derive(Template)]
#[template(config = "config/askama.toml", path = "progress.html")]
struct Progress<'a> {
    player: &'a str,
    /// What a row of the table is about.
    when: &'static str,
    /// None where there is one date only.
    panels: Vec<Panel>,
    rows: Vec<Row>,
}

struct Panel {
    name: &'static str,
    /// Moved down by so much.
    y: f64,
    /// The line through the points, and the outline of their intervals.
    line: String,
    band: String,
    points: Vec<Point>,
    dates: Vec<(String, String)>,
}

struct Point {
    x: String,
    y: String,
    /// Above it: of how many.
    of: usize,
    of_y: String,
    low: String,
    high: String,
}

struct Row {
    date: String,
    cells: Vec<String>,
}

/// What is plotted.
type Series = (&'static str, fn(&Attempt) -> Count);
const SERIES: [Series; 2] =
    [("Held to full value", |attempt| attempt.full_releases), ("Changed notes right", |attempt| attempt.changed_notes)];

/// The progress of a player; `None` where nothing was counted.
pub(super) fn progress(review: &Review, reviewed: &Reviewed) -> Option<Result<String, askama::Error>> {
    let fitting = || reviewed.attempts.iter().filter(|attempt| attempt.fits);
    let days: Vec<Date> = fitting().map(|attempt| day(attempt.begun_us, &review.zone)).collect();
    let (first, last) = (*days.iter().min()?, *days.iter().max()?);
    let is_short = days_between(first, last) < SHORT_DAYS;
    let step = |day: Date| if is_short { day } else { monday(day) };
    let mut counts: BTreeMap<Date, [Count; 2]> = BTreeMap::new();
    for (attempt, day) in fitting().zip(&days) {
        let own = counts.entry(step(*day)).or_default();
        for (sum, (_, of)) in own.iter_mut().zip(SERIES) {
            *sum += of(attempt);
        }
    }
    let length = days_between(step(first), step(last));
    let panel = |(place, (name, _)): (usize, Series)| panel(name, place, &counts, (step(first), length));
    let panels = if length > 0 { SERIES.into_iter().enumerate().map(panel).collect() } else { Vec::new() };
    let judged = [sustains(reviewed), true];
    let row = |(date, counts): (&Date, &[Count; 2])| {
        let cells = counts.iter().zip(judged).map(|(&count, is_judged)| cell(count, is_judged));
        Row { date: named(*date), cells: cells.collect() }
    };
    let rows = counts.iter().map(row).collect();
    let when = if is_short { "Day" } else { "Week of" };
    Some(Progress { player: &reviewed.player.name, when, panels, rows }.render())
}

/// `14 of 18: 78 % (55 to 91)`.
fn cell(count: Count, is_judged: bool) -> String {
    if count.of == 0 {
        return if is_judged { "none met" } else { "not judged" }.into();
    }
    let percent = |share: f64| (100.0 * share).round();
    let (low, high) = wilson(count);
    let share = count.good as f64 / count.of as f64;
    format!("{} of {}: {} % ({} to {})", count.good, count.of, percent(share), percent(low), percent(high))
}

fn panel(name: &'static str, place: usize, counts: &BTreeMap<Date, [Count; 2]>, (first, length): (Date, i32)) -> Panel {
    let inset = 14.0;
    let x =
        |date: Date| LEFT + inset + (WIDTH - 2.0 * inset) * f64::from(days_between(first, date)) / f64::from(length);
    let y = |share: f64| TOP + HEIGHT * (1.0 - share);
    let met = || counts.iter().map(|(date, counts)| (*date, counts[place])).filter(|(_, count)| count.of > 0);
    let points: Vec<Point> = met()
        .map(|(date, count)| {
            let (low, high) = wilson(count);
            let share = count.good as f64 / count.of as f64;
            let text = |number: f64| format!("{number:.1}");
            Point {
                x: text(x(date)),
                y: text(y(share)),
                of: count.of,
                of_y: text(y(high).min(y(share) - 6.0) - 4.0),
                low: text(y(low)),
                high: text(y(high)),
            }
        })
        .collect();
    let through = |points: &mut dyn Iterator<Item = String>| points.collect::<Vec<_>>().join(" ");
    let line = through(&mut points.iter().map(|point| format!("{},{}", point.x, point.y)));
    let upper = points.iter().map(|point| format!("{},{}", point.x, point.high));
    let lower = points.iter().rev().map(|point| format!("{},{}", point.x, point.low));
    let band = through(&mut upper.chain(lower));
    let every = counts.len().div_ceil(MOST_DATES).max(1);
    let dates = counts.keys().step_by(every).map(|&date| (format!("{:.1}", x(date)), short(date))).collect();
    Panel { name, y: place as f64 * (TOP + HEIGHT + 24.0), line, band, points, dates }
}
