//! How large the letters of the card can be: one size for all players, the largest at which everything has room.
//!
//! A page cannot measure itself without a program, so widths of letters are estimated, rather too wide than too narrow.
//! Lengths are hundredths of the page's width (`--u` in `card.css`) or, where they are called so, sizes of the letters.

use crate::show::wrapped;

/// What is left between header and footer, on a screen of 16 to 9 and on 4 to 3 or paper: see `--room`.
pub(super) const WIDE_ROOM: f64 = 40.0;
pub(super) const TALL_ROOM: f64 = 55.0;
/// The players have this width, with this gap between two columns.
const WIDTH: f64 = 61.0;
const GAP: f64 = 1.0;
/// Key and changed note need this part of the room at least, and a group so much around it.
const LEAST: f64 = 0.16;
const AROUND: f64 = 0.6;
/// The largest letters, the smallest, and what lies between two that are tried.
const LARGEST: f64 = 3.6;
const SMALLEST: f64 = 0.9;
const STEP: f64 = 0.05;
const MOST_COLUMNS: usize = 4;
/// In sizes of the letters: a letter's width, a line, a drawing's height, what is between drawing and text, and below a
/// player.
const LETTER: f64 = 0.57;
const LINE: f64 = 1.15;
pub(super) const DRAWING: f64 = 1.7;
const BESIDE: f64 = 0.5;
const BELOW: f64 = 0.4;

/// What stands at the place of a player.
pub(super) struct Block {
    pub(super) names: String,
    /// Of each fingering the width of its drawing by its height, and the text beside it.
    pub(super) ways: Vec<(Option<f64>, String)>,
}

/// How a card is set.
#[derive(Debug, PartialEq)]
pub(super) struct Fit {
    /// The size of the letters.
    pub(super) letters: f64,
    /// Of each group: columns of players, and the height.
    pub(super) groups: Vec<(usize, f64)>,
}

impl Fit {
    /// The largest letters at which these groups have room; the smallest where none has.
    pub(super) fn new(groups: &[Vec<Block>], room: f64) -> Fit {
        let sizes = ((LARGEST - SMALLEST) / STEP).round() as u32;
        let tried = (0..=sizes).map(|size| Fit::with(groups, LARGEST - STEP * f64::from(size), room));
        let mut last = Fit { letters: SMALLEST, groups: Vec::new() };
        for fit in tried {
            let has_room = fit.height() <= room;
            last = fit;
            if has_room {
                break;
            }
        }
        last
    }

    fn with(groups: &[Vec<Block>], letters: f64, room: f64) -> Fit {
        let set = |blocks: &Vec<Block>| {
            let columns =
                (1..=MOST_COLUMNS.min(blocks.len().max(1))).map(|columns| (columns, height(blocks, columns, letters)));
            // Of equals the fewer columns.
            columns.min_by(|one, other| one.1.total_cmp(&other.1)).unwrap_or((1, 0.0))
        };
        let around = |(columns, height): (usize, f64)| (columns, (height * letters).max(LEAST * room) + AROUND);
        Fit { letters, groups: groups.iter().map(|blocks| around(set(blocks))).collect() }
    }

    /// Of the lowest group.
    pub(super) fn lowest(&self) -> f64 {
        self.groups.iter().map(|(_, height)| *height).fold(f64::INFINITY, f64::min)
    }

    /// Of all groups.
    pub(super) fn height(&self) -> f64 {
        self.groups.iter().map(|(_, height)| height).sum()
    }
}

/// The height of a group in so many columns, in sizes of the letters; infinite where they are too narrow.
fn height(blocks: &[Block], columns: usize, letters: f64) -> f64 {
    let width = ((WIDTH - GAP * (columns - 1) as f64) / columns as f64) / letters;
    let rows = blocks.chunks(columns);
    rows.map(|row| row.iter().map(|block| block.height(width)).fold(0.0, f64::max)).sum()
}

impl Block {
    /// In sizes of the letters, as `width` is.
    fn height(&self, width: f64) -> f64 {
        let ways: f64 = self.ways.iter().map(|(drawing, text)| way(*drawing, text, width)).sum();
        lines(&self.names, width) * LINE + ways + BELOW
    }
}

fn way(drawing: Option<f64>, text: &str, width: f64) -> f64 {
    let drawn = drawing.map_or(0.0, |drawing| drawing * DRAWING);
    let beside = width - drawn - if drawing.is_some() { BESIDE } else { 0.0 };
    let text = if text.is_empty() { 0.0 } else { lines(text, beside) * LINE };
    let drawing = match drawing {
        Some(_) if drawn > width => f64::INFINITY,
        Some(_) => DRAWING,
        None => 0.0,
    };
    drawing.max(text)
}

/// Lines of a text; infinite where a word is too long.
fn lines(text: &str, width: f64) -> f64 {
    let letters = (width / LETTER).max(0.0) as usize;
    if text.split(' ').any(|word| word.chars().count() > letters) {
        return f64::INFINITY;
    }
    wrapped(text, letters, "").len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(count: usize) -> Vec<Block> {
        (0..count).map(|_| Block { names: "flute, piccolo".into(), ways: vec![(Some(6.0), String::new())] }).collect()
    }

    #[test]
    fn letters_are_as_large_as_the_room_allows() {
        assert_eq!(Fit::new(&[group(1)], TALL_ROOM).letters, LARGEST);
        let all = [group(7), group(3), group(1), group(1)];
        let (tall, wide) = (Fit::new(&all, TALL_ROOM), Fit::new(&all, WIDE_ROOM));
        assert!(tall.height() <= TALL_ROOM && wide.height() <= WIDE_ROOM);
        assert!(tall.letters > wide.letters && wide.letters > 1.5, "{tall:?} {wide:?}");
        // A step more would not have room.
        assert!(Fit::with(&all, tall.letters + STEP, TALL_ROOM).height() > TALL_ROOM);
    }

    #[test]
    fn a_drawing_is_never_wider_than_its_column() {
        let block = || Block { names: "x".into(), ways: vec![(Some(9.0), "open".into())] };
        let fit = Fit::new(&[(0..12).map(|_| block()).collect()], WIDE_ROOM);
        let (columns, _) = fit.groups[0];
        assert!(9.0 * DRAWING * fit.letters <= WIDTH / columns as f64, "{fit:?}");
    }

    #[test]
    fn too_much_for_a_card_gets_the_smallest_letters() {
        let fit = Fit::new(&[group(400)], WIDE_ROOM);
        assert!((fit.letters - SMALLEST).abs() < 1e-9 && fit.groups[0].1.is_finite());
    }
}
