//! `restward grades --format html` and `--slips`.

use super::super::choose::Found;
use super::Failure;
use crate::book::Book;
use crate::grade::{Graded, Outcome, Rubric};
use crate::show::engraver::Paper;
use crate::show::review::{Asked, Contents, Review, engrave, pages as page, slips as half_pages};
use jiff::tz::TimeZone;
use std::collections::BTreeSet;

/// How pages are made.
#[derive(clap::Args)]
pub(super) struct Options {
    /// Instead: half a page for each player, in a child's words, what went well and one thing to do
    #[arg(long, conflicts_with = "format")]
    pub(super) slips: bool,
    /// Html only: how many of the latest takes of each exercise are shown note by note, besides those that count
    #[arg(long, value_name = "N", default_value_t = 1)]
    takes: usize,
    /// Html only: the paper that the staff is engraved for
    #[arg(long, value_enum, default_value_t)]
    paper: Paper,
}

/// What was asked for.
pub(super) struct Chosen<'a> {
    pub(super) found: &'a Found,
    pub(super) graded: &'a [Graded],
    pub(super) rubric: &'a Rubric,
}

/// The page.
pub(super) fn pages(book: &mut Book, chosen: &Chosen<'_>, options: &Options) -> Result<Vec<u8>, Failure> {
    let counting: BTreeSet<i64> = chosen.graded.iter().flat_map(counting).collect();
    let review = review(book, chosen, &counting, options.takes)?;
    let staves = engrave(&review, options.paper);
    let title = chosen.found.wanted.section.as_deref().unwrap_or("Grades");
    let contents = Contents { title, review: &review, staves: &staves, graded: chosen.graded, rubric: chosen.rubric };
    page(&contents).map(String::into_bytes).map_err(|error| internal(&error))
}

/// The slips.
pub(super) fn slips(book: &mut Book, chosen: &Chosen<'_>) -> Result<Vec<u8>, Failure> {
    let review = review(book, chosen, &BTreeSet::new(), 1)?;
    half_pages(&review).map(String::into_bytes).map_err(|error| internal(&error))
}

fn review(book: &mut Book, chosen: &Chosen<'_>, counting: &BTreeSet<i64>, latest: usize) -> Result<Review, Failure> {
    let Found { wanted, players, exercises } = chosen.found;
    Ok(Review::of(book, &Asked { wanted, players, exercises, counting, latest, zone: TimeZone::system() })?)
}

/// The takes that a grade comes from, where it is one take for a row; of many together none is shown for it.
fn counting(graded: &Graded) -> Vec<i64> {
    let alone = graded.rows.iter().filter_map(|row| match row {
        Outcome::Measured(measured) => match measured.from[..] {
            [one] => graded.takes.get(one).map(|take| take.take),
            _ => None,
        },
        Outcome::Marked { .. } | Outcome::None(_) => None,
    });
    alone.collect()
}

fn internal(error: &dyn std::fmt::Display) -> Failure {
    Failure::Machine(format!("the page could not be written: {error}"))
}
