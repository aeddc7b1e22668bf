//! Values by the names that American bands use (common practice, no source).

use super::Quarters;

/// `dotted half`; where no single note has that value, how many quarters: `2 1/2 quarters`.
pub fn value_name(value: Quarters) -> String {
    const NAMES: [((i64, i64), &str); 11] = [
        ((8, 1), "double whole note"),
        ((6, 1), "dotted whole note"),
        ((4, 1), "whole note"),
        ((3, 1), "dotted half"),
        ((2, 1), "half note"),
        ((3, 2), "dotted quarter"),
        ((1, 1), "quarter note"),
        ((3, 4), "dotted eighth"),
        ((1, 2), "eighth note"),
        ((3, 8), "dotted sixteenth"),
        ((1, 4), "sixteenth note"),
    ];
    let named = NAMES.iter().find(|((top, bottom), _)| Quarters::new(*top, *bottom) == value);
    named.map_or_else(
        || {
            let (top, bottom) = (value.numerator(), value.denominator());
            let (whole, rest) = (top / bottom.max(1), top % bottom.max(1));
            match (whole, rest) {
                (_, 0) => format!("note of {whole} quarters"),
                (0, _) => format!("note of {rest}/{bottom} of a quarter"),
                _ => format!("note of {whole} {rest}/{bottom} quarters"),
            }
        },
        |(_, name)| (*name).to_string(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_have_their_names() {
        assert_eq!(value_name(Quarters::new(3, 1)), "dotted half");
        assert_eq!(value_name(Quarters::new(7, 1)), "note of 7 quarters");
        assert_eq!(value_name(Quarters::new(5, 2)), "note of 2 1/2 quarters");
        assert_eq!(value_name(Quarters::new(1, 3)), "note of 1/3 of a quarter");
    }
}
