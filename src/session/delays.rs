//! The measured delays, kept for next time in a file of the user's own: one for each port and place of the click.
//!
//! The file `delays.toml` is for people, too: it may be read, changed and deleted.

use super::journal::make_folder;
use crate::aside::{self, Readers};
use crate::exercise::Micros;
use crate::listen::port_stem;
use crate::listen::take::LONGEST_DELAY;
use etcetera::BaseStrategy;
use serde::{Deserialize, Serialize};
use std::io;
use std::path::{Path, PathBuf};

const FOLDER: &str = "restward";
const FILE: &str = "delays.toml";
const HEAD: &str =
    "# How many milliseconds after the click the notes of a controller arrive: written by restward latency.\n\n";

/// One measured delay.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptDelay {
    /// The name of the port, without the numbers that the system may put behind it.
    pub port: String,
    /// Where the click sounded, as in `--click`.
    pub click: String,
    /// Milliseconds after the click; negative is before.
    pub ms: i64,
    /// Within how many milliseconds most of the notes lay.
    pub spread_ms: i64,
    /// How many notes were counted.
    pub notes: usize,
}

impl KeptDelay {
    /// As the judge takes it.
    pub fn delay(&self) -> Micros {
        Micros(1_000 * self.ms)
    }
}

/// The file.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Content {
    #[serde(default)]
    delay: Vec<KeptDelay>,
}

/// All that is kept.
#[derive(Debug)]
pub struct KeptDelays {
    path: PathBuf,
    content: Content,
}

/// Why the file cannot be used.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs)] // each says it in its sentence
pub enum KeptError {
    #[error("there is no folder of your own to keep delays in: set HOME")]
    NoFolder,
    #[error("{}: the kept delays could not be read: {why}", path.display())]
    Read { path: PathBuf, why: io::Error },
    #[error(
        "{}:{line}:{column}: {message}.\nMend the file, or delete it and measure again with restward latency --port NAME",
        path.display()
    )]
    Damaged { path: PathBuf, line: usize, column: usize, message: String },
    #[error("{}: the delay could not be kept: {why}", path.display())]
    Write { path: PathBuf, why: io::Error },
}

impl KeptDelays {
    /// What this user has kept; nothing, if nothing was ever measured.
    pub fn of_user() -> Result<KeptDelays, KeptError> {
        let folders = etcetera::choose_base_strategy().map_err(|_| KeptError::NoFolder)?;
        let state = folders.state_dir().unwrap_or_else(|| folders.data_dir());
        KeptDelays::read(&state.join(FOLDER).join(FILE))
    }

    /// What a file keeps.
    pub fn read(path: &Path) -> Result<KeptDelays, KeptError> {
        let path = path.to_path_buf();
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => String::new(),
            Err(why) => return Err(KeptError::Read { path, why }),
        };
        let damaged = |at: usize, message: String| {
            let (line, column) = place(&text, at);
            KeptError::Damaged { path: path.clone(), line, column, message }
        };
        let content: Content = toml::from_str(&text)
            .map_err(|error| damaged(error.span().map_or(0, |span| span.start), error.message().to_string()))?;
        let most = LONGEST_DELAY.0 / 1_000;
        if let Some(wrong) = content.delay.iter().find(|kept| !(-most..=most).contains(&kept.ms)) {
            let at = text.find(&format!("{}", wrong.ms)).unwrap_or(0);
            return Err(damaged(at, format!("no delay is {} ms long: at most {most}", wrong.ms)));
        }
        Ok(KeptDelays { path, content })
    }

    /// Where it is kept.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Everything, in order of ports.
    pub fn all(&self) -> &[KeptDelay] {
        &self.content.delay
    }

    /// What is kept for a port (by its full name) with the click at a place.
    pub fn of(&self, port: &str, click: &str) -> Option<&KeptDelay> {
        self.content.delay.iter().find(|kept| kept.port == port_stem(port) && kept.click == click)
    }

    /// Keeps a delay in place of the one before.
    pub fn keep(&mut self, mut new: KeptDelay) -> Result<(), KeptError> {
        new.port = port_stem(&new.port).to_string();
        self.content.delay.retain(|kept| (&kept.port, &kept.click) != (&new.port, &new.click));
        self.content.delay.push(new);
        self.content.delay.sort_by(|a, b| (&a.port, &a.click).cmp(&(&b.port, &b.click)));
        self.write()
    }

    /// Forgets all that `is_gone`; what was forgotten.
    pub fn forget(&mut self, is_gone: impl Fn(&KeptDelay) -> bool) -> Result<Vec<KeptDelay>, KeptError> {
        let (gone, left) = std::mem::take(&mut self.content.delay).into_iter().partition(is_gone);
        self.content.delay = left;
        self.write()?;
        Ok(gone)
    }

    fn write(&self) -> Result<(), KeptError> {
        let wrong = |why| KeptError::Write { path: self.path.clone(), why };
        let text = toml::to_string(&self.content).map_err(|error| wrong(io::Error::other(error)))?;
        if let Some(folder) = self.path.parent() {
            make_folder(folder).map_err(wrong)?;
        }
        aside::write(&self.path, format!("{HEAD}{text}").as_bytes(), Readers::Owner).map_err(wrong)
    }
}

