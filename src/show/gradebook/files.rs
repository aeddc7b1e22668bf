//! The four files: manifest, categories, lineItems, results. Headers, their order and the required fields are those of the
//! OneRoster 1.2 CSV binding: UTF-8, RFC 4180, a header row, in bulk mode `status` and `dateLastModified` are empty.

use super::super::cells::guarded;
use super::super::dates::day;
use super::Gradebook;
use super::ids::stable;
use super::settings::is_usable;
use crate::book::plain;
use crate::grade::{Graded, NoStep, Outcome, Rubric, Total};
use std::collections::BTreeMap;

/// All names that a manifest has to have, in the order of the binding; what is not sent is `absent`.
const TABLES: [&str; 21] = [
    "academicSessions",
    "categories",
    "classes",
    "classResources",
    "courses",
    "courseResources",
    "demographics",
    "enrollments",
    "lineItemLearningObjectiveIds",
    "lineItems",
    "lineItemScoreScales",
    "orgs",
    "resources",
    "resultLearningObjectiveIds",
    "results",
    "resultScoreScales",
    "roles",
    "scoreScales",
    "userProfiles",
    "userResources",
    "users",
];
const SENT: [&str; 3] = ["categories", "lineItems", "results"];
const CATEGORIES: &str = "sourcedId,status,dateLastModified,title,weight";
const LINE_ITEMS: &str = "sourcedId,status,dateLastModified,title,description,assignDate,dueDate,classSourcedId,\
                          categorySourcedId,academicSessionSourcedId,resultValueMin,resultValueMax,schoolSourcedId";
const RESULTS: &str = "sourcedId,status,dateLastModified,lineItemSourcedId,studentSourcedId,scoreStatus,score,scoreDate,\
                       comment,textScore,classSourcedId,inProgress,incomplete,late,missing";

/// The files and what was left out.
#[derive(Debug)]
pub struct Filled {
    /// Name and content; the manifest, which says that the others are whole, is the last.
    pub files: Vec<(&'static str, Vec<u8>)>,
    /// How many results, in how many line items.
    pub count: (usize, usize),
    /// Who was left out: sentences.
    pub notices: Vec<String>,
}

/// An exercise in a class.
#[derive(Default)]
struct LineItem<'a> {
    results: Vec<(&'a Graded, &'a str)>,
    title: String,
    hash: Vec<u8>,
}

/// Fills a gradebook. `hash_of`: the hash of an exercise's content, by its number. `due`: the day that exercises were due;
/// without it that of the newest take or mark. The error is a sentence.
pub fn gradebook(
    graded: &[Graded],
    rubric: &Rubric,
    to: &Gradebook,
    hash_of: &BTreeMap<i64, Vec<u8>>,
    due: Option<&str>,
) -> Result<Filled, String> {
    let mut without_id: Vec<String> = Vec::new();
    let mut items: BTreeMap<(i64, &str), LineItem> = BTreeMap::new();
    // When an exercise was played in a class: by whomever, also by those who have no id.
    let mut played: BTreeMap<(i64, &str), (i64, i64)> = BTreeMap::new();
    for graded in graded {
        for moment in moments(graded) {
            let class = to.class(graded.player.section.as_deref());
            let (first, last) = played.entry((graded.exercise.id, class)).or_insert((moment, moment));
            (*first, *last) = ((*first).min(moment), (*last).max(moment));
        }
        let Some(id) = graded.player.outside_id.as_deref().filter(|id| is_usable(id)) else {
            without_id.push(plain(&graded.player.name));
            continue;
        };
        let hash = hash_of.get(&graded.exercise.id).cloned().unwrap_or_default();
        let item = items.entry((graded.exercise.id, to.class(graded.player.section.as_deref()))).or_default();
        (item.title, item.hash) = (graded.exercise.title.clone(), hash);
        item.results.push((graded, id));
    }
    without_id.sort();
    without_id.dedup();
    let enter = "enter the school's ids: restward book roster --book FILE players.csv, with a column id";
    if items.is_empty() {
        return Err(match without_id.len() {
            0 => "there is nothing to hand in: no take and no mark of those asked for is in the book".into(),
            _ => format!("nobody has an id of the school's system, so nothing was written; {enter}"),
        });
    }
    let category = stable(&[b"category", to.school.as_bytes(), to.category.as_bytes()]);
    let categories = vec![vec![category.clone(), String::new(), String::new(), guarded(&to.category), String::new()]];
    let (mut line_items, mut results, mut unplayed) = (Vec::new(), Vec::new(), Vec::new());
    for ((exercise, class), item) in &items {
        let id = stable(&[b"lineItem", class.as_bytes(), &item.hash]);
        let Some(&(first, last)) = played.get(&(*exercise, *class)) else {
            unplayed.push(plain(&item.title));
            continue;
        };
        let due = due.map_or_else(|| day(last), str::to_owned);
        line_items.push(line_item(&id, item, [&day(first), &due], class, &category, to));
        for (graded, player) in &item.results {
            results.push(result(&id, graded, player, class, &due, rubric));
        }
    }
    if line_items.is_empty() {
        return Err("there is nothing to hand in: nobody has a take that counts or a mark".into());
    }
    let mut notices = Vec::new();
    unplayed.dedup();
    if !unplayed.is_empty() {
        let unplayed = unplayed.join(", ");
        notices.push(format!("left out, since nobody has a take that counts or a mark in it: {unplayed}"));
    }
    if !without_id.is_empty() {
        notices.push(format!("left out, without an id of the school: {}; {enter}", without_id.join(", ")));
    }
    let count = (results.len(), line_items.len());
    let files = vec![
        ("categories.csv", csv_of(CATEGORIES, &categories)?),
        ("lineItems.csv", csv_of(LINE_ITEMS, &line_items)?),
        ("results.csv", csv_of(RESULTS, &results)?),
        ("manifest.csv", csv_of("propertyName,value", &manifest())?),
    ];
    Ok(Filled { files, count, notices })
}

