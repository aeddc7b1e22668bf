//! How a written note is played on an instrument: what a sheet shows beside it.

use super::woodwind::{Hand, Hole, Holes, NamedHoles, SideKey, charts};
use super::{Brass, Family, Fingering, Instrument, Lengthening};

/// More alternates than this confuse a beginner.
const MOST_ALTERNATES: usize = 2;

/// One way to play a note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// What this way is for or called, where it needs a name: `F horn`, `thumb B♭`.
    pub name: Option<String>,
    /// A usual way; else an alternate.
    pub usual: bool,
    /// What the fingers do.
    pub press: Press,
}

/// What the fingers do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Press {
    /// Valves.
    Valves {
        /// The thumb valve of a horn is pressed.
        thumb: bool,
        /// Which valves are down, 1 to 4.
        down: &'static [u8],
        /// Which harmonic of the tube sounds: the partial.
        partial: u8,
    },
    /// A slide.
    Slide {
        /// 1 (in) to 7 (out).
        position: u8,
        /// Which harmonic sounds.
        partial: u8,
    },
    /// Holes and keys of a woodwind.
    Holes(Holes),
    /// A bar to strike; `raised` is the back row, where sharps and flats are.
    Bar {
        /// In the back row.
        raised: bool,
    },
    /// A key to press, white or black.
    Key {
        /// Black.
        black: bool,
    },
}

impl Instrument {
    /// The ways to play a written note (a MIDI number), the usual ones first; none where the instrument does not have
    /// the note, or no chart of the first years shows it.
    pub fn ways(&self, written: i16) -> Vec<Way> {
        let (low, high) = self.full_range;
        if !(low.midi()..=high.midi()).contains(&written) {
            return Vec::new();
        }
        let raised = [1, 3, 6, 8, 10].contains(&written.rem_euclid(12));
        match (self.family, &self.brass) {
            (_, Some(brass)) => brass_ways(brass, written),
            (Family::Mallets, _) => vec![plain(Press::Bar { raised })],
            (Family::Keyboard, _) => vec![plain(Press::Key { black: raised })],
            _ => {
                let ways = charts().ways(&self.id, written).iter().take(1 + MOST_ALTERNATES).enumerate();
                let way = |(place, way): (usize, &NamedHoles)| Way {
                    name: way.name.clone(),
                    usual: place == 0,
                    press: Press::Holes(way.holes.clone()),
                };
                ways.map(way).collect()
            }
        }
    }

    /// A sentence that belongs under this instrument's fingerings.
    pub fn fingering_remark(&self) -> Option<&'static str> {
        charts().remark(&self.id)
    }
}

fn plain(press: Press) -> Way {
    Way { name: None, usual: true, press }
}

fn brass_ways(brass: &Brass, written: i16) -> Vec<Way> {
    // Two sides, for single and double horns: alternates would be too much.
    if let (Some(side), Some(main)) = (brass.on_thumb_side(written), brass.preferred(written)) {
        let named = |name: &str, press| Way { name: Some(name.into()), usual: true, press };
        return vec![named("F horn", valves(main, false)), named("B♭ side", valves(side, true))];
    }
    let mut ways = Vec::new();
    for (place, fingering) in brass.ways(written).enumerate() {
        let usual = place == 0;
        match brass.lengthened_by {
            Lengthening::Slide => {
                let press = Press::Slide { position: fingering.semitones + 1, partial: fingering.harmonic };
                ways.push(Way { name: None, usual, press });
            }
            Lengthening::Valves => {
                ways.push(Way { name: None, usual, press: valves(fingering, false) });
                let other: Option<(&'static [u8], Option<String>)> = match fingering.semitones {
                    3 => Some((&[3], None)),
                    5 if brass.fourth_valve => Some((&[4], Some("4 valves".into()))),
                    6 if brass.fourth_valve => Some((&[2, 4], Some("4 valves".into()))),
                    _ => None,
                };
                if let Some((down, name)) = other {
                    let press = Press::Valves { thumb: false, down, partial: fingering.harmonic };
                    ways.push(Way { name, usual: false, press });
                }
            }
        }
    }
    ways.truncate(1 + MOST_ALTERNATES);
    ways
}