/// Line and column of a place in a text, from 1.
fn place(text: &str, at: usize) -> (usize, usize) {
    let before = text.get(..at).unwrap_or(text);
    let line = before.rsplit('\n').next().unwrap_or_default();
    (before.matches('\n').count() + 1, line.chars().count() + 1)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot go on fails

    use super::*;

    fn kept(port: &str, click: &str, ms: i64) -> KeptDelay {
        KeptDelay { port: port.into(), click: click.into(), ms, spread_ms: 9, notes: 8 }
    }

    #[test]
    fn what_is_kept_is_there_next_time() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a/b/delays.toml");
        let mut delays = KeptDelays::read(&path).unwrap();
        delays.keep(kept("Wind \"Bert\" 24:0", "speakers", 42)).unwrap();
        delays.keep(kept("Pad", "midi:Drums", -3)).unwrap();
        delays.keep(kept("Wind \"Bert\" 28:0", "speakers", 40)).unwrap();
        let again = KeptDelays::read(&path).unwrap();
        // ALSA numbers ports anew each day; they do not name one.
        assert_eq!(again.all(), [kept("Pad", "midi:Drums", -3), kept("Wind \"Bert\"", "speakers", 40)]);
        assert_eq!(again.of("Wind \"Bert\" 128:1", "speakers").map(KeptDelay::delay), Some(Micros(40_000)));
        assert_eq!(again.of("Wind \"Bert\"", "off"), None, "another click has another delay");
        assert_eq!(again.of("Wind", "speakers"), None);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(path.metadata().unwrap().permissions().mode() & 0o777, 0o600);
        }
        assert_eq!(path.parent().unwrap().read_dir().unwrap().count(), 1, "nothing is left aside");
    }

    #[test]
    fn what_is_forgotten_is_gone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("delays.toml");
        let mut delays = KeptDelays::read(&path).unwrap();
        delays.keep(kept("Wind", "speakers", 42)).unwrap();
        delays.keep(kept("Pad", "speakers", 7)).unwrap();
        assert_eq!(delays.forget(|kept| kept.port == "Wind").unwrap(), [kept("Wind", "speakers", 42)]);
        assert_eq!(KeptDelays::read(&path).unwrap().all(), [kept("Pad", "speakers", 7)]);
    }

    #[test]
    fn a_damaged_file_is_named_with_the_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("delays.toml");
        let good = "# by hand\n[[delay]]\nport = \"Wind\"\nclick = \"speakers\"\n";
        let cases = [
            ("ms = 42\nspread_ms = \"wide\"\nnotes = 8\n", "6:13"),
            ("ms = 4200\nspread_ms = 9\nnotes = 8\n", "5:6"),
            ("ms = = 42\n", "5:6"),
            ("ms = 42\nspread_ms = 9\nnotes = 8\ncolour = 1\n", "8:1"),
            ("ms = 42\n", "2:1"),
        ];
        for (bad, place) in cases {
            std::fs::write(&path, format!("{good}{bad}")).unwrap();
            let said = KeptDelays::read(&path).unwrap_err().to_string();
            assert!(said.starts_with(&format!("{}:{place}: ", path.display())), "{bad} {place}: {said}");
            assert!(said.contains("delete it"), "{said}");
        }
    }
}
