//! A finding as a line begins with it, and a take in numbers: the same on the console and in reports.

use crate::judge::{Count, Flag, FlagKind, Totals};
use crate::theory::Pitch;
use anstyle::{AnsiColor, Style};

pub(super) const PITCH: Style = AnsiColor::Magenta.on_default();
const TIME: Style = AnsiColor::Cyan.on_default();

/// The mark of a finding that lies within the error of the measurement, and what is said of it.
pub(super) const CLOSE: &str = "?";
pub(super) const TOO_CLOSE: &str = "too close to call, not counted";

/// A mark for each family of findings. None of them says right or wrong.
pub(super) fn symbol(kind: FlagKind) -> (&'static str, Style) {
    match kind {
        FlagKind::WrongAccidental | FlagKind::WrongOctave | FlagKind::WrongPartial | FlagKind::WrongNote => {
            ("♪", PITCH)
        }
        FlagKind::MissedNote => ("o", PITCH),
        FlagKind::EarlyRelease | FlagKind::LateRelease | FlagKind::CutShort => ("—", TIME),
        FlagKind::EarlyEntrance | FlagKind::LateEntrance => (">", TIME),
    }
}

/// `m4 b1  F♯5`, in columns as long as beats are whole.
pub(super) fn place(flag: &Flag) -> String {
    let written = Pitch::parse(&flag.written).map_or_else(|| flag.written.clone(), |pitch| pitch.to_string());
    let at = format!("m{} b{}", flag.measure, beat(flag.beat));
    format!("{at:<7} {written:<4}")
}

/// `1`, `2½`, `3⅓`, `1.25`.
pub(super) fn beat(beat: f64) -> String {
    let whole = beat.floor();
    match beat - whole {
        part if part < 0.005 => format!("{whole}"),
        part if (part - 0.5).abs() < 0.005 => format!("{whole}½"),
        part if (part - 1.0 / 3.0).abs() < 0.005 => format!("{whole}⅓"),
        part if (part - 2.0 / 3.0).abs() < 0.005 => format!("{whole}⅔"),
        _ => format!("{beat:.2}"),
    }
}

/// A line for each count that has something to count.
pub(super) fn count_lines(totals: &Totals) -> Vec<String> {
    counted([totals.right_pitches, totals.changed_notes, totals.full_releases, totals.entrances])
}

/// `7 of 8 right pitches`: pitches, changed notes, releases, entrances.
pub(super) fn counted(counts: [Count; 4]) -> Vec<String> {
    let names = ["right pitches", "changed notes right", "releases at full value", "entrances on time"];
    let counted = names.iter().zip(counts).filter(|(_, count)| count.of > 0);
    counted.map(|(what, Count { good, of })| format!("{good} of {of} {what}")).collect()
}
