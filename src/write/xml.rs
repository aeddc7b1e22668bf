//! XML text: elements in order, escaped and indented.

use std::fmt::{Display, Write};

/// A document being written.
pub(super) struct Xml {
    text: String,
    open: Vec<&'static str>,
}

impl Xml {
    pub(super) fn new() -> Xml {
        Xml { text: "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n".to_owned(), open: Vec::new() }
    }

    /// An element with elements inside, written by `inside`.
    pub(super) fn element(&mut self, name: &'static str, attributes: &[(&str, &str)], inside: impl FnOnce(&mut Xml)) {
        self.tag(name, attributes);
        self.text.push_str(">\n");
        self.open.push(name);
        inside(self);
        self.open.pop();
        self.indent();
        self.close(name);
    }

    /// An element with text.
    pub(super) fn text(&mut self, name: &'static str, attributes: &[(&str, &str)], text: impl Display) {
        self.tag(name, attributes);
        self.text.push('>');
        escape(&text.to_string(), &mut self.text);
        self.close(name);
    }

    /// An element with nothing inside.
    pub(super) fn empty(&mut self, name: &'static str, attributes: &[(&str, &str)]) {
        self.tag(name, attributes);
        self.text.push_str("/>\n");
    }

    pub(super) fn finish(self) -> String {
        self.text
    }

    fn tag(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.indent();
        self.text.push('<');
        self.text.push_str(name);
        for (key, value) in attributes {
            // Writing to a string cannot fail.
            let _ = write!(self.text, " {key}=\"");
            escape(value, &mut self.text);
            self.text.push('"');
        }
    }

    fn close(&mut self, name: &str) {
        let _ = writeln!(self.text, "</{name}>");
    }

    fn indent(&mut self) {
        self.text.extend(std::iter::repeat_n("  ", self.open.len()));
    }
}

/// Characters that XML 1.0 (§2.2 Char) does not allow are left out.
fn escape(text: &str, into: &mut String) {
    for letter in text.chars() {
        match letter {
            '<' => into.push_str("&lt;"),
            '>' => into.push_str("&gt;"),
            '&' => into.push_str("&amp;"),
            '"' => into.push_str("&quot;"),
            '\t' | '\n' | '\r' => into.push(' '),
            '\u{0}'..='\u{1F}' | '\u{FFFE}' | '\u{FFFF}' => {}
            _ => into.push(letter),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// XML 1.0, §2.4: `<` and `&` are escaped; by roxmltree it is read back as it was.
    #[test]
    fn any_text_is_read_back() {
        let text = "\"Tom & Jerry\" <b> 'x' ]]> é ♭ \u{1F3BA}\u{1}\u{FFFE}";
        let mut xml = Xml::new();
        xml.element("a", &[("b", text)], |xml| xml.text("c", &[], text));
        let text = text.trim_end_matches(['\u{1}', '\u{FFFE}']);
        let written = xml.finish();
        let document = roxmltree::Document::parse(&written).unwrap();
        assert_eq!(document.root_element().attribute("b"), Some(text));
        assert_eq!(document.descendants().find(|node| node.has_tag_name("c")).unwrap().text(), Some(text));
    }
}
