//! Changed notes: the letters that the key in force alters differently from the band's other keys.
//!
//! Ranking as DESIGN.md §2 defines it (common practice, no source): most differing keys first, then
//! the nearest differing key on the circle of fifths, then A to G.

use super::{Key, Letter};

/// How much a changed note matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Rank {
    /// The one note that changes most.
    Primary,
    /// The next, where at least half of the family differs.
    Secondary,
    /// Any other letter that some key of the family alters differently.
    Other,
}

/// One changed note of a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Changed {
    /// The letter.
    pub letter: Letter,
    /// What the key in force does to it: -1 flat, 0 natural, 1 sharp.
    pub alter: i8,
    /// How much it matters.
    pub rank: Rank,
    /// How many keys of the family give the letter another alteration, 1 or more.
    pub differing: usize,
    /// What the nearest of those keys does to the letter: the note that a player is used to.
    pub otherwise: i8,
}

/// The changed notes of `key` against the band's `family`, most important first.
///
/// Keys of the family with the signature of `key` do not count. For a transposing instrument both are
/// *written* keys, as [`super::Transposition::key_to_written`] gives them. Without any other key in
/// the family nothing is changed and the list is empty.
pub fn changed_notes(key: Key, family: &[Key]) -> Vec<Changed> {
    let others: Vec<Key> = family.iter().copied().filter(|other| other.fifths != key.fifths).collect();
    let mut letters: Vec<(usize, u8, Letter, i8)> = Letter::A_TO_G
        .into_iter()
        .filter_map(|letter| {
            let differing = others.iter().filter(|other| other.alter(letter) != key.alter(letter));
            let nearest = differing.clone().min_by_key(|other| key.distance(**other))?;
            Some((differing.count(), key.distance(*nearest), letter, nearest.alter(letter)))
        })
        .collect();
    // Stable: letters that are equal in both stay in the order A to G.
    letters.sort_by_key(|&(differing, nearest, ..)| (std::cmp::Reverse(differing), nearest));
    let rank = |place: usize, differing: usize| match place {
        0 => Rank::Primary,
        1 if 2 * differing >= others.len() => Rank::Secondary,
        _ => Rank::Other,
    };
    letters
        .into_iter()
        .enumerate()
        .map(|(place, (differing, _, letter, otherwise))| Changed {
            letter,
            alter: key.alter(letter),
            rank: rank(place, differing),
            differing,
            otherwise,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::Transposition;
    use super::*;

    /// Primary and secondary changed note as the table of DESIGN.md §2 writes them.
    fn cell(concert: &str, transposition: Transposition) -> String {
        let written = |key: Key| transposition.key_to_written(key);
        let family: Vec<Key> = [-1, -2, -3, -4].map(|fifths| written(Key::major(fifths))).to_vec();
        let key = written(Key::parse(concert).unwrap());
        let named: Vec<String> = changed_notes(key, &family)
            .iter()
            .filter(|changed| changed.rank != Rank::Other)
            .map(|changed| format!("{}{}", changed.letter, super::super::sign::symbol(changed.alter)))
            .collect();
        named.join(" / ")
    }

    /// The sixteen cells of DESIGN.md §2, "check values" (common practice, no source).
    #[test]
    fn the_table_of_the_design() {
        let groups =
            [(0, 0), (-1, -2), (-5, -9), (-4, -7)].map(|(diatonic, chromatic)| Transposition { diatonic, chromatic });
        let table = [
            ("F", ["E♮ / A♮", "F♯ / B♮", "C♯ / F♯", "B♮ / E♮"]),
            ("B♭", ["A♮", "B♮", "F♯", "E♮"]),
            ("E♭", ["A♭", "B♭", "F♮", "E♭"]),
            ("A♭", ["D♭ / A♭", "E♭ / B♭", "B♭ / F♮", "A♭ / E♭"]),
        ];
        for (concert, cells) in table {
            for (transposition, expected) in groups.into_iter().zip(cells) {
                assert_eq!(cell(concert, transposition), expected, "concert {concert}, {transposition:?}");
            }
        }
    }

    /// By hand: in F the family B♭ E♭ A♭ flattens E three times, A twice (E♭, A♭), D once (A♭).
    #[test]
    fn counts_and_ranks_by_hand() {
        let family = [-1, -2, -3, -4].map(Key::major);
        let found: Vec<_> = changed_notes(Key::major(-1), &family)
            .iter()
            .map(|changed| (changed.letter, changed.alter, changed.rank, changed.differing, changed.otherwise))
            .collect();
        let expected = [
            (Letter::E, 0, Rank::Primary, 3, -1),
            (Letter::A, 0, Rank::Secondary, 2, -1),
            (Letter::D, 0, Rank::Other, 1, -1),
        ];
        assert_eq!(found, expected);
    }

    #[test]
    fn a_family_of_one_signature_changes_nothing() {
        assert!(changed_notes(Key::major(-1), &[Key::major(-1), Key::minor(-1)]).is_empty());
        assert!(changed_notes(Key::major(2), &[]).is_empty());
    }
}
