//! The constant delay of a controller and a click, kept in a take so that it is judged again as it was: a text event
//! `click delay 42000 us` in a MIDI file, late is positive.

use crate::exercise::Micros;

/// No controller and click are later than this, or sooner.
pub const LONGEST_DELAY: Micros = Micros(500_000);

const BEFORE: &str = "click delay ";
const BEHIND: &str = " us";

/// The text that keeps a delay.
pub(super) fn text(delay: Micros) -> String {
    format!("{BEFORE}{}{BEHIND}", delay.0)
}

/// The delay that a text keeps, if it keeps one; `Err`: it keeps one that cannot be.
pub(super) fn parse(text: &[u8]) -> Option<Result<Micros, String>> {
    let text = std::str::from_utf8(text).ok()?;
    let number = text.strip_prefix(BEFORE)?.strip_suffix(BEHIND)?;
    let delay = number.parse().ok().map(Micros).filter(|delay| (-LONGEST_DELAY.0..=LONGEST_DELAY.0).contains(&delay.0));
    Some(delay.ok_or_else(|| format!("the text \"{text}\" keeps no possible delay: left out")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read() {
        for delay in [Micros(42_000), Micros(-7), LONGEST_DELAY] {
            assert_eq!(parse(text(delay).as_bytes()), Some(Ok(delay)));
        }
        assert_eq!(text(Micros(42_000)), "click delay 42000 us");
    }

    #[test]
    fn other_texts_are_none_and_impossible_ones_are_said() {
        assert_eq!(parse(b"a pickup of mine"), None);
        assert_eq!(parse(b"click delay \xFF us"), None);
        for text in ["click delay 500001 us", "click delay soon us", "click delay 99999999999999999999 us"] {
            let said = parse(text.as_bytes()).and_then(Result::err).unwrap_or_default();
            assert!(said.contains(text), "{said}");
        }
    }
}
