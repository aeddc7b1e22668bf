//! The order in which the measures of a page are played: repeats, endings, D.C., D.S., Coda, Fine.
//!
//! In: the [`Flow`] of each measure. Out: indices of measures in performed order. The signs are those of
//! MusicXML 4.0 (`repeat`, `ending`, `sound`); how they work together is common practice, no source:
//! - A repeat goes back to its forward sign, repeats inside repeats included; without one to the end of
//!   the last repeat, else to the beginning. On the last pass the piece goes on.
//! - A jump (D.C., D.S.) is taken once, after the repeats of its measure. After it repeats are not taken
//!   unless they say so, and of several endings the last is played. Fine and To Coda count only then.

use super::{Flow, TooLong};

/// More measures than any exercise has when played out; endless signs end here.
pub(crate) const MOST_MEASURES: usize = 50_000;

/// The measures in performed order, as indices into `flows`.
pub(super) fn performed(flows: &[&Flow]) -> Result<Vec<usize>, TooLong> {
    let mut walk = Walk {
        flows,
        brackets: brackets(flows),
        frames: vec![Frame { start: 0, pass: 1 }],
        jumps_taken: vec![false; flows.len()],
        jumped: false,
    };
    let mut order = Vec::with_capacity(flows.len());
    let mut at = Some(0);
    let mut skipped = 0;
    while let Some(here) = at.filter(|&here| here < flows.len()) {
        if let Some(after) = walk.skips_ending(here) {
            at = Some(after);
            skipped += 1;
        } else {
            order.push(here);
            at = walk.next(here);
        }
        if order.len() + skipped > MOST_MEASURES {
            return Err(TooLong);
        }
    }
    Ok(order)
}

/// A passage being repeated.
struct Frame {
    start: usize,
    pass: u32,
}

/// One ending of a group of endings that follow each other.
struct Bracket {
    first: usize,
    last: usize,
    passes: Vec<u32>,
    /// The last measure of the last ending of its group.
    group_last: usize,
    /// How often the passage of the group is played: the largest pass of its endings.
    group_passes: u32,
    /// A backward repeat of the group counts after a jump too.
    group_after_jump: bool,
    /// The group has a backward repeat.
    group_repeats: bool,
    /// The last ending of its group.
    is_last: bool,
}

struct Walk<'a> {
    flows: &'a [&'a Flow],
    brackets: Vec<Bracket>,
    /// The passages that we are inside of, outermost first; never empty.
    frames: Vec<Frame>,
    jumps_taken: Vec<bool>,
    jumped: bool,
}

