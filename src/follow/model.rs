//! The numbers of the model. Probabilities are per note unless a unit is given; spreads of intervals
//! are standard deviations of the natural logarithm of played over expected.
//!
//! Sources: orders of magnitude from the literature on score following cited in the folder's head;
//! set before they were tried on the inputs of `tools/measure`, whose table says what they reach piece by piece.

/// Probabilities and spreads.
#[derive(Debug, Clone)]
pub(crate) struct Model {
    /// A given wrong pitch (one of the hundred others) in place of the right one.
    pub(super) wrong_pitch: f64,
    /// The pitch a semitone away: the commonest mistake of all.
    pub(super) wrong_by_semitone: f64,
    /// Skipping one, two, three notes.
    pub(super) skips: [f64; 3],
    /// Skipping any longer stretch, to a note that opens a measure; a tenth to any other. Without a click it is half as
    /// likely so many notes further, and from there falls with the square.
    pub(super) skip_far: f64,
    pub(super) skip_reach: f64,
    /// Share of skips after which the player goes straight on, not waiting for the time to pass.
    pub(super) straight_on: f64,
    /// An extra note, after a note of the part and after another extra.
    pub(super) extra: f64,
    pub(super) extra_after_extra: f64,
    /// Another note of a trill that has begun.
    pub(super) trill_goes_on: f64,
    /// A dip of breath during a note that strikes it again.
    pub(super) strike_again: f64,
    /// Going back somewhere; going forward over more than a skip.
    pub(super) back: f64,
    pub(super) forth: f64,
    /// How much likelier a jump lands on the first note of a measure than on another.
    pub(super) opening_preferred: f64,
    /// In nats, for ending on the last note of the part.
    pub(super) end_bonus: f64,
    /// How far below the best (nats) a hypothesis is given up.
    pub(super) beam: f64,
    /// Spread of an interval around the expected one.
    pub(super) interval: f64,
    /// Jitter of a single interval in seconds, which makes short ones relatively less even.
    pub(super) jitter: f64,
    /// Share and spread of late arrivals, after any note and where waiting is expected.
    pub(super) late: (f64, f64),
    pub(super) late_after_wait: (f64, f64),
    /// Share and spread of early arrivals.
    pub(super) early: (f64, f64),
    /// Spread in seconds around a click of those who keep with it.
    pub(super) click: f64,
    /// Share of arrivals that keep with the click loosely (spread in beats), and not at all.
    pub(super) click_loose: (f64, f64),
    pub(super) click_lost: f64,
}

impl Model {
    /// For deciding while the music runs.
    pub(crate) fn online() -> Model {
        Model {
            wrong_pitch: 0.003,
            wrong_by_semitone: 0.008,
            skips: [0.010, 0.003, 0.001],
            skip_far: 3e-4,
            skip_reach: 8.0,
            straight_on: 0.25,
            extra: 0.012,
            extra_after_extra: 0.12,
            trill_goes_on: 0.6,
            strike_again: 0.02,
            back: 1e-3,
            forth: 1e-7,
            opening_preferred: 10.0,
            end_bonus: 0.0,
            beam: 15.0,
            interval: 0.10,
            jitter: 0.018,
            late: (0.05, 0.45),
            late_after_wait: (0.2, 0.6),
            early: (0.03, 0.25),
            click: 0.035,
            click_loose: (0.12, 0.35),
            click_lost: 0.08,
        }
    }

    /// For the reading of a whole take: jumps back are ten times rarer, and the end is known.
    pub(crate) fn whole_take() -> Model {
        Model { back: 1e-4, end_bonus: 3.0, ..Model::online() }
    }
}
