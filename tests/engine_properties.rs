//! The judgement is a function of exercise, settings and timed bytes alone: timer granularity, chunking of
//! bytes and interleaving with other lanes change nothing (DESIGN.md §4).

#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot read its data has failed

mod support;

use proptest::prelude::*;
use restward::exercise::Micros;
use restward::judge::{Decision, Engine};
use restward::listen::{Input, Timed, What};
use support::{Case, cases};

/// Runs a take; `ticks` says how often the timer fires between arrivals.
fn judged(case: &Case, inputs: &[Timed<Input>], ticks: &mut dyn FnMut() -> i64) -> (Vec<Decision>, String) {
    let mut engine = Engine::new(case.part.clone(), case.settings.clone());
    let mut now = Micros(0);
    let mut decisions = Vec::new();
    for input in inputs {
        loop {
            let next = now + Micros(ticks().max(1));
            if next >= input.at {
                break;
            }
            now = next;
            engine.advance(now);
            decisions.extend(engine.take_decisions());
        }
        now = input.at;
        engine.push(input);
        decisions.extend(engine.take_decisions());
    }
    let (report, last) = engine.finish(case.end);
    decisions.extend(last);
    (decisions, serde_json::to_string(&report).unwrap())
}

/// Cuts every packet of bytes into single bytes that arrive at the same time.
fn in_single_bytes(inputs: &[Timed<Input>]) -> Vec<Timed<Input>> {
    let mut cut = Vec::new();
    for input in inputs {
        match &input.what.what {
            What::Bytes(bytes) => cut.extend(bytes.iter().map(|&byte| Timed {
                at: input.at,
                what: Input { port: input.what.port, what: What::Bytes(vec![byte]) },
            })),
            _ => cut.push(input.clone()),
        }
    }
    cut
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn timer_granularity_changes_nothing(which in 0_usize..12, seed in 1_u64..u64::MAX) {
        let case = &cases()[which % cases().len()];
        let never = judged(case, &case.inputs, &mut || i64::MAX / 4);
        let mut state = seed;
        let often = judged(case, &case.inputs, &mut || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            500 + (state % 60_000) as i64
        });
        prop_assert_eq!(&never.0, &often.0);
        prop_assert_eq!(never.1, often.1);
    }

    #[test]
    fn chunks_of_bytes_change_nothing(which in 0_usize..12) {
        let case = &cases()[which % cases().len()];
        let whole = judged(case, &case.inputs, &mut || 10_000);
        let cut = judged(case, &in_single_bytes(&case.inputs), &mut || 10_000);
        prop_assert_eq!(whole.1, cut.1);
        prop_assert_eq!(whole.0, cut.0);
    }
}
