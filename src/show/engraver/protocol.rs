//! What `restward` and `restward-engrave` say to each other: JSON, one object a line; a request on stdin, an answer on
//! stdout.
//!
//! ```text
//! {"parts":["<score-partwise ..>"],"format":"svg","paper":"a4","scale":100,"systems":true,"title":false}
//! {"svg":[["<svg ..>","<svg ..>"]]}
//! {"pdf":"255044462d.."}
//! {"error":"part 1: .."}
//! ```

use serde::{Deserialize, Serialize};

/// What is to be engraved.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Request {
    /// Scores in MusicXML, each on pages of its own.
    pub parts: Vec<String>,
    /// What to make of them.
    #[serde(default)]
    pub format: Format,
    /// The page.
    #[serde(default)]
    pub paper: Paper,
    /// Size of the notation in percent, 25 to 400: at 100 a staff is 7.2 mm high.
    #[serde(default = "full_size")]
    pub scale: u16,
    /// SVG only: each system by itself, as high as it is, so that the page that holds it may break between any two.
    #[serde(default)]
    pub systems: bool,
    /// The title above the first system.
    #[serde(default)]
    pub title: bool,
}

impl Request {
    /// SVG of these parts, system by system, for a page with texts of its own.
    pub fn systems(parts: Vec<String>, paper: Paper) -> Request {
        Request { parts, format: Format::Svg, paper, scale: full_size(), systems: true, title: false }
    }

    /// A PDF of these parts, with their titles.
    pub fn pdf(parts: Vec<String>, paper: Paper) -> Request {
        Request { parts, format: Format::Pdf, paper, scale: full_size(), systems: false, title: true }
    }
}

fn full_size() -> u16 {
    100
}

/// What is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the names of the formats
pub enum Format {
    #[default]
    Svg,
    Pdf,
}

/// The paper, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 inches (ANSI Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height in tenths of a millimetre.
    pub fn size(self) -> (u32, u32) {
        match self {
            Paper::A4 => (2100, 2970),
            Paper::Letter => (2159, 2794),
        }
    }
}

/// What became of a request.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Answer {
    /// For each part its pages or systems.
    Svg(Vec<Vec<String>>),
    /// One document, as hexadecimal digits.
    Pdf(String),
    /// What went wrong, and in which part.
    Error(String),
}

impl Answer {
    /// The answer that holds a document.
    pub fn pdf(document: &[u8]) -> Answer {
        Answer::Pdf(document.iter().map(|byte| format!("{byte:02x}")).collect())
    }
}

/// The bytes that hexadecimal digits stand for; `None` where they are none.
pub(super) fn bytes(digits: &str) -> Option<Vec<u8>> {
    let pairs = digits.as_bytes().chunks(2);
    pairs.map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_document_goes_through_as_digits() {
        let document: Vec<u8> = (0..=255).collect();
        let Answer::Pdf(digits) = Answer::pdf(&document) else { panic!("not a document") };
        assert_eq!(bytes(&digits), Some(document));
        assert_eq!(bytes("2x"), None);
    }

    /// The lines at the head of this file.
    #[test]
    fn lines_as_documented() {
        let request: Request = serde_json::from_str(r#"{"parts":["<score-partwise/>"]}"#).unwrap();
        assert_eq!((request.format, request.paper, request.scale), (Format::Svg, Paper::A4, 100));
        let answer = serde_json::to_string(&Answer::Svg(vec![vec!["<svg/>".into()]])).unwrap();
        assert_eq!(answer, r#"{"svg":[["<svg/>"]]}"#);
        assert_eq!(serde_json::to_string(&Answer::Error("part 1".into())).unwrap(), r#"{"error":"part 1"}"#);
    }
}
