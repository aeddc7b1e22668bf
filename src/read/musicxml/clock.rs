//! Where in a measure the reader stands.
//!
//! Two times run side by side: the *counted* one adds durations as the file gives them, the *exact* one has
//! rounded tuplets repaired. `backup` and `forward` are counted; they find the exact time of a
//! place that was reached before.

use crate::exercise::Quarters;
use std::collections::BTreeMap;

/// The place in a measure, from its start.
#[derive(Debug)]
pub(super) struct Clock {
    counted: Quarters,
    exact: Quarters,
    furthest: Quarters,
    /// Places reached: counted to exact.
    reached: BTreeMap<Quarters, Quarters>,
}

impl Clock {
    pub(super) fn new() -> Clock {
        let zero = Quarters::ZERO;
        Clock { counted: zero, exact: zero, furthest: zero, reached: BTreeMap::from([(zero, zero)]) }
    }

    /// Where a note begins that comes now.
    pub(super) fn now(&self) -> Quarters {
        self.exact
    }

    /// The furthest point that anything reached: the length of the measure.
    pub(super) fn furthest(&self) -> Quarters {
        self.furthest
    }

    /// A note or rest passes; `None` if the time leaves the range of exact arithmetic.
    pub(super) fn pass(&mut self, counted: Quarters, exact: Quarters) -> Option<()> {
        self.counted = self.counted.checked_add(counted)?;
        self.exact = self.exact.checked_add(exact)?;
        self.reached.entry(self.counted).or_insert(self.exact);
        self.furthest = self.furthest.max(self.exact);
        Some(())
    }

    /// `forward`.
    pub(super) fn forward(&mut self, span: Quarters) -> Option<()> {
        let target = self.counted.checked_add(span)?;
        match self.reached.get(&target) {
            Some(&known) if known >= self.exact => {
                (self.counted, self.exact) = (target, known);
                self.furthest = self.furthest.max(known);
                Some(())
            }
            _ => self.pass(span, span),
        }
    }

    /// `backup`; stops at the start of the measure.
    pub(super) fn back(&mut self, span: Quarters) {
        self.counted = if span > self.counted { Quarters::ZERO } else { self.counted - span };
        // A place never reached: as far from the last place before it as the file counts.
        let before = self.reached.range(..=self.counted).next_back();
        let (&counted, &exact) = before.unwrap_or((&Quarters::ZERO, &Quarters::ZERO));
        self.exact = exact + (self.counted - counted);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(top: i64, bottom: i64) -> Quarters {
        Quarters::new(top, bottom)
    }

    /// Three triplet eighths of 33 in 100 divisions make one quarter, also for a second voice.
    #[test]
    fn rounding_does_not_add_up() {
        let mut clock = Clock::new();
        for _ in 0..6 {
            clock.pass(q(33, 100), q(1, 3)).unwrap();
        }
        assert_eq!(clock.now(), q(2, 1));
        clock.back(q(99, 100));
        assert_eq!(clock.now(), q(1, 1));
        clock.back(q(99, 100));
        assert_eq!(clock.now(), q(0, 1));
        clock.forward(q(99, 100)).unwrap();
        assert_eq!(clock.now(), q(1, 1));
        assert_eq!(clock.furthest(), q(2, 1));
    }

    #[test]
    fn a_backup_stops_at_the_start() {
        let mut clock = Clock::new();
        clock.pass(q(1, 1), q(1, 1)).unwrap();
        clock.back(q(7, 1));
        assert_eq!(clock.now(), Quarters::ZERO);
    }
}
