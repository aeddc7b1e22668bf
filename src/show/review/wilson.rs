//! How sure a share is: the interval of Wilson (1927), "Probable inference, the law of succession, and statistical
//! inference", Journal of the American Statistical Association 22, 209-212. Honest for few observations and near none or
//! all, where the textbook's plus and minus is not.

use crate::judge::Count;

/// The 97.5 % point of the normal distribution: 95 % lie within it on both sides.
const Z: f64 = 1.959_963_984_540_054;

/// Lowest and highest share, 0 to 1, that so many of so many speak for with 95 % confidence; of none: all shares.
pub(super) fn wilson(count: Count) -> (f64, f64) {
    if count.of == 0 {
        return (0.0, 1.0);
    }
    let of = count.of as f64;
    let share = count.good as f64 / of;
    let spread = Z * Z / of;
    let middle = (share + spread / 2.0) / (1.0 + spread);
    let half = Z / (1.0 + spread) * (share * (1.0 - share) / of + spread / (4.0 * of)).sqrt();
    ((middle - half).clamp(0.0, share), (middle + half).clamp(share, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `scipy.stats.binomtest(good, of).proportion_ci(0.95, "wilson")`, scipy 1.17.1. The first four are also in Newcombe
    /// (1998), "Two-sided confidence intervals for the single proportion", table I, method 3, to four digits (from memory).
    #[test]
    fn as_published() {
        for (good, of, low, high) in [
            (81, 263, 0.255_288_519_878_274_2, 0.366_209_576_982_800_04),
            (15, 148, 0.062_386_399_530_736_29, 0.160_487_241_723_308_03),
            (0, 20, 0.0, 0.161_125_158_052_819_35),
            (1, 29, 0.006_113_214_292_762_667, 0.171_755_218_793_202_3),
            (29, 29, 0.883_030_201_500_255_2, 1.0),
            (7, 10, 0.396_778_147_461_145_26, 0.892_208_732_593_699),
            (1, 1, 0.206_549_314_377_237_45, 1.0),
            (500, 1000, 0.469_069_600_368_104_2, 0.530_930_399_631_895_8),
        ] {
            let found = wilson(Count { good, of });
            assert!((found.0 - low).abs() < 1e-12 && (found.1 - high).abs() < 1e-12, "{good} of {of}: {found:?}");
        }
        assert_eq!(wilson(Count { good: 0, of: 0 }), (0.0, 1.0));
    }
}
