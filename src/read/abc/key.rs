//! Keys and modes. ABC 2.1, 3.1.14.

use super::cursor::Cursor;
use super::{heads, wrong};
use crate::read::ReadError;
use crate::theory::{Key, Letter, Mode};

/// A key signature as ABC has it: any letter may have any alteration.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Signature {
    /// The key: the usual signature that differs in the fewest letters, if this is none.
    pub(super) key: Key,
    /// What the signature does to each letter from C to B.
    pub(super) alters: [i8; 7],
}

impl Default for Signature {
    fn default() -> Signature {
        Signature { key: Key::major(0), alters: [0; 7] }
    }
}

impl Signature {
    /// What it does to a letter.
    pub(super) fn alter(&self, letter: Letter) -> i8 {
        self.alters[letter as usize]
    }

    /// Whether it is one of the usual fifteen.
    pub(super) fn is_usual(&self) -> bool {
        Letter::ALL.iter().all(|&letter| self.key.alter(letter) == self.alter(letter))
    }

    fn of(key: Key) -> Signature {
        Signature { key, alters: Letter::ALL.map(|letter| key.alter(letter)) }
    }

    /// With the usual signature that is nearest.
    fn nearest(alters: [i8; 7], mode: Mode) -> Signature {
        let differing = |fifths: &i8| {
            let key = Key { fifths: *fifths, mode };
            let count = Letter::ALL.iter().filter(|&&letter| key.alter(letter) != alters[letter as usize]).count();
            (count, fifths.unsigned_abs())
        };
        let fifths = (-7..=7).min_by_key(differing).unwrap_or(0);
        Signature { key: Key { fifths, mode }, alters }
    }
}

/// The modes: first three letters, fifths from the major key of the same tonic, what they are called here.
const MODES: [(&str, i32, Mode); 9] = [
    ("maj", 0, Mode::Major),
    ("ion", 0, Mode::Major),
    ("min", -3, Mode::Minor),
    ("aeo", -3, Mode::Minor),
    ("mix", -1, Mode::Major),
    ("dor", -2, Mode::Major),
    ("phr", -4, Mode::Major),
    ("lyd", 1, Mode::Major),
    ("loc", -5, Mode::Major),
];

/// What is said after the tonic.
enum Said {
    Mode(i32, Mode),
    /// All accidentals follow.
    Explicit,
}

/// The mode that a word names.
fn mode(word: &str) -> Option<Said> {
    match word {
        "" => return Some(Said::Mode(0, Mode::Major)),
        // "Capitalisation is ignored for the modes": M is minor, too, and is found so.
        "m" | "M" => return Some(Said::Mode(-3, Mode::Minor)),
        _ => {}
    }
    let start = word.get(..3)?.to_ascii_lowercase();
    if word.eq_ignore_ascii_case("exp") || start == "exp" && "explicit".starts_with(&word.to_ascii_lowercase()) {
        return Some(Said::Explicit);
    }
    MODES.iter().find(|(name, ..)| *name == start).map(|&(_, fifths, mode)| Said::Mode(fifths, mode))
}

