//! `restward grades --format oneroster`: a folder for the school's gradebook.

use super::super::{Failure, Outcome, given, output};
use crate::aside::{self, Readers};
use crate::book::Book;
use crate::grade::{Graded, Rubric};
use crate::session::make_folder;
use crate::show::gradebook::{Gradebook, gradebook};
use crate::show::{counted, wrapped};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::Path;

/// What a settings file looks like, for whoever has none yet.
const EXAMPLE: &str = "\
--format oneroster needs --gradebook FILE: a text file with the ids that your
school's system has for the class, the session (term) and the school:

  category = \"Playing\"

  [ids]
  class = \"...\"
  session = \"...\"
  school = \"...\"

  # Only where sections are classes of their own:
  [ids.sections]
  \"low brass\" = \"...\"";

/// Writes the files into a folder, which is made if it is not there.
pub(super) fn hand_in(
    book: &mut Book,
    graded: &[Graded],
    rubric: &Rubric,
    settings: Option<&Path>,
    folder: Option<&Path>,
    due: Option<&str>,
) -> Outcome {
    let settings = settings.ok_or_else(|| Failure::Usage(EXAMPLE.into()))?;
    let folder = folder.ok_or_else(|| Failure::Usage("--format oneroster needs -o FOLDER for its files".into()))?;
    let to = given::text(settings, Gradebook::parse)?;
    let mut hashes = BTreeMap::new();
    for graded in graded {
        if let Entry::Vacant(unknown) = hashes.entry(graded.exercise.id) {
            unknown.insert(book.exercise_hash(graded.exercise.id)?.unwrap_or_default());
        }
    }
    let filled = gradebook(graded, rubric, &to, &hashes, due)
        .map_err(|why| Failure::Input(format!("{}: {why}", book.path().display())))?;
    let failed = |path: &Path, error: std::io::Error| {
        Failure::Machine(format!("{}: could not be written: {error}", path.display()))
    };
    make_folder(folder).map_err(|error| failed(folder, error))?;
    for (name, content) in &filled.files {
        let path = folder.join(name);
        aside::write(&path, content, Readers::Owner).map_err(|error| failed(&path, error))?;
    }
    let (names, (results, items)) = (filled.files.iter().map(|(name, _)| *name), filled.count);
    let names: Vec<&str> = names.collect();
    let said = format!(
        "{} in {} are in {}: {}. Only you can read them.",
        counted(results, "result"),
        counted(items, "exercise"),
        folder.display(),
        names.join(", ")
    );
    output::put(None, format!("{}\n", wrapped(&said, 80, "").join("\n")).as_bytes())?;
    output::tell(&filled.notices);
    Ok(())
}
