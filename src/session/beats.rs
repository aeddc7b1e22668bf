//! The beats of the count-in and the click.

use crate::exercise::{Meter, Micros, Part, Quarters, TempoMap};

/// One beat of the click.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Beat {
    /// When, from score time zero; negative in the count-in.
    pub at: Micros,
    /// Its number in the measure, from 1.
    pub number: i64,
    /// How many beats the measure has.
    pub of: i64,
    /// The label of the measure; empty in the count-in.
    pub measure: String,
}

impl Beat {
    /// Whether it is counted before the music begins.
    pub fn is_count_in(&self) -> bool {
        self.measure.is_empty()
    }

    /// Beat 1 is struck harder.
    pub fn accent(&self) -> bool {
        self.number == 1
    }
}

/// The tempo map of a click that keeps one tempo: `bpm` of the meter's beats a minute (the dotted quarter in 6/8).
pub fn steady(bpm: f64, meter: Meter) -> TempoMap {
    TempoMap::constant(60e6 / bpm / meter.beat().to_f64())
}

/// Fewer beats than this say no tempo; a whole measure is counted before them.
const LEAST_COUNT: i64 = 2;

/// All beats from the first of the count-in to the end of the part.
///
/// The count-in has `count_in` measures. A pickup takes the place of the end of the last one, so that the
/// count runs up to the beat on which the pickup begins; where fewer than two beats would be left, one measure more is
/// counted (common practice, no source).
pub fn schedule(part: &Part, tempo: &TempoMap, count_in: u32) -> Vec<Beat> {
    let meter = part.measures.first().map_or(Meter::COMMON, |measure| measure.meter);
    let (full, beat) = (meter.measure(), meter.beat());
    // What the first measure lacks: the whole of it where there is no pickup.
    let missing = match part.measures.first() {
        Some(first) if first.implicit && first.duration < full => full - first.duration,
        _ => full,
    };
    let mut measures_before = i64::from(count_in.max(1)) - 1;
    if missing < beat.times(LEAST_COUNT, 1) && measures_before == 0 {
        measures_before = 1;
    }
    let mut beats = Vec::new();
    for count in (0..=measures_before).rev() {
        let start = Quarters::ZERO - missing - full.times(count, 1);
        push(&mut beats, tempo, start, full, meter, |at| at < Quarters::ZERO, "");
    }
    for (place, measure) in part.measures.iter().enumerate() {
        let end = measure.onset + measure.duration;
        let full = measure.meter.measure();
        let pickup = place == 0 && missing < full;
        let start = if pickup { measure.onset - missing } else { measure.onset };
        let length = if pickup { full } else { measure.duration };
        let inside = |at: Quarters| at >= measure.onset && at < end;
        push(&mut beats, tempo, start, length, measure.meter, inside, &measure.label);
    }
    beats
}

/// Adds the beats of one measure that lie `inside`.
fn push(
    beats: &mut Vec<Beat>,
    tempo: &TempoMap,
    start: Quarters,
    length: Quarters,
    meter: Meter,
    inside: impl Fn(Quarters) -> bool,
    label: &str,
) {
    let beat = meter.beat();
    let of = count(meter.measure(), beat);
    for number in 0..count(length, beat) {
        let at = start + beat.times(number, 1);
        if inside(at) {
            beats.push(Beat { at: tempo.micros_at(at), number: number + 1, of, measure: label.to_string() });
        }
    }
}

