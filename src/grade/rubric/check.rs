//! What must hold in a rubric beyond its shape.

use super::file::{File, FileRetake, FileRow};
use crate::book::plain;
use std::ops::Range;
use toml::Spanned;

/// Where, in bytes, and what.
type Wrong = (Range<usize>, String);

/// The most steps: one key each.
const MOST_STEPS: usize = 9;
/// The largest weight: whole numbers up to here say every share that anybody needs.
const LARGEST_WEIGHT: u32 = 1_000;

pub(super) fn check(file: &File) -> Result<(), Wrong> {
    let steps: Vec<_> = file.step.iter().map(|step| (step.span(), step.get_ref().from)).collect();
    let bands: Vec<_> = file.grade.iter().map(|band| (band.span(), band.get_ref().from)).collect();
    if !(2..=MOST_STEPS).contains(&steps.len()) {
        return Err((0..0, format!("a rubric has 2 to {MOST_STEPS} steps, [[step]]; this one has {}", steps.len())));
    }
    if bands.is_empty() || file.row.is_empty() {
        return Err((0..0, "a rubric has at least one [[row]] and one [[grade]]".into()));
    }
    rising(&steps, "step")?;
    rising(&bands, "grade")?;
    for pair in file.step.windows(2) {
        if pair[1].get_ref().worth < pair[0].get_ref().worth {
            return Err((pair[1].span(), "a higher step may not be worth less than the one before it".into()));
        }
    }
    for step in &file.step {
        named(step.span(), &step.get_ref().name)?;
        if step.get_ref().worth > 100 {
            return Err((step.span(), format!("worth = {}: it is a percentage, 0 to 100", step.get_ref().worth)));
        }
    }
    for band in &file.grade {
        named(band.span(), &band.get_ref().name)?;
    }
    for (place, row) in file.row.iter().enumerate() {
        check_row(row, steps.len())?;
        if file.row[..place].iter().any(|other| other.get_ref().id == row.get_ref().id) {
            return Err((row.span(), format!("the id {:?} is given to two rows", row.get_ref().id)));
        }
    }
    if *file.least_weight.get_ref() > 100 {
        return Err((file.least_weight.span(), "least_weight is a percentage, 0 to 100".into()));
    }
    if let Some(most) = file.takes_at_most.as_ref().filter(|most| *most.get_ref() == 0) {
        return Err((most.span(), "takes_at_most is 1 or more; leave it out where all takes count".into()));
    }
    file.retake.as_ref().map_or(Ok(()), |retake| check_retake(retake, steps.len()))
}

/// From 0, each higher than the one before, none above 100.
fn rising(from: &[(Range<usize>, u8)], what: &str) -> Result<(), Wrong> {
    let mut before = None;
    for (span, from) in from {
        match before {
            None if *from != 0 => return Err((span.clone(), format!("the first {what} begins at 0 percent"))),
            Some(before) if *from <= before || *from > 100 => {
                let why = format!("from = {from}: each {what} begins above the one before it, at 100 percent at most");
                return Err((span.clone(), why));
            }
            _ => before = Some(*from),
        }
    }
    Ok(())
}

fn named(span: Range<usize>, name: &str) -> Result<(), Wrong> {
    if plain(name).is_empty() { Err((span, "a name is missing".into())) } else { Ok(()) }
}

fn check_row(row: &Spanned<FileRow>, steps: usize) -> Result<(), Wrong> {
    let wrong = |what: String| Err((row.span(), what));
    let FileRow { id, title, weight, words, .. } = row.get_ref();
    let fits = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
    if id.is_empty() || !id.chars().all(fits) {
        return wrong(format!("id = {id:?}: it is made of lower-case letters a to z, digits and -"));
    }
    if !(1..=LARGEST_WEIGHT).contains(weight) {
        return wrong(format!("weight = {weight}: it is 1 to {LARGEST_WEIGHT}"));
    }
    if !words.is_empty() && words.len() != steps {
        return wrong(format!("words has {} entries, and there are {steps} steps", words.len()));
    }
    named(row.span(), title)
}

fn check_retake(retake: &FileRetake, steps: usize) -> Result<(), Wrong> {
    for step in [Some(&retake.below_step), retake.lifts_to_step.as_ref()].into_iter().flatten() {
        if !(1..=steps).contains(step.get_ref()) {
            return Err((step.span(), format!("there is no step {}: steps are 1 to {steps}", step.get_ref())));
        }
    }
    Ok(())
}
