//! The band's key family: the concert keys it plays, against which a note is "changed".

use super::{Key, KeyError};
use serde::Deserialize;

/// The built-in family, replaceable by `--family`.
const BUILT_IN: &str = include_str!("../../config/keys.toml");

#[derive(Deserialize)]
struct File {
    family: Vec<String>,
}

/// The family of `config/keys.toml`: F, B♭, E♭, A♭ major.
pub fn default_family() -> Vec<Key> {
    // The built-in file is read by a test, so that it cannot fail here.
    let names = toml::from_str::<File>(BUILT_IN).map(|file| file.family).unwrap_or_default();
    parse_family(&names).unwrap_or_default()
}

/// Reads the names of a family's concert keys; a key named twice counts once.
pub fn parse_family<S: AsRef<str>>(names: &[S]) -> Result<Vec<Key>, KeyError> {
    let mut family = Vec::new();
    for name in names {
        let key = Key::parse(name.as_ref())?;
        if !family.contains(&key) {
            family.push(key);
        }
    }
    Ok(family)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_family_is_read() {
        assert_eq!(default_family(), [-1, -2, -3, -4].map(Key::major));
    }

    #[test]
    fn a_key_named_twice_counts_once() {
        assert_eq!(parse_family(&["F", "F major", "d"]), Ok(vec![Key::major(-1), Key::minor(-1)]));
        assert!(parse_family(&["F", "x"]).is_err());
    }
}
