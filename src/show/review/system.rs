//! Where the notes of an engraved system stand, and the system as a picture that many takes share.
//!
//! In: SVG of our engraver, whose notes have the identifiers of [`crate::write`]. Out: places in tenths of a millimetre.

use roxmltree::{Document, Node};

/// A notehead.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Head {
    /// Its identifier, without the part's prefix: `n4`, `n4-2`.
    pub(super) id: String,
    /// Its left edge and its middle.
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
}

/// One system of a staff.
#[derive(Debug, Clone, Default)]
pub(super) struct System {
    pub(super) width: f64,
    pub(super) height: f64,
    /// A staff space.
    pub(super) space: f64,
    /// The right end of its staff.
    pub(super) end: f64,
    pub(super) heads: Vec<Head>,
    /// Left edges of all that begins or closes something: notes, rests, barlines; from left to right.
    pub(super) stops: Vec<f64>,
    /// The picture, to be put into a page once, and without the fonts in it.
    pub(super) picture: String,
    /// The fonts that its words of notes need, the same in all systems.
    pub(super) font: Option<String>,
}

/// Begins the style that embeds a font.
const FONT: &str = "<style type=\"text/css\">@font-face";

impl System {
    /// Reads a system; `None` where the picture is not as our engraver makes it. `prefix` stands before the identifiers.
    pub(super) fn read(svg: &str, prefix: &str) -> Option<System> {
        let (picture, font) = without_font(svg);
        let document = Document::parse(&picture).ok()?;
        let outer = document.root_element();
        let [_, _, width, height] = numbers(outer.attribute("viewBox")?)[..] else { return None };
        let inner = outer.children().find(|node| node.has_tag_name("svg") || node.tag_name().name() == "svg")?;
        let [_, _, inner_width, _] = numbers(inner.attribute("viewBox")?)[..] else { return None };
        let margin = inner.children().find(|node| node.attribute("class") == Some("page-margin"))?;
        let (left, top) = translation(margin)?;
        let scale = width / inner_width;
        let (x, y) = (|x: f64| (x + left) * scale, |y: f64| (y + top) * scale);
        let mut system = System { width, height, font, ..System::default() };
        let mut lines: Vec<f64> = Vec::new();
        for node in margin.descendants() {
            let is = |class: &str| node.attribute("class") == Some(class);
            if is("staff") {
                for path in node.children().filter(|child| child.tag_name().name() == "path") {
                    let [_, line, right, _] = numbers(path.attribute("d")?)[..] else { continue };
                    lines.push(y(line));
                    system.end = system.end.max(x(right));
                }
            } else if is("barLine") {
                let paths = node.children().filter(|child| child.tag_name().name() == "path");
                system.stops.extend(paths.filter_map(|path| Some(x(*numbers(path.attribute("d")?).first()?))));
            } else if is("rest") {
                system.stops.extend(glyph(node).map(|(place, _)| x(place.0)));
            } else if is("note")
                && let Some(head) = node.children().find(|child| child.attribute("class") == Some("notehead"))
                && let Some((place, name)) = glyph(head)
            {
                system.stops.push(x(place.0));
                if let Some(id) = node.attribute("id").and_then(|id| id.strip_prefix(prefix)) {
                    let width = width_of(name);
                    system.heads.push(Head { id: id.to_owned(), x: x(place.0), y: y(place.1), width });
                }
            }
        }
        lines.sort_by(f64::total_cmp);
        lines.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        system.space = lines.windows(2).map(|pair| pair[1] - pair[0]).next()?;
        system.heads.iter_mut().for_each(|head| head.width *= system.space);
        system.stops.sort_by(f64::total_cmp);
        system.picture = sized(&picture, width, height)?;
        Some(system)
    }

    /// The first thing to the right of a head: where its value ends, if nothing is tied to it.
    pub(super) fn after(&self, head: &Head) -> f64 {
        self.stops.iter().copied().find(|&stop| stop > head.x + head.width).unwrap_or(self.end)
    }
}

/// The widths of noteheads in staff spaces: SMuFL's Bravura (`bravura_metadata.json`, glyphBBoxes), which others are
/// near: double whole 2.5, whole 1.69, others 1.18.
fn width_of(glyph: &str) -> f64 {
    match glyph.split('-').next() {
        Some("#E0A0" | "#E0A1") => 2.5,
        Some("#E0A2") => 1.69,
        _ => 1.18,
    }
}

fn glyph<'a>(node: Node<'a, '_>) -> Option<((f64, f64), &'a str)> {
    let shape = node.descendants().find(|child| child.tag_name().name() == "use")?;
    Some((translation(shape)?, shape.attribute("href").unwrap_or_default()))
}

/// `translate(12, 34) ..`.
fn translation(node: Node<'_, '_>) -> Option<(f64, f64)> {
    let inside = node.attribute("transform")?.split_once("translate(")?.1.split_once(')')?.0;
    let [x, y] = numbers(inside)[..] else { return None };
    Some((x, y))
}

fn numbers(text: &str) -> Vec<f64> {
    let pieces = text.split(|letter: char| !(letter.is_ascii_digit() || "+-.".contains(letter)));
    pieces.filter_map(|piece| piece.parse().ok()).collect()
}

/// The picture, and the fonts that were in it.
fn without_font(svg: &str) -> (String, Option<String>) {
    const END: &str = "</style>";
    let found = svg.find(FONT).and_then(|begin| Some((begin, begin + svg[begin..].find(END)? + END.len())));
    match found {
        None => (svg.to_owned(), None),
        Some((begin, end)) => {
            let inside = svg[begin..end].trim_start_matches("<style type=\"text/css\">").trim_end_matches(END);
            ([&svg[..begin], &svg[end..]].concat(), Some(inside.to_owned()))
        }
    }
}

/// Its size in its own units instead of millimetres, as whoever shows it says how large it is.
fn sized(picture: &str, width: f64, height: f64) -> Option<String> {
    let (head, rest) = picture.split_once('>')?;
    let own =
        |name: &str| Some(format!(" {name}=\"{}\"", head.split_once(&format!(" {name}=\""))?.1.split('"').next()?));
    let head = head.replace(&own("width")?, &format!(" width=\"{width}\""));
    let head = head.replace(&own("height")?, &format!(" height=\"{height}\""));
    Some(format!("{head}>{rest}"))
}
