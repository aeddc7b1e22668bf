//! Seeded choice: the same seed gives the same choices for ever, on every machine.
//!
//! PCG32 (O'Neill 2014, "PCG: A Family of Simple Fast Space-Efficient Statistically Good Algorithms for Random Number
//! Generation"), whole numbers only: nothing is left to how a machine or a library rounds.

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// Which of the generator's sequences is ours: any number, but always the same.
const STREAM: u64 = 54;

/// A source of choices.
pub(super) struct Chance(Pcg32);

impl Chance {
    pub(super) fn new(seed: u64) -> Chance {
        Chance(Pcg32::new(seed, STREAM))
    }

    /// Evenly from 0 to below `count`; 0 for a count of 0.
    pub(super) fn below(&mut self, count: usize) -> usize {
        // The high half of the product is even enough: counts are below some hundreds, so that no value is favoured
        // by more than one in ten million.
        ((u64::from(self.0.next_u32()) * count as u64) >> 32) as usize
    }

    /// True so many times in a hundred.
    pub(super) fn percent(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// One of the items, `None` of nothing.
    pub(super) fn pick<'a, T>(&mut self, items: &'a [T]) -> Option<&'a T> {
        let place = self.below(items.len());
        items.get(place)
    }

    /// All orders are as likely (Fisher and Yates).
    pub(super) fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }

    /// A place among the weights, each as likely as it is heavy; `None` if all are zero.
    pub(super) fn weighted(&mut self, weights: &[u32]) -> Option<usize> {
        let total: usize = weights.iter().map(|&weight| weight as usize).sum();
        let mut left = self.below(total);
        weights.iter().position(|&weight| {
            let here = left < weight as usize;
            left = left.saturating_sub(weight as usize);
            here
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first numbers of the demonstration program of pcg-c 0.94 (`pcg32-global-demo`, seed 42, sequence 54).
    #[test]
    fn the_reference_numbers() {
        let mut chance = Chance::new(42);
        let numbers: Vec<u32> = (0..6).map(|_| chance.0.next_u32()).collect();
        assert_eq!(numbers, [0xa15c_02b7, 0x7b47_f409, 0xba1d_3330, 0x83d2_f293, 0xbfa4_784b, 0xcbed_606e]);
    }

    #[test]
    fn choices_are_even_and_in_range() {
        let mut chance = Chance::new(1);
        let mut met = [0; 5];
        for _ in 0..5_000 {
            met[chance.below(5)] += 1;
        }
        // Five times one thousand, give or take five standard deviations (28 each).
        assert!(met.iter().all(|&count| (860..=1140).contains(&count)), "{met:?}");
        assert_eq!(chance.below(0), 0);
        assert_eq!(chance.pick::<u8>(&[]), None);
        assert_eq!(chance.weighted(&[0, 0]), None);
        let mut weighed = [0; 3];
        for _ in 0..4_000 {
            weighed[chance.weighted(&[1, 0, 3]).unwrap()] += 1;
        }
        assert!(weighed[1] == 0 && (850..=1150).contains(&weighed[0]), "{weighed:?}");
    }
}
