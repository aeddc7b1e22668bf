//! The command line: arguments to command. One file per subcommand, help beside its options.

mod book;
mod changed;
mod check;
mod choose;
mod clean;
mod click;
mod delay;
mod demo;
mod drill;
mod failure;
mod given;
mod grades;
mod lanes;
mod latency;
mod listen;
mod mark;
mod named;
mod notes;
mod output;
mod plan;
mod ports;
mod printed;
mod sheet;
mod stage;
mod write;

use crate::plain::harmless;
use clap::{Parser, Subcommand};
use failure::Failure;
use std::borrow::Cow;
use std::io::{self, Write};
use std::process::ExitCode;

/// What every command returns.
type Outcome = Result<(), Failure>;

/// Prepares a young band's exercise, listens while it is played, and says at once which note missed
/// the key signature and which let go before its full value.
#[derive(Parser)]
#[command(name = "restward", version, max_term_width = 80)]
#[command(after_help = "Start with:  restward demo\nExit status: 0 done, 1 bad input, 2 usage, 3 the machine.")]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Demo(demo::Arguments),
    Ports(ports::Arguments),
    Changed(changed::Arguments),
    Notes(notes::Arguments),
    Sheet(sheet::Arguments),
    Write(write::Arguments),
    Drill(drill::Arguments),
    Check(check::Arguments),
    Listen(listen::Arguments),
    Book(book::Arguments),
    Grades(grades::Arguments),
    Mark(mark::Arguments),
    Plan(plan::Arguments),
    Latency(latency::Arguments),
    Clean(clean::Arguments),
}

/// What clap says: help on stdout, a wrong usage on stderr. It repeats what was typed, or what a pattern of file names became.
fn not_understood(error: &clap::Error) -> ExitCode {
    let text = error.render().to_string();
    match harmless(&text) {
        Cow::Borrowed(_) => error.exit(),
        Cow::Owned(text) => {
            // Nothing is left to do if even stderr is gone.
            let _ = write!(io::stderr(), "{text}");
            ExitCode::from(2)
        }
    }
}

/// Runs the program: 0 done, 1 bad input or a refused request, 2 usage, 3 the machine.
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => return not_understood(&error),
    };
    let outcome = match arguments.command {
        Command::Demo(arguments) => demo::run(arguments),
        Command::Ports(arguments) => ports::run(arguments),
        Command::Changed(arguments) => changed::run(arguments),
        Command::Notes(arguments) => notes::run(arguments),
        Command::Sheet(arguments) => sheet::run(arguments),
        Command::Write(arguments) => write::run(arguments),
        Command::Drill(arguments) => drill::run(arguments),
        Command::Check(arguments) => check::run(arguments),
        Command::Listen(arguments) => listen::run(arguments),
        Command::Book(arguments) => book::run(arguments),
        Command::Grades(arguments) => grades::run(&arguments),
        Command::Mark(arguments) => mark::run(&arguments),
        Command::Plan(arguments) => plan::run(&arguments),
        Command::Latency(arguments) => latency::run(arguments),
        Command::Clean(arguments) => clean::run(arguments),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.tell(),
    }
}
