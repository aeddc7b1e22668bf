//! Values of the fields `M:`, `L:` and `Q:`. ABC 2.1, 3.1.6 to 3.1.8, deprecated forms of `Q:` in 10.1.

use super::items::{Tempo, Time};
use crate::exercise::{Meter, Quarters};

/// A meter: `4/4`, `C`, `C|`, `(2+3)/8`, `none`; `None` if it is none of them.
pub(super) fn meter(value: &str) -> Option<Time> {
    match value.trim() {
        "C" => return Some(Time::Of(Meter::COMMON)),
        "C|" => return Some(Time::Of(Meter { count: 2, unit: 2 })),
        "none" | "" => return Some(Time::Free),
        _ => {}
    }
    let (count, unit) = value.split_once('/')?;
    let count = count.trim().trim_start_matches('(').trim_end_matches(')');
    let count = count.split('+').map(|count| count.trim().parse::<u16>().ok()).sum::<Option<u16>>()?;
    let unit: u16 = unit.trim().parse().ok()?;
    let makes_sense = (1..=1000).contains(&count) && unit.is_power_of_two() && unit <= 256;
    makes_sense.then_some(Time::Of(Meter { count, unit }))
}

/// The unit note length where no `L:` says it: a sixteenth below 3/4, else an eighth.
pub(super) fn default_unit(time: Time) -> Quarters {
    match time {
        Time::Of(meter) if meter.measure() < Quarters::new(3, 1) => Quarters::new(1, 4),
        _ => Quarters::new(1, 2),
    }
}

/// A unit note length: `1/8`, `1`.
pub(super) fn unit(value: &str) -> Option<Quarters> {
    fraction(value).filter(|unit| *unit <= Quarters::new(16, 1))
}

/// A part of a whole note, in quarters.
fn fraction(text: &str) -> Option<Quarters> {
    let (top, bottom) = text.split_once('/').unwrap_or((text, "1"));
    let number = |text: &str| text.trim().parse::<i64>().ok().filter(|number| (1..=1024).contains(number));
    Some(Quarters::new(4 * number(top)?, number(bottom)?))
}

/// What a `Q:` field says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Said {
    Tempo(Tempo),
    /// Words only.
    Words,
    /// Nothing that can be understood.
    Nothing,
}

/// A tempo: `1/4=120`, `"Allegro" 1/4=120`, `1/4 3/8=40`; deprecated: `C=120`, `C3=40`, `120`.
pub(super) fn tempo(value: &str) -> Said {
    // Every second piece is between quotation marks.
    let has_words = value.contains('"');
    let plain: String = value.split('"').step_by(2).collect::<Vec<_>>().join(" ");
    let plain = plain.trim();
    if plain.is_empty() {
        return if has_words { Said::Words } else { Said::Nothing };
    }
    let (beats, number) = plain.rsplit_once('=').unwrap_or(("", plain));
    let per_minute = number.trim().parse::<f64>().ok().filter(|number| (0.1..=10_000.0).contains(number));
    let Some(per_minute) = per_minute else { return Said::Nothing };
    let beats = beats.trim();
    if let Some(count) = beats.strip_prefix('C').or(beats.is_empty().then_some("1")) {
        let count =
            if count.is_empty() { Some(1) } else { count.parse().ok().filter(|count| (1..=64).contains(count)) };
        return count.map_or(Said::Nothing, |units| Said::Tempo(Tempo { beat: None, units, per_minute }));
    }
    let mut beat = Quarters::ZERO;
    for piece in beats.split_whitespace() {
        match fraction(piece).and_then(|piece| beat.checked_add(piece)) {
            Some(sum) => beat = sum,
            None => return Said::Nothing,
        }
    }
    Said::Tempo(Tempo { beat: Some(beat), units: 1, per_minute })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(count: u16, unit: u16) -> Option<Time> {
        Some(Time::Of(Meter { count, unit }))
    }

    /// ABC 2.1, 3.1.6.
    #[test]
    fn meters() {
        for (text, read) in [
            ("6/8", of(6, 8)),
            ("C", of(4, 4)),
            ("C|", of(2, 2)),
            ("none", Some(Time::Free)),
            ("(2+3+2)/8", of(7, 8)),
            ("2+3+2/8", of(7, 8)),
            ("4", None),
            ("0/4", None),
            ("3/5", None),
            ("99999/4", None),
        ] {
            assert_eq!(meter(text), read, "{text}");
        }
    }

    /// ABC 2.1, 3.1.7: 2/4 is 0.5, so a sixteenth; 4/4, 6/8, 3/4, C, C| and none an eighth.
    #[test]
    fn default_units() {
        for (text, unit) in
            [("2/4", (1, 4)), ("3/8", (1, 4)), ("6/8", (1, 2)), ("3/4", (1, 2)), ("C|", (1, 2)), ("none", (1, 2))]
        {
            assert_eq!(default_unit(meter(text).unwrap()), Quarters::new(unit.0, unit.1), "{text}");
        }
        assert_eq!(unit("1/8"), Some(Quarters::new(1, 2)));
        assert_eq!(unit("1"), Some(Quarters::new(4, 1)));
        assert_eq!((unit("1/0"), unit("x"), unit("")), (None, None, None));
    }

    /// ABC 2.1, 3.1.8 and 10.1: its examples.
    #[test]
    fn tempos() {
        let beat = |top, bottom, per_minute| {
            Said::Tempo(Tempo { beat: Some(Quarters::new(top, bottom)), units: 1, per_minute })
        };
        let units = |units, per_minute| Said::Tempo(Tempo { beat: None, units, per_minute });
        for (text, read) in [
            ("1/2=120", beat(2, 1, 120.0)),
            ("1/4 3/8 1/4 3/8=40", beat(5, 1, 40.0)),
            ("\"Allegro\" 1/4=120", beat(1, 1, 120.0)),
            ("3/8=50 \"Slowly\"", beat(3, 2, 50.0)),
            ("\"Andante\"", Said::Words),
            ("C=120", units(1, 120.0)),
            ("C3=40", units(3, 40.0)),
            ("120", units(1, 120.0)),
            ("fast", Said::Nothing),
            ("1/4=0", Said::Nothing),
        ] {
            assert_eq!(tempo(text), read, "{text}");
        }
    }
}