impl Walk<'_> {
    /// Enters a measure: opens a repeated passage; and if an ending begins that is not for this pass, says
    /// where to go instead.
    fn skips_ending(&mut self, here: usize) -> Option<usize> {
        let opened = self.frames.len() > 1 && self.top().start == here;
        if self.flows[here].repeat_start && !opened {
            self.frames.push(Frame { start: here, pass: 1 });
        }
        let pass = self.top().pass;
        let bracket = self.brackets.iter().find(|bracket| bracket.first == here)?;
        let wanted = if self.jumped && !bracket.group_after_jump {
            bracket.is_last
        } else if !bracket.group_repeats {
            true
        } else {
            bracket.passes.contains(&pass) || (bracket.is_last && pass > bracket.group_passes)
        };
        if wanted {
            return None;
        }
        let (after, is_last) = (bracket.last + 1, bracket.is_last);
        if is_last {
            self.complete(after);
        }
        Some(after)
    }

    /// Where to go after a measure was played; `None` ends the piece.
    fn next(&mut self, here: usize) -> Option<usize> {
        let flow = self.flows[here];
        if self.jumped && flow.fine {
            return None;
        }
        let to_coda = flow.to_coda.as_ref().filter(|_| self.jumped);
        if let Some(coda) = to_coda.and_then(|name| self.find_coda(name, here)) {
            self.restart(coda);
            return Some(coda);
        }
        let bracket = self.brackets.iter().find(|bracket| bracket.first <= here && here <= bracket.last);
        if let Some(repeat) = flow.repeat_end {
            let passes = bracket.map_or(repeat.times, |bracket| match bracket.is_last {
                // In the last ending the sign means what it says only if more passes are printed.
                true => bracket.group_passes,
                false => bracket.group_passes.max(repeat.times),
            });
            if (!self.jumped || repeat.after_jump) && self.top().pass < passes {
                self.top_mut().pass += 1;
                return Some(self.top().start);
            }
            self.complete(here + 1);
        } else if bracket
            .is_some_and(|bracket| bracket.last == here && (bracket.is_last || self.top().pass >= bracket.group_passes))
        {
            let after = bracket.map_or(here, |bracket| bracket.group_last) + 1;
            self.complete(after);
        }
        if let Some(target) = self.jump(here) {
            self.restart(target);
            return Some(target);
        }
        Some(here + 1)
    }

    /// The target of a D.C. or D.S. of this measure, the first time only.
    fn jump(&mut self, here: usize) -> Option<usize> {
        let flow = self.flows[here];
        let target = if flow.da_capo { Some(0) } else { self.find_segno(flow.dal_segno.as_ref()?, here) };
        let target = target.filter(|_| !self.jumps_taken[here])?;
        self.jumps_taken[here] = true;
        self.jumped = true;
        Some(target)
    }

    /// The segno of that name, else the last before the jump, else any.
    fn find_segno(&self, name: &str, here: usize) -> Option<usize> {
        let named = |flow: &&Flow| flow.segno.as_deref() == Some(name);
        let any = |flow: &&Flow| flow.segno.is_some();
        let before = self.flows.get(..=here)?;
        before
            .iter()
            .rposition(named)
            .or_else(|| before.iter().rposition(any))
            .or_else(|| self.flows.iter().position(any))
    }

    /// The coda of that name, else the next after the jump, else any other than this measure.
    fn find_coda(&self, name: &str, here: usize) -> Option<usize> {
        let places = |named: bool| {
            let fits = move |flow: &Flow| flow.coda.as_deref().is_some_and(|coda| !named || coda == name);
            self.flows.iter().enumerate().filter(move |&(at, flow)| at != here && fits(flow)).map(|(at, _)| at)
        };
        let after = |named: bool| places(named).find(|&at| at > here);
        after(true).or_else(|| places(true).next()).or_else(|| after(false)).or_else(|| places(false).next())
    }

    /// A repeated passage is done; the next without a forward sign begins at `after`.
    fn complete(&mut self, after: usize) {
        if self.frames.len() > 1 {
            self.frames.pop();
        }
        if let [only] = self.frames.as_mut_slice() {
            *only = Frame { start: after, pass: 1 };
        }
    }

    /// After a jump no repeat is open.
    fn restart(&mut self, start: usize) {
        self.frames = vec![Frame { start, pass: 1 }];
    }

    fn top(&self) -> &Frame {
        &self.frames[self.frames.len() - 1]
    }

    fn top_mut(&mut self) -> &mut Frame {
        let last = self.frames.len() - 1;
        &mut self.frames[last]
    }
}

/// The endings of the page, grouped where one follows the other.
fn brackets(flows: &[&Flow]) -> Vec<Bracket> {
    let mut found: Vec<Bracket> = Vec::new();
    let mut group_start = 0;
    let mut at = 0;
    while at < flows.len() {
        let Some(ending) = &flows[at].ending_start else {
            at += 1;
            continue;
        };
        let next_start = (at + 1..flows.len()).find(|&i| flows[i].ending_start.is_some()).unwrap_or(flows.len());
        // An ending without a stop lasts to its repeat sign, else it is one measure long.
        let stop = (at..next_start).find(|&i| flows[i].ending_stop);
        let last = stop.or_else(|| (at..next_start).find(|&i| flows[i].repeat_end.is_some())).unwrap_or(at);
        if found.last().is_none_or(|before| before.last + 1 != at || starts_anew(before, ending.passes.as_slice())) {
            group_start = found.len();
        }
        let mut passes = ending.passes.clone();
        if passes.is_empty() {
            passes.push(found[group_start..].iter().flat_map(|b| &b.passes).max().map_or(1, |most| most + 1));
        }
        found.push(Bracket {
            first: at,
            last,
            passes,
            group_last: last,
            group_passes: 1,
            group_after_jump: false,
            group_repeats: false,
            is_last: true,
        });
        let group = &mut found[group_start..];
        let (first, passes) = (group[0].first, group.iter().flat_map(|b| b.passes.iter().copied()).max().unwrap_or(1));
        let signs = || flows[first..=last].iter().filter_map(|flow| flow.repeat_end);
        let (repeats, after_jump) = (signs().count() > 0, signs().any(|sign| sign.after_jump));
        let count = group.len();
        for (place, bracket) in group.iter_mut().enumerate() {
            bracket.is_last = place + 1 == count;
            bracket.group_last = last;
            bracket.group_passes = passes;
            bracket.group_repeats = repeats;
            bracket.group_after_jump = after_jump;
        }
        at = last + 1;
    }
    found
}

/// Whether an ending directly after another begins a new group: it is for the first pass again.
fn starts_anew(before: &Bracket, passes: &[u32]) -> bool {
    !before.passes.contains(&1) && passes.contains(&1)
}
