//! What a reader skipped or decided, said once each.

/// More notices than anybody reads.
const MOST_NOTICES: usize = 20;

/// Plain sentences, in the order in which they came up.
#[derive(Debug, Default)]
pub(super) struct Notices(Vec<String>);

impl Notices {
    /// Says it, unless it was said or enough was said.
    pub(super) fn say(&mut self, notice: String) {
        if self.0.len() < MOST_NOTICES && !self.0.contains(&notice) {
            self.0.push(notice);
        }
    }

    /// All of them.
    pub(super) fn into_list(self) -> Vec<String> {
        self.0
    }
}
