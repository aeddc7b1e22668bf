//! `restward clean`.

use super::{Failure, Outcome};

/// Turns raw timed MIDI bytes into clean notes.
#[derive(clap::Args)]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    Err(Failure::Usage("clean is not built yet".into()))
}
