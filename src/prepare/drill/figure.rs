//! What a changed-note drill practises: the changed note come to by step, by leap, and after its other form, each from
//! both sides. This places such figures among the notes.

use super::chance::Chance;
use super::spot::{Approach, Degrees, Spot, Want};
use super::tone::{Standing, Tone, interval};
use std::ops::Range;

/// A way to come to a changed note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Figure {
    /// By step from below (1) or above (-1).
    Step(i32),
    /// By a third or more from below (1) or above (-1).
    Leap(i32),
    /// Right after its other form, as in F major: E♭ E♮.
    AfterOther,
    /// After its other form and the tone that this leads to: E♭ D E♮.
    AfterOtherResolved,
    /// First itself, then the other form and where that leads, then itself again: E♮ E♭ D E♮.
    ThereAndBack,
}

/// One note of a figure.
type Demand = (Want, Approach);

impl Figure {
    /// What its notes must be, the one that it comes from first; `lean` is where the other form leads, 1 up, -1 down.
    fn demands(self, lean: i32) -> Vec<Demand> {
        let by = |letters| (Want::Target, Approach::Letters(letters));
        let anything = (Want::Any, Approach::Any);
        let other = (Want::Other, Approach::Any);
        let resolved = (Want::Any, Approach::Letters(lean));
        match self {
            Figure::Step(direction) => vec![anything, by(direction)],
            Figure::Leap(1) => vec![anything, (Want::Target, Approach::LeapUp)],
            Figure::Leap(_) => vec![anything, (Want::Target, Approach::LeapDown)],
            Figure::AfterOther => vec![other, by(0)],
            Figure::AfterOtherResolved => vec![other, resolved, by(-lean)],
            Figure::ThereAndBack => {
                vec![(Want::Target, Approach::Any), (Want::Other, Approach::Letters(0)), resolved, by(-lean)]
            }
        }
    }

