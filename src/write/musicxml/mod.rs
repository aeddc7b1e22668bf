//! MusicXML 4.0, partwise.
//!
//! In: parts with marks. Out: the text of a score. Element names and their order are those of the MusicXML 4.0 reference
//! and its XSD (W3C Music Notation Community Group); [`measure`] writes a measure, [`note`] a note, [`around`] what stands
//! between them.
//!
//! Written for people: types, dots, tuplets and beams by the beat, accidentals where one must be printed. Our marks are a
//! cautionary `accidental` in parentheses, and a `lyric` named `release` below the end of a note: every program gives a lyric
//! room and sets all of them on one line.

mod around;
mod measure;
mod note;

use super::page::Page;
use super::spans::Spans;
use super::xml::Xml;
use super::{MarkedPart, WriteError};
use crate::exercise::Quarters;
use measure::PartWriter;

/// The finest division of a quarter: what the reader takes.
const MOST_DIVISIONS: i64 = 1_000_000;

/// Writes parts as one MusicXML 4.0 score, with the title where there is one. Reading it back gives the same notes; see
/// [`super::held_over`] for the one exception.
pub fn musicxml(title: Option<&str>, parts: &[MarkedPart<'_>]) -> Result<String, WriteError> {
    let spans: Vec<Spans> = parts.iter().map(|marked| Spans::new(marked.part)).collect();
    let pages: Vec<Page<'_>> = parts.iter().zip(&spans).map(|(marked, spans)| Page::new(marked.part, spans)).collect();
    let mut xml = Xml::new();
    let mut outcome = Ok(());
    xml.element("score-partwise", &[("version", "4.0")], |xml| {
        if let Some(title) = title {
            xml.element("work", &[], |xml| xml.text("work-title", &[], title));
        }
        xml.element("identification", &[], |xml| {
            xml.element("encoding", &[], |xml| {
                xml.text("software", &[], concat!("restward ", env!("CARGO_PKG_VERSION")));
                xml.empty("supports", &[("element", "accidental"), ("type", "yes")]);
                xml.empty("supports", &[("element", "beam"), ("type", "yes")]);
            });
        });
        xml.element("part-list", &[], |xml| {
            for (number, marked) in (1..).zip(parts) {
                xml.element("score-part", &[("id", &format!("P{number}"))], |xml| {
                    xml.text("part-name", &[], &marked.part.name.name);
                });
            }
        });
        for (number, (marked, page)) in (1..).zip(parts.iter().zip(&pages)) {
            let id = format!("P{number}");
            xml.element("part", &[("id", &id)], |xml| {
                let prefix = match marked.prefix.as_str() {
                    "" if parts.len() > 1 => format!("{id}-"),
                    own => own.to_owned(),
                };
                let written = divisions(page)
                    .ok_or_else(|| WriteError::TooFine { part: marked.part.name.id.clone() })
                    .and_then(|divisions| PartWriter::new(marked, page, divisions, prefix).write(xml));
                if outcome.is_ok() {
                    outcome = written;
                }
            });
        }
    });
    outcome.map(|()| xml.finish())
}

/// How many divisions of a quarter make every value of the part a whole number; `None` if there are too many.
fn divisions(page: &Page<'_>) -> Option<i64> {
    let values = page.measures.iter().flat_map(|measure| {
        let symbols = measure.symbols.iter().map(|symbol| symbol.value);
        symbols.chain(measure.tempos.iter().map(|&(at, _)| at))
    });
    values.map(Quarters::denominator).try_fold(1, |all, denominator| {
        let common = all / greatest_common_divisor(all, denominator) * denominator;
        (common <= MOST_DIVISIONS).then_some(common)
    })
}

fn greatest_common_divisor(mut a: i64, mut b: i64) -> i64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}
