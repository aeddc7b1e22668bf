//! `restward changed`.

use super::{Failure, Outcome};

/// Prints the changed notes of a concert key for each instrument.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("changed is not built yet".into()))
}
