//! A fingering as a small drawing: black and white, so that it prints anywhere.
//!
//! Circles are fingers, read from the mouthpiece: filled is down, half filled half down, empty up. Boxes are keys that
//! are pressed, with their names. A circle with a letter is a thumb hole or a key that most notes need: filled or empty
//! as well. A slide is a line with seven places.

use crate::instrument::{Hand, Hole, Press, SideKey};
use std::fmt::Write;

/// Height of a drawing, and its middle, in the units of its view box.
const HEIGHT: f64 = 30.0;
const MIDDLE: f64 = HEIGHT / 2.0;
/// Radius of a finger, and from one finger to the next.
const RADIUS: f64 = 8.5;
const STEP: f64 = 21.0;
/// Width of a letter of the labels.
const LETTER: f64 = 6.4;

/// The drawing as inline SVG; `None` where there is nothing to draw (bars and keyboard keys).
pub(super) fn svg(press: &Press) -> Option<String> {
    drawn(press).map(|(drawing, _)| drawing)
}

/// The same, and how many times wider than high it is.
pub(super) fn drawn(press: &Press) -> Option<(String, f64)> {
    let mut drawing = Drawing { body: String::new(), x: 2.0 };
    match press {
        Press::Valves { thumb, down, .. } => {
            if *thumb {
                drawing.finger("T", Hole::Covered);
                drawing.x += 5.0;
            }
            let valves = down.iter().copied().max().unwrap_or(3).max(3);
            for valve in 1..=valves {
                let hole = if down.contains(&valve) { Hole::Covered } else { Hole::Open };
                drawing.finger(&valve.to_string(), hole);
            }
        }
        Press::Slide { position, .. } => drawing.slide(*position),
        Press::Holes(holes) => {
            drawing.hand(&holes.left);
            drawing.line();
            drawing.hand(&holes.right);
        }
        Press::Bar { .. } | Press::Key { .. } => return None,
    }
    let width = drawing.x + 2.0;
    Some((drawing.finish(&press.words()), width / HEIGHT))
}

struct Drawing {
    body: String,
    /// Where the next thing begins.
    x: f64,
}

impl Drawing {
    fn hand(&mut self, hand: &Hand) {
        self.keys(&hand.thumb);
        for (hole, number) in hand.fingers.iter().zip(["1", "2", "3"]) {
            self.finger(number, *hole);
        }
        self.keys(&hand.keys);
    }

    fn keys(&mut self, keys: &[SideKey]) {
        for key in keys {
            if key.always {
                self.finger(&key.label, if key.pressed { Hole::Covered } else { Hole::Open });
                self.x += 3.0;
            } else if key.pressed {
                self.key(&key.label);
            }
        }
    }

    fn finger(&mut self, label: &str, hole: Hole) {
        let center = self.x + RADIUS + 1.0;
        let fill = if hole == Hole::Covered { "#000" } else { "#fff" };
        self.put(format_args!("<circle cx=\"{center:.1}\" cy=\"{MIDDLE}\" r=\"{RADIUS}\" fill=\"{fill}\"/>"));
        if hole == Hole::Half {
            let (top, bottom) = (MIDDLE - RADIUS, MIDDLE + RADIUS);
            self.put(format_args!(
                "<path d=\"M{center:.1} {top}A{RADIUS} {RADIUS} 0 0 0 {center:.1} {bottom}z\" fill=\"#000\"/>"
            ));
        } else {
            let ink = if hole == Hole::Covered { "#fff" } else { "#000" };
            self.label(label, center, ink);
        }
        self.x += STEP;
    }

    /// A pressed key with its name.
    fn key(&mut self, label: &str) {
        let width = LETTER * label.chars().count() as f64 + 8.0;
        let left = self.x + 1.0;
        let (top, height) = (MIDDLE - 8.0, 16.0);
        self.put(format_args!(
            "<rect x=\"{left:.1}\" y=\"{top}\" width=\"{width:.1}\" height=\"{height}\" rx=\"3\" fill=\"#000\"/>"
        ));
        self.label(label, left + width / 2.0, "#fff");
        self.x += width + 4.0;
    }

    /// Between the hands.
    fn line(&mut self) {
        let x = self.x + 3.0;
        let (top, bottom) = (MIDDLE - 12.0, MIDDLE + 12.0);
        self.put(format_args!("<path d=\"M{x:.1} {top}V{bottom}\"/>"));
        self.x += 7.0;
    }

    fn slide(&mut self, position: u8) {
        let first = self.x + RADIUS + 1.0;
        let last = first + 6.0 * STEP;
        self.put(format_args!("<path d=\"M{first:.1} {MIDDLE}H{last:.1}\"/>"));
        for place in 1..=7 {
            self.finger(&place.to_string(), if place == position { Hole::Covered } else { Hole::Open });
        }
    }

    fn label(&mut self, text: &str, x: f64, ink: &str) {
        let (text, y) = (escaped(text), MIDDLE + 4.0);
        self.put(format_args!("<text x=\"{x:.1}\" y=\"{y}\" fill=\"{ink}\" stroke=\"none\">{text}</text>"));
    }

    fn put(&mut self, what: std::fmt::Arguments) {
        // Writing to a string cannot fail.
        let _ = self.body.write_fmt(what);
    }

    fn finish(self, words: &str) -> String {
        let width = self.x + 2.0;
        let words = escaped(words);
        format!(
            "<svg class=\"fingering\" viewBox=\"0 0 {width:.0} {HEIGHT}\" style=\"--w:{width:.0}\" stroke=\"#000\" stroke-width=\"1.4\" \
             role=\"img\" aria-label=\"{words}\">{}</svg>",
            self.body
        )
    }
}

/// For text and attributes.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::catalogue;

    fn drawn(id: &str, written: i16) -> Option<String> {
        svg(&catalogue().get(id).unwrap().ways(written)[0].press)
    }

    /// Filled and empty circles, counted by hand: the flute's F♯4 is thumb, 123 | --3 and the E♭ key.
    #[test]
    fn fingers_and_keys() {
        let flute = drawn("flute", 66).unwrap();
        let count = |what: &str| flute.matches(what).count();
        assert_eq!((count("<circle"), count("r=\"8.5\" fill=\"#000\""), count("<rect")), (7, 5, 1));
        assert!(flute.contains(">E♭</text>"));
        assert!(flute.contains("aria-label=\"left thumb; left 1 2 3; right 3; right little finger, E♭ key\""));
        // The oboe's D5 has a half hole; the trombone seven places, one of them filled.
        assert_eq!(drawn("oboe", 74).unwrap().matches("<path").count(), 2);
        let trombone = drawn("trombone", 60).unwrap();
        assert_eq!(trombone.matches("<circle").count(), 7);
        assert_eq!(trombone.matches("fill=\"#000\"").count(), 7, "one place and the labels of six");
        assert_eq!(drawn("bells", 66), None);
    }

    /// Well-formed, whatever a user's own chart calls its keys.
    #[test]
    fn labels_are_escaped() {
        let key = SideKey { label: "<b> & \"".into(), finger: "<i>".into(), pressed: true, always: false };
        let hand = Hand { keys: vec![key], ..Hand::default() };
        let drawing = svg(&Press::Holes(crate::instrument::Holes { left: hand, ..Default::default() })).unwrap();
        assert!(roxmltree::Document::parse(&drawing).is_ok(), "{drawing}");
        assert!(drawing.contains("&lt;b&gt; &amp; &quot;"));
    }
}
