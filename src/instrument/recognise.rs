//! From the names that scores use to instruments: whole words, in any language the catalogue lists.

/// What an instrument is called in scores, made ready for comparing.
#[derive(Debug, Clone, Default)]
pub(super) struct Names {
    called: Vec<Vec<String>>,
    never: Vec<Vec<String>>,
    sounds: Vec<String>,
}

impl Names {
    /// From the lists of the catalogue file.
    pub(super) fn new(called: &[String], never: &[String], sounds: Vec<String>) -> Names {
        let words = |list: &[String]| list.iter().map(|name| words(name)).collect();
        Names { called: words(called), never: words(never), sounds }
    }

    /// How well the words of a hint name this instrument.
    fn fit(&self, hint: &[String]) -> Fit {
        let longest = self
            .called
            .iter()
            .filter_map(|name| Some((name.len(), std::cmp::Reverse(find(hint, name)?))))
            .max()
            .map_or((0, std::cmp::Reverse(0)), |found| found);
        Fit { named: longest, refused: self.never.iter().any(|name| find(hint, name).is_some()) }
    }
}

/// How well a hint names an instrument.
struct Fit {
    /// Words in common, then the earlier place.
    named: (usize, std::cmp::Reverse<usize>),
    /// A word stands there that makes it another instrument.
    refused: bool,
}

/// The place of the instrument that the first telling hint means.
pub(super) fn first_telling(catalogue: &[&Names], hints: &[&str]) -> Option<usize> {
    for hint in hints {
        let sound = hint.trim();
        if let Some(place) = catalogue.iter().position(|names| names.sounds.iter().any(|known| known == sound)) {
            return Some(place);
        }
        let hint = words(hint);
        let fits: Vec<Fit> = catalogue.iter().map(|names| names.fit(&hint)).collect();
        let best = |refused: bool| {
            fits.iter()
                .enumerate()
                .filter(|(_, fit)| fit.refused == refused && fit.named.0 > 0)
                // The earlier entry of the catalogue wins among equals.
                .max_by_key(|(place, fit)| (fit.named, std::cmp::Reverse(*place)))
                .map(|(place, fit)| (place, fit.named.0))
        };
        match (best(false), best(true)) {
            // A relative that the catalogue does not have: later hints (a bare `wind.reed.clarinet`)
            // would name the wrong one.
            (None, Some(_)) => return None,
            (Some((_, length)), Some((_, refused))) if refused > length => return None,
            (Some((place, _)), _) => return Some(place),
            (None, None) => {}
        }
    }
    None
}

/// How many words of a hint are one of these names; 0: none stands in it.
pub(super) fn longest(hint: &[String], names: &[Vec<String>]) -> usize {
    names.iter().filter(|name| find(hint, name).is_some()).map(Vec::len).max().unwrap_or_default()
}

/// Where the words of `name` stand in `hint`, one after the other.
fn find(hint: &[String], name: &[String]) -> Option<usize> {
    hint.windows(name.len().max(1)).position(|window| window == name)
}

/// Lower-case words without accents, numbers and plural s; a flat becomes `b`.
pub(super) fn words(text: &str) -> Vec<String> {
    let plain: String =
        text.replace("♭", "b").replace("♯", "#").chars().filter(|&c| c != '.').map(unaccented).collect();
    let mut words: Vec<String> = Vec::new();
    for word in plain.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()) {
        if word.starts_with(|c: char| c.is_ascii_digit()) {
            continue;
        }
        let word = word.trim_end_matches(|c: char| c.is_ascii_digit());
        match words.last_mut() {
            // "B flat" is one word.
            Some(letter) if word == "flat" && letter.len() == 1 => letter.push('b'),
            _ => words.push(singular(word).to_owned()),
        }
    }
    words
}

fn singular(word: &str) -> &str {
    match word.strip_suffix('s') {
        Some(stem) if stem.len() >= 3 && !stem.ends_with('s') => stem,
        _ => word,
    }
}

