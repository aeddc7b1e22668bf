//! Findings in words that a child of twelve understands.

use super::counted::Counted;
use super::findings::{Amount, Finding, Scene};
use super::{Flag, FlagKind};
use crate::exercise::{Alteration, FollowedBy, Note, value_name};
use crate::theory::{Pitch, Rank, sign};

/// Puts a finding into words, with everything that a reader of the report needs.
pub(super) fn flag(scene: &Scene, finding: &Finding, changed_note: Option<Rank>) -> Flag {
    let note = scene.note(finding.note);
    let (played, off_beats, off_ms) = match finding.amount {
        Amount::Silent => (None, None, None),
        Amount::Pitch(off) => (Some(played(note, off)), None, None),
        Amount::Time { off, beat, .. } => (None, Some(rounded(off / beat, 100.0)), Some((off * 1e3).round())),
    };
    let counted = if finding.kind == FlagKind::EarlyEntrance { scene.frame.counted_short(finding.note) } else { None };
    Flag {
        index: finding.note,
        kind: finding.kind,
        measure: scene.part.measure_of(note).map(|measure| measure.label.clone()).unwrap_or_default(),
        beat: rounded(scene.part.beat_of(note).to_f64(), 1000.0),
        written: note.written.ascii(),
        played: played.map(Pitch::ascii),
        off_beats,
        off_ms,
        beats_given: counted.map(|counted| rounded(counted.given, 100.0)),
        beats_due: counted.map(|counted| rounded(counted.due, 1000.0)),
        alteration: (finding.kind == FlagKind::WrongAccidental).then_some(note.alteration),
        changed_note,
        sentence: match counted {
            Some(counted) => counted_short(scene, finding.note, counted),
            None => sentence(scene, note, finding),
        },
    }
}

/// To so many parts of a whole: `rounded(1.234, 10.0)` is 1.2.
pub(super) fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

/// The pitch played, as the player would read it: for a semitone off the same letter if it has a name.
fn played(note: &Note, off: i16) -> Pitch {
    let alter = i16::from(note.written.alter) + off;
    if off.abs() == 1 && alter.abs() <= 1 && super::pitch::is_other_accidental(note.written, off, note.key) {
        return Pitch { alter: alter as i8, ..note.written };
    }
    Pitch::spelled_in(note.written.midi() + off, note.key)
}

fn sentence(scene: &Scene, note: &Note, finding: &Finding) -> String {
    match finding.amount {
        Amount::Silent => "not played: count through the rests and come in again".to_owned(),
        Amount::Pitch(off) => wrong_pitch(note, finding.kind, played(note, off)),
        Amount::Time { off, held, beat } => wrong_time(scene, note, finding.kind, off / beat, held / beat),
    }
}

/// The count was too short before this note.
fn counted_short(scene: &Scene, note: usize, Counted { given, due }: Counted) -> String {
    let before = scene.note(note.saturating_sub(1));
    let what = if before.followed_by == FollowedBy::Rest { " and its rest" } else { "" };
    let (left_out, value) = (beats(due - given), value_name(before.duration));
    format!("came in {left_out} early: the {value}{what} before it got {} of {}", decimal(given), beats(due))
}

/// `1 beat`, `2.5 beats`.
fn beats(number: f64) -> String {
    let number = decimal(number);
    format!("{number} beat{}", if number == "1" { "" } else { "s" })
}

fn wrong_pitch(note: &Note, kind: FlagKind, played: Pitch) -> String {
    let due = name(note.written);
    let heard = name(played);
    match kind {
        FlagKind::WrongAccidental => {
            let letter = note.written.letter;
            let word = sign::word(note.written.alter);
            match note.alteration {
                Alteration::Signature => match note.written.alter {
                    0 => format!("played {heard}: the key signature leaves every {letter} natural"),
                    _ => format!("played {heard}: the key signature makes every {letter} {word}"),
                },
                Alteration::Printed => format!("played {heard}: a {word} is printed in front of this {letter}"),
                Alteration::Carried => {
                    format!("played {heard}: the {word} from earlier in this measure still counts")
                }
            }
        }
        FlagKind::WrongOctave => {
            let side = if played.midi() > note.written.midi() { "too high" } else { "too low" };
            let octaves = (played.midi() - note.written.midi()).abs() / 12;
            let so_many = if octaves == 1 { "an octave".to_owned() } else { format!("{octaves} octaves") };
            format!("right note, but {so_many} {side}")
        }
        FlagKind::WrongPartial => {
            let advice = if played.midi() > note.written.midi() { "slower air" } else { "faster air" };
            format!("played {heard} with the fingering of {due}: {advice}, firm corners")
        }
        _ => format!("played {heard}: the note here is {due}"),
    }
}

fn wrong_time(scene: &Scene, note: &Note, kind: FlagKind, off: f64, held: f64) -> String {
    let unit = scene.part.beat_unit(note);
    let value = note.duration.in_beats(unit).to_f64();
    match kind {
        FlagKind::EarlyRelease | FlagKind::LateRelease => {
            let how = if kind == FlagKind::EarlyRelease { "let go after" } else { "held for" };
            let until = match (note.followed_by, rest_beat(scene, note)) {
                (FollowedBy::Rest, Some(beat)) if kind == FlagKind::EarlyRelease => {
                    format!("it lasts until the rest on beat {beat}")
                }
                (FollowedBy::Rest, Some(beat)) => format!("let go where the rest begins, on beat {beat}"),
                _ => "it lasts to the very end".to_owned(),
            };
            format!("{} {how} {} of {}: {until}", value_name(note.duration), decimal(held), beats(value))
        }
        FlagKind::CutShort => {
            let name = value_name(note.duration);
            format!("{name} sounded {} of {}: keep it going until the next note", decimal(held), beats(value))
        }
        FlagKind::EarlyEntrance => format!("came in {} early: wait for the beat", beats(-off)),
        _ => format!("came in {} late: breathe before the beat", beats(off)),
    }
}

/// The beat on which the rest after a note begins, if it can be named: `4`, `2½`.
fn rest_beat(scene: &Scene, note: &Note) -> Option<String> {
    let measures = &scene.part.measures;
    let at = measures.iter().rposition(|measure| measure.onset <= note.end())?;
    let measure = &measures[at];
    let place = (note.end() - measure.onset).in_beats(measure.meter.beat());
    if place.to_f64() >= measure.duration.in_beats(measure.meter.beat()).to_f64() {
        return Some("1 of the next measure".to_owned());
    }
    let whole = place.to_f64().floor();
    let part = match place.to_f64() - whole {
        part if part < 0.01 => "",
        part if (part - 0.5).abs() < 0.01 => "½",
        part if (part - 0.25).abs() < 0.01 => "¼",
        part if (part - 0.75).abs() < 0.01 => "¾",
        part if (part - 1.0 / 3.0).abs() < 0.01 => "⅓",
        part if (part - 2.0 / 3.0).abs() < 0.01 => "⅔",
        _ => return None,
    };
    let same = at == note.measure;
    let next = if same { "" } else { " of the next measure" };
    Some(format!("{}{part}{next}", whole as i64 + 1))
}

/// `2.1`, `3`.
fn decimal(number: f64) -> String {
    let text = format!("{number:.1}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

/// A pitch without its octave, naturals said: `F♮`, `B♭`.
fn name(pitch: Pitch) -> String {
    format!("{}{}", pitch.letter, sign::symbol(pitch.alter))
}
