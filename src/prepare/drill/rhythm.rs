//! The rhythm of a melody: each phrase is made of few measures that come back, and ends with a long note and a rest.

use super::chance::Chance;
use super::frame::{Frame, Phrase};
use super::spot::Spot;
use super::vocabulary::{Pattern, Rhythms, Value};
use crate::exercise::Quarters;

/// How many phrases in a hundred answer the one before in its rhythm.
const ANSWERS: usize = 60;
/// How many places for a breath in a hundred have a rest or a long note.
const BREATHS: usize = 40;

/// The notes of a whole drill, without their tones.
pub(super) fn rhythm(frame: &Frame, rhythms: &Rhythms, chance: &mut Chance) -> Vec<Spot> {
    let mut measures: Vec<&Pattern> = Vec::with_capacity(frame.measures);
    let full = vec![Value { length: frame.meter.measure(), is_rest: false }];
    for (index, phrase) in frame.phrases.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|before| frame.phrases.get(before));
        let answered = before.filter(|before| before.measures == phrase.measures && !before.closed);
        match answered.filter(|_| chance.percent(ANSWERS)) {
            Some(question) => measures.extend_from_within(question.first..question.end() - 1),
            None => within(phrase, rhythms, &mut measures, chance),
        }
        let closing = if phrase.end() == frame.measures { Some(&full) } else { chance.pick(&rhythms.closing) };
        measures.extend(closing);
    }
    spots(frame, &measures)
}

/// The measures of a phrase before its last one: two of them take turns.
fn within<'a>(phrase: &Phrase, rhythms: &'a Rhythms, measures: &mut Vec<&'a Pattern>, chance: &mut Chance) {
    let Some(first) = chance.pick(&rhythms.moving) else { return };
    let unlike: Vec<&Pattern> = rhythms.moving.iter().filter(|pattern| *pattern != first).collect();
    let second = chance.pick(&unlike).copied().unwrap_or(first);
    let turns = [[first, second, first, second], [first, first, second, first], [first, second, second, first]];
    let turns = chance.pick(&turns).copied().unwrap_or([first; 4]);
    for place in 0..phrase.measures - 1 {
        // Nobody plays on for more than four measures: a breath after two where chance wills, after four always.
        let breath = place % 4 == 3 || (place % 4 == 1 && chance.percent(BREATHS));
        let moving = turns.get(place % 4).copied();
        measures.extend(if breath { chance.pick(&rhythms.breathing) } else { moving });
    }
}

/// Notes from measures. A measure's model is the last one of the same rhythm that is not the one before it.
fn spots(frame: &Frame, measures: &[&Pattern]) -> Vec<Spot> {
    let mut spots: Vec<Spot> = Vec::with_capacity(frame.measures * 4);
    let mut starts = Vec::with_capacity(measures.len());
    let mut after_rest = true;
    for (measure, pattern) in measures.iter().enumerate() {
        starts.push(spots.len());
        let like =
            measures.get(..measure.saturating_sub(1)).and_then(|before| before.iter().rposition(|m| m == pattern));
        let mut model = like.and_then(|like| starts.get(like).copied());
        let mut onset = Quarters::ZERO;
        for value in pattern.iter() {
            if !value.is_rest {
                let mut spot = Spot::new(measure, onset, value.length, after_rest, frame.stress(onset));
                // The first note of a measure is come to from another measure.
                spot.model = model.filter(|_| !onset.is_zero());
                model = model.map(|place| place + 1);
                spots.push(spot);
            }
            after_rest = value.is_rest;
            onset += value.length;
        }
    }
    spots
}