/// Small letter without accent, for the languages of the catalogue.
pub(crate) fn unaccented(letter: char) -> char {
    match letter.to_lowercase().next().unwrap_or(letter) {
        'à' | 'á' | 'â' | 'ä' | 'ã' | 'å' => 'a',
        'è' | 'é' | 'ê' | 'ë' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ò' | 'ó' | 'ô' | 'ö' | 'õ' | 'ø' => 'o',
        'ù' | 'ú' | 'û' | 'ü' => 'u',
        'ç' => 'c',
        'ñ' => 'n',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::super::catalogue;
    use crate::theory::Transposition;

    fn recognised(hints: &[&str]) -> &'static str {
        catalogue().recognise(hints).map_or("nothing", |instrument| instrument.id.as_str())
    }

    /// Part names as scores print them; common practice, no source.
    #[test]
    fn names_in_scores() {
        for (name, id) in [
            ("Flute 1", "flute"),
            ("Flöte", "flute"),
            ("Piccolo", "piccolo"),
            ("Piccolo Flute", "piccolo"),
            ("Oboe", "oboe"),
            ("Bassoon 2", "bassoon"),
            ("1st Clarinet in Bb", "clarinet"),
            ("Clarinet 1 in B♭", "clarinet"),
            ("B♭ Clarinet", "clarinet"),
            ("Bb Clarinet 3", "clarinet"),
            ("Klarinette in B", "clarinet"),
            ("Clarinette en Sib", "clarinet"),
            ("Clarinets", "clarinet"),
            ("Bass Clarinet", "bass-clarinet"),
            ("B. Cl.", "bass-clarinet"),
            ("Alto Saxophone 1", "alto-sax"),
            ("Eb Alto Sax", "alto-sax"),
            ("A. Sax. 2", "alto-sax"),
            ("Saxophone Alto", "alto-sax"),
            ("Altsaxophon in Es", "alto-sax"),
            ("Tenor Sax", "tenor-sax"),
            ("B♭ Tenor Saxophone", "tenor-sax"),
            ("Bari Sax", "bari-sax"),
            ("Baritone Saxophone", "bari-sax"),
            ("Trumpet in Bb", "trumpet"),
            ("B-flat Trumpet 2", "trumpet"),
            ("B flat Cornet", "trumpet"),
            ("Cornet", "trumpet"),
            ("Trompete", "trumpet"),
            ("Horn in F", "horn"),
            ("F Horn 1", "horn"),
            ("French Horns", "horn"),
            ("Cor en Fa", "horn"),
            ("Trombone 1", "trombone"),
            ("Posaune", "trombone"),
            ("Euphonium", "euphonium"),
            ("Euphonium (B.C.)", "euphonium"),
            ("Baritone B.C.", "euphonium"),
            ("Baritone T.C.", "euphonium-tc"),
            ("Euphonium (T.C.)", "euphonium-tc"),
            ("Baritone (Treble Clef)", "euphonium-tc"),
            ("Tuba", "tuba"),
            ("BBb Tuba", "tuba"),
            ("Sousaphone", "tuba"),
            ("Orchestra Bells", "bells"),
            ("Glockenspiel", "bells"),
            ("Xylophone", "xylophone"),
            ("Marimba", "marimba"),
            ("Piano", "keyboard"),
        ] {
            assert_eq!(recognised(&[name]), id, "{name}");
        }
    }

    /// Relatives that transpose otherwise are not taken for what they are not.
    #[test]
    fn relatives_are_not_mistaken() {
        for name in [
            "E♭ Clarinet",
            "Clarinet in A",
            "Alto Clarinet",
            "Contrabass Clarinet",
            "English Horn",
            "Tenor Horn",
            "Trumpet in C",
            "Piccolo Trumpet",
            "Soprano Sax",
            "Alto Flute",
            "Trombone T.C.",
            "Eb Tuba",
            "Voice",
            "Line",
            "",
        ] {
            assert_eq!(recognised(&[name]), "nothing", "{name}");
        }
        assert_eq!(recognised(&["Clarinet in A", "wind.reed.clarinet"]), "nothing");
    }

    #[test]
    fn the_first_telling_hint_counts() {
        assert_eq!(recognised(&["Part 1", "wind.reed.saxophone.alto"]), "alto-sax");
        assert_eq!(recognised(&["Euphonium (T.C.)", "brass.euphonium"]), "euphonium-tc");
        assert_eq!(recognised(&["Solo", "Horn in F", "brass.trumpet"]), "horn");
    }

    #[test]
    fn the_printed_transposition_tells_namesakes_apart() {
        let printed = |name: &str, chromatic: i8| {
            let transposition = Transposition { diatonic: chromatic * 7 / 12, chromatic };
            catalogue().recognise_printed(&[name], Some(transposition)).map(|instrument| instrument.id.as_str())
        };
        assert_eq!(printed("Euphonium", -14), Some("euphonium-tc"));
        assert_eq!(printed("Euphonium", 0), Some("euphonium"));
        assert_eq!(catalogue().recognise_printed(&["Euphonium"], None).unwrap().id, "euphonium");
        assert_eq!(printed("Bass Clarinet", -2), Some("bass-clarinet"), "an octave does not matter");
        assert_eq!(printed("Trumpet", 0), Some("trumpet"), "no namesake in C: the player's instrument is a trumpet");
        assert_eq!(printed("Clarinet in A", -3), None);
    }
}
