//! The order in which the measures of a page are played: repeats, endings, D.C., D.S., Coda, Fine.
//!
//! In: the [`Flow`] of each measure. Out: indices of measures in performed order. The signs are those of
//! MusicXML 4.0 (`repeat`, `ending`, `sound`); how they work together is common practice, no source:
//! - A repeat goes back to its forward sign, repeats inside repeats included; without one to the end of
//!   the last repeat, else to the beginning. On the last pass the piece goes on.
//! - A jump (D.C., D.S.) is taken once, after the repeats of its measure. After it repeats are not taken
//!   unless they say so, and of several endings the last is played. Fine and To Coda count only then.

use super::{Ending, Flow, TooLong};
use std::collections::BTreeSet;

/// More measures than any exercise has when played out; endless signs end here.
pub(crate) const MOST_MEASURES: usize = 20_000;

/// The measures in performed order, as indices into `flows`.
pub(crate) fn performed(flows: &[&Flow]) -> Result<Vec<usize>, TooLong> {
    if flows.len() > MOST_MEASURES {
        return Err(TooLong);
    }
    let brackets = brackets(flows);
    let mut bracket_at = vec![None; flows.len()];
    for (index, bracket) in brackets.iter().enumerate() {
        bracket_at[bracket.first..=bracket.last].fill(Some(index));
    }
    let mut walk = Walk {
        flows,
        groups: groups(flows, &brackets),
        brackets,
        bracket_at,
        frames: vec![Frame { start: 0, pass: 1 }],
        jumps_taken: vec![false; flows.len()],
        jumped: false,
        coda_awaits: false,
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

/// One ending.
struct Bracket {
    first: usize,
    last: usize,
    passes: Vec<u32>,
    /// The last ending of its group.
    is_last: bool,
    /// Which of the groups it belongs to.
    group: usize,
}

/// Endings that follow each other.
#[derive(Default)]
struct Group {
    /// The passes that have an ending.
    passes: BTreeSet<u32>,
    /// It has a backward repeat.
    repeats: bool,
    /// One of them counts after a jump too.
    after_jump: bool,
    /// The last measure of its last ending.
    last: usize,
    /// Only an ending for the first pass, with a repeat sign: the second goes on after it.
    only_first: bool,
}

impl Group {
    /// How often its passage is played.
    fn count(&self) -> u32 {
        self.passes.last().copied().unwrap_or(1)
    }
}

struct Walk<'a> {
    flows: &'a [&'a Flow],
    brackets: Vec<Bracket>,
    groups: Vec<Group>,
    /// For each measure the ending that it is in.
    bracket_at: Vec<Option<usize>>,
    /// The passages that we are inside of, outermost first; never empty.
    frames: Vec<Frame>,
    jumps_taken: Vec<bool>,
    jumped: bool,
    /// After a jump the coda has not been gone to yet: once for each jump.
    coda_awaits: bool,
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
        let (bracket, group) = self.bracket(here).filter(|(bracket, _)| bracket.first == here)?;
        let wanted = if group.only_first {
            pass == 1 && (!self.jumped || group.after_jump)
        } else if self.jumped && !group.after_jump {
            bracket.is_last
        } else {
            // Without a repeat sign the endings are played one after the other.
            !group.repeats || bracket.passes.contains(&pass) || (bracket.is_last && !group.passes.contains(&pass))
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

    /// The ending that a measure is in, and its group.
    fn bracket(&self, here: usize) -> Option<(&Bracket, &Group)> {
        let bracket = self.brackets.get((*self.bracket_at.get(here)?)?)?;
        Some((bracket, self.groups.get(bracket.group)?))
    }

    /// Where to go after a measure was played; `None` ends the piece.
    fn next(&mut self, here: usize) -> Option<usize> {
        let flow = self.flows[here];
        if self.jumped && flow.fine {
            return None;
        }
        let to_coda = flow.to_coda.as_ref().filter(|_| self.coda_awaits);
        if let Some(coda) = to_coda.and_then(|name| self.find_coda(name, here)) {
            self.coda_awaits = false;
            self.restart(coda);
            return Some(coda);
        }
        let bracket = self.bracket(here);
        if let Some(repeat) = flow.repeat_end {
            let passes = bracket.map_or(repeat.times, |(bracket, group)| match bracket.is_last && !group.only_first {
                // In the last ending the sign means what it says only if more passes are printed.
                true => group.count(),
                false => group.count().max(repeat.times),
            });
            if (!self.jumped || repeat.after_jump) && self.top().pass < passes {
                self.top_mut().pass += 1;
                return Some(self.top().start);
            }
            self.complete(here + 1);
        } else if let Some((bracket, group)) = bracket
            && bracket.last == here
            && (bracket.is_last || self.top().pass >= group.count())
        {
            let after = group.last + 1;
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
        self.coda_awaits = true;
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

/// The endings of the page.
fn brackets(flows: &[&Flow]) -> Vec<Bracket> {
    let mut found: Vec<Bracket> = Vec::new();
    let mut group = 0;
    let mut highest = 0;
    let mut at = 0;
    while at < flows.len() {
        // An ending that stops without having begun is one measure long; its number cannot be relied on.
        let unnumbered = Ending::default();
        let Some(ending) = flows[at].ending_start.as_ref().or(flows[at].ending_stop.then_some(&unnumbered)) else {
            at += 1;
            continue;
        };
        let next_start = (at + 1..flows.len()).find(|&i| flows[i].ending_start.is_some()).unwrap_or(flows.len());
        // An ending without a stop lasts to its repeat sign, else it is one measure long.
        let stop = (at..next_start).find(|&i| flows[i].ending_stop);
        let last = stop.or_else(|| (at..next_start).find(|&i| flows[i].repeat_end.is_some())).unwrap_or(at);
        if let Some(before) = found.last_mut() {
            // Directly after another one that is not for the first pass, the first pass again: a new group.
            let starts_anew = !before.passes.contains(&1) && ending.passes.contains(&1);
            if before.last + 1 != at || starts_anew {
                (group, highest) = (group + 1, 0);
            } else {
                before.is_last = false;
            }
        }
        let passes = if ending.passes.is_empty() { vec![highest + 1] } else { ending.passes.clone() };
        highest = passes.iter().copied().max().unwrap_or(0).max(highest);
        found.push(Bracket { first: at, last, passes, is_last: true, group });
        at = last + 1;
    }
    found
}

fn groups(flows: &[&Flow], brackets: &[Bracket]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for bracket in brackets {
        if groups.len() <= bracket.group {
            groups.push(Group::default());
        }
        let Some(group) = groups.last_mut() else { continue };
        let mut signs = flows[bracket.first..=bracket.last].iter().filter_map(|flow| flow.repeat_end);
        group.passes.extend(&bracket.passes);
        group.last = bracket.last;
        if let Some(first) = signs.next() {
            group.repeats = true;
            group.after_jump |= first.after_jump || signs.any(|sign| sign.after_jump);
        }
        let is_first =
            flows[bracket.first].ending_start.as_ref().is_some_and(|ending| ending.only_then && ending.passes == [1]);
        group.only_first = group.repeats && is_first && group.passes.len() == 1;
    }
    groups
}
