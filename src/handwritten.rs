//! TOML that people write: rules, rubrics, ids. What is wrong with it is told in words, with its line.

use serde::de::DeserializeOwned;

/// Why a file is not as it should be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub(crate) struct Misread {
    /// Where, from 1.
    pub(crate) line: usize,
    /// What is wrong and what would be right.
    pub(crate) what: String,
}

/// Reads such a file.
pub(crate) fn read<T: DeserializeOwned>(text: &str) -> Result<T, Misread> {
    toml::from_str(text).map_err(|error| {
        let place = error.span().map_or(0, |span| span.start);
        Misread { line: line_at(text, place), what: in_words(error.message(), setting_at(text, place)) }
    })
}

/// The line, from 1, of a byte.
pub(crate) fn line_at(text: &str, place: usize) -> usize {
    1 + text.bytes().take(place).filter(|&byte| byte == b'\n').count()
}

/// The line, from 1, that sets a key outside of tables; 1 if none does.
pub(crate) fn line_of(text: &str, key: &str) -> usize {
    let sets = |line: &str| line.split_once('=').is_some_and(|(name, _)| name.trim() == key);
    1 + text.lines().position(sets).unwrap_or_default()
}

/// What is set on the line of a byte.
fn setting_at(text: &str, place: usize) -> Option<&str> {
    let begin = text.get(..place)?.rfind('\n').map_or(0, |end| end + 1);
    let (name, _) = text.get(begin..)?.lines().next()?.split_once('=')?;
    Some(name.trim()).filter(|name| !name.is_empty())
}

/// What the parser says, without the words of programmers.
fn in_words(message: &str, setting: Option<&str>) -> String {
    let message = message.replace('\n', ", ");
    let setting = setting.unwrap_or("the value");
    if let Some(name) = message.strip_prefix("missing field ") {
        return format!("{name} is missing: add a line with it");
    }
    let (found, wanted) = message.split_once(", expected ").unwrap_or((&message, ""));
    let one_of = wanted.strip_prefix("one of ").unwrap_or(wanted);
    if let Some(name) = found.strip_prefix("unknown field ") {
        let name = name.split(',').next().unwrap_or(name);
        return format!("there is nothing called {name} here; what can stand here is {one_of}");
    }
    if let Some(name) = found.strip_prefix("unknown variant ") {
        return format!("{setting} cannot be {name}; write one of {one_of}");
    }
    let value = found.strip_prefix("invalid type: ").or_else(|| found.strip_prefix("invalid value: "));
    if let Some(value) = value {
        let wanted = match wanted {
            "u8" => "a whole number, 0 to 255",
            "u16" | "u32" | "u64" | "usize" => "a whole number, 0 or more",
            "f64" => "a number",
            "a string" | "string" => "text between quotation marks",
            "a boolean" => "true or false",
            "a sequence" => "a list between [ and ]",
            _ => "something else: look at the example",
        };
        let shown =
            ["string ", "integer ", "floating point ", "boolean "].iter().find_map(|kind| value.strip_prefix(kind));
        return format!("{setting} must be {wanted}, not {}", shown.unwrap_or("this"));
    }
    format!(
        "this cannot be read ({message}): every line is a name, =, and a number, true, false, or text in quotation marks"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Settings {
        days: u32,
        name: String,
    }

    #[test]
    fn what_is_wrong_is_told_in_words_with_its_line() {
        let said = |text: &str| read::<Settings>(text).unwrap_err().to_string();
        assert_eq!(read("days = 3\nname = \"x\""), Ok(Settings { days: 3, name: "x".into() }));
        assert_eq!(
            said("name = \"x\"\ndays = \"two weeks\""),
            "line 2: days must be a whole number, 0 or more, not \"two weeks\""
        );
        assert_eq!(said("\n\ndays = -3\nname = \"x\""), "line 3: days must be a whole number, 0 or more, not `-3`");
        assert_eq!(said("days = 3\nname = 4"), "line 2: name must be text between quotation marks, not `4`");
        assert_eq!(
            said("days = 3\nweeks = 4"),
            "line 2: there is nothing called `weeks` here; what can stand here is `days` or `name`"
        );
        assert_eq!(said("days = 3"), "line 1: `name` is missing: add a line with it");
        for broken in ["days = ", "days = 3\ndays = 4", "days 3", "\u{0}", "name = \"x"] {
            let said = said(broken);
            assert!(said.starts_with("line ") && !said.contains('\n'), "{said}");
            assert!(!said.contains("u32"), "{said}");
        }
    }
}
