//! Note values as they are printed: type, dots, tuplet; and how a length is divided into them.
//!
//! In: where something begins in its measure, how long it lasts. Out: the shapes, one after the other, that
//! are tied (or follow each other as rests). Common practice, no source.

use crate::exercise::{Meter, Quarters};

/// One printed shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Shape {
    /// The plain value as a power of two of the quarter: 2 is the whole note, 0 the quarter, -1 the eighth.
    pub(super) power: i8,
    pub(super) dots: u8,
    /// (so many, in the time of so many), as 3 in the time of 2.
    pub(super) tuplet: Option<(i64, i64)>,
}

/// From the 128th to the breve.
const POWERS: std::ops::RangeInclusive<i8> = -5..=3;
/// More tied shapes than anybody would read: a length that needs more is none that can be printed.
const MOST_SHAPES: usize = 8;
/// Longer than that many of the longest shape.
const LONGEST: i64 = 64;

impl Shape {
    /// The one shape that lasts so long, if there is one.
    pub(super) fn of(value: Quarters) -> Option<Shape> {
        let odd = odd_part(value);
        let tuplet = match odd {
            1 => None,
            // As many in the time of the power of two below: 3 of 2, 5 of 4, 7 of 4.
            3..=15 => Some((odd, 1 << (63 - odd.leading_zeros()))),
            _ => return None,
        };
        let plain = tuplet.map_or(value, |(actual, normal)| value.times(actual, normal));
        (0..=2).find_map(|dots: u8| {
            let base = plain.times(1 << dots, (2 << dots) - 1);
            let power = POWERS.into_iter().find(|&power| power_of_two(power) == base)?;
            Some(Shape { power, dots, tuplet })
        })
    }

    /// Flags or beams: none for quarters and longer.
    pub(super) fn flags(self) -> usize {
        usize::from(self.power.min(0).unsigned_abs())
    }
}

/// What is left of the denominator without its factors of two: 1 for everything outside tuplets.
pub(super) fn odd_part(value: Quarters) -> i64 {
    let denominator = value.denominator().max(1);
    denominator >> denominator.trailing_zeros()
}

fn power_of_two(power: i8) -> Quarters {
    if power < 0 { Quarters::new(1, 1 << -power) } else { Quarters::new(1 << power, 1) }
}

/// The places in a measure where a length may be divided, the strongest first.
pub(super) struct Grid {
    meter: Meter,
    units: Vec<Quarters>,
}

impl Grid {
    pub(super) fn new(meter: Meter) -> Grid {
        let beat = meter.beat();
        let mut units = Vec::new();
        let half = meter.measure().times(1, 2);
        if half > beat && half.in_beats(beat).denominator() == 1 {
            units.push(half);
        }
        units.push(beat);
        let mut unit = if odd_numerator(beat) { beat.times(1, 3) } else { beat.times(1, 2) };
        while unit >= Quarters::new(1, 32) {
            units.push(unit);
            unit = unit.times(1, 2);
        }
        Grid { meter, units }
    }

    /// The shapes of a note that lasts from one place of the measure to another: (length, shape). One without a
    /// shape if no shapes can print it.
    pub(super) fn note(&self, from: Quarters, to: Quarters) -> Vec<(Quarters, Option<Shape>)> {
        self.shapes(from, to, &|from, value, shape| fits_in_tuplet(from, value, shape))
    }

    /// The shapes of a rest.
    pub(super) fn rest(&self, from: Quarters, to: Quarters) -> Vec<(Quarters, Option<Shape>)> {
        self.shapes(from, to, &|from, value, shape| {
            fits_in_tuplet(from, value, shape) && self.rests(from, value, shape)
        })
    }

    fn shapes(
        &self,
        from: Quarters,
        to: Quarters,
        fits: &dyn Fn(Quarters, Quarters, Shape) -> bool,
    ) -> Vec<(Quarters, Option<Shape>)> {
        let mut found = Vec::new();
        let can_be_printed =
            to - from <= Quarters::new(LONGEST, 1) && self.divide(from, to, fits, &mut found).is_some();
        if can_be_printed { found } else { vec![(to - from, None)] }
    }

    fn divide(
        &self,
        from: Quarters,
        to: Quarters,
        fits: &dyn Fn(Quarters, Quarters, Shape) -> bool,
        found: &mut Vec<(Quarters, Option<Shape>)>,
    ) -> Option<()> {
        if found.len() >= MOST_SHAPES {
            return None;
        }
        if let Some(shape) = Shape::of(to - from).filter(|&shape| fits(from, to - from, shape)) {
            found.push((to - from, Some(shape)));
            return Some(());
        }
        let between = self.units.iter().find_map(|&unit| last_multiple_between(unit, from, to))?;
        self.divide(from, between, fits, found)?;
        self.divide(between, to, fits, found)
    }

