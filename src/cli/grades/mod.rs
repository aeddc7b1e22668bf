//! `restward grades`.

mod gradebook;
mod pages;

use super::choose::Chosen;
use super::{Failure, Outcome, given, output};
use crate::book::Book;
use crate::grade::{Graded, Rubric, grades};
use crate::show::{grades_csv, grades_json, grades_text};
use clap::ValueEnum;
use std::io;
use std::path::{Path, PathBuf};

/// Grades from takes and marks: row by row of a rubric, each with how it came about.
///
/// Where there is too little to go by it says so and gives no grade. The rubric is the built-in one unless you give your own.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward grades --book band.db
  restward grades --book band.db --section flutes --since 2026-03-02
  restward grades --book band.db --player Ines --exercise March
  restward grades --print-rubric -o ours.toml
  restward grades --book band.db --rubric ours.toml --format csv -o term.csv
  restward grades --book band.db --section flutes -o flutes.html
  restward grades --book band.db --slips -o slips.html
  restward grades --book band.db --format oneroster --gradebook ids.toml -o out")]
pub(super) struct Arguments {
    /// The book
    #[arg(long, value_name = "FILE", required_unless_present = "print_rubric")]
    book: Option<PathBuf>,
    #[command(flatten)]
    chosen: Chosen,
    /// Your own rubric
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// Instead of grades: the built-in rubric, to begin your own with
    #[arg(long, conflicts_with_all = ["book", "rubric", "format"])]
    print_rubric: bool,
    /// How to write it [default: what the name after -o says, else text]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// The file to write, readable by you alone [default: the console]
    #[arg(short, long, value_name = "PATH")]
    output: Option<PathBuf>,
    #[command(flatten)]
    pages: pages::Options,
    /// Oneroster only: the file with the ids that the school's system has for class, session and school
    #[arg(long, value_name = "FILE")]
    gradebook: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For the console, 80 columns
    Text,
    /// For spreadsheets: a line for each player, exercise and row
    Csv,
    /// For programs
    Json,
    /// A page to print: grades, what to rehearse, each player's progress and takes with the staff
    Html,
    /// For a school's gradebook: the CSV files of OneRoster 1.2, into the folder -o
    Oneroster,
}

impl Format {
    /// What the ending of a file's name says.
    const BY_NAME: [(&'static str, Format); 5] = [
        ("txt", Format::Text),
        ("csv", Format::Csv),
        ("json", Format::Json),
        ("html", Format::Html),
        ("htm", Format::Html),
    ];
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let output = arguments.output.as_deref();
    let Some(path) = &arguments.book else { return print_rubric(output) };
    for source in [Some(path), arguments.rubric.as_ref(), arguments.gradebook.as_ref()].into_iter().flatten() {
        output::not_over(source, output)?;
    }
    let format = match arguments.pages.slips {
        true => output::format(None, output, &[("html", Format::Html), ("htm", Format::Html)], Format::Html)?,
        // The school's files go into a folder.
        false if arguments.format == Some(Format::Oneroster) => Format::Oneroster,
        false => output::format(arguments.format, output, &Format::BY_NAME, Format::Text)?,
    };
    let rubric = rubric(arguments.rubric.as_deref())?;
    let mut book = Book::open(path)?;
    let found = arguments.chosen.find(&mut book)?;
    let mut graded = grades(&mut book, &found.wanted, &rubric)?;
    graded.retain(|graded| found.has(graded.player.id, graded.exercise.id));
    let chosen = pages::Chosen { found: &found, graded: &graded, rubric: &rubric };
    if arguments.pages.slips {
        let content = pages::slips(&mut book, &chosen)?;
        return output::put_private(output, &content);
    }
    let content = match format {
        Format::Text => text(&graded, &rubric)?,
        Format::Html => pages::pages(&mut book, &chosen, &arguments.pages)?,
        Format::Csv => grades_csv(&graded, &rubric).map_err(io::Error::other)?,
        Format::Json => grades_json(&graded, &rubric).map_err(io::Error::from)?,
        Format::Oneroster => {
            let due = arguments.chosen.until().map(|day| day.to_string());
            let settings = arguments.gradebook.as_deref();
            return gradebook::hand_in(&mut book, &graded, &rubric, settings, output, due.as_deref());
        }
    };
    output::put_private(output, &content)
}

/// A rubric that was changed already is not written over.
fn print_rubric(output: Option<&Path>) -> Outcome {
    output::format(None, output, &[("toml", ())], ())?;
    match output {
        Some(file) if file.is_file() => {
            let file = file.display();
            Err(Failure::Input(format!("{file}: there is a file already; name another, so that your rubric is kept")))
        }
        _ => output::put(output, Rubric::BUILT_IN.as_bytes()),
    }
}

fn text(graded: &[Graded], rubric: &Rubric) -> io::Result<Vec<u8>> {
    let mut text = Vec::new();
    grades_text(&mut text, graded, rubric)?;
    Ok(text)
}

/// The user's rubric or the built-in one.
pub(super) fn rubric(file: Option<&Path>) -> Result<Rubric, Failure> {
    let Some(path) = file else { return Rubric::built_in().map_err(Failure::input) };
    given::text(path, Rubric::parse)
}
