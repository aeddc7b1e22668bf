//! Properties in the fields `K:` and `V:`: `clef=bass`, `name="Alto Sax"`, `bass`.

use super::cursor::Cursor;
use super::lines::At;
use super::strings::decoded;

/// One property.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Property {
    /// Empty where a word stands alone.
    pub(super) name: String,
    pub(super) value: String,
    pub(super) at: At,
}

/// All that follows. A value between quotation marks may hold spaces, and the next property may follow it directly.
pub(super) fn all(cursor: &mut Cursor<'_>) -> Vec<Property> {
    let mut found = Vec::new();
    loop {
        cursor.skip_space();
        if cursor.peek().is_none() {
            return found;
        }
        let at = cursor.at();
        let word = cursor.take_while(|c| !c.is_whitespace() && c != '=' && c != '"').to_owned();
        let is_named = cursor.take('=');
        let value = if cursor.take('"') {
            // Without its second quotation mark a value goes to the end.
            decoded(cursor.take_until('"').unwrap_or_else(|| cursor.take_while(|_| true)))
        } else if is_named {
            cursor.take_while(|c| !c.is_whitespace()).to_owned()
        } else {
            String::new()
        };
        found.push(if is_named {
            Property { name: word, value, at }
        } else {
            Property { name: String::new(), value: word + &value, at }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ABC 2.1, 7 and 13.4: its examples, one of them without a space after a quotation mark.
    #[test]
    fn values_and_words() {
        let read = |text: &str| {
            let all = all(&mut Cursor::new(text, At { line: 1, column: 1 }));
            all.into_iter().map(|p| format!("{}:{}@{}", p.name, p.value, p.at.column)).collect::<Vec<_>>()
        };
        assert_eq!(
            read("clef=treble-8 name=\"Tenore I\" snm=\"T.I\""),
            ["clef:treble-8@1", "name:Tenore I@15", "snm:T.I@31"]
        );
        assert_eq!(read("name=\"Soprano\"sname=\"A\""), ["name:Soprano@1", "sname:A@15"]);
        assert_eq!(read("perc  stafflines=1"), [":perc@1", "stafflines:1@7"]);
        assert_eq!(read("name=\"open = \""), ["name:open =@1"]);
        assert_eq!(read("name=\"open"), ["name:open@1"]);
        assert_eq!(read("= \"\" x"), [":@1", ":@3", ":x@6"]);
    }
}
