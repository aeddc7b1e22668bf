//! A take on disk while it is played: every arrival is written as it comes, before it is judged, so that a crash loses
//! nothing. At the end of the take the Standard MIDI File takes its place.
//!
//! The journal `NAME.mid.part` has one JSON object a line: first the take's score time zero and tempo, then
//! `{"at_us":1234,"bytes":[144,60,90]}`. What a crash leaves is made into takes by [`recover`].

use super::{Begun, Keeper, Kept, Outcome};
use crate::aside::{self, Readers};
use crate::exercise::{Micros, TempoMap};
use crate::judge::{Grid, Report};
use crate::listen::take::{Record, write_take};
use crate::listen::{Input, Timed, What};
use serde::{Deserialize, Serialize};
use std::borrow::Borrow;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A take being written.
pub(super) struct Journal {
    file: File,
    part: PathBuf,
    take: PathBuf,
    grid: Option<Grid>,
    delay: Option<Micros>,
    /// It could not be written on: the take is written at its end, if that can be done.
    is_cut_off: bool,
}

/// The folder in which takes are saved.
pub(super) struct Folder {
    pub(super) folder: PathBuf,
    /// The name of the exercise.
    pub(super) exercise: String,
}

impl Keeper for Folder {
    fn begin(&mut self, begun: &Begun) -> io::Result<Box<dyn Kept>> {
        let Begun { plan, settings, .. } = begun;
        let (grid, delay) = (settings.grid.clone(), settings.delay);
        Ok(Box::new(Journal::begin(&self.folder, &plan.player, &self.exercise, grid, delay)?))
    }

    fn throw_away(&mut self, outcome: &Outcome) -> io::Result<()> {
        if let Some(file) = &outcome.saved {
            // A file that is gone already is what was asked for.
            let _ = std::fs::remove_file(file);
        }
        Ok(())
    }
}

/// The first line: the click, if there is one, and the measured delay.
#[derive(Serialize, Deserialize)]
struct Head {
    score_zero_us: Option<Micros>,
    tempo: TempoMap,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    delay_us: Option<Micros>,
}

/// The other lines; no bytes: the cable was pulled.
#[derive(Serialize, Deserialize)]
struct Row {
    at_us: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    bytes: Option<Vec<u8>>,
}

impl Journal {
    /// Begins `PLAYER-EXERCISE-takeN.mid` in a folder, with the first number N that is free there.
    fn begin(
        folder: &Path,
        player: &str,
        exercise: &str,
        grid: Option<Grid>,
        delay: Option<Micros>,
    ) -> io::Result<Journal> {
        make_folder(folder)?;
        for number in 1.. {
            let take = folder.join(format!("{}-{}-take{number}.mid", plain(player), plain(exercise)));
            let part = journal_of(&take);
            if take.exists() {
                continue;
            }
            match private().create_new(true).open(&part) {
                Ok(mut file) => {
                    let (score_zero_us, tempo) = grid.clone().map(|grid| (grid.start, grid.tempo)).unzip();
                    let head = Head { score_zero_us, tempo: tempo.unwrap_or_default(), delay_us: delay };
                    line(&mut file, &head)?;
                    return Ok(Journal { file, part, take, grid, delay, is_cut_off: false });
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::Error::other("no number is left for the take"))
    }
}

impl Kept for Journal {
    fn arrived(&mut self, arrival: &Timed<Input>) -> io::Result<()> {
        let bytes = match &arrival.what.what {
            _ if self.is_cut_off => return Ok(()),
            What::Bytes(bytes) => Some(bytes.clone()),
            What::Disconnect => None,
            What::Connect => return Ok(()),
        };
        let written = line(&mut self.file, &Row { at_us: arrival.at.0, bytes });
        self.is_cut_off = written.is_err();
        written
    }

    /// Puts the take in the journal's place; a folder that vanished is made again.
    fn end(self: Box<Self>, record: &Record, end: Micros, _: &Report) -> io::Result<Option<PathBuf>> {
        self.take.parent().map_or(Ok(()), make_folder)?;
        put(&self.take, record.iter(), self.grid.as_ref(), self.delay, end)?;
        match std::fs::remove_file(&self.part) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(Some(self.take)),
        }
    }

    fn discard(self: Box<Self>) -> io::Result<()> {
        std::fs::remove_file(&self.part)
    }
}

/// Makes takes of the journals that a crash left in a folder; the paths of the takes. A journal written on within
/// `untouched` may belong to another session that runs now, and is left alone.
pub fn recover(folder: &Path, untouched: Duration) -> io::Result<Vec<PathBuf>> {
    let mut recovered = Vec::new();
    let Ok(entries) = std::fs::read_dir(folder) else { return Ok(recovered) };
    for entry in entries {
        let part = entry?.path();
        let take = part.with_extension("");
        if !part.to_string_lossy().ends_with(".mid.part") || take.exists() {
            continue;
        }
        let age = std::fs::metadata(&part)?.modified()?.elapsed().unwrap_or(Duration::ZERO);
        if age < untouched {
            continue;
        }
        let text = std::fs::read_to_string(&part)?;
        let mut lines = text.lines();
        let Some(Ok(head)) = lines.next().map(serde_json::from_str::<Head>) else { continue };
        let grid = head.score_zero_us.map(|zero| Grid::new(zero, head.tempo));
        // The last line may have been cut off by the crash.
        let rows = lines.map_while(|line| serde_json::from_str::<Row>(line).ok());
        let record: Vec<Timed<Input>> = rows
            .map(|row| {
                let what = row.bytes.map_or(What::Disconnect, What::Bytes);
                Timed { at: Micros(row.at_us), what: Input { port: 0, what } }
            })
            .collect();
        let end = record.last().map_or(Micros(0), |last| last.at);
        if !record.is_empty() {
            put(&take, &record, grid.as_ref(), head.delay_us, end)?;
            recovered.push(take);
        }
        std::fs::remove_file(&part)?;
    }
    Ok(recovered)
}

fn put(
    take: &Path,
    record: impl IntoIterator<Item = impl Borrow<Timed<Input>>>,
    grid: Option<&Grid>,
    delay: Option<Micros>,
    end: Micros,
) -> io::Result<()> {
    let content = write_take(record, grid.map(|grid| (grid.start, &grid.tempo)), delay, end);
    aside::write(take, &content, Readers::Owner)
}

fn line(file: &mut File, row: &impl Serialize) -> io::Result<()> {
    let mut text = serde_json::to_vec(row)?;
    text.push(b'\n');
    file.write_all(&text)
}

fn journal_of(take: &Path) -> PathBuf {
    let mut name = take.as_os_str().to_owned();
    name.push(".part");
    PathBuf::from(name)
}

/// Takes are children's data: nobody but the owner reads them.
fn private() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// A folder, with those above it, for its owner only; one that is there stays as it is.
pub(crate) fn make_folder(folder: &Path) -> io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

/// So many letters of a name are enough to tell it, and fit twice into a file's name on every system.
const LONGEST: usize = 50;

/// A name fit for a file on every system: letters and digits stay, everything else becomes one hyphen.
fn plain(name: &str) -> String {
    let mut plain = String::new();
    for letter in name.chars().take(LONGEST) {
        if letter.is_alphanumeric() {
            plain.push(letter);
        } else if !plain.is_empty() && !plain.ends_with('-') {
            plain.push('-');
        }
    }
    let plain = plain.trim_end_matches('-');
    if plain.is_empty() { "take".into() } else { plain.into() }
}
