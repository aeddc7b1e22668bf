//! The marks of a take over the systems of its staff. Lengths in tenths of a millimetre.

use super::lanes::Lanes;
use super::{Mark, Shape};
use crate::show::review::system::{Head, System};
use std::fmt::Write;

/// Height of letters and of a line of them, and the width of a letter.
const LETTERS: f64 = 29.0;
const LINE: f64 = 33.0;
const LETTER: f64 = 17.0;
/// From the staff to the first line of words above.
const ABOVE: f64 = 8.0;
/// A line for time below: from the staff to its stroke, to its words, to the next one.
const STROKE: f64 = 16.0;
const WORDS: f64 = 36.0;
const TIME_LINE: f64 = 50.0;

/// What is drawn over a system.
#[derive(Debug, Default, Clone)]
pub(in crate::show::review) struct Overlay {
    /// Room above and below the system.
    pub(in crate::show::review) above: f64,
    pub(in crate::show::review) below: f64,
    /// SVG; its only words are numbers, note names and counts of ours.
    pub(in crate::show::review) body: String,
}

/// A mark at a head of one system.
struct Placed<'a> {
    mark: &'a Mark,
    head: &'a Head,
    /// Of a line: where it ends here, and how much of it is drawn out.
    end: f64,
    held: f64,
    is_last: bool,
    /// Which piece of the mark it is.
    piece: usize,
}

/// For each system what is drawn over it. `take` tells the identifiers of takes on one page apart.
pub(in crate::show::review) fn draw(systems: &[System], marks: &[Mark], take: i64) -> Vec<Overlay> {
    let mut placed: Vec<Vec<Placed<'_>>> = systems.iter().map(|_| Vec::new()).collect();
    for mark in marks {
        for (system, piece) in pieces(systems, mark) {
            placed[system].push(piece);
        }
    }
    let drawn = |(system, mut placed): (&System, Vec<Placed<'_>>)| {
        placed.sort_by(|a, b| a.head.x.total_cmp(&b.head.x));
        over(system, &placed, take)
    };
    systems.iter().zip(placed).map(drawn).collect()
}

/// Where a mark is drawn: a line in each system that has a shape of its note, all else at the first one.
fn pieces<'a>(systems: &'a [System], mark: &'a Mark) -> Vec<(usize, Placed<'a>)> {
    let tied = format!("{}-", mark.id);
    let is_its = |head: &&Head| head.id == mark.id || head.id.starts_with(&tied);
    let mut pieces = Vec::new();
    for (place, system) in systems.iter().enumerate() {
        let mut heads = system.heads.iter().filter(is_its);
        let Some(head) = heads.next() else { continue };
        let end = system.after(heads.next_back().unwrap_or(head)) - 0.35 * system.space;
        pieces.push((place, Placed { mark, head, end, held: 0.0, is_last: false, piece: pieces.len() }));
        if !matches!(mark.shape, Shape::Line { .. }) {
            break;
        }
    }
    if let Shape::Line { held, .. } = mark.shape {
        let length: f64 = pieces.iter().map(|(_, piece)| piece.end - piece.head.x).sum();
        let mut left = held * length;
        for (_, piece) in &mut pieces {
            let own = piece.end - piece.head.x;
            piece.held = (left / own).max(0.0);
            left -= own;
        }
    }
    if let Some((_, last)) = pieces.last_mut() {
        last.is_last = true;
    }
    pieces
}

