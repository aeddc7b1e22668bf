//! The click as people ask for it: where it sounds, how fast it runs.

use super::Failure;
use crate::listen::{open_output, port_stem};
use crate::session::{Click, MidiClick, Silent};

/// From the slowest to the fastest that any metronome offers (from memory: 40 to 208, electronic ones 20 to 300).
pub(super) fn beats_a_minute(text: &str) -> Result<f64, String> {
    let bpm: f64 = text.parse().map_err(|_| "not a number".to_string())?;
    if (20.0..=300.0).contains(&bpm) { Ok(bpm) } else { Err("between 20 and 300 beats a minute".into()) }
}

/// A click that can be made heard.
pub(super) struct Opened {
    pub(super) sound: Box<dyn Click>,
    /// Where it sounds: `speakers`, `midi:` and the full name of an output, `off`.
    pub(super) place: String,
    /// Why it does not sound where it was asked to, in a sentence.
    pub(super) trouble: Option<String>,
}

/// The click at a place as people type it.
pub(super) fn open(text: &str) -> Result<Opened, Failure> {
    let silent = |trouble| Opened { sound: Box::new(Silent), place: "off".into(), trouble };
    match (text, text.strip_prefix("midi:")) {
        ("speakers", _) => Ok(match speakers() {
            Ok(sound) => Opened { sound, place: "speakers".into(), trouble: None },
            Err(sentence) => silent(Some(sentence)),
        }),
        ("off", _) => Ok(silent(None)),
        (_, Some(port)) if !port.trim().is_empty() => {
            let (name, sink) = open_output(port)?;
            let place = format!("midi:{}", port_stem(&name));
            Ok(Opened { sound: Box::new(MidiClick(sink)), place, trouble: None })
        }
        _ => {
            Err(Failure::Usage(format!("--click \"{text}\": write speakers, off, or midi: and the name of an output")))
        }
    }
}

/// The computer's loudspeakers, or a sentence that says why not.
#[cfg(feature = "sound")]
fn speakers() -> Result<Box<dyn Click>, String> {
    match crate::session::Speakers::open() {
        Ok(speakers) => Ok(Box::new(speakers)),
        Err(error) => Err(format!("No sound ({error}): the click is seen, not heard.")),
    }
}

#[cfg(not(feature = "sound"))]
fn speakers() -> Result<Box<dyn Click>, String> {
    Err("No sound (this program was built without it): the click is seen, not heard.".into())
}
