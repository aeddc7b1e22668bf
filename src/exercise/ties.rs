//! Ties, in performed order: which tone goes on sounding as which.
//!
//! In: tones with onset and end. Out: for each tone the one that it continues. A tie joins a tone to the next that sounds at
//! the same pitch if that begins where the first ends, whatever its spelling, also into a second ending;
//! a tie with nothing to go to changes nothing (MusicXML 4.0 `tie`: the sound, not the curve).

use super::Quarters;
use std::collections::HashMap;

/// A tone as performed.
pub(super) struct Tone {
    pub(super) onset: Quarters,
    pub(super) end: Quarters,
    pub(super) sounding: u8,
    pub(super) voice: u32,
    pub(super) tie_start: bool,
    pub(super) tie_stop: bool,
}

/// More tones of one pitch than begin together anywhere; keeps the search short in files made to be slow.
const MOST_UNISONS: usize = 64;

/// For each tone the index of the first tone of its tie; its own if it begins by itself.
pub(super) fn roots(tones: &[Tone]) -> Vec<usize> {
    let mut starting: HashMap<(u8, Quarters), Vec<usize>> = HashMap::new();
    if tones.iter().any(|tone| tone.tie_start) {
        for (index, tone) in tones.iter().enumerate() {
            starting.entry((tone.sounding, tone.onset)).or_default().push(index);
        }
    }
    let mut order: Vec<usize> = (0..tones.len()).filter(|&index| tones[index].tie_start).collect();
    order.sort_by_key(|&index| tones[index].onset);
    let mut roots: Vec<usize> = (0..tones.len()).collect();
    for index in order {
        let tone = &tones[index];
        let candidates = starting.get(&(tone.sounding, tone.end)).map_or(&[][..], Vec::as_slice);
        let free =
            || candidates.iter().copied().take(MOST_UNISONS).filter(|&next| roots[next] == next && next != index);
        // In another voice only if that says that a tie ends there: it may be another player's note.
        let next =
            free().find(|&next| tones[next].voice == tone.voice).or_else(|| free().find(|&next| tones[next].tie_stop));
        if let Some(next) = next {
            roots[next] = roots[index];
        }
    }
    roots
}
