//! Files of a folder that appear together when all are whole.

use super::{TablesError, Written};
use crate::book::tables;
use crate::session::make_folder;
use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};

/// A folder being filled; what is not finished is taken away again.
pub(super) struct Folder {
    folder: PathBuf,
    ending: &'static str,
    was_there: bool,
    /// Aside, and where it belongs.
    files: Vec<(PathBuf, Written)>,
    is_finished: bool,
}

impl Folder {
    /// Makes the folder, for its owner only, if it is not there; refuses if one of the files is.
    pub(super) fn begin(folder: &Path, ending: &'static str) -> Result<Folder, TablesError> {
        let there = tables().iter().map(|table| place(folder, table.name, ending)).find(|file| file.exists());
        if let Some(file) = there {
            return Err(TablesError::Exists(file));
        }
        let was_there = folder.is_dir();
        make_folder(folder).map_err(|error| TablesError::of(folder, error))?;
        Ok(Folder { folder: folder.into(), ending, was_there, files: Vec::new(), is_finished: false })
    }

    /// Begins a file, for its owner only, beside its place.
    pub(super) fn file(&mut self, table: &str) -> Result<File, TablesError> {
        let file = place(&self.folder, table, self.ending);
        let aside = place(&self.folder, table, &format!("{}.new", self.ending));
        // What an export that was killed has left.
        let _ = std::fs::remove_file(&aside);
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let opened = options.open(&aside).map_err(|error| TablesError::of(&file, error))?;
        self.files.push((aside, Written { file, rows: 0 }));
        Ok(opened)
    }

    /// The file that is written now, for messages, and to count its rows.
    pub(super) fn current(&mut self) -> Option<&mut Written> {
        self.files.last_mut().map(|(_, written)| written)
    }

    /// An error of the file that is written now.
    pub(super) fn failed(&self, error: std::io::Error) -> TablesError {
        let file = self.files.last().map_or(&self.folder, |(_, written)| &written.file);
        TablesError::of(file, error)
    }

    /// Moves all files to their places.
    pub(super) fn finish(mut self) -> Result<Vec<Written>, TablesError> {
        for (aside, written) in &self.files {
            std::fs::rename(aside, &written.file).map_err(|error| TablesError::of(&written.file, error))?;
        }
        self.is_finished = true;
        Ok(self.files.drain(..).map(|(_, written)| written).collect())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if self.is_finished {
            return;
        }
        // Some may have been moved already; none was there before. What cannot be removed cannot be helped.
        for (aside, written) in &self.files {
            let _ = std::fs::remove_file(aside).or_else(|_| std::fs::remove_file(&written.file));
        }
        if !self.was_there {
            let _ = std::fs::remove_dir(&self.folder);
        }
    }
}

fn place(folder: &Path, table: &str, ending: &str) -> PathBuf {
    folder.join(format!("{table}.{ending}"))
}
