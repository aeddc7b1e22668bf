//! What the school's own system calls class, session and school: a small TOML file of the director's.

use crate::book::plain;
use crate::handwritten;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The ids that results belong to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gradebook {
    /// What the category of all exercises is called.
    pub(super) category: String,
    class: String,
    /// By section, in lower case.
    classes: BTreeMap<String, String>,
    pub(super) session: String,
    pub(super) school: String,
}

/// Why a text names no gradebook.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct GradebookError {
    /// Where, from 1.
    pub line: usize,
    /// What is wrong.
    pub what: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default = "category")]
    category: String,
    ids: toml::Spanned<Ids>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Ids {
    class: String,
    session: String,
    school: String,
    #[serde(default)]
    sections: BTreeMap<String, String>,
}

fn category() -> String {
    "Playing".into()
}

impl Gradebook {
    /// Reads `[ids]` with `class`, `session`, `school`, and `[ids.sections]` where sections are classes of their own.
    pub fn parse(text: &str) -> Result<Gradebook, GradebookError> {
        let File { category, ids } =
            handwritten::read(text).map_err(|handwritten::Misread { line, what }| GradebookError { line, what })?;
        let start = ids.span().start;
        let Ids { class, session, school, sections } = ids.into_inner();
        let named = [("class", &class), ("session", &session), ("school", &school)];
        let of_sections = sections.iter().map(|(section, id)| (section.as_str(), id));
        for (name, id) in named.into_iter().chain(of_sections) {
            if !is_usable(id) {
                let what = format!("{name} = {id:?}: write the id that the school's system has for it");
                return Err(GradebookError { line: handwritten::line_at(text, start), what });
            }
        }
        let classes = sections.into_iter().map(|(section, id)| (section.to_lowercase(), id)).collect();
        Ok(Gradebook { category: plain(&category), class, classes, session, school })
    }

    /// The class of a section.
    pub(super) fn class(&self, section: Option<&str>) -> &str {
        section.and_then(|section| self.classes.get(&section.to_lowercase())).unwrap_or(&self.class)
    }
}

/// An id stands in the files as it is, so it must be one word or line without anything hidden. The first sign of a
/// formula is refused rather than guarded: with an apostrophe it would be another id.
pub(super) fn is_usable(id: &str) -> bool {
    // Only dots: what the example has.
    !id.trim_matches(['.', '…']).is_empty() && plain(id) == id && super::super::cells::guarded(id) == id
}
