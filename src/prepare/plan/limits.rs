//! How sure one can be of a share that was seen in few takes.

use statrs::function::beta::inv_beta_reg;

/// The limits between which a share lies, whatever it truly is, at least in the given part of all cases: Clopper and
/// Pearson (1934), "The use of confidence or fiducial limits illustrated in the case of the binomial", Biometrika 26,
/// 404-413, as quantiles of the beta distribution. `count` of `of`, not negative and not more than `of`; `error` on each
/// side, above 0 and below 1. A fraction of a take counts as such. Exact limits are wider than others where little was
/// seen, which is why two takes cannot lead.
pub(super) fn limits(count: f64, of: f64, error: f64) -> (f64, f64) {
    if of <= 0.0 {
        return (0.0, 1.0);
    }
    let low = if count <= 0.0 { 0.0 } else { inv_beta_reg(count, of - count + 1.0, error) };
    let high = if count >= of { 1.0 } else { inv_beta_reg(count + 1.0, of - count, 1.0 - error) };
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `scipy.stats.binomtest(k, n).proportion_ci(method="exact")`, SciPy 1.17.1.
    #[test]
    fn limits_of_scipy() {
        for (count, of, low, high) in [
            (0.0, 5.0, 0.0, 0.521824),
            (2.0, 2.0, 0.158114, 1.0),
            (3.0, 10.0, 0.06674, 0.652453),
            (12.0, 24.0, 0.291242, 0.708758),
            (50.0, 100.0, 0.398321, 0.601679),
        ] {
            let found = limits(count, of, 0.025);
            assert!((found.0 - low).abs() < 1e-5 && (found.1 - high).abs() < 1e-5, "{count} of {of}: {found:?}");
        }
    }

    #[test]
    fn nothing_seen_says_nothing() {
        assert_eq!(limits(0.0, 0.0, 0.025), (0.0, 1.0));
    }

    #[test]
    fn two_unlucky_takes_say_less_than_half_of_many() {
        assert!(limits(2.0, 2.0, 0.025).0 < limits(12.0, 24.0, 0.025).0);
    }
}
