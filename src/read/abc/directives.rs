//! Directives: `%%name value` and `I:name value`. ABC 2.1, 3.1.17 and 11. What is not known is ignored, as the standard asks;
//! what would change notes and is not done is said.

use super::items::What;
use super::lines::At;
use super::tune::{Reach, TuneReader};

impl TuneReader {
    /// Takes in a directive.
    pub(super) fn directive(&mut self, text: &str, at: At) {
        let (name, value) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
        let value = value.trim();
        match (name, value.split_whitespace().next().unwrap_or_default()) {
            ("propagate-accidentals", "not") => self.reach = Reach::Note,
            ("propagate-accidentals", "octave") => self.reach = Reach::Octave,
            ("propagate-accidentals", "pitch") => self.reach = Reach::Letter,
            ("decoration", "+") => self.plus_decorates = true,
            ("decoration", "!") => self.plus_decorates = false,
            // "I:linebreak !" also invokes "I:decoration +" (6.1.1).
            ("linebreak", _) if value.contains('!') => self.plus_decorates = true,
            ("setbarnb" | "measurefirst", number) => {
                if let Ok(number) = number.parse::<u16>() {
                    self.number_is(at, u32::from(number));
                }
            }
            ("abc-include" | "transpose", _) | ("MIDI", "transpose") => self.notices.say(format!(
                "\"{}\" in line {} is not carried out: only transpose= in K: and V: is.",
                if name == "MIDI" { "MIDI transpose" } else { name },
                at.line
            )),
            _ => {}
        }
    }

    /// The number of the next measure.
    fn number_is(&mut self, at: At, number: u32) {
        if self.is_for_all() {
            self.number = number;
        } else {
            self.push(at, What::Number(number));
        }
    }
}
