//! Densities of probability, the few that the model is made of.

/// Normal density at a distance `x` from the mean.
pub(super) fn normal(x: f64, deviation: f64) -> f64 {
    const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_7;
    let z = x / deviation;
    (-0.5 * z * z).exp() / (deviation * ROOT_TWO_PI)
}

/// Exponential density on the positive side.
pub(super) fn tail(x: f64, scale: f64) -> f64 {
    if x < 0.0 { 0.0 } else { (-x / scale).exp() / scale }
}
