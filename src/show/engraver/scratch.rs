//! Where the engraver unpacks its fonts: thousands of small files, and gone when it ends, however it ends.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of our own, removed with what is in it when this is dropped.
pub(super) struct Scratch(PathBuf);

impl Scratch {
    /// In memory where the system has a place for that (Linux): on some disks the files take seconds.
    pub(super) fn new() -> io::Result<Scratch> {
        let memory = Path::new("/dev/shm");
        let in_memory = Scratch::inside(memory).ok();
        in_memory.map_or_else(|| Scratch::inside(&std::env::temp_dir()), Ok)
    }

    fn inside(folder: &Path) -> io::Result<Scratch> {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let own = folder.join(format!("restward-engrave-{}-{number}", std::process::id()));
        #[cfg_attr(not(unix), allow(unused_mut))] // elsewhere folders have no mode
        let mut builder = std::fs::DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        // Fails if it is there already: nobody can have put another folder in its place.
        builder.create(&own)?;
        Ok(Scratch(own))
    }

    pub(super) fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // What cannot be removed the system removes when it starts again.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_gone_afterwards() {
        let scratch = Scratch::new().unwrap();
        let other = Scratch::new().unwrap();
        assert_ne!(scratch.path(), other.path());
        std::fs::write(scratch.path().join("font"), "x").unwrap();
        let path = scratch.path().to_owned();
        drop(scratch);
        assert!(!path.exists() && other.path().exists());
    }
}
