//! Decorations: what each name means to the judged line, and the letters that stand for them.
//!
//! ABC 2.1, 4.14 (names), 4.16 (letters; `U:` redefines them). Most decorations say nothing about pitch, length or order and
//! are left out. Names are read in any case.

use std::collections::BTreeMap;

/// What a decoration means here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    Staccato,
    Fermata,
    /// A breath mark or caesura after the note.
    Breath,
    Segno,
    Coda,
    ToCoda,
    DaCapo,
    DalSegno,
    Fine,
    /// Nothing that is judged.
    Other,
}

/// The mark of a name. Unknown names are left out, as 4.14 asks. `D.C.` is Da Capo, though the standard says that
/// it may mean Da Coda; the names with `al` are from ABC 2.2.
pub(super) fn named(name: &str) -> Mark {
    match name.to_ascii_lowercase().as_str() {
        "staccato" | "wedge" => Mark::Staccato,
        "fermata" | "invertedfermata" => Mark::Fermata,
        "breath" | "caesura" => Mark::Breath,
        "segno" => Mark::Segno,
        "coda" => Mark::Coda,
        "dacoda" => Mark::ToCoda,
        "dacapo" | "d.c." | "d.c.alfine" | "d.c.alcoda" => Mark::DaCapo,
        "d.s." | "d.s.alfine" | "d.s.alcoda" => Mark::DalSegno,
        "fine" => Mark::Fine,
        _ => Mark::Other,
    }
}

/// The letters that stand for decorations.
#[derive(Debug, Clone)]
pub(super) struct Symbols(BTreeMap<char, Mark>);

impl Default for Symbols {
    fn default() -> Symbols {
        let others = ['~', 'L', 'M', 'P', 'T', 'u', 'v'].map(|letter| (letter, Mark::Other));
        let told = [('H', Mark::Fermata), ('O', Mark::Coda), ('S', Mark::Segno)];
        Symbols(others.into_iter().chain(told).collect())
    }
}

impl Symbols {
    /// What a letter stands for; `None` if for nothing.
    pub(super) fn get(&self, letter: char) -> Option<Mark> {
        self.0.get(&letter).copied()
    }

    /// Takes in the value of a `U:` field; says `None` if it makes no sense.
    pub(super) fn define(&mut self, value: &str) -> Option<()> {
        let (letter, meaning) = value.split_once('=')?;
        let mut letters = letter.trim().chars();
        let (letter, None) = (letters.next()?, letters.next()) else { return None };
        if !matches!(letter, 'H'..='W' | 'h'..='w' | '~') {
            return None;
        }
        // A text, or a name between marks of either kind.
        let name = meaning.trim().trim_matches(['!', '+']);
        self.0.insert(letter, if name == "nil" || name == "none" { Mark::Other } else { named(name) });
        Some(())
    }
}
