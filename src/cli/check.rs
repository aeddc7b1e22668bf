//! `restward check`.

use super::{Failure, Outcome};

/// Judges a take from a file.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("check is not built yet".into()))
}
