//! Where a command's result goes: a file, put in place when it is whole, or the console.

use super::{Failure, Outcome};
use crate::aside::{self, Readers};
use crate::show::wrapped;
use std::io::Write;
use std::path::Path;

/// Writes to a file, or to the console without one. A file that was there stays as it was if anything fails.
pub(super) fn put(file: Option<&Path>, content: &[u8]) -> Outcome {
    let Some(path) = file else {
        let mut out = std::io::stdout().lock();
        out.write_all(content)?;
        out.flush()?;
        return Ok(());
    };
    aside::write(path, content, Readers::AsUsual).map_err(|error| not_written(path, &error))
}

/// The same for children's data: a file is readable by its owner alone.
pub(super) fn put_private(file: Option<&Path>, content: &[u8]) -> Outcome {
    let Some(path) = file else { return put(None, content) };
    aside::write(path, content, Readers::Owner).map_err(|error| not_written(path, &error))
}

fn not_written(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Machine(format!("{}: could not be written: {error}", path.display()))
}

/// Refuses to write a result over the file that it was made from.
pub(super) fn not_over(source: &Path, output: Option<&Path>) -> Outcome {
    let place = |path: &Path| std::fs::canonicalize(path).ok();
    match output {
        Some(output) if place(output).is_some_and(|place_of| place(source) == Some(place_of)) => {
            Err(Failure::input(format!(
                "{}: this is the file that it is made from: give -o another name, so that it is kept",
                output.display()
            )))
        }
        _ => Ok(()),
    }
}

/// What a user should know, beside the result: on stderr.
pub(super) fn tell(notices: &[String]) {
    let mut err = std::io::stderr().lock();
    for line in notices.iter().flat_map(|notice| wrapped(&format!("Please note: {notice}"), 80, "")) {
        // Nothing is left to do if stderr is gone.
        let _ = writeln!(err, "{line}");
    }
}
