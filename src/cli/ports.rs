//! `restward ports`.

use super::{Failure, Outcome};

/// Lists the MIDI inputs and outputs by name.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("ports is not built yet".into()))
}
