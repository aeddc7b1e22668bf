//! Text for a terminal that reads no UTF-8: musical signs in words or letters, letters without their marks.

use unicode_normalization::UnicodeNormalization;

/// The text in ASCII. What has no likeness is a question mark.
pub(super) fn ascii(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for letter in text.replace('½', " 1/2").replace('⅓', " 1/3").replace('⅔', " 2/3").nfkd() {
        match letter {
            '\0'..='\u{7f}' => plain.push(letter),
            '♭' => plain.push('b'),
            '♯' => plain.push('#'),
            '♮' => plain.push_str(" nat."),
            '♪' => plain.push('*'),
            '█' => plain.push('#'),
            '—' | '–' | '─' | '‐' => plain.push('-'),
            '…' => plain.push_str("..."),
            '’' | '‘' => plain.push('\''),
            '·' => plain.push('.'),
            'ß' => plain.push_str("ss"),
            'æ' => plain.push_str("ae"),
            'Æ' => plain.push_str("AE"),
            'ø' => plain.push('o'),
            'Ø' => plain.push('O'),
            'ł' => plain.push('l'),
            'Ł' => plain.push('L'),
            'đ' => plain.push('d'),
            'Đ' => plain.push('D'),
            'ı' => plain.push('i'),
            // Combining Diacritical Marks.
            '\u{300}'..='\u{36f}' => {}
            _ => plain.push('?'),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::ascii;

    #[test]
    fn signs_and_marks_have_a_likeness() {
        assert_eq!(ascii("♪ m7 b2½  A♭5 played A♮ — Renée Łuk…"), "* m7 b2 1/2  Ab5 played A nat. - Renee Luk...");
        assert_eq!(ascii("F♯ 王"), "F# ?");
    }
}
