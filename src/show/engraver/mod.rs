//! Staff notation by the program `restward-engrave`, which is built apart: see [`Engraver::find`].
//!
//! In: MusicXML, as [`crate::write::musicxml()`] writes it. Out: SVG whose notes have the identifiers of the
//! MusicXML, or one PDF. One start of the program does any number of parts.

mod protocol;
mod scratch;

pub use protocol::{Answer, Format, Paper, Request};

use scratch::Scratch;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// The name of the program.
const PROGRAM: &str = "restward-engrave";
/// Says where it is, before all other places.
const VARIABLE: &str = "RESTWARD_ENGRAVE";
/// Longer than the largest score takes: then something is wrong with it.
const LONGEST: Duration = Duration::from_secs(120);

/// Why there is no staff notation.
#[derive(Debug, thiserror::Error)]
pub enum EngraverError {
    /// Not built, or not here.
    #[error(
        "staff notation needs the program {PROGRAM}, which is not here. Build it once (some minutes, needs a C++ \
         compiler), in the folder of restward's source: cargo build --release --features engrave --bin {PROGRAM}"
    )]
    NotBuilt,
    /// The environment names something that is not there.
    #[error("{VARIABLE} names {path}, which is no program: correct it, or take it out of the environment")]
    Named {
        /// What it names.
        path: String,
    },
    /// It could not be started or spoken with.
    #[error("{path}: could not be used: {reason}; build it again, from the same source as restward")]
    Broken {
        /// The program.
        path: String,
        /// What went wrong.
        reason: String,
    },
    /// It could not engrave a part.
    #[error("the staff notation of {0}")]
    Refused(String),
}

impl EngraverError {
    /// The same for a page that somebody else is given: how to build a program is no matter of theirs.
    pub fn on_paper(&self) -> String {
        match self {
            EngraverError::NotBuilt => "staff notation is not set up on the computer that made this page".into(),
            other => other.to_string(),
        }
    }
}

/// What was engraved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Engraved {
    /// For each part its pages, or its systems ([`Request::systems`]).
    Svg(Vec<Vec<String>>),
    /// All parts in one document.
    Pdf(Vec<u8>),
}

/// The program, found.
#[derive(Debug, Clone)]
pub struct Engraver {
    program: PathBuf,
}

impl Engraver {
    /// Looks where the environment variable `RESTWARD_ENGRAVE` says; else beside our own program, also where the other
    /// builds of the same source lie; else in the search path.
    pub fn find() -> Result<Engraver, EngraverError> {
        if let Some(named) = std::env::var_os(VARIABLE) {
            let program = PathBuf::from(named);
            let path = program.display().to_string();
            return if program.is_file() { Ok(Engraver { program }) } else { Err(EngraverError::Named { path }) };
        }
        let file = format!("{PROGRAM}{}", std::env::consts::EXE_SUFFIX);
        let own = std::env::current_exe().ok();
        let beside = own.as_deref().and_then(Path::parent).map(Path::to_owned);
        let builds =
            beside.as_deref().and_then(Path::parent).map(|target| ["release", "debug"].map(|b| target.join(b)));
        let path = std::env::var_os("PATH").unwrap_or_default();
        let folders = beside.into_iter().chain(builds.into_iter().flatten()).chain(std::env::split_paths(&path));
        let program = folders.map(|folder| folder.join(&file)).find(|program| program.is_file());
        program.map(|program| Engraver { program }).ok_or(EngraverError::NotBuilt)
    }

    /// Engraves all parts of a request.
    pub fn engrave(&self, request: &Request) -> Result<Engraved, EngraverError> {
        let line = serde_json::to_string(request).map_err(|error| self.broken(error.to_string()))?;
        let scratch = Scratch::new().map_err(|error| self.broken(error.to_string()))?;
        let mut command = Command::new(&self.program);
        // Unix reads the first, Windows the others.
        for variable in ["TMPDIR", "TMP", "TEMP"] {
            command.env(variable, scratch.path());
        }
        let child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn();
        let mut child = child.map_err(|error| self.broken(error.to_string()))?;
        let answer = converse(&mut child, line);
        if answer.is_err() {
            // It may still be at work on what it never answered.
            let _ = child.kill();
        }
        let _ = child.wait();
        let answer = answer.map_err(|reason| self.broken(reason))?;
        match serde_json::from_str(&answer).map_err(|error| self.broken(error.to_string()))? {
            Answer::Svg(parts) => Ok(Engraved::Svg(parts)),
            Answer::Pdf(digits) => {
                protocol::bytes(&digits).map(Engraved::Pdf).ok_or_else(|| self.broken("its PDF is damaged".to_owned()))
            }
            Answer::Error(message) => Err(EngraverError::Refused(message)),
        }
    }

    fn broken(&self, reason: String) -> EngraverError {
        EngraverError::Broken { path: self.program.display().to_string(), reason }
    }
}

/// Sends a line and waits for one.
fn converse(child: &mut Child, line: String) -> Result<String, String> {
    let (Some(mut stdin), Some(stdout)) = (child.stdin.take(), child.stdout.take()) else {
        return Err("no pipe to it".to_owned());
    };
    // It may answer before it has read everything: writing and reading wait for each other only here.
    let (sender, receiver) = crossbeam_channel::bounded(1);
    std::thread::spawn(move || stdin.write_all(line.as_bytes()).and_then(|()| stdin.write_all(b"\n")));
    std::thread::spawn(move || {
        let mut answer = String::new();
        let read = BufReader::new(stdout).read_line(&mut answer).map(|_| answer);
        // Nobody waits any more after the longest time.
        let _ = sender.send(read);
    });
    match receiver.recv_timeout(LONGEST) {
        Ok(Ok(answer)) if answer.is_empty() => Err("it ended without an answer".to_owned()),
        Ok(answer) => answer.map_err(|error| error.to_string()),
        Err(_) => Err(format!("no answer in {} seconds", LONGEST.as_secs())),
    }
}
