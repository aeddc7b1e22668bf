//! The file of a rubric: TOML, with the line of whatever is wrong.

use super::check::check;
use super::{Band, Measure, Retakes, Rounding, Row, Rubric, Step, TakesCount, WhichTakes, Without};
use crate::book::plain;
use crate::handwritten;
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;

/// Why a text is no rubric.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct RubricError {
    /// Where, from 1.
    pub line: usize,
    /// What is wrong and what would be right.
    pub what: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    takes_count: TakesCount,
    pub(super) takes_at_most: Option<Spanned<usize>>,
    #[serde(default = "newest")]
    which_takes: WhichTakes,
    #[serde(default = "down")]
    rounding: Rounding,
    #[serde(default = "left_out")]
    without_evidence: Without,
    pub(super) least_weight: Spanned<u8>,
    #[serde(default)]
    pub(super) step: Vec<Spanned<FileStep>>,
    #[serde(default)]
    pub(super) row: Vec<Spanned<FileRow>>,
    #[serde(default)]
    pub(super) grade: Vec<Spanned<FileBand>>,
    pub(super) retake: Option<FileRetake>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileStep {
    pub(super) name: String,
    pub(super) from: u8,
    pub(super) worth: u8,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileRow {
    pub(super) id: String,
    pub(super) title: String,
    measures: Option<Measure>,
    pub(super) weight: u32,
    #[serde(default = "one")]
    least_notes: usize,
    #[serde(default = "one")]
    least_takes: usize,
    #[serde(default)]
    pub(super) words: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileBand {
    pub(super) name: String,
    pub(super) from: u8,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileRetake {
    pub(super) below_step: Spanned<usize>,
    pub(super) lifts_to_step: Option<Spanned<usize>>,
}

fn newest() -> WhichTakes {
    WhichTakes::Newest
}

fn down() -> Rounding {
    Rounding::Down
}

fn left_out() -> Without {
    Without::LeftOut
}

fn one() -> usize {
    1
}

impl Rubric {
    /// Reads a rubric in the format of `config/rubric.toml`.
    pub fn parse(text: &str) -> Result<Rubric, RubricError> {
        let file: File =
            handwritten::read(text).map_err(|handwritten::Misread { line, what }| RubricError { line, what })?;
        let at = |span: Range<usize>| handwritten::line_at(text, span.start);
        check(&file).map_err(|(span, what)| RubricError { line: at(span), what })?;
        Ok(file.into_rubric())
    }
}

impl File {
    fn into_rubric(self) -> Rubric {
        let steps = self.step.into_iter().map(|step| {
            let FileStep { name, from, worth } = step.into_inner();
            Step { name: plain(&name), from, worth }
        });
        let rows = self.row.into_iter().map(|row| {
            let FileRow { id, title, measures, weight, least_notes, least_takes, words } = row.into_inner();
            let words = words.iter().map(|words| plain(words)).collect();
            // A row without a single note has no share: nothing to divide by.
            let (least_notes, least_takes) = (least_notes.max(1), least_takes.max(1));
            Row { id, title: plain(&title), measures, weight, least_notes, least_takes, words }
        });
        let scale = self.grade.into_iter().map(|band| {
            let FileBand { name, from } = band.into_inner();
            Band { name: plain(&name), from }
        });
        Rubric {
            takes_count: self.takes_count,
            takes_at_most: self.takes_at_most.map(Spanned::into_inner),
            which_takes: self.which_takes,
            rounding: self.rounding,
            without_evidence: self.without_evidence,
            least_weight: self.least_weight.into_inner(),
            steps: steps.collect(),
            rows: rows.collect(),
            scale: scale.collect(),
            retake: self.retake.map(|retake| Retakes {
                below_step: retake.below_step.into_inner(),
                lifts_to_step: retake.lifts_to_step.map(Spanned::into_inner),
            }),
        }
    }
}
