//! `restward ports`.

use super::{Failure, Outcome};
use crate::listen::{MidiSource, PortError, SystemPorts, numbered, outputs};
use std::io::Write;

/// Lists the MIDI inputs and outputs by name.
#[derive(clap::Args)]
#[command(after_help = "Name a port to listen by any part of its name, or by its number as in #1:\n  \
                        restward listen EXERCISE --player Mia=#1")]
pub(super) struct Arguments {}

pub(super) fn run(_: Arguments) -> Outcome {
    let inputs = SystemPorts::new()?.list()?;
    let outputs = outputs()?;
    if inputs.is_empty() && outputs.is_empty() {
        return Err(PortError::NoPort("port").into());
    }
    let mut out = anstream::stdout().lock();
    for (title, names) in [("MIDI inputs", inputs), ("MIDI outputs", outputs)] {
        writeln!(out, "{title}")?;
        for line in numbered(&names) {
            writeln!(out, "  {line}")?;
        }
        if names.is_empty() {
            writeln!(out, "  none")?;
        }
    }
    Ok(())
}

/// Ports are the machine's matter.
impl From<PortError> for Failure {
    fn from(error: PortError) -> Failure {
        match error {
            PortError::Shared(_) => Failure::Usage(error.to_string()),
            other => Failure::Machine(other.to_string()),
        }
    }
}
