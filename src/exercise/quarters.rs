//! Score time: exact fractions of a quarter note.

use num_rational::Ratio;
use std::fmt;
use std::ops::{Add, AddAssign, Sub};

/// Score time or a value in quarter notes, exact. 1 is a quarter, 3/2 a dotted quarter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quarters(Ratio<i64>);

impl Quarters {
    /// No time at all.
    pub const ZERO: Quarters = Quarters(Ratio::new_raw(0, 1));

    /// `numerator / denominator` quarters; a denominator of zero gives zero.
    pub fn new(numerator: i64, denominator: i64) -> Quarters {
        if denominator == 0 { Quarters::ZERO } else { Quarters(Ratio::new(numerator, denominator)) }
    }

    /// The numerator in lowest terms.
    pub fn numerator(self) -> i64 {
        *self.0.numer()
    }

    /// The denominator in lowest terms, positive.
    pub fn denominator(self) -> i64 {
        *self.0.denom()
    }

    /// As a floating number, for probabilities and for people; never for score time.
    pub fn to_f64(self) -> f64 {
        self.numerator() as f64 / self.denominator() as f64
    }

    /// The sum, or `None` where it leaves the range in which all score arithmetic is exact (see
    /// [`Quarters::is_in_range`]).
    pub fn checked_add(self, other: Quarters) -> Option<Quarters> {
        if !self.is_in_range() || !other.is_in_range() {
            return None;
        }
        let sum = self + other;
        sum.is_in_range().then_some(sum)
    }

    /// Whether sums and differences with other values in range cannot leave 64-bit fractions: numerators
    /// up to 2^39 (years of music in quarters), denominators up to 2^22 (no notation comes near).
    pub fn is_in_range(self) -> bool {
        self.numerator().unsigned_abs() <= 1 << 39 && self.denominator() <= 1 << 22
    }

    /// The product with a whole number divided by another; a denominator of zero gives zero.
    pub fn times(self, numerator: i64, denominator: i64) -> Quarters {
        if denominator == 0 { Quarters::ZERO } else { Quarters(self.0 * Ratio::new(numerator, denominator)) }
    }

    /// This span measured in `beat`s, exact; zero for a beat of zero.
    pub fn in_beats(self, beat: Quarters) -> Quarters {
        if beat == Quarters::ZERO { Quarters::ZERO } else { Quarters(self.0 / beat.0) }
    }

    /// Whether the span has no length.
    pub fn is_zero(self) -> bool {
        self == Quarters::ZERO
    }
}

impl Add for Quarters {
    type Output = Quarters;
    fn add(self, other: Quarters) -> Quarters {
        Quarters(self.0 + other.0)
    }
}

impl AddAssign for Quarters {
    fn add_assign(&mut self, other: Quarters) {
        *self = *self + other;
    }
}

impl Sub for Quarters {
    type Output = Quarters;
    fn sub(self, other: Quarters) -> Quarters {
        Quarters(self.0 - other.0)
    }
}

/// As in JSON: always a fraction, `4/1`.
impl fmt::Display for Quarters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.numerator(), self.denominator())
    }
}
