//! What the marks mean, each drawn at a note.

use super::draw::{draw, framed};
use super::{Mark, Shape};
use crate::show::review::system::{Head, System};

/// A mark and what it means.
pub(in crate::show::review) struct Sample {
    /// SVG.
    pub(in crate::show::review) drawing: String,
    pub(in crate::show::review) meaning: &'static str,
}

const SAMPLES: [(Shape, &str, &str); 9] = [
    (Shape::Ring, "1 ♭", "another flat, natural or sharp was played: this sign belongs to the note"),
    (Shape::Ring, "2 8↓", "the right note, to be played an octave lower (↓) or higher (↑)"),
    (Shape::TwoRings, "3 B♭↓", "brass: the right fingering, but another note of it spoke"),
    (Shape::Diamond, "4 G", "another note was played: this one stands there"),
    (Shape::Box, "5", "not played"),
    (
        Shape::Line { held: 0.55, hook: true },
        "6 →4",
        "let go where the line turns to dots; the note lasts to its hook, the rest on count 4",
    ),
    (Shape::Line { held: 1.3, hook: true }, "7 →4", "held beyond the hook, into the rest"),
    (Shape::Line { held: 0.4, hook: false }, "8", "cut short: to be kept going until the next note"),
    (
        Shape::Arrow { from_left: true },
        "9 on 3",
        "begun before the beat (arrow from the left) or after it (from the right)",
    ),
];

/// All marks.
pub(in crate::show::review) fn legend() -> Vec<Sample> {
    let sample = |(shape, label, meaning): (Shape, &str, &'static str)| {
        let head = Head { id: "n0".into(), x: 50.0, y: 36.0, width: 21.0 };
        let is_time = matches!(shape, Shape::Line { .. } | Shape::Arrow { .. });
        let system = System {
            width: 200.0,
            height: if is_time { 56.0 } else { 72.0 },
            space: 18.0,
            end: 190.0,
            heads: vec![head],
            stops: vec![50.0, 150.0],
            ..System::default()
        };
        let mark = Mark { flag: 0, shape, id: "n0".into(), label: label.into() };
        let mut overlay = draw(std::slice::from_ref(&system), &[mark], 0).pop().unwrap_or_default();
        overlay.body = overlay.body.replace(" id=\"t0-f0\"", "");
        let note = "<g class=\"sample\"><path d=\"M20 36H180\"/><ellipse class=\"filled\" cx=\"60.5\" cy=\"36\" rx=\"11\" ry=\"8\"/></g>";
        Sample { drawing: framed(system.width, system.height, &overlay, note), meaning }
    };
    SAMPLES.into_iter().map(sample).collect()
}