fn over(system: &System, placed: &[Placed<'_>], take: i64) -> Overlay {
    let (mut above, mut below) = (Lanes::default(), Lanes::default());
    let mut body = String::new();
    for piece in placed {
        let shape = match piece.mark.shape {
            Shape::Line { hook, .. } => line(system, piece, hook, &mut below),
            Shape::Arrow { from_left } => arrow(system, piece, from_left, &mut below),
            _ => at_head(system, piece, &mut above),
        };
        let part = if piece.piece > 0 { format!("-{}", piece.piece + 1) } else { String::new() };
        // Writing to a string cannot fail.
        let _ = write!(body, "<g id=\"t{take}-f{}{part}\">{shape}</g>", piece.mark.flag);
    }
    let room = |lanes: &Lanes, line: f64, first: f64| {
        if lanes.count() == 0 { 0.0 } else { first + lanes.count() as f64 * line }
    };
    Overlay { above: room(&above, LINE, ABOVE), below: room(&below, TIME_LINE, 4.0), body }
}

fn width(label: &str) -> f64 {
    LETTER * label.chars().count() as f64
}

/// What stands around a head, its words above the staff.
fn at_head(system: &System, piece: &Placed<'_>, lanes: &mut Lanes) -> String {
    let Placed { mark, head, .. } = piece;
    let (x, y, space) = (head.x + head.width / 2.0, head.y, system.space);
    let (rx, ry) = (head.width / 2.0 + 0.55 * space, 0.95 * space);
    let ring =
        |more: f64| format!("<ellipse cx=\"{x:.1}\" cy=\"{y:.1}\" rx=\"{:.1}\" ry=\"{:.1}\"/>", rx + more, ry + more);
    let mut drawn = match mark.shape {
        Shape::TwoRings => ring(0.0) + &ring(0.35 * space),
        Shape::Diamond => {
            let (w, h) = (rx + 0.45 * space, ry + 0.45 * space);
            format!("<path d=\"M{:.1} {y:.1}L{x:.1} {:.1}L{:.1} {y:.1}L{x:.1} {:.1}Z\"/>", x - w, y - h, x + w, y + h)
        }
        Shape::Box => format!(
            "<rect class=\"dashed\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            x - rx,
            y - ry,
            2.0 * rx,
            2.0 * ry
        ),
        Shape::Question => String::new(),
        _ => ring(0.0),
    };
    if !mark.label.is_empty() {
        let half = width(&mark.label) / 2.0;
        let lane = lanes.place(x - half, x + half);
        let base = -(ABOVE + lane as f64 * LINE);
        let _ = write!(
            drawn,
            "<path class=\"leader\" d=\"M{x:.1} {:.1}V{:.1}\"/><text x=\"{x:.1}\" y=\"{base:.1}\">{}</text>",
            base + 5.0,
            y - ry - 2.0,
            mark.label
        );
    }
    drawn
}

/// As long as the note lasts: drawn out while it was held, dotted where it was let go too soon, beyond its hook where too
/// late.
fn line(system: &System, piece: &Placed<'_>, hook: bool, lanes: &mut Lanes) -> String {
    let Placed { mark, head, end, held, is_last, .. } = piece;
    let (left, end) = (head.x, end.max(head.x + head.width));
    let reached =
        if *held > 1.0 && !is_last { end } else { (left + held * (end - left)).min(system.end + system.space) };
    let lane = lanes.place(left, end.max(reached).max(left + width(&mark.label)));
    let y = system.height + STROKE + lane as f64 * TIME_LINE;
    let mut drawn = format!("<path class=\"held\" d=\"M{left:.1} {y:.1}H{reached:.1}\"/>");
    if reached < end {
        let _ = write!(drawn, "<path class=\"dotted\" d=\"M{reached:.1} {y:.1}H{end:.1}\"/>");
    }
    if hook && *is_last {
        let _ = write!(drawn, "<path class=\"held\" d=\"M{end:.1} {:.1}V{:.1}\"/>", y - 14.0, y + 8.0);
    }
    if piece.piece == 0 {
        let _ = write!(drawn, "<text class=\"left\" x=\"{left:.1}\" y=\"{:.1}\">{}</text>", y + WORDS, mark.label);
    }
    drawn
}

/// From where the note was played to where it begins.
fn arrow(system: &System, piece: &Placed<'_>, from_left: bool, lanes: &mut Lanes) -> String {
    let Placed { mark, head, .. } = piece;
    let x = head.x + head.width / 2.0;
    let reach = 2.0 * system.space;
    let half = width(&mark.label).max(2.0 * reach) / 2.0;
    let lane = lanes.place(x - half, x + half);
    let y = system.height + STROKE + lane as f64 * TIME_LINE;
    let side = if from_left { -1.0 } else { 1.0 };
    format!(
        "<path d=\"M{x:.1} {:.1}V{:.1}\"/><path d=\"M{:.1} {y:.1}H{:.1}\"/><path class=\"filled\" d=\"M{x:.1} {y:.1}l{:.1} -9v18Z\"/>\
         <text x=\"{x:.1}\" y=\"{:.1}\">{}</text>",
        y - 14.0,
        y + 8.0,
        x + side * reach,
        x + side * 14.0,
        side * 17.0,
        y + WORDS,
        mark.label
    )
}

/// A system with its marks, for the legend as well: `inside` stands below the marks.
pub(super) fn framed(width: f64, height: f64, overlay: &Overlay, inside: &str) -> String {
    format!(
        "<svg class=\"marks\" viewBox=\"0 {:.1} {width} {:.1}\" font-size=\"{LETTERS}\" aria-hidden=\"true\">{inside}{}</svg>",
        -overlay.above,
        height + overlay.above + overlay.below,
        overlay.body
    )
}

impl Overlay {
    /// The picture with this identifier, and these marks over it.
    pub(in crate::show::review) fn picture(&self, system: &System, id: &str) -> String {
        framed(system.width, system.height, self, &format!("<use href=\"#{id}\"/>"))
    }
}
