//! Where a command's result goes: a file, put in place when it is whole, or the console.

use super::{Failure, Outcome};
use crate::aside::{self, Readers};
use crate::show::wrapped;
use std::io::{ErrorKind, Write};
use std::path::Path;

/// The format that was asked for; else the one that the file's name says, else the usual one. Another ending than those known
/// is refused, as the file would not be what its name says.
pub(super) fn format<F: Copy>(
    asked: Option<F>,
    file: Option<&Path>,
    known: &[(&str, F)],
    usual: F,
) -> Result<F, Failure> {
    let ending = file.and_then(Path::extension).map(|ending| ending.to_string_lossy().to_lowercase());
    let (Some(ending), None) = (&ending, asked) else { return Ok(asked.unwrap_or(usual)) };
    if let Some((_, format)) = known.iter().find(|(known, _)| known == ending) {
        return Ok(*format);
    }
    let endings: Vec<String> = known.iter().map(|(ending, _)| format!(".{ending}")).collect();
    let endings = match &endings[..] {
        [before @ .., last] if !before.is_empty() => format!("{} or {last}", before.join(", ")),
        _ => endings.concat(),
    };
    let file = file.map_or_else(String::new, |file| file.display().to_string());
    Err(Failure::Usage(format!("{file}: a file of this kind cannot be made here; its name ends in {endings}")))
}

/// Writes to a file, or to the console without one or for `-`. A file that was there stays as it was if anything fails.
pub(super) fn put(file: Option<&Path>, content: &[u8]) -> Outcome {
    put_for(Readers::AsUsual, file, content)
}

/// The same for children's data: a file is readable by its owner alone.
pub(super) fn put_private(file: Option<&Path>, content: &[u8]) -> Outcome {
    put_for(Readers::Owner, file, content)
}

fn put_for(readers: Readers, file: Option<&Path>, content: &[u8]) -> Outcome {
    let Some(path) = file.filter(|file| *file != Path::new("-")) else {
        let mut out = std::io::stdout().lock();
        out.write_all(content)?;
        out.flush()?;
        return Ok(());
    };
    aside::write(path, content, readers).map_err(|error| not_written(path, &error))
}

/// Refuses a file whose folder is not there.
pub(super) fn has_folder(path: &Path) -> Outcome {
    match path.parent().filter(|folder| !folder.as_os_str().is_empty() && !folder.exists()) {
        Some(folder) => Err(Failure::Machine(format!(
            "{}: could not be written: there is no folder {}; make it first",
            path.display(),
            folder.display()
        ))),
        None => Ok(()),
    }
}

fn not_written(path: &Path, error: &std::io::Error) -> Failure {
    let because = match error.kind() {
        ErrorKind::IsADirectory => "this is a folder; name a file in it".into(),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "you have no right to write there; choose another folder".into()
        }
        ErrorKind::StorageFull => "the disk is full; make room".into(),
        _ => error.to_string(),
    };
    let other = || Failure::Machine(format!("{}: could not be written: {because}", path.display()));
    has_folder(path).err().unwrap_or_else(other)
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
