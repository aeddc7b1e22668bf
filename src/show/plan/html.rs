//! The plan as a page to print: self-contained, black on white.

use super::page::Page;
use askama::Template;

#[derive(Template)]
#[template(config = "config/askama.toml", path = "plan.html")]
pub(super) struct Document<'a> {
    page: &'a Page,
    lists: [(&'static str, &'a [String]); 3],
    lines: [(&'static str, &'a Option<String>); 2],
}

impl<'a> Document<'a> {
    pub(super) fn new(page: &'a Page) -> Document<'a> {
        Document {
            page,
            lists: [
                ("One player at a time", &page.players),
                ("Play again", &page.retakes),
                ("Mastered, and due for a spot check", &page.due),
            ],
            lines: [("Mastered lately", &page.mastered), ("Not heard lately", &page.unheard)],
        }
    }
}
