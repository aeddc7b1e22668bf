//! Meter and phrases: how many measures stand where.
//!
//! Phrases of four measures, of eight where a measure has two beats only and the drill is long enough; up to three
//! measures left over lengthen the last phrase (common practice, no source).

use crate::exercise::{Meter, Quarters};

/// The plan of a drill's measures.
#[derive(Debug)]
pub(super) struct Frame {
    pub(super) meter: Meter,
    pub(super) measures: usize,
    pub(super) phrases: Vec<Phrase>,
}

/// One phrase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Phrase {
    /// Its first measure, from 0.
    pub(super) first: usize,
    pub(super) measures: usize,
    /// Which of the drill's keys it is in.
    pub(super) segment: usize,
    /// Ends at rest, on the tonic's chord; the others ask for an answer.
    pub(super) closed: bool,
}

impl Phrase {
    /// The measure after its last one.
    pub(super) fn end(&self) -> usize {
        self.first + self.measures
    }
}

impl Frame {
    /// Phrases in `segments` keys, 1 or 2; the second key begins with the phrase nearest to the middle, the earlier
    /// one of two. Drills of one phrase are halved for it.
    pub(super) fn new(meter: Meter, measures: usize, segments: usize) -> Frame {
        let mut lengths = lengths(meter, measures);
        if segments == 2 && lengths.len() == 1 {
            lengths = vec![measures / 2, measures - measures / 2];
        }
        let start = |phrase: usize| lengths.iter().take(phrase).sum::<usize>();
        let off_middle = |phrase: &usize| start(*phrase).abs_diff(measures / 2);
        let turn = (1..lengths.len()).filter(|_| segments == 2).min_by_key(off_middle).unwrap_or(0);
        let mut phrases: Vec<Phrase> = Vec::with_capacity(lengths.len());
        for (index, &length) in lengths.iter().enumerate() {
            let last_in_its_key = index + 1 == lengths.len() || index + 1 == turn;
            phrases.push(Phrase {
                first: phrases.last().map_or(0, Phrase::end),
                measures: length,
                segment: usize::from(segments == 2 && index >= turn),
                closed: last_in_its_key || index % 2 == 1,
            });
        }
        Frame { meter, measures, phrases }
    }

    /// Beats of a measure, as they are counted.
    pub(super) fn beats(&self) -> usize {
        let beats = self.meter.measure().in_beats(self.meter.beat());
        usize::try_from(beats.numerator() / beats.denominator().max(1)).unwrap_or(1).max(1)
    }

    /// How much weight a point of the measure has: 2 on the first beat, 1 in the middle of an even measure or on any
    /// other beat of a compound one, else 0.
    pub(super) fn stress(&self, onset: Quarters) -> u8 {
        let middle = self.beats().is_multiple_of(2) && onset == self.meter.measure().times(1, 2);
        if onset.is_zero() { 2 } else { u8::from(middle) }
    }
}

fn lengths(meter: Meter, measures: usize) -> Vec<usize> {
    let two_beats = meter.measure() == meter.beat().times(2, 1);
    let unit = if two_beats && measures >= 16 { 8 } else { 4 };
    let mut lengths = vec![unit; measures / unit];
    let left = measures % unit;
    match lengths.last_mut() {
        Some(last) if left < 4 => *last += left,
        _ => lengths.push(left),
    }
    lengths
}

#[cfg(test)]
mod tests {
    use super::*;

    fn phrases(meter: &str, measures: usize, segments: usize) -> Vec<(usize, usize, bool)> {
        let frame = Frame::new(Meter::parse(meter).unwrap(), measures, segments);
        frame.phrases.iter().map(|phrase| (phrase.measures, phrase.segment, phrase.closed)).collect()
    }

    #[test]
    fn phrases_of_four_or_eight_measures() {
        assert_eq!(phrases("4/4", 8, 1), [(4, 0, false), (4, 0, true)]);
        assert_eq!(phrases("4/4", 11, 1), [(4, 0, false), (7, 0, true)]);
        assert_eq!(phrases("2/4", 16, 1), [(8, 0, false), (8, 0, true)]);
        assert_eq!(phrases("2/4", 20, 1), [(8, 0, false), (8, 0, true), (4, 0, true)]);
        assert_eq!(phrases("2/4", 5, 1), [(5, 0, true)]);
    }

    #[test]
    fn the_key_turns_between_phrases() {
        assert_eq!(phrases("4/4", 8, 2), [(4, 0, true), (4, 1, true)]);
        assert_eq!(phrases("4/4", 4, 2), [(2, 0, true), (2, 1, true)]);
        let long = phrases("3/4", 20, 2);
        assert_eq!(long.iter().map(|phrase| phrase.1).collect::<Vec<_>>(), [0, 0, 1, 1, 1]);
        let two = phrases("2/4", 26, 2);
        assert_eq!(two.iter().map(|phrase| (phrase.0, phrase.1)).collect::<Vec<_>>(), [(8, 0), (8, 0), (10, 1)]);
        assert_eq!(long.iter().map(|phrase| phrase.2).collect::<Vec<_>>(), [false, true, false, true, true]);
    }

    #[test]
    fn beats_and_their_weight() {
        let frame = |meter: &str| Frame::new(Meter::parse(meter).unwrap(), 4, 1);
        assert_eq!(["4/4", "3/4", "2/2", "6/8"].map(|meter| frame(meter).beats()), [4, 3, 2, 2]);
        assert_eq!(frame("4/4").stress(Quarters::new(2, 1)), 1);
        assert_eq!(frame("6/8").stress(Quarters::new(3, 2)), 1);
        assert_eq!(frame("3/4").stress(Quarters::new(1, 1)), 0);
    }
}
