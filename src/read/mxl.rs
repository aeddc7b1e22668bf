//! Compressed MusicXML: the score out of the archive.
//!
//! `META-INF/container.xml` names the root files; the first is the score (MusicXML 4.0, "Compressed .MXL
//! files"). An archive without it is read if it holds one MusicXML file. Nothing is written to disk.

use super::{ReadError, musicxml, text};
use std::borrow::Cow;
use std::io::{Cursor, Read};
use zip::ZipArchive;

type Archive<'a> = ZipArchive<Cursor<&'a [u8]>>;

/// More files than a score with pictures and sounds has.
const MOST_FILES: usize = 10_000;

/// The bytes of the score, at most `limit`.
pub(super) fn score(bytes: &[u8], limit: usize) -> Result<Vec<u8>, ReadError> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    if archive.len() > MOST_FILES {
        return Err(ReadError::Archive { reason: format!("it holds {} files", archive.len()) });
    }
    let name = match archive.index_for_name("META-INF/container.xml") {
        Some(index) => {
            let container = unpack(&mut archive, index, 1 << 20)?;
            let name = musicxml::first_root_file(&text::decode(&container)?)?;
            name.ok_or_else(|| ReadError::Archive { reason: "its container names no score".to_owned() })?
        }
        None => only_score(&archive)?,
    };
    let found = archive.index_for_name(&name).or_else(|| archive.index_for_name(name.trim_start_matches('/')));
    let index = found
        .ok_or_else(|| ReadError::Archive { reason: format!("its container names {name:?}, which is not in it") })?;
    unpack(&mut archive, index, limit)
}

/// Unpacks one file, never more than `limit` bytes whatever the archive claims.
fn unpack(archive: &mut Archive<'_>, index: usize, limit: usize) -> Result<Vec<u8>, ReadError> {
    let file = archive.by_index(index).map_err(damaged)?;
    if file.size() > limit as u64 {
        return Err(ReadError::TooLarge { megabytes: limit >> 20 });
    }
    let mut unpacked = Vec::new();
    let most = limit as u64 + 1;
    file.take(most).read_to_end(&mut unpacked).map_err(|error| ReadError::Archive { reason: error.to_string() })?;
    if unpacked.len() > limit {
        return Err(ReadError::TooLarge { megabytes: limit >> 20 });
    }
    Ok(unpacked)
}

fn only_score(archive: &Archive<'_>) -> Result<String, ReadError> {
    let is_score = |name: &String| {
        let lower = name.to_ascii_lowercase();
        let hidden = lower.starts_with("meta-inf/") || lower.starts_with("__macosx/");
        !hidden && (lower.ends_with(".xml") || lower.ends_with(".musicxml"))
    };
    let mut names = archive.file_names().filter_map(Result::ok).map(Cow::into_owned).filter(is_score);
    match (names.next(), names.next()) {
        (Some(name), None) => Ok(name),
        (None, _) => Err(ReadError::Archive { reason: "it holds no MusicXML file".to_owned() }),
        _ => Err(ReadError::Archive {
            reason: "it has no container, and several files that may be the score".to_owned(),
        }),
    }
}

fn damaged(error: zip::result::ZipError) -> ReadError {
    ReadError::Archive { reason: error.to_string() }
}
