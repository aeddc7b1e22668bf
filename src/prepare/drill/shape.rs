//! Harmony and line: which degrees fit each measure, where a phrase ends, how high it goes.

use super::chance::Chance;
use super::frame::{Frame, Phrase};
use super::spot::{Degrees, Spot};

const I: u8 = 0;
const II: u8 = 1;
const IV: u8 = 3;
const V: u8 = 4;
const VI: u8 = 5;

/// Chords for the inside of a phrase, the common ones more often.
const INSIDE: [u8; 7] = [I, I, IV, IV, V, VI, II];
/// Chords that lead to the fifth degree's.
const BEFORE_V: [u8; 4] = [IV, II, I, VI];

/// Gives each note the harmony of its measure, the height of its phrase, and the last note of a phrase its cadence.
/// `low` and `high` are the window, MIDI numbers. How phrases go is common practice, no source.
pub(super) fn shape(spots: &mut [Spot], frame: &Frame, (low, high): (i16, i16), chance: &mut Chance) {
    let mut from = 0;
    for phrase in &frame.phrases {
        let count = spots.get(from..).unwrap_or_default().iter().take_while(|spot| spot.measure < phrase.end()).count();
        let notes = spots.get_mut(from..from + count).unwrap_or_default();
        let chords = chords(phrase, chance);
        let line = Line::drawn(phrase.closed, low, high, chance);
        let last = count.saturating_sub(1);
        for (index, spot) in notes.iter_mut().enumerate() {
            spot.segment = phrase.segment;
            spot.chord = Degrees::triad(chords.get(spot.measure - phrase.first).copied().unwrap_or(I));
            spot.height = line.height(index, last);
        }
        if let Some(first) = notes.first_mut() {
            first.only = Degrees::triad(first_root(&chords));
        }
        if let Some(end) = notes.last_mut() {
            let last_in_key = frame.phrases.iter().rfind(|other| other.segment == phrase.segment) == Some(phrase);
            end.only = match (last_in_key, phrase.closed) {
                (true, _) => Degrees::TONIC,
                (false, true) => Degrees::triad(I),
                (false, false) => Degrees::triad(V),
            };
        }
        from += count;
    }
}

fn first_root(chords: &[u8]) -> u8 {
    chords.first().copied().unwrap_or(I)
}

/// One chord a measure: closed phrases end V I, open ones on V.
fn chords(phrase: &Phrase, chance: &mut Chance) -> Vec<u8> {
    let ending: &[u8] = if phrase.closed { &[V, I] } else { &[V] };
    let mut chords = vec![I];
    while chords.len() + ending.len() < phrase.measures {
        let last_inside = chords.len() + ending.len() + 1 == phrase.measures;
        let choices: &[u8] = if last_inside { &BEFORE_V } else { &INSIDE };
        chords.extend(chance.pick(choices));
    }
    // A phrase of two measures is its ending.
    chords.truncate(phrase.measures - ending.len());
    chords.extend(ending);
    chords
}

/// The line of a phrase: three heights, straight between them.
struct Line([i16; 3]);

impl Line {
    fn drawn(closed: bool, low: i16, high: i16, chance: &mut Chance) -> Line {
        let (low, middle, high) = (low + (high - low) / 6, low + (high - low) / 2, high - (high - low) / 6);
        let lines = if closed {
            [[middle, high, low], [high, middle, low], [low, high, middle]]
        } else {
            [[low, high, middle], [low, middle, high], [middle, low, high]]
        };
        Line(chance.pick(&lines).copied().unwrap_or([middle; 3]))
    }

    fn height(&self, index: usize, last: usize) -> i16 {
        let Line([start, middle, end]) = *self;
        let (index, last) = (index as i16, (last as i16).max(1));
        if 2 * index <= last {
            start + (middle - start) * 2 * index / last
        } else {
            middle + (end - middle) * (2 * index - last) / last
        }
    }
}
