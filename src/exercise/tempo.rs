//! Clock time, and the map from score time to it.

use super::Quarters;

/// Clock time in microseconds from the start of a take or stream; also a span between two such times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, serde::Serialize, serde::Deserialize)]
pub struct Micros(pub i64);

impl Micros {
    /// From seconds, rounded to the nearest microsecond.
    pub fn from_seconds(seconds: f64) -> Micros {
        Micros((seconds * 1e6).round() as i64)
    }

    /// In seconds.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e6
    }
}

impl std::ops::Add for Micros {
    type Output = Micros;
    fn add(self, other: Micros) -> Micros {
        Micros(self.0 + other.0)
    }
}

impl std::ops::Sub for Micros {
    type Output = Micros;
    fn sub(self, other: Micros) -> Micros {
        Micros(self.0 - other.0)
    }
}

/// Tempo over score time: from each point on, so many microseconds a quarter.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(into = "Vec<StoredStep>", from = "Vec<StoredStep>")]
pub struct TempoMap {
    /// (from, microseconds a quarter), in order; the first also holds before its point.
    steps: Vec<(Quarters, f64)>,
}

/// A step as it is kept, exact: numerator and denominator of the point in quarters, microseconds a quarter.
type StoredStep = (i64, i64, f64);

impl From<TempoMap> for Vec<StoredStep> {
    fn from(tempo: TempoMap) -> Vec<StoredStep> {
        tempo.steps.iter().map(|(point, micros)| (point.numerator(), point.denominator(), *micros)).collect()
    }
}

impl From<Vec<StoredStep>> for TempoMap {
    fn from(steps: Vec<StoredStep>) -> TempoMap {
        // A zero denominator is no number: such a step is left out.
        let steps = steps.into_iter().filter(|&(_, bottom, _)| bottom != 0);
        TempoMap::new(steps.map(|(top, bottom, micros)| (Quarters::new(top, bottom), micros)).collect())
    }
}

/// 120 quarters a minute: what MIDI files (SMF 1.0) and this program take where nothing is said.
const DEFAULT_MICROS_PER_QUARTER: f64 = 500_000.0;

impl Default for TempoMap {
    fn default() -> TempoMap {
        TempoMap::constant(DEFAULT_MICROS_PER_QUARTER)
    }
}

impl TempoMap {
    /// One tempo throughout, in microseconds a quarter (values that are not positive give 120 a minute).
    pub fn constant(micros_per_quarter: f64) -> TempoMap {
        let tempo = if micros_per_quarter > 0.0 { micros_per_quarter } else { DEFAULT_MICROS_PER_QUARTER };
        TempoMap { steps: vec![(Quarters::ZERO, tempo)] }
    }

    /// From (point, microseconds a quarter) in any order; of two at one point the later given counts.
    pub fn new(mut changes: Vec<(Quarters, f64)>) -> TempoMap {
        changes.retain(|&(_, tempo)| tempo.is_finite() && tempo > 0.0);
        changes.sort_by_key(|&(point, _)| point);
        let mut steps: Vec<(Quarters, f64)> = Vec::with_capacity(changes.len());
        for (point, tempo) in changes {
            match steps.last_mut() {
                Some(last) if last.0 == point => last.1 = tempo,
                _ => steps.push((point, tempo)),
            }
        }
        if steps.is_empty() { TempoMap::default() } else { TempoMap { steps } }
    }

    /// The changes, in order.
    pub fn steps(&self) -> &[(Quarters, f64)] {
        &self.steps
    }

    /// Microseconds a quarter in force at a point.
    pub fn micros_per_quarter(&self, at: Quarters) -> f64 {
        let next = self.steps.partition_point(|&(point, _)| point <= at);
        self.steps.get(next.saturating_sub(1)).map_or(DEFAULT_MICROS_PER_QUARTER, |&(_, tempo)| tempo)
    }

    /// Clock time of a point, score time zero being clock time zero.
    pub fn micros_at(&self, at: Quarters) -> Micros {
        let mut elapsed = 0.0;
        let mut from = Quarters::ZERO;
        let mut tempo = self.micros_per_quarter(Quarters::ZERO);
        if at > Quarters::ZERO {
            for &(point, next_tempo) in &self.steps {
                if point >= at {
                    break;
                }
                if point > from {
                    elapsed += (point - from).to_f64() * tempo;
                    from = point;
                }
                if point >= Quarters::ZERO {
                    tempo = next_tempo;
                }
            }
        }
        Micros((elapsed + (at - from).to_f64() * tempo).round() as i64)
    }
}
