//! How long each note and rest is: unit note length, tuplets, broken rhythm. ABC 2.1, 4.3, 4.4, 4.13.
//!
//! In: the items of a voice. Out: a value in quarters for each of them, zero for those that take no time. Rests of
//! whole measures are left to [`super::assembly`].

use super::items::{Item, Time, What};
use super::tune::Start;
use super::wrong;
use crate::exercise::Quarters;
use crate::read::ReadError;

/// More groups inside groups than anybody can read.
const MOST_NESTED: usize = 4;
/// Signs of broken rhythm in a row: the shorter note is then a 64th of what is written.
const MOST_BROKEN: i32 = 6;

/// A group that is going on.
struct Group {
    /// What each value is multiplied by: top and bottom.
    factor: (i64, i64),
    /// Notes still to come.
    left: u32,
    /// None of its notes has come yet.
    is_new: bool,
}

/// The value of each item.
pub(super) fn values(items: &[Item], start: &Start) -> Result<Vec<Quarters>, ReadError> {
    let mut values = vec![Quarters::ZERO; items.len()];
    let (mut unit, mut time) = (start.unit, start.time);
    let mut groups: Vec<Group> = Vec::new();
    // The last note, and what the next is multiplied by.
    let mut before: Option<usize> = None;
    let mut broken: Option<(i64, i64)> = None;
    for (index, item) in items.iter().enumerate() {
        let too_fine = || wrong(item.at, "this length is too long or too fine to be counted: write a simpler one");
        match &item.what {
            What::Unit(new) => unit = *new,
            What::Meter(new) => time = *new,
            What::Tuplet { notes, time_of, count } => {
                if groups.len() == MOST_NESTED {
                    return Err(wrong(item.at, "too many groups inside each other: end one before the next begins"));
                }
                let time_of = time_of.unwrap_or_else(|| usual_time_of(*notes, time));
                let group = Group { factor: (i64::from(time_of), i64::from(*notes)), left: *count, is_new: true };
                // The same sign twice, `(3(3abc`, is one group and not one inside the other.
                let is_twice = |last: &Group| last.is_new && (last.factor, last.left) == (group.factor, group.left);
                if !groups.last().is_some_and(is_twice) {
                    groups.push(group);
                }
            }
            What::Broken(count) => {
                let Some(last) = before.filter(|_| broken.is_none() && count.abs() <= MOST_BROKEN) else {
                    return Err(wrong(item.at, "a broken rhythm stands between two notes: write it as in A>B or A<B"));
                };
                // The one note loses what the other gains: 1/2, 3/4, 7/8 of what is written.
                let parts = 1 << count.abs();
                let (longer, shorter) = ((2 * parts - 1, parts), (1, parts));
                let (first, second) = if *count > 0 { (longer, shorter) } else { (shorter, longer) };
                values[last] = scaled(values[last], first).ok_or_else(too_fine)?;
                broken = Some(second);
            }
            What::Sound { length, .. } | What::Rest(length) => {
                let typed = scaled(unit, (i64::from(length.0), i64::from(length.1)));
                let typed = typed.and_then(|value| scaled(value, broken.take().unwrap_or((1, 1))));
                let factors = groups.iter().map(|group| group.factor);
                let value = factors.fold(typed, |value, factor| scaled(value?, factor)).ok_or_else(too_fine)?;
                values[index] = value;
                before = Some(index);
                for group in &mut groups {
                    (group.left, group.is_new) = (group.left - 1, false);
                }
                groups.retain(|group| group.left > 0);
            }
            What::MeasureRests(_) => before = None,
            _ => {}
        }
    }
    Ok(values)
}

/// How many notes' time a group takes where it does not say (4.13).
fn usual_time_of(notes: u32, time: Time) -> u32 {
    let is_compound = matches!(time, Time::Of(meter) if meter.unit == 8 && matches!(meter.count, 6 | 9 | 12));
    match notes {
        2 | 4 | 8 => 3,
        3 | 6 => 2,
        _ if is_compound => 3,
        _ => 2,
    }
}

fn scaled(value: Quarters, (top, bottom): (i64, i64)) -> Option<Quarters> {
    let product = value.times(top, bottom);
    (product.is_in_range() && !product.is_zero()).then_some(product)
}