    /// The figures of a drill in pairs: the three ways to come to the note, each from two sides.
    const WAYS: [[&'static [Figure]; 2]; 3] = [
        [&[Figure::Step(1)], &[Figure::Step(-1)]],
        [&[Figure::Leap(1)], &[Figure::Leap(-1)]],
        [&[Figure::AfterOther, Figure::AfterOtherResolved], &[Figure::ThereAndBack]],
    ];
}

/// The figures that the tones of a window can make at this level.
pub(super) fn possible(tones: &[Tone], widest: i16) -> Vec<Figure> {
    let lean = lean(tones);
    let all = Figure::WAYS.iter().flatten().copied().flatten().copied();
    all.filter(|figure| is_possible(&figure.demands(lean), None, tones, widest)).collect()
}

/// Whether some tones can follow each other as demanded.
fn is_possible(demands: &[Demand], from: Option<&Tone>, tones: &[Tone], widest: i16) -> bool {
    let Some((&(want, approach), rest)) = demands.split_first() else { return true };
    let fits = |tone: &&Tone| {
        let wanted = match want {
            Want::Any => tone.standing == Standing::Plain,
            Want::Target => tone.is_aim,
            Want::Other => tone.standing == Standing::Other,
        };
        let reached = from.is_none_or(|from| {
            from.segment == tone.segment && approach.allows(from, tone) && interval(from, tone, widest).is_some()
        });
        wanted && reached
    };
    tones.iter().filter(fits).any(|tone| is_possible(rest, Some(tone), tones, widest))
}

fn lean(tones: &[Tone]) -> i32 {
    tones.iter().find(|tone| tone.standing == Standing::Other).map_or(0, |other| i32::from(other.lean))
}

/// Asks figures of the notes: every way first, then the other sides, then again. A chunk of notes, as many measures as
/// hold four quarters or so, gets one figure where one fits; every two measures get a changed note at least.
pub(super) fn place(spots: &mut [Spot], tones: &[Tone], possible: &[Figure], chunk: usize, chance: &mut Chance) {
    let lean = lean(tones);
    let mut waiting = queue(possible, chance);
    let last = spots.len().saturating_sub(1);
    // A changed note that is no step from the tonic leaves room for a way there.
    let far = tones.iter().any(|tone| tone.is_target && !matches!(tone.degree, 1 | 6));
    let leads_home: Vec<bool> = spots.iter().skip(1).map(|next| far && next.only == Degrees::TONIC).collect();
    let mut from = 0;
    while from < last {
        let number = spots[from].measure / chunk;
        let end = (from..last).find(|&index| spots[index].measure / chunk != number).unwrap_or(last);
        if let Some(place) =
            waiting.iter().position(|figure| figure.try_at(spots, from..end, lean, &leads_home, chance))
        {
            waiting.remove(place);
        }
        if waiting.is_empty() {
            waiting = queue(possible, chance);
        }
        from = end;
    }
    every_two_measures(spots, &leads_home, chance);
}

/// Every figure once: one side of each way before the other sides.
fn queue(possible: &[Figure], chance: &mut Chance) -> Vec<Figure> {
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for way in Figure::WAYS {
        let mut sides: Vec<Figure> = Vec::with_capacity(2);
        for figures in way {
            let fitting: Vec<Figure> = figures.iter().copied().filter(|figure| possible.contains(figure)).collect();
            sides.extend(chance.pick(&fitting));
        }
        chance.shuffle(&mut sides);
        let mut sides = sides.into_iter();
        first.extend(sides.next());
        second.extend(sides);
    }
    chance.shuffle(&mut first);
    chance.shuffle(&mut second);
    first.extend(second);
    first
}

impl Figure {
    /// Asks this figure of some of these notes where nothing else is asked, no cadence included, no rest comes between, and
    /// its last one does not lead home; the note that it comes from may stand before them. False if there is no such place.
    fn try_at(
        self,
        spots: &mut [Spot],
        range: Range<usize>,
        lean: i32,
        leads_home: &[bool],
        chance: &mut Chance,
    ) -> bool {
        let Range { start: from, end } = range;
        let demands = self.demands(lean);
        let comes_from_anything = demands.first().is_some_and(|&(want, _)| want == Want::Any);
        let earliest = if comes_from_anything { from.saturating_sub(1) } else { from };
        let fits = |&start: &usize| {
            let notes = &spots[start..start + demands.len()];
            let free = notes.iter().all(|spot| spot.is_free() && spot.only == Degrees::ALL);
            let last = start + demands.len() - 1;
            free && notes.iter().skip(1).all(|spot| !spot.after_rest) && !leads_home[last]
        };
        let places: Vec<usize> = (earliest..(end + 1).saturating_sub(demands.len())).filter(fits).collect();
        let Some(&start) = chance.pick(&places) else { return false };
        for (spot, (want, approach)) in spots[start..].iter_mut().zip(demands) {
            (spot.want, spot.approach) = (want, approach);
        }
        true
    }
}

/// Where two measures have no changed note yet, one of their notes becomes one; rather none that leads home, opens or
/// ends a phrase, never the last of a key.
fn every_two_measures(spots: &mut [Spot], leads_home: &[bool], chance: &mut Chance) {
    let Some((_, spots)) = spots.split_last_mut() else { return };
    let mut from = 0;
    for pair in spots.chunk_by_mut(|a, b| a.measure / 2 == b.measure / 2) {
        let count = pair.len();
        if pair.iter().all(|spot| spot.want != Want::Target) {
            let free = |&index: &usize| pair[index].is_free() && pair[index].only != Degrees::TONIC;
            let good = |&index: &usize| pair[index].only == Degrees::ALL && !leads_home[from + index];
            let free: Vec<usize> = (0..count).filter(free).collect();
            let best: Vec<usize> = free.iter().copied().filter(good).collect();
            if let Some(&index) = chance.pick(if best.is_empty() { &free } else { &best }) {
                pair[index].want = Want::Target;
            }
        }
        from += count;
    }
}
