//! Files that appear when they are whole: written beside their place under a name that nothing else has, then moved there.

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// Who may read a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Readers {
    /// Its owner alone: children's data.
    Owner,
    /// Whoever may read other new files of this user.
    AsUsual,
}

/// Writes a file; one that was there stays as it was if anything fails. Pipes and devices (`/dev/stdout`) are written to as
/// they are, and a link keeps pointing at the file that is replaced.
pub(crate) fn write(path: &Path, content: &[u8], readers: Readers) -> io::Result<()> {
    let there = std::fs::canonicalize(path);
    if std::fs::metadata(path).is_ok_and(|there| !there.is_file() && !there.is_dir()) {
        return OpenOptions::new().write(true).open(path)?.write_all(content);
    }
    let place = there.as_deref().unwrap_or(path);
    let folder = place.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix("restward-").suffix(".new");
    #[cfg(unix)]
    if readers == Readers::AsUsual {
        // Less what the user's own mask takes away.
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    }
    #[cfg(not(unix))]
    let _ = readers;
    let mut aside = builder.tempfile_in(folder)?;
    aside.write_all(content)?;
    aside.as_file().sync_all()?;
    // Closed before it is moved, as Windows wants it.
    let _: File = aside.persist(place).map_err(|error| error.error)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot go on fails

    use super::*;

    #[test]
    fn what_stands_beside_it_stays() {
        let folder = tempfile::tempdir().unwrap();
        let (path, beside) = (folder.path().join("a.csv"), folder.path().join("a.csv.new"));
        std::fs::write(&beside, "mine").unwrap();
        write(&path, b"one", Readers::Owner).unwrap();
        write(&path, b"two", Readers::Owner).unwrap();
        assert_eq!(
            (std::fs::read_to_string(&path).unwrap(), std::fs::read_to_string(&beside).unwrap()),
            ("two".into(), "mine".into())
        );
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
        assert!(write(folder.path(), b"three", Readers::Owner).is_err(), "a folder");
        assert!(write(&folder.path().join("none/a.csv"), b"three", Readers::Owner).is_err(), "no folder");
    }

    #[cfg(unix)]
    #[test]
    fn links_devices_and_readers() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("file"), folder.path().join("link"));
        let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
        write(&file, b"old", Readers::Owner).unwrap();
        assert_eq!(mode(&file), 0o600);
        std::os::unix::fs::symlink(&file, &link).unwrap();
        write(&link, b"new", Readers::AsUsual).unwrap();
        assert!(link.is_symlink());
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "new");
        // What a plain file gets here, whatever the mask is.
        let usual = folder.path().join("usual");
        std::fs::write(&usual, "").unwrap();
        assert_eq!(mode(&file), mode(&usual));
        // A link to a device, as /dev/stdout is one, stays a link.
        let device = folder.path().join("device");
        std::os::unix::fs::symlink("/dev/null", &device).unwrap();
        write(&device, b"gone", Readers::Owner).unwrap();
        assert!(device.is_symlink());
        assert_eq!(std::fs::read(&device).unwrap(), b"");
    }
}
