//! The tones of a drill: of all lines that keep every demand, one of the better ones, by chance.
//!
//! First, backwards, what the best way to the end costs from each pair of tones (dynamic programming over the last two
//! tones, exact). Then, forwards, each tone is drawn among those from which the end can be reached, the cheaper the
//! likelier. Whole numbers only, so that a seed gives the same line on every machine.

use super::chance::Chance;
use super::cost::{NEVER, alone, step, turn};
use super::rules::{would_repeat, would_sway};
use super::spot::{Spot, Want};
use super::tone::{Standing, Tone};

/// How likely a tone is drawn that costs 0, 1, 2 … more than the best one, beyond the list never: each unit makes it
/// about half as likely.
const LIKELY: [u32; 9] = [1000, 550, 300, 165, 90, 50, 27, 15, 8];
/// How much likelier a tone is that moves as its model did.
const AS_MODEL: u32 = 5;
/// How much less likely a tone is that goes back and forth a second time.
const SWAYING: u32 = 8;

/// The line, a tone for each spot; `None` if there is none that keeps all demands.
pub(super) fn melody(spots: &[Spot], tones: &[Tone], widest: i16, chance: &mut Chance) -> Option<Vec<Tone>> {
    let ways = Ways::new(spots, tones, widest);
    let mut line: Vec<Tone> = Vec::with_capacity(spots.len());
    // Places among the choices of the last two spots.
    let (mut before, mut last) = (0, 0);
    let (mut costs, mut weights) = (Vec::new(), Vec::new());
    for (index, (spot, here)) in spots.iter().zip(&ways.choices).enumerate() {
        costs.clear();
        costs.extend((0..here.len()).map(|next| ways.cost(index, before, last, next)));
        let best = costs.iter().copied().min().filter(|&best| best < NEVER)?;
        weights.clear();
        weights.extend(costs.iter().zip(here).map(|(&cost, tone)| {
            let likely = LIKELY.get((cost - best) as usize).copied().unwrap_or(0);
            if moves_as_model(spot, &line, tone) { likely * AS_MODEL } else { likely }
        }));
        for (weight, tone) in weights.iter_mut().zip(here) {
            if would_repeat(spots, &line, tone) {
                // Only where nothing else is left: then the whole line is given up later.
                *weight = (*weight).min(1);
            } else if would_sway(&line, tone) {
                *weight = weight.div_ceil(SWAYING);
            }
        }
        let drawn = chance.weighted(&weights)?;
        line.push(*here.get(drawn)?);
        (before, last) = (last, drawn);
    }
    Some(line)
}

/// The tones that may stand at a place. Where the cadence and what else is wanted leave none, the cadence yields.
fn choices(spot: &Spot, tones: &[Tone]) -> Vec<Tone> {
    let wanted = |tone: &&Tone| {
        tone.segment == spot.segment
            && match spot.want {
                Want::Any => tone.standing != Standing::Other,
                Want::Target => tone.is_aim,
                Want::Other => tone.standing == Standing::Other,
            }
    };
    let fitting: Vec<Tone> = tones.iter().filter(wanted).filter(|tone| spot.only.has(tone.degree)).copied().collect();
    if fitting.is_empty() { tones.iter().filter(wanted).copied().collect() } else { fitting }
}

fn moves_as_model(spot: &Spot, line: &[Tone], tone: &Tone) -> bool {
    let model = || {
        let model = spot.model?;
        Some(line.get(model)?.place - line.get(model.checked_sub(1)?)?.place)
    };
    let own = line.last().map(|last| tone.place - last.place);
    own.is_some() && model() == own
}

/// What each step of the way costs, and what is left to the end.
struct Ways<'a> {
    spots: &'a [Spot],
    /// For each spot the tones that may stand there.
    choices: Vec<Vec<Tone>>,
    /// For each spot what its tones cost by themselves.
    alone: Vec<Vec<u32>>,
    /// For each spot, at [tone before × tones here + tone here], what coming from there costs; empty for the first.
    steps: Vec<Vec<u32>>,
    /// For each spot, in the same layout, the cost of the best way on to the end.
    onward: Vec<Vec<u32>>,
}

impl<'a> Ways<'a> {
    fn new(spots: &'a [Spot], tones: &[Tone], widest: i16) -> Ways<'a> {
        let choices: Vec<Vec<Tone>> = spots.iter().map(|spot| choices(spot, tones)).collect();
        let alone = spots.iter().zip(&choices).map(|(spot, here)| here.iter().map(|tone| alone(spot, tone)).collect());
        let alone = alone.collect();
        let steps = std::iter::once(Vec::new()).chain(choices.windows(2).zip(spots.windows(2)).map(|(pair, spots)| {
            let (from, to) = (&pair[0], &pair[1]);
            let pairs = from.iter().flat_map(|from| to.iter().map(move |to| (from, to)));
            pairs.map(|(from, to)| step(&spots[1], from, to, widest)).collect()
        }));
        let steps = steps.collect();
        let mut ways = Ways { spots, choices, alone, steps, onward: vec![Vec::new(); spots.len()] };
        for index in (0..spots.len()).rev() {
            ways.onward[index] = ways.onward_from(index);
        }
        ways
    }

    /// The cost of the best way on from each pair of tones at `index` and before it; that of the next spot is known.
    fn onward_from(&self, index: usize) -> Vec<u32> {
        let befores = if index == 0 { 1 } else { self.choices[index - 1].len() };
        let heres = self.choices[index].len();
        let Some(nexts) = self.choices.get(index + 1).map(Vec::len) else { return vec![0; befores * heres] };
        let mut onward = Vec::with_capacity(befores * heres);
        for before in 0..befores {
            for here in 0..heres {
                let blocked = index > 0 && self.steps[index][before * heres + here] >= NEVER;
                let costs = (0..nexts).map(|next| self.cost(index + 1, before, here, next));
                onward.push(if blocked { NEVER } else { costs.min().unwrap_or(NEVER) });
            }
        }
        onward
    }

    /// What choosing `next` at a spot costs, the best way on included, after `before` and `last`.
    fn cost(&self, index: usize, before: usize, last: usize, next: usize) -> u32 {
        let heres = self.choices[index].len();
        let alone = self.alone[index][next];
        if index == 0 {
            return (alone + self.onward[0][next]).min(NEVER);
        }
        let place = last * heres + next;
        let paid = alone + self.steps[index][place] + self.onward[index][place];
        if index == 1 || paid >= NEVER {
            return paid.min(NEVER);
        }
        let (a, b, c) = (&self.choices[index - 2][before], &self.choices[index - 1][last], &self.choices[index][next]);
        (paid + turn(&self.spots[index - 1], &self.spots[index], a, b, c)).min(NEVER)
    }
}