/// The usual valves for 0 to 6 semitones (see the names of [`Brass::name`]).
fn valves(fingering: Fingering, thumb: bool) -> Press {
    const DOWN: [&[u8]; 7] = [&[], &[2], &[1], &[1, 2], &[2, 3], &[1, 3], &[1, 2, 3]];
    let down = DOWN[usize::from(fingering.semitones).min(DOWN.len() - 1)];
    Press::Valves { thumb, down, partial: fingering.harmonic }
}

impl Press {
    /// In a few signs: `1-2`, `T 2-3`, `3rd position`, `T 123 | 1-- E♭`.
    pub fn short(&self) -> String {
        match self {
            Press::Valves { thumb, down, .. } => {
                let numbers: Vec<String> = down.iter().map(u8::to_string).collect();
                let valves = if numbers.is_empty() { "open".into() } else { numbers.join("-") };
                if *thumb { format!("T {valves}") } else { valves }
            }
            Press::Slide { position, .. } => format!("{} position", ordinal(*position)),
            Press::Holes(holes) => format!("{} | {}", hand(&holes.left), hand(&holes.right)),
            Press::Bar { raised: true } => "back row".into(),
            Press::Bar { raised: false } => "front row".into(),
            Press::Key { black: true } => "black key".into(),
            Press::Key { black: false } => "white key".into(),
        }
    }

    /// In words: `left thumb, left 1 2 3, right 1, right little finger, E♭ key`.
    pub fn words(&self) -> String {
        match self {
            Press::Valves { thumb, down, .. } => {
                let numbers: Vec<String> = down.iter().map(u8::to_string).collect();
                let thumb = if *thumb { "thumb valve and " } else { "" };
                match numbers.as_slice() {
                    [] if thumb.is_empty() => "no valve".into(),
                    [] => "thumb valve only".into(),
                    [one] => format!("{thumb}valve {one}"),
                    [most @ .., last] => format!("{thumb}valves {} and {last}", most.join(", ")),
                }
            }
            Press::Slide { position, partial } => {
                format!("slide in {} position, {} partial", ordinal(*position), ordinal(*partial))
            }
            Press::Holes(holes) => {
                let mut parts = hand_in_words("left", &holes.left);
                parts.extend(hand_in_words("right", &holes.right));
                if parts.is_empty() { "all fingers up".into() } else { parts.join("; ") }
            }
            Press::Bar { raised: true } => "a bar of the back row".into(),
            Press::Bar { raised: false } => "a bar of the front row".into(),
            Press::Key { black: true } => "a black key".into(),
            Press::Key { black: false } => "a white key".into(),
        }
    }
}

fn hand(hand: &Hand) -> String {
    let pressed = |keys: &[SideKey]| keys.iter().filter(|key| key.pressed).map(|key| key.label.clone()).collect();
    let mut words: Vec<String> = pressed(&hand.thumb);
    let sign = |(hole, finger): (&Hole, char)| match hole {
        Hole::Open => '-',
        Hole::Covered => finger,
        Hole::Half => '½',
    };
    words.push(hand.fingers.iter().zip(['1', '2', '3']).map(sign).collect());
    let keys: Vec<String> = pressed(&hand.keys);
    words.extend(keys);
    words.join(" ")
}

fn hand_in_words(side: &str, hand: &Hand) -> Vec<String> {
    let pressed = |keys: &[SideKey]| -> Vec<String> {
        keys.iter().filter(|key| key.pressed).map(|key| key.finger.clone()).collect()
    };
    let mut parts = pressed(&hand.thumb);
    let fingers: Vec<&str> = hand
        .fingers
        .iter()
        .zip([["1", "half of 1"], ["2", "half of 2"], ["3", "half of 3"]])
        .filter_map(|(hole, [whole, half])| match hole {
            Hole::Open => None,
            Hole::Covered => Some(whole),
            Hole::Half => Some(half),
        })
        .collect();
    if !fingers.is_empty() {
        parts.push(format!("{side} {}", fingers.join(" ")));
    }
    parts.extend(pressed(&hand.keys));
    parts
}

fn ordinal(number: u8) -> String {
    let ending = match (number % 10, number % 100) {
        (1, hundreds) if hundreds != 11 => "st",
        (2, hundreds) if hundreds != 12 => "nd",
        (3, hundreds) if hundreds != 13 => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}
