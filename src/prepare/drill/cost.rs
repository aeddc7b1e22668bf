//! What makes one line better than another. The numbers weigh rules of melody that every book on it has (steps rather
//! than leaps, leaps answered by a step back, tones of the chord on the beat); the rules are common practice, no source,
//! the weights ours.

use super::spot::{Approach, Degrees, Spot};
use super::tone::{Standing, Tone, interval};

/// No way.
pub(super) const NEVER: u32 = u32::MAX / 8;

/// What a tone costs at its place, whatever stands around it.
pub(super) fn alone(spot: &Spot, tone: &Tone) -> u32 {
    let off_the_line = u32::from(tone.midi.abs_diff(spot.height)) / 2;
    let foreign = if spot.chord.has(tone.degree) {
        0
    } else {
        match spot.stress {
            2 => 5,
            1 => 2,
            _ => 0,
        }
    };
    off_the_line.min(8) + foreign
}

/// What coming from one tone to the next costs.
pub(super) fn step(spot: &Spot, from: &Tone, to: &Tone, widest: i16) -> u32 {
    let Some(interval) = interval(from, to, widest).filter(|_| spot.approach.allows(from, to)) else { return NEVER };
    let letters = (to.place - from.place).abs();
    let small_leap = matches!(spot.approach, Approach::LeapUp | Approach::LeapDown) && letters == 2;
    // The last note of a key is best come to by a step, else from the fifth degree.
    let ending = match letters {
        _ if spot.only != Degrees::TONIC => 0,
        1 => 0,
        3 | 4 => 4,
        _ => 7,
    };
    interval + ending + if small_leap { 3 } else { 0 }
}

/// What the way from `a` over `b` to `c` costs; `middle` and `last` are the spots of `b` and `c`.
pub(super) fn turn(middle: &Spot, last: &Spot, a: &Tone, b: &Tone, c: &Tone) -> u32 {
    if a.midi == b.midi && b.midi == c.midi {
        return NEVER;
    }
    if middle.after_rest || last.after_rest {
        return 0;
    }
    let (first, second) = (b.place - a.place, c.place - b.place);
    let onward = first.signum() == second.signum();
    let leaps = match (first.abs(), second.abs()) {
        // A fourth or more wants a step or third back.
        (3.., 0) => 2,
        (3.., 1) if onward => 3,
        (3.., 2..) if onward => 14,
        (3.., 3..) => 3,
        // Thirds onward spell a chord; anything wider leaves the ear behind.
        (2, 2) if onward => 1,
        (2, 3..) if onward => 8,
        _ => 0,
    };
    // Back to the tone before: a step is an ornament, a leap to and fro is none.
    let returns = if first != 0 && first == -second { 1 + u32::try_from(first.abs() - 1).unwrap_or(0) * 2 } else { 0 };
    // Off the beat, tones outside the chord pass by step.
    let jumped = middle.stress == 0 && !middle.chord.has(b.degree) && (first.abs() > 1 || second.abs() > 1);
    // After both forms of a changed note the line goes on in that direction.
    let both = a.standing == Standing::Other && first == 0 && second != -i32::from(a.lean);
    leaps + returns + if jumped { 3 } else { 0 } + if both { 4 } else { 0 }
}