fn manifest() -> Vec<Vec<String>> {
    let versions = [("manifest.version", "1.0"), ("oneroster.version", "1.2")];
    let versions = versions.map(|(name, value)| vec![name.to_owned(), value.to_owned()]);
    let sent = |table: &&str| if SENT.contains(table) { "bulk" } else { "absent" };
    let tables = TABLES.iter().map(|table| vec![format!("file.{table}"), sent(table).to_owned()]);
    versions.into_iter().chain(tables).collect()
}

/// When takes were played and marks given.
fn moments(graded: &Graded) -> impl Iterator<Item = i64> {
    let marked = graded.rows.iter().filter_map(|row| match row {
        Outcome::Marked { marked_us, .. } => Some(*marked_us),
        _ => None,
    });
    graded.takes.iter().map(|take| take.begun_us).chain(marked)
}

fn line_item(
    id: &str,
    item: &LineItem,
    [assigned, due]: [&str; 2],
    class: &str,
    category: &str,
    to: &Gradebook,
) -> Vec<String> {
    let empty = String::new;
    vec![
        id.to_owned(),
        empty(),
        empty(),
        guarded(&plain(&item.title)),
        empty(),
        assigned.to_owned(),
        due.to_owned(),
        class.to_owned(),
        category.to_owned(),
        to.session.clone(),
        "0".into(),
        "100".into(),
        to.school.clone(),
    ]
}

fn result(item: &str, graded: &Graded, player: &str, class: &str, due: &str, rubric: &Rubric) -> Vec<String> {
    let empty = String::new;
    let (status, score, name) = match &graded.total {
        Total::Grade { percent, name, left_out, .. } => {
            let status = if left_out.is_empty() { "fully graded" } else { "partially graded" };
            (status, percent.to_string(), name.clone())
        }
        Total::None(_) if graded.takes.is_empty() && graded.unfit == 0 => ("not submitted", empty(), empty()),
        Total::None(_) => ("submitted", empty(), empty()),
    };
    vec![
        stable(&[b"result", item.as_bytes(), player.as_bytes()]),
        empty(),
        empty(),
        item.to_owned(),
        player.to_owned(),
        status.to_owned(),
        score,
        moments(graded).max().map_or_else(|| due.to_owned(), day),
        guarded(&comment(graded, rubric)),
        guarded(&name),
        class.to_owned(),
        empty(),
        empty(),
        empty(),
        empty(),
    ]
}

/// `Right notes 3 of 4, Tone 2 of 4; not enough evidence: Rhythm`.
fn comment(graded: &Graded, rubric: &Rubric) -> String {
    let rows = || rubric.rows.iter().zip(&graded.rows);
    let steps: Vec<String> = rows()
        .filter_map(|(row, outcome)| Some(format!("{} {} of {}", row.title, outcome.step()?, rubric.steps.len())))
        .collect();
    let without = |is_unmarked: bool| {
        let titles = rows().filter(|(_, outcome)| match outcome {
            Outcome::None(why) => matches!(why, NoStep::NotMarked) == is_unmarked,
            Outcome::Measured(_) | Outcome::Marked { .. } => false,
        });
        titles.map(|(row, _)| row.title.as_str()).collect::<Vec<_>>().join(", ")
    };
    let said = [("", steps.join(", ")), ("not enough evidence: ", without(false)), ("not marked yet: ", without(true))];
    let said = said.iter().filter(|(_, titles)| !titles.is_empty());
    said.map(|(what, titles)| format!("{what}{titles}")).collect::<Vec<_>>().join("; ")
}

fn csv_of(heading: &str, rows: &[Vec<String>]) -> Result<Vec<u8>, String> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let heading = std::iter::once(heading.split(',').map(str::to_owned).collect::<Vec<_>>());
    for row in heading.chain(rows.iter().cloned()) {
        table.write_record(&row).map_err(|error| error.to_string())?;
    }
    table.into_inner().map_err(|error| error.to_string())
}
