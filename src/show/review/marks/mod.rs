//! Findings as marks in the staff, as one pencils them: black, told apart by shape, each with the number of its sentence.
//!
//! In: findings, the part, engraved [`System`]s. Out: what is drawn over each system ([`draw()`]), and the sentences
//! ([`items`]). Above the staff what concerns pitch, below what concerns time.

mod draw;
mod lanes;
mod legend;

pub(super) use draw::draw;
pub(super) use legend::{Sample, legend};

use crate::book::Finding;
use crate::exercise::Part;
use crate::judge::{Flag, FlagKind};
use crate::prepare::count;
use crate::show::finding::{CLOSE, TOO_CLOSE, beat, place, symbol};
use crate::theory::{Pitch, sign};
use crate::write::printed_ids;

/// A finding, ready to be drawn.
pub(super) struct Mark {
    /// Its place among the findings of the take.
    pub(super) flag: usize,
    /// Its shape.
    pub(super) shape: Shape,
    /// Identifier of the first printed shape of its note.
    pub(super) id: String,
    /// The number of its sentence and what to do, as `3 ♭`; empty inside a run of missed notes.
    pub(super) label: String,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Shape {
    /// A ring: another flat, natural or sharp. Also the right note in another octave.
    Ring,
    /// Two rings: another partial.
    TwoRings,
    /// A diamond: another note.
    Diamond,
    /// A dashed box: not played.
    Box,
    /// A line for as long as the note lasts, drawn out as far as it was held (this share of it), with a hook where it
    /// ends.
    Line { held: f64, hook: bool },
    /// An arrow that points to where the note begins, from the side on which it was played.
    Arrow { from_left: bool },
    /// Too close to call.
    Question,
}

/// A sentence below the staff.
pub(super) struct Item {
    /// The number that its marks have.
    pub(super) number: String,
    pub(super) symbol: &'static str,
    /// `m4 b1  F♯5`.
    pub(super) place: String,
    pub(super) sentence: String,
}

/// The findings in groups that share a sentence: notes missed one after the other are one; first what counts.
fn groups(findings: &[Finding]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for counts in [true, false] {
        for (place, finding) in findings.iter().enumerate().filter(|(_, finding)| finding.counts == counts) {
            let is_next = |last: &Finding| {
                let missed = |it: &Finding| it.counts && it.flag.kind == FlagKind::MissedNote;
                missed(last) && missed(finding) && finding.flag.index == last.flag.index + 1
            };
            match groups.last_mut() {
                Some(group) if group.last().is_some_and(|&last| is_next(&findings[last])) => group.push(place),
                _ => groups.push(vec![place]),
            }
        }
    }
    groups
}

/// The sentences of a take, in the order of their numbers.
pub(super) fn items(findings: &[Finding]) -> Vec<Item> {
    let item = |(number, group): (usize, &Vec<usize>)| {
        let finding = &findings[group[0]];
        let flag = &finding.flag;
        let sentence = match (group.last().map(|&last| &findings[last].flag), finding.counts) {
            (Some(last), true) if group.len() > 1 => {
                format!("{} notes not played, up to measure {}", group.len(), last.measure)
            }
            (_, true) => flag.sentence.clone(),
            (_, false) => format!("{TOO_CLOSE}: {}", flag.sentence),
        };
        Item {
            number: shown_number(number, finding.counts),
            symbol: if finding.counts { symbol(flag.kind).0 } else { CLOSE },
            place: place(flag),
            sentence,
        }
    };
    (1..).zip(&groups(findings)).map(item).collect()
}

fn shown_number(number: usize, counts: bool) -> String {
    if counts { number.to_string() } else { format!("{CLOSE}{number}") }
}

/// The marks of a take; findings about notes that the part does not have are left out.
pub(super) fn marks(part: &Part, findings: &[Finding]) -> Vec<Mark> {
    let ids = printed_ids(part);
    let releases = count(part).1;
    let mut marks = Vec::new();
    for (number, group) in (1..).zip(groups(findings)) {
        for (place, &flag) in group.iter().enumerate() {
            let finding = &findings[flag];
            let Some(id) = ids.get(finding.flag.index) else { continue };
            let to_do = if finding.counts { to_do(&finding.flag, &releases) } else { String::new() };
            let label = format!("{} {to_do}", shown_number(number, finding.counts)).trim_end().to_owned();
            marks.push(Mark {
                flag,
                shape: shape(part, finding),
                id: id.clone(),
                label: if place == 0 { label } else { String::new() },
            });
        }
    }
    marks
}

fn shape(part: &Part, finding: &Finding) -> Shape {
    if !finding.counts {
        return Shape::Question;
    }
    match finding.flag.kind {
        FlagKind::WrongAccidental | FlagKind::WrongOctave => Shape::Ring,
        FlagKind::WrongPartial => Shape::TwoRings,
        FlagKind::WrongNote => Shape::Diamond,
        FlagKind::MissedNote => Shape::Box,
        FlagKind::EarlyRelease | FlagKind::LateRelease => Shape::Line { held: held(part, &finding.flag), hook: true },
        FlagKind::CutShort => Shape::Line { held: held(part, &finding.flag), hook: false },
        FlagKind::EarlyEntrance => Shape::Arrow { from_left: true },
        FlagKind::LateEntrance => Shape::Arrow { from_left: false },
    }
}

/// Of its value, how much a note was held; more than 1 beyond its end.
fn held(part: &Part, flag: &Flag) -> f64 {
    let value = part.notes.get(flag.index).map_or(1.0, |note| note.duration.in_beats(part.beat_unit(note)).to_f64());
    let off = flag.off_beats.unwrap_or_default();
    if value > 0.0 { (1.0 + off / value).max(0.0) } else { 1.0 }
}

/// What to do, as short as it is pencilled.
fn to_do(flag: &Flag, releases: &[crate::prepare::Release]) -> String {
    let written = Pitch::parse(&flag.written);
    let name = written
        .map(|pitch| pitch.to_string().trim_end_matches(|letter: char| "-0123456789".contains(letter)).to_owned());
    let played = flag.played.as_deref().and_then(Pitch::parse);
    let way = match (written, played) {
        (Some(written), Some(played)) if played.midi() > written.midi() => "↓",
        _ => "↑",
    };
    match flag.kind {
        FlagKind::WrongAccidental => written.map(|pitch| sign::symbol(pitch.alter)).unwrap_or_default(),
        FlagKind::WrongOctave => format!("8{way}"),
        FlagKind::WrongPartial => format!("{}{way}", name.unwrap_or_default()),
        FlagKind::WrongNote => name.unwrap_or_default(),
        FlagKind::MissedNote | FlagKind::CutShort => String::new(),
        FlagKind::EarlyRelease | FlagKind::LateRelease => {
            let release = releases.iter().find(|release| release.note == flag.index);
            release.map_or_else(String::new, |release| {
                release.on.as_ref().map_or("→end".into(), |on| format!("→{}", on.1))
            })
        }
        FlagKind::EarlyEntrance | FlagKind::LateEntrance => format!("on {}", beat(flag.beat)),
    }
}