    /// Rests show the beats: a plain one stands only where its like would in a measure full of them, and none but that
    /// of a compound beat has a dot.
    fn rests(&self, from: Quarters, value: Quarters, shape: Shape) -> bool {
        let is_at = |unit: Quarters| from.in_beats(unit).denominator() == 1;
        let beat = self.meter.beat();
        if shape.tuplet.is_some() {
            return shape.dots == 0;
        }
        if odd_numerator(beat) {
            let beats = value.in_beats(beat);
            return match (beats.numerator(), beats.denominator()) {
                (1 | 2 | 4, 1) => is_at(value),
                (2, 3) => is_at(beat),
                _ => shape.dots == 0 && value < beat && is_at(value),
            };
        }
        shape.dots == 0 && is_at(value) && (value <= beat || self.meter.count.is_multiple_of(2))
    }
}

/// A compound beat: three eighths are 3/2.
fn odd_numerator(beat: Quarters) -> bool {
    beat.numerator() % 3 == 0
}

/// Plain shapes stand between plain places; those of a tuplet belong to the tuplet that is open where they begin.
fn fits_in_tuplet(from: Quarters, value: Quarters, shape: Shape) -> bool {
    match shape.tuplet {
        None => odd_part(from) == 1,
        Some(_) => odd_part(from) == 1 || odd_part(from) == odd_part(value),
    }
}

fn last_multiple_between(unit: Quarters, from: Quarters, to: Quarters) -> Option<Quarters> {
    let count = to.in_beats(unit);
    let below = (count.numerator() - 1).div_euclid(count.denominator());
    // Also for ends between two multiples: the last one strictly below.
    let last = unit.times(below, 1);
    (last > from && last < to).then_some(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(top: i64, bottom: i64) -> Quarters {
        Quarters::new(top, bottom)
    }

    fn lengths(shapes: Vec<(Quarters, Option<Shape>)>) -> String {
        let text = shapes.iter().map(|(length, shape)| match shape {
            Some(shape) => {
                let name = ["128", "64", "32", "16", "8", "4", "2", "1", "breve"][(shape.power + 5) as usize];
                let tuplet = shape.tuplet.map_or(String::new(), |(actual, normal)| format!("({actual}:{normal})"));
                format!("{name}{}{tuplet}", ".".repeat(shape.dots.into()))
            }
            None => format!("?{length}"),
        });
        text.collect::<Vec<_>>().join(" ")
    }

    /// Common practice, no source.
    #[test]
    fn notes_are_divided_where_the_measure_is() {
        let four = Grid::new(Meter { count: 4, unit: 4 });
        for (from, to, shapes) in [
            (q(0, 1), q(4, 1), "1"),
            (q(0, 1), q(3, 1), "2."),
            (q(1, 1), q(3, 1), "2"),
            (q(0, 1), q(5, 2), "2 8"),
            (q(1, 1), q(7, 2), "4 4."),
            (q(3, 2), q(4, 1), "8 2"),
            (q(0, 1), q(7, 4), "4.."),
            (q(0, 1), q(1, 3), "8(3:2)"),
            (q(2, 3), q(2, 1), "2(3:2)"),
            (q(1, 3), q(4, 3), "4(3:2) 8(3:2)"),
            (q(0, 1), q(4, 5), "4(5:4)"),
            (q(0, 1), q(137, 480), "?137/480"),
        ] {
            assert_eq!(lengths(four.note(from, to)), shapes, "{from} to {to}");
        }
        let six = Grid::new(Meter { count: 6, unit: 8 });
        assert_eq!(lengths(six.note(q(0, 1), q(3, 1))), "2.");
        assert_eq!(lengths(six.note(q(0, 1), q(5, 2))), "4. 4");
        let five = Grid::new(Meter { count: 5, unit: 4 });
        assert_eq!(lengths(five.note(q(0, 1), q(5, 1))), "1 4");
    }

    /// Common practice, no source.
    #[test]
    fn rests_show_the_beats() {
        let four = Grid::new(Meter { count: 4, unit: 4 });
        for (from, to, shapes) in [
            (q(1, 1), q(4, 1), "4 2"),
            (q(1, 1), q(3, 1), "4 4"),
            (q(0, 1), q(3, 1), "2 4"),
            (q(1, 2), q(2, 1), "8 4"),
            (q(1, 3), q(1, 1), "4(3:2)"),
            (q(1, 3), q(2, 1), "4(3:2) 4"),
            (q(3, 4), q(1, 1), "16"),
        ] {
            assert_eq!(lengths(four.rest(from, to)), shapes, "{from} to {to}");
        }
        let three = Grid::new(Meter { count: 3, unit: 4 });
        assert_eq!(lengths(three.rest(q(0, 1), q(2, 1))), "4 4");
        let six = Grid::new(Meter { count: 6, unit: 8 });
        assert_eq!(lengths(six.rest(q(3, 2), q(3, 1))), "4.");
        assert_eq!(lengths(six.rest(q(1, 2), q(3, 1))), "8 8 4.");
        assert_eq!(lengths(six.rest(q(0, 1), q(1, 1))), "4");
    }
}
