//! `restward grades --format html` and `--slips`.

use super::super::{choose::Found, output};
use super::Failure;
use crate::book::Book;
use crate::grade::{Graded, Outcome, Rubric};
use crate::show::engraver::Paper;
use crate::show::review::{Asked, Contents, Review, engrave, pages as page, slips as half_pages};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// How pages are made.
#[derive(clap::Args)]
pub(super) struct Options {
    /// Instead: half a page for each player, in a child's words, what went well and one thing to do
    #[arg(long, conflicts_with = "format")]
    pub(super) slips: bool,
    /// Html only: how many of the latest takes of each exercise are shown note by note, besides the one that counts most
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
    let review = review(book, chosen, &counting(chosen), options.takes)?;
    let staves = engrave(&review, options.paper);
    let title = chosen.found.wanted.section.as_deref().unwrap_or("Grades");
    let contents = Contents { title, review: &review, staves: &staves, graded: chosen.graded, rubric: chosen.rubric };
    if !review.parts.is_empty() {
        output::tell(&staves.why().map(str::to_owned).into_iter().collect::<Vec<_>>());
    }
    page(&contents).map(String::into_bytes).map_err(|error| internal(&error))
}

/// The slips.
pub(super) fn slips(book: &mut Book, chosen: &Chosen<'_>) -> Result<Vec<u8>, Failure> {
    let review = review(book, chosen, &BTreeMap::new(), 1)?;
    half_pages(&review).map(String::into_bytes).map_err(|error| internal(&error))
}

fn review(
    book: &mut Book,
    chosen: &Chosen<'_>,
    counting: &BTreeMap<i64, Vec<String>>,
    latest: usize,
) -> Result<Review, Failure> {
    let Found { wanted, players, exercises } = chosen.found;
    Ok(Review::of(book, &Asked { wanted, players, exercises, counting, latest, zone: TimeZone::system() })?)
}

/// The takes that rows of grades come from; where all takes do, none is shown for it.
fn counting(chosen: &Chosen<'_>) -> BTreeMap<i64, Vec<String>> {
    let mut counting: BTreeMap<i64, Vec<String>> = BTreeMap::new();
    for graded in chosen.graded {
        for (row, outcome) in chosen.rubric.rows.iter().zip(&graded.rows) {
            if let Outcome::Measured(measured) = outcome
                && (measured.from.len() < graded.takes.len() || graded.takes.len() == 1)
            {
                for take in measured.from.iter().filter_map(|&place| graded.takes.get(place)) {
                    counting.entry(take.take).or_default().push(row.title.clone());
                }
            }
        }
    }
    counting
}

fn internal(error: &dyn std::fmt::Display) -> Failure {
    Failure::Machine(format!("the page could not be written: {error}"))
}
