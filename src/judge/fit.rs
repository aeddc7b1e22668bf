//! Whether a take belongs to the exercise at all: one sentence instead of a flag for nearly every note.

/// Fewer notes than these tell nothing.
const LEAST_HEARD: usize = 12;
/// A take fits if at least this share of what was heard has its place and pitch. Of the takes of tests/data/takes none
/// has less than 0.63 in its own exercise, and 99 of 100 have less than 0.30 in another one of them.
const FITTING: f64 = 0.35;

/// How well what was heard belongs to the part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Fit {
    /// Notes heard, those of attempts given up among them.
    pub(super) heard: usize,
    /// Those that have a place in the part and its pitch.
    pub(super) right: usize,
    /// Notes of the part from the first to the last that was played, and how many of them were left out.
    pub(super) span: usize,
    pub(super) left_out: usize,
}

impl Fit {
    /// Whether enough of it belongs there, or too little was heard to tell.
    pub(super) fn fits(&self) -> bool {
        let played = 1.0 - self.left_out as f64 / self.span.max(1) as f64;
        self.heard < LEAST_HEARD || self.right as f64 / self.heard as f64 * played >= FITTING
    }

    /// What is said to the player.
    pub(super) fn sentence(&self) -> String {
        let Fit { heard, right, .. } = self;
        format!(
            "this does not sound like the exercise: {right} of the {heard} notes heard belong there. Is it the right \
             exercise, part and instrument? (nothing is counted)"
        )
    }
}