/// Reads the key at the start of a `K:` field; what follows is left (clef and other properties). `None` if the field
/// says nothing about the key.
pub(super) fn read(cursor: &mut Cursor<'_>) -> Result<Option<Signature>, ReadError> {
    cursor.skip_space();
    let at = cursor.at();
    let word = cursor.rest().split(|c: char| c.is_whitespace()).next().unwrap_or_default();
    match word {
        "none" => {
            cursor.take_while(|c| !c.is_whitespace());
            return Ok(Some(Signature::default()));
        }
        // Highland pipes: without a signature, or with F♯ C♯ G♮.
        "HP" | "Hp" => {
            cursor.take_while(|c| !c.is_whitespace());
            return Ok(Some(Signature::of(Key::major(if word == "HP" { 0 } else { 2 }))));
        }
        "exp" => {
            cursor.take_while(|c| !c.is_whitespace());
            let alters = accidentals(cursor, [0; 7])?;
            return Ok(Some(Signature::nearest(alters, Mode::Major)));
        }
        _ => {}
    }
    let Some(tonic) = cursor.peek().filter(|c| c.is_ascii_uppercase()) else {
        let is_note =
            word.chars().next().is_some_and(|c| matches!(c, 'a'..='g')) && !word.contains('=') && word.len() < 3;
        return match is_note {
            true => Err(no_key(at, word)),
            false => Ok(None),
        };
    };
    let letter = Letter::from_char(tonic).ok_or_else(|| no_key(at, word))?;
    cursor.next();
    let alter = match cursor.peek() {
        Some('#' | '♯') => 1,
        Some('b' | '♭') => -1,
        _ => 0,
    };
    if alter != 0 {
        cursor.next();
    }
    let said = mode_after(cursor).ok_or_else(|| no_key(at, word))?;
    let (steps, mode) = match said {
        Said::Mode(steps, mode) => (steps, mode),
        Said::Explicit => return Ok(Some(Signature::nearest(accidentals(cursor, [0; 7])?, Mode::Major))),
    };
    let fifths = line_of_fifths(letter) + 7 * alter + steps;
    if fifths.abs() > 7 {
        return Err(wrong(
            at,
            "this key would need more than seven sharps or flats: write the key of the same sound that has fewer",
        ));
    }
    let plain = Signature::of(Key { fifths: fifths as i8, mode });
    let alters = accidentals(cursor, plain.alters)?;
    Ok(Some(if alters == plain.alters { plain } else { Signature::nearest(alters, mode) }))
}

/// The mode, directly after the tonic or as the next word; a word that is no mode is left for the properties.
fn mode_after(cursor: &mut Cursor<'_>) -> Option<Said> {
    let attached = cursor.take_while(|c| c.is_ascii_alphabetic());
    if !attached.is_empty() {
        return mode(attached);
    }
    let mut ahead = cursor.clone();
    ahead.skip_space();
    let word = ahead.take_while(|c| c.is_ascii_alphabetic());
    let is_property = ahead.peek() == Some('=');
    match mode(word).filter(|_| !word.is_empty() && !is_property) {
        Some(said) => {
            *cursor = ahead;
            Some(said)
        }
        None => mode(""),
    }
}

/// Accidentals with their letters: ` ^f =c`, also directly after the mode.
fn accidentals(cursor: &mut Cursor<'_>, mut alters: [i8; 7]) -> Result<[i8; 7], ReadError> {
    loop {
        let mut ahead = cursor.clone();
        ahead.skip_space();
        if !ahead.peek().is_some_and(|c| matches!(c, '^' | '_' | '=')) {
            return Ok(alters);
        }
        // The case of the letter only tells on which line it is printed.
        let head = heads::head(&mut ahead)?;
        alters[head.letter as usize] = head.accidental.unwrap_or(0);
        *cursor = ahead;
    }
}

/// C is 0, G is 1, F is -1.
fn line_of_fifths(letter: Letter) -> i32 {
    [0, 2, 4, -1, 1, 3, 5][letter as usize]
}

