//! A player's tempo, tracked by every hypothesis on its own: a robust Kalman filter of the logarithm of
//! the beat length (Kalman 1960; observations are weighed by how likely they belong to the core of the
//! timing density, so that a waited phrase end or a slip does not move the tempo).

/// What is believed about the tempo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tempo {
    /// Natural logarithm of the seconds a quarter takes.
    pub(super) log_quarter: f64,
    /// Variance of that.
    pub(super) variance: f64,
}

/// The tempo wanders by so much (standard deviation of the logarithm) over one quarter.
const DRIFT_PER_QUARTER: f64 = 0.035;
/// A tempo is never surer than this.
const LEAST_VARIANCE: f64 = 0.02 * 0.02;
/// Nor less sure than this.
const MOST_VARIANCE: f64 = 0.6 * 0.6;

impl Tempo {
    /// The seconds that a distance in quarters should take.
    pub(super) fn seconds(self, quarters: f64) -> f64 {
        quarters * self.log_quarter.exp()
    }

    /// The belief after a distance was played in `residual` (logarithm of played over expected) with a
    /// timing noise of the given variance; `weight` 0..=1 says how far the observation counts.
    pub(super) fn after(self, quarters: f64, residual: f64, noise: f64, weight: f64) -> Tempo {
        let grown = (self.variance + DRIFT_PER_QUARTER * DRIFT_PER_QUARTER * quarters).min(MOST_VARIANCE);
        let gain = grown / (grown + noise) * weight;
        Tempo {
            log_quarter: self.log_quarter + gain * residual,
            variance: (grown * (1.0 - gain)).clamp(LEAST_VARIANCE, MOST_VARIANCE),
        }
    }

    /// Less sure, after a jump.
    pub(super) fn shaken(self, variance: f64) -> Tempo {
        Tempo { variance: (self.variance + variance).min(MOST_VARIANCE), ..self }
    }
}
