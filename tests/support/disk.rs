//! A disk so small that it can be filled, for tests of what happens then.

#![allow(dead_code)] // each test that includes this file uses its part of it

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Some megabytes in memory, mounted (tmpfs, Linux, as root) until it is dropped.
pub(crate) struct Disk {
    folder: tempfile::TempDir,
}

impl Disk {
    /// `None`, with a message, where nothing can be mounted.
    pub(crate) fn mounted(megabytes: usize) -> Option<Disk> {
        let folder = tempfile::tempdir().ok()?;
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={megabytes}m,mode=0755"), "tmpfs"])
            .arg(folder.path())
            .output();
        if mount.is_ok_and(|output| output.status.success()) {
            return Some(Disk { folder });
        }
        #[allow(clippy::print_stderr)] // for whoever reads the log of the tests
        {
            eprintln!("Skipped: a small disk needs mount and root.");
        }
        None
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Fills it up to this many bytes that stay free.
    pub(crate) fn fill(&self, free: usize) {
        let mut filler = std::fs::File::create(self.filler()).unwrap();
        let mut filled: u64 = 0;
        while filler.write_all(&[1; 1024]).is_ok() {
            filled += 1024;
        }
        filler.set_len(filled.saturating_sub(free as u64)).unwrap();
    }

    /// Makes room again.
    pub(crate) fn clear(&self) {
        std::fs::remove_file(self.filler()).unwrap();
    }

    /// From now on it can only be read.
    pub(crate) fn only_read(&self) {
        assert!(Command::new("mount").args(["-o", "remount,ro"]).arg(self.path()).status().unwrap().success());
    }

    fn filler(&self) -> PathBuf {
        self.path().join("filler")
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // Also while something is still open there.
        let _ = Command::new("umount").arg("-l").arg(self.path()).status();
    }
}
