//! What a finished line must keep besides what its notes were asked: no bare repetition.

use super::frame::Frame;
use super::spot::Spot;
use super::tone::Tone;
use crate::exercise::Quarters;

/// One note of a measure: where, how long, what.
type Sung = (Quarters, Quarters, i16);

/// Whether no measure repeats the one before it, no two measures the two before them, no phrase another phrase, and no
/// two tones take turns five times.
pub(super) fn no_bare_repetition(spots: &[Spot], line: &[Tone], frame: &Frame) -> bool {
    let mut measures: Vec<Vec<Sung>> = vec![Vec::new(); frame.measures];
    for (spot, tone) in spots.iter().zip(line) {
        if let Some(measure) = measures.get_mut(spot.measure) {
            measure.push((spot.onset, spot.duration, tone.midi));
        }
    }
    // Measures into which a note is held have none of their own.
    let again = |length: usize| {
        let mut windows = measures.windows(2 * length);
        windows.any(|window| !window[0].is_empty() && window[..length] == window[length..])
    };
    let phrases: Vec<&[Vec<Sung>]> =
        frame.phrases.iter().filter_map(|phrase| measures.get(phrase.first..phrase.end())).collect();
    let same_phrase = phrases.iter().enumerate().any(|(index, phrase)| phrases[..index].contains(phrase));
    let to_and_fro = line.windows(5).any(|five| five.windows(3).all(|three| three[0].midi == three[2].midi));
    !again(1) && !again(2) && !same_phrase && !to_and_fro
}
