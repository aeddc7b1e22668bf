//! `restward listen`.

use super::{Failure, Outcome};

/// Listens to players on MIDI ports and judges them while they play.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("listen is not built yet".into()))
}
