//! `restward notes`.

use super::{Failure, Outcome};

/// Shows what was read from an exercise file.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("notes is not built yet".into()))
}
