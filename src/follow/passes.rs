//! From places to passes: a passage begun again counts as it was played last.

use super::Place;

/// One run through the part without going back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pass {
    /// First and last note of the part begun in it.
    pub(crate) first: usize,
    pub(crate) last: usize,
}

/// What became of every played note and every note of the part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Passes {
    /// In the order played; from the second on each is a restart.
    pub(crate) passes: Vec<Pass>,
    /// For each note of the part the played note that began it, in the pass that counts.
    pub(crate) played: Vec<Option<usize>>,
    /// For each note of the part the last played note that continued it after a dip of breath, or the
    /// one that began it: its release is the note's.
    pub(crate) held_by: Vec<Option<usize>>,
    /// Played notes that belong nowhere.
    pub(crate) extra: Vec<usize>,
}

impl Passes {
    /// Sorts out the places of all played notes of a take, for a part of `count` notes.
    pub(crate) fn new(places: &[Place], count: usize) -> Passes {
        let mut passes: Vec<Pass> = Vec::new();
        // Which pass covers a note last; played notes of an earlier pass there are given up.
        let mut pass_of = Vec::with_capacity(places.len());
        for &place in places {
            if let Place::Note(note) = place {
                let note = note as usize;
                match passes.last_mut() {
                    Some(pass) if note > pass.last => pass.last = note,
                    _ => passes.push(Pass { first: note, last: note }),
                }
            }
            pass_of.push(passes.len());
        }
        let mut counts = vec![0; count];
        for (number, pass) in passes.iter().enumerate() {
            for covering in counts.iter_mut().take(pass.last + 1).skip(pass.first) {
                *covering = number + 1;
            }
        }
        let mut sorted = Passes { passes, played: vec![None; count], held_by: vec![None; count], extra: Vec::new() };
        let mut here: Option<usize> = None;
        for (played, &place) in places.iter().enumerate() {
            match place {
                Place::Note(note) => {
                    let note = note as usize;
                    here = Some(note);
                    if counts.get(note) == Some(&pass_of[played]) {
                        sorted.played[note] = Some(played);
                        sorted.held_by[note] = Some(played);
                    }
                }
                Place::Again(note) => {
                    if let Some(held_by) = sorted.held_by.get_mut(note as usize).filter(|held_by| held_by.is_some()) {
                        *held_by = Some(played);
                    }
                }
                Place::Extra => {
                    // Slips of an attempt given up are given up with it.
                    let given_up = here.is_some_and(|note| counts.get(note) != Some(&pass_of[played]));
                    if !given_up {
                        sorted.extra.push(played);
                    }
                }
            }
        }
        sorted
    }

    /// The restarts: (last note before going back, note begun again from).
    pub(crate) fn restarts(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.passes.windows(2).map(|pair| (pair[0].last, pair[1].first))
    }
}