fn no_key(at: super::lines::At, word: &str) -> ReadError {
    let word = crate::read::error::shown(word);
    wrong(
        at,
        format!(
            "\"{word}\" is no key: write a capital letter A to G, # or b where it has one, then the mode, as in K:Bb or K:Gm or K:D dor"
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::super::lines::At;
    use super::*;

    fn key(text: &str) -> (Signature, String) {
        let mut cursor = Cursor::new(text, At { line: 1, column: 1 });
        let signature = read(&mut cursor).unwrap().unwrap();
        (signature, cursor.rest().trim().to_owned())
    }

    /// ABC 2.1, 3.1.14: its table of keys and modes, whole.
    #[test]
    fn the_table_of_the_standard() {
        let table = "C# A#m G#Mix D#Dor E#Phr F#Lyd B#Loc\nF# D#m C#Mix G#Dor A#Phr BLyd E#Loc\nB G#m F#Mix C#Dor D#Phr ELyd A#Loc\n\
            E C#m BMix F#Dor G#Phr ALyd D#Loc\nA F#m EMix BDor C#Phr DLyd G#Loc\nD Bm AMix EDor F#Phr GLyd C#Loc\nG Em DMix ADor BPhr CLyd F#Loc\n\
            C Am GMix DDor EPhr FLyd BLoc\nF Dm CMix GDor APhr BbLyd ELoc\nBb Gm FMix CDor DPhr EbLyd ALoc\nEb Cm BbMix FDor GPhr AbLyd DLoc\n\
            Ab Fm EbMix BbDor CPhr DbLyd GLoc\nDb Bbm AbMix EbDor FPhr GbLyd CLoc\nGb Ebm DbMix AbDor BbPhr CbLyd FLoc\n\
            Cb Abm GbMix DbDor EbPhr FbLyd BbLoc";
        for (row, fifths) in table.lines().zip((-7..=7).rev()) {
            for (column, name) in row.split_whitespace().enumerate() {
                let mode = if column == 1 { Mode::Minor } else { Mode::Major };
                assert_eq!(key(name).0, Signature::of(Key { fifths, mode }), "{name}");
            }
        }
    }

    /// ABC 2.1, 3.1.14: F# mixolydian, F#Mix and F#MIX are the same; all of the first examples have no signature.
    #[test]
    fn ways_to_write_a_mode() {
        for name in ["F# mixolydian", "F#Mix", "F#MIX", "F♯ mixolydian"] {
            assert_eq!(key(name).0.key, Key::major(5), "{name}");
        }
        for name in [
            "C major",
            "A minor",
            "C ionian",
            "A aeolian",
            "G mixolydian",
            "D dorian",
            "E phrygian",
            "F lydian",
            "B locrian",
        ] {
            assert_eq!(key(name).0.key.fifths, 0, "{name}");
        }
    }

    /// ABC 2.1, 3.1.14: `K:D Phr ^f` is `K:D exp _b _e ^f`; `K:D =c` is D mixolydian; the pipes.
    #[test]
    fn other_signatures() {
        let phrygian = key("D Phr ^f").0;
        assert_eq!(phrygian.alters, key("D exp _b _e ^f").0.alters);
        assert_eq!((phrygian.alters, phrygian.key), ([0, 0, -1, 1, 0, 0, -1], Key::major(-2)));
        assert!(!phrygian.is_usual());
        for name in ["D maj =c", "D =c", "D=c", "DMix"] {
            assert_eq!(key(name).0, Signature::of(Key::major(1)), "{name}");
        }
        assert_eq!(key("Hp").0.key, Key::major(2));
        assert_eq!(key("HP").0, Signature::default());
        assert_eq!(key("none").0, Signature::default());
    }

    #[test]
    fn properties_are_left() {
        for (text, fifths, rest) in [
            ("Am transpose=-2", 0, "transpose=-2"),
            ("G clef=bass", 1, "clef=bass"),
            ("Bb bass", -2, "bass"),
            ("D m=d", 2, "m=d"),
            ("D m", -1, ""),
            ("E phr -8va", 0, "-8va"),
        ] {
            let (signature, left) = key(text);
            assert_eq!((signature.key.fifths, left.as_str()), (fifths, rest), "{text}");
        }
        for text in ["", "clef=alto", "bass", "perc stafflines=1", "alto"] {
            assert_eq!(read(&mut Cursor::new(text, At { line: 1, column: 1 })).unwrap(), None, "{text}");
        }
    }

    #[test]
    fn what_is_no_key_is_refused() {
        for text in ["H", "Es", "c", "bb", "Gx", "G# major", "D ^"] {
            let error = read(&mut Cursor::new(text, At { line: 4, column: 3 })).unwrap_err().to_string();
            assert!(error.contains("line 4, column"), "{text}: {error}");
        }
    }
}
