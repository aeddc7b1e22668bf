//! `restward demo`.

use super::{Failure, Outcome};

/// Runs a sectional with simulated players, without any hardware.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("demo is not built yet".into()))
}
