//! How a command ends that could not do what it was asked.

use crate::plain::harmless;
use std::fmt::Display;
use std::io::{self, Write};
use std::process::ExitCode;

/// Why a command stopped: the message for stderr and the exit status (DESIGN.md §6).
#[derive(Debug)]
pub(super) enum Failure {
    /// Bad input or a refused request: 1. The message names the file and says what to do.
    Input(String),
    /// Wrong usage that the argument parser could not see: 2.
    Usage(String),
    /// No port, no disk: 3.
    Machine(String),
    /// The reader of our output went away (a closed pipe): a quiet success.
    PipeClosed,
}

impl Failure {
    /// Bad input.
    pub(super) fn input(message: impl Display) -> Failure {
        Failure::Input(message.to_string())
    }

    /// Says the message on stderr and gives the exit status.
    pub(super) fn tell(self) -> ExitCode {
        let (message, status) = match self {
            Failure::Input(message) => (message, 1),
            Failure::Usage(message) => (message, 2),
            Failure::Machine(message) => (message, 3),
            Failure::PipeClosed => return ExitCode::SUCCESS,
        };
        // Nothing is left to do if even stderr is gone.
        let _ = writeln!(io::stderr(), "restward: {}", harmless(&message));
        ExitCode::from(status)
    }
}

/// Writing to stdout: a closed pipe is no failure, anything else is the machine's.
impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Failure {
        if error.kind() == io::ErrorKind::BrokenPipe {
            Failure::PipeClosed
        } else {
            Failure::Machine(format!("could not write the output: {error}"))
        }
    }
}
