//! DEVELOPERS.md names files, functions and types; all of them are there.
//!
//! Looked at: every `path` in backticks (from the top or from `src/`), a `name` in backticks right behind a file, which must be
//! defined in it, and every `module::name`, which must be defined in that module or, after a type, anywhere.

#![allow(clippy::unwrap_used)] // a test that cannot read its page fails

use std::fs;
use std::path::{Path, PathBuf};

fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The pieces in backticks outside blocks of code, each with whether it stands right behind the one before.
fn cited(text: &str) -> Vec<(String, bool)> {
    let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with("    ")).collect();
    let text = lines.join("\n");
    let mut cited = Vec::new();
    for (place, piece) in text.split('`').enumerate() {
        if place % 2 == 1 {
            cited.push((piece.to_owned(), false));
        } else if let Some(last) = cited.last_mut() {
            // A line may be broken between the two.
            last.1 = piece == " " || piece == "\n";
        }
    }
    let follows: Vec<bool> = std::iter::once(false).chain(cited.iter().map(|(_, is_followed)| *is_followed)).collect();
    cited.into_iter().zip(follows).map(|((piece, _), follows)| (piece, follows)).collect()
}

/// A file or folder that a piece names, or would name if it were there.
fn path(piece: &str) -> Option<PathBuf> {
    let is_word = piece.chars().all(|letter| letter.is_ascii_alphanumeric() || "/._-".contains(letter));
    let is_path = piece.contains('/') || [".rs", ".toml", ".py", ".md"].iter().any(|ending| piece.ends_with(ending));
    // What is built lies below `target/`, and need not be there.
    if !is_word
        || !is_path
        || piece == "mod.rs"
        || piece.starts_with("target/")
        || piece.starts_with(['/', '.']) && !piece.starts_with(".github")
    {
        return None;
    }
    let places = [top().join("src").join(piece), top().join("tools/reference").join(piece), top().join(piece)];
    let found = places.iter().find(|place| place.exists());
    Some(found.unwrap_or(&places[2]).clone())
}

fn defines(text: &str, name: &str) -> bool {
    let is_end = |rest: &str| !rest.starts_with(|letter: char| letter.is_ascii_alphanumeric() || letter == '_');
    ["fn ", "struct ", "enum ", "trait ", "const ", "type ", "mod ", "static ", "def "].iter().any(|kind| {
        let definition = format!("{kind}{name}");
        text.match_indices(&definition).any(|(at, _)| is_end(&text[at + definition.len()..]))
    })
}

/// All of a file, or of the files below a folder.
fn all_text(path: &Path) -> String {
    if path.is_file() {
        return fs::read_to_string(path).unwrap();
    }
    let entries = fs::read_dir(path).into_iter().flatten().flatten();
    entries.map(|entry| all_text(&entry.path())).collect::<Vec<_>>().join("\n")
}

/// Where a module's code is.
fn module(name: &str) -> PathBuf {
    let folder = top().join("src").join(name);
    if folder.is_dir() { folder } else { folder.with_extension("rs") }
}

/// What is cited and not there.
fn missing(text: &str) -> Vec<String> {
    let mut missing = Vec::new();
    let mut file: Option<PathBuf> = None;
    let everything = all_text(&top().join("src"));
    for (piece, follows) in cited(text) {
        let is_name = piece.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '_');
        if follows
            && is_name
            && let Some(file) = file.take().filter(|file| file.is_file())
        {
            if !defines(&all_text(&file), &piece) {
                missing.push(format!("{piece} in {}", file.display()));
            }
            continue;
        }
        file = path(&piece);
        if file.as_ref().is_some_and(|file| !file.exists()) {
            missing.push(piece.clone());
        }
        let code = piece.chars().all(|letter| letter.is_ascii_alphanumeric() || "_:".contains(letter));
        if let Some((first, rest)) = piece.split_once("::").filter(|_| code) {
            let name = rest.rsplit("::").next().unwrap_or(rest);
            let is_type = first.starts_with(|letter: char| letter.is_ascii_uppercase());
            let is_there = if is_type { defines(&everything, name) } else { defines(&all_text(&module(first)), name) };
            if !is_there {
                missing.push(piece);
            }
        }
    }
    missing
}

#[test]
fn what_developers_md_names_is_there() {
    let text = fs::read_to_string(top().join("DEVELOPERS.md")).unwrap();
    let names = cited(&text).into_iter().filter(|(_, follows)| *follows).count();
    assert!(names > 20, "the walk of one note is there: {names} names");
    assert_eq!(missing(&text), Vec::<String>::new());
}

#[test]
fn what_is_not_there_is_noticed() {
    let text =
        "`judge/pitch.rs` `judge`, `judge/pitch.rs` `no_such`, `judge/none.rs`, `book::NONE`, `Book::none`, `a / b`";
    let there = missing(text);
    let pitch = format!("no_such in {}", top().join("src/judge/pitch.rs").display());
    assert_eq!(there, [pitch.as_str(), "judge/none.rs", "book::NONE", "Book::none"]);
}