/// How many beats begin within a length.
fn count(length: Quarters, beat: Quarters) -> i64 {
    let beats = length.in_beats(beat);
    let whole = beats.numerator().div_euclid(beats.denominator());
    if beats.denominator() == 1 { whole } else { whole + 1 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exercise::{Measure, PartName};
    use crate::theory::Key;

    fn part(meter: (u16, u16), lengths: &[(i64, i64)], pickup: bool) -> Part {
        let meter = Meter { count: meter.0, unit: meter.1 };
        let mut onset = Quarters::ZERO;
        let mut measures = Vec::new();
        for (place, &(numerator, denominator)) in lengths.iter().enumerate() {
            let duration = Quarters::new(numerator, denominator);
            let number = if pickup { place } else { place + 1 };
            measures.push(Measure {
                label: number.to_string(),
                page_index: place,
                onset,
                duration,
                meter,
                key: Key::major(0),
                implicit: pickup && place == 0,
                phrase_start: false,
                flow: Default::default(),
            });
            onset += duration;
        }
        let name = PartName::default();
        Part { name, transposition: None, measures, notes: vec![], tempo: TempoMap::default(), tempo_given: false }
    }

    /// (milliseconds, number, measure) of all beats at 120 quarters a minute: 500 ms a quarter.
    fn beats(part: &Part, count_in: u32) -> Vec<(i64, i64, String)> {
        let all = schedule(part, &TempoMap::default(), count_in);
        all.into_iter().map(|beat| (beat.at.0 / 1000, beat.number, beat.measure)).collect()
    }

    fn count_in(part: &Part, measures: u32) -> Vec<(i64, i64)> {
        let all = beats(part, measures).into_iter();
        all.filter(|(_, _, measure)| measure.is_empty()).map(|(at, number, _)| (at, number)).collect()
    }

    #[test]
    fn one_measure_is_counted_before_the_first() {
        let common = part((4, 4), &[(4, 1)], false);
        assert_eq!(count_in(&common, 1), [(-2000, 1), (-1500, 2), (-1000, 3), (-500, 4)]);
        let music: Vec<_> = beats(&common, 1).into_iter().skip(4).collect();
        assert_eq!(
            music.iter().map(|beat| (beat.0, beat.1)).collect::<Vec<_>>(),
            [(0, 1), (500, 2), (1000, 3), (1500, 4)]
        );
        assert_eq!(count_in(&common, 2).len(), 8);
    }

    #[test]
    fn the_count_runs_up_to_the_pickup() {
        let pickup = part((4, 4), &[(1, 1), (4, 1)], true);
        assert_eq!(count_in(&pickup, 1), [(-1500, 1), (-1000, 2), (-500, 3)]);
        let music: Vec<_> = beats(&pickup, 1).into_iter().skip(3).take(2).collect();
        assert_eq!(music, [(0, 4, "0".to_string()), (500, 1, "1".to_string())]);
    }

    #[test]
    fn a_pickup_off_the_beat_is_counted_on_the_beat() {
        // An eighth before the barline: beat 4 is a count, the note comes half a beat later.
        let pickup = part((4, 4), &[(1, 2), (4, 1)], true);
        assert_eq!(count_in(&pickup, 1), [(-1750, 1), (-1250, 2), (-750, 3), (-250, 4)]);
        assert_eq!(beats(&pickup, 1).get(4), Some(&(250, 1, "1".to_string())));
    }

    #[test]
    fn a_long_pickup_has_a_measure_counted_before_it() {
        let pickup = part((3, 4), &[(2, 1), (3, 1)], true);
        assert_eq!(count_in(&pickup, 1), [(-2000, 1), (-1500, 2), (-1000, 3), (-500, 1)]);
    }

    #[test]
    fn compound_and_cut_time_count_their_own_beats() {
        assert_eq!(count_in(&part((6, 8), &[(3, 1)], false), 1), [(-1500, 1), (-750, 2)]);
        assert_eq!(count_in(&part((2, 2), &[(4, 1)], false), 1), [(-2000, 1), (-1000, 2)]);
    }

    // 60 dotted quarters a minute: the quarter lasts two thirds of a second.
    #[test]
    fn beats_a_minute_are_the_meters_beats() {
        let tempo = steady(60.0, Meter { count: 6, unit: 8 });
        assert_eq!(tempo.micros_at(Quarters::new(3, 2)), Micros(1_000_000));
    }
}
