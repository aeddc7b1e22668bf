//! ABC against the crate `abc-parser` 0.4: random music in the notation that it reads, both understanding the same letters,
//! octaves, lengths, chords and rests. It gives syntax; how long a note in a group or a broken rhythm is, follows here from ABC 2.1, 4.4
//! and 4.13.

use crate::score::read;
use abc_parser::abc;
use abc_parser::datatypes::{MusicSymbol, Rest, TuneLine};
use proptest::prelude::*;

/// A note or rest: letters above C0 of its highest tone, length in units.
type Sound = (Option<i32>, f64);

/// Lengths as both can say them.
fn length() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => Just(String::new()),
        2 => (1u8..=15).prop_map(|n| n.to_string()),
        2 => (1u8..=9, 1u8..=8).prop_map(|(top, bottom)| format!("{top}/{bottom}")),
        1 => (2u8..=8).prop_map(|n| format!("/{n}")),
        1 => (1usize..=3).prop_map(|n| "/".repeat(n)),
    ]
}

fn pitch() -> impl Strategy<Value = String> {
    ("[A-Ga-g]", prop_oneof![3 => Just(""), 1 => Just(","), 1 => Just("'"), 1 => Just(",,"), 1 => Just(",'")])
        .prop_map(|(letter, marks)| letter + marks)
}

fn note() -> impl Strategy<Value = String> {
    (pitch(), length()).prop_map(|(pitch, length)| pitch + &length)
}

/// A note, rest or chord.
fn sound() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => note(),
        1 => ("[zx]", length()).prop_map(|(rest, length)| rest + &length),
        1 => (prop::collection::vec(pitch(), 1..4), length()).prop_map(|(tones, length)| format!("[{}]{length}", tones.concat())),
    ]
}

fn construct() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => sound(),
        1 => (sound(), "[<>]{1,3}", sound())
            .prop_filter("one kind of sign", |(_, signs, _)| signs.chars().all(|c| signs.starts_with(c)))
            .prop_map(|(a, signs, b)| a + &signs + &b),
        1 => (2usize..=9).prop_flat_map(|count| {
            prop::collection::vec(note(), count).prop_map(move |notes| format!("({count}{}", notes.concat()))
        }),
        1 => prop::collection::vec(sound(), 3).prop_map(|sounds| format!("(3:2:3{}", sounds.concat())),
        1 => prop::collection::vec(note(), 2..4).prop_map(|notes| format!("({})", notes.concat())),
        1 => (pitch(), note()).prop_map(|(grace, note)| format!("{{{grace}}}{note}")),
    ]
}

fn music() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::collection::vec(construct(), 1..6), 1..5).prop_map(|measures| {
        measures.into_iter().map(|measure| measure.join(" ")).collect::<Vec<_>>().join(" | ") + "|]\n"
    })
}

/// The crate keeps lengths to itself, but shows them.
fn shown(length: &impl std::fmt::Debug) -> f64 {
    let text = format!("{length:?}");
    let digits: String = text.chars().filter(|c| c.is_ascii_digit() || *c == '.').collect();
    if digits.is_empty() { 1.0 } else { digits.parse().unwrap() }
}

/// Letters above C0; its octave 1 is that of middle C.
fn place(symbol: &MusicSymbol) -> Option<i32> {
    let MusicSymbol::Note { note, octave, .. } = symbol else { return None };
    let step = "CDEFGAB".find(char::from(*note)).unwrap() as i32;
    Some(7 * (i32::from(*octave) + 3) + step)
}

/// What the crate's symbols say, groups and broken rhythms worked out.
struct Theirs {
    sounds: Vec<Sound>,
    group: (f64, u32),
}

impl Theirs {
    fn take(&mut self, symbol: &MusicSymbol, factor: f64) {
        match symbol {
            MusicSymbol::Note { length, .. } => self.sound(place(symbol), shown(length) * factor),
            MusicSymbol::Chord { notes, length, .. } => {
                self.sound(notes.iter().filter_map(place).max(), shown(length) * factor);
            }
            MusicSymbol::Rest(Rest::Note(length) | Rest::NoteHidden(length)) => {
                self.sound(None, shown(length) * factor)
            }
            // 4.13, in 4/4.
            MusicSymbol::Tuplet { p, q, r } => {
                let time_of = q.unwrap_or(if matches!(p, 2 | 4 | 8) { 3 } else { 2 });
                self.group = (f64::from(time_of) / f64::from(*p), r.unwrap_or(*p));
            }
            // 4.4: the one loses what the other gains.
            MusicSymbol::BrokenRhythm { rhythm, before, after } => {
                let parts = 0.5_f64.powi(rhythm.len() as i32);
                let (first, second) = if rhythm.starts_with('>') { (2.0 - parts, parts) } else { (parts, 2.0 - parts) };
                before.iter().for_each(|symbol| self.take(symbol, first));
                after.iter().for_each(|symbol| self.take(symbol, second));
            }
            _ => {}
        }
    }

    fn sound(&mut self, place: Option<i32>, length: f64) {
        let (factor, left) = self.group;
        self.group.1 = left.saturating_sub(1);
        self.sounds.push((place, if left > 0 { length * factor } else { length }));
    }
}

fn theirs(text: &str) -> Vec<Sound> {
    let tune = abc::tune(text).unwrap();
    let mut theirs = Theirs { sounds: Vec::new(), group: (1.0, 0) };
    for line in tune.body.unwrap().lines {
        if let TuneLine::Music(line) = line {
            line.symbols.iter().for_each(|symbol| theirs.take(symbol, 1.0));
        }
    }
    theirs.sounds
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_same_music(music in music()) {
        // One note more: a tune without any is refused. Without key and accidentals a pitch is its letter and octave.
        let text = format!("X:1\nT:Line\nM:4/4\nL:1/4\nK:C\n{music}C4|\n");
        let part = read(&text).unwrap().part;
        let expected = theirs(&text);
        let mut onset = 0.0;
        let mut notes = part.notes.iter();
        for (place, length) in expected {
            if let Some(place) = place {
                let note = notes.next().unwrap();
                prop_assert_eq!(note.written.diatonic(), place, "{}", text);
                prop_assert!((note.onset.to_f64() - onset).abs() < 1e-3, "{}", text);
                prop_assert!((note.duration.to_f64() - length).abs() < 1e-3, "{}", text);
            }
            onset += length;
        }
        prop_assert!(notes.next().is_none(), "{}", text);
    }
}
