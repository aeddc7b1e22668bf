//! What a line must keep besides what its notes were asked: no bare repetition.

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

/// Whether one more tone would make a measure the same as the one before it, two measures the same as the two before
/// them, or two tones take turns a fifth time. To be asked while the line grows, so that few finished ones need be
/// thrown away.
pub(super) fn would_repeat(spots: &[Spot], line: &[Tone], tone: &Tone) -> bool {
    if let [.., before, _] = line
        && would_sway(&line[..line.len() - 1], &line[line.len() - 1])
        && before.midi == tone.midi
    {
        return true;
    }
    let index = line.len();
    let measure = spots[index].measure;
    if spots.get(index + 1).is_some_and(|next| next.measure == measure) {
        return false;
    }
    let sung = |back: usize| {
        let wanted = measure.checked_sub(back);
        let notes = spots.iter().zip(line.iter().chain([tone])).filter(move |(spot, _)| Some(spot.measure) == wanted);
        notes.map(|(spot, tone)| (spot.onset, spot.duration, tone.midi))
    };
    sung(0).eq(sung(1)) || (sung(0).eq(sung(2)) && sung(1).eq(sung(3)))
}

/// Whether one more tone would make two tones take turns a fourth time.
pub(super) fn would_sway(line: &[Tone], tone: &Tone) -> bool {
    matches!(line, [.., a, b, c] if a.midi == c.midi && b.midi == tone.midi)
}
