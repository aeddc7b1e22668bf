//! What a drill is about, in the pitch in which it is composed: its keys, its changed notes, the notes it may use.

use super::ensemble::{Ensemble, Window};
use super::figure::{self, Figure};
use super::tone::{Standing, Target, Tone, tones};
use super::vocabulary::Vocabulary;
use super::{Brief, DrillError, Kind, Tally};
use crate::exercise::Part;
use crate::theory::{Changed, Key, Letter, changed_notes, sign};

/// What a drill is about.
pub(super) struct Theme<'a> {
    brief: &'a Brief<'a>,
    ensemble: Ensemble<'a>,
    /// Its keys as composed, in order.
    pub(super) keys: Vec<Key>,
    /// The changed notes of each key that the drill is about.
    targets: Vec<Vec<Target>>,
}

/// A stretch of notes for the drill, and what can be done in it.
pub(super) struct Stage {
    pub(super) window: Window,
    pub(super) tones: Vec<Tone>,
    pub(super) figures: Vec<Figure>,
}

impl<'a> Theme<'a> {
    pub(super) fn new(brief: &'a Brief<'a>) -> Result<Theme<'a>, DrillError> {
        let ensemble = Ensemble(brief.instruments);
        let concert = match brief.kind {
            Kind::TwoKeys(to) => vec![brief.key, to],
            Kind::Changed(_) | Kind::Hold => vec![brief.key],
        };
        let keys: Vec<Key> = concert.iter().map(|&key| ensemble.home_key(key)).collect();
        let family: Vec<Key> = brief.family.iter().map(|&key| ensemble.home_key(key)).collect();
        let targets = match (brief.kind, keys.as_slice()) {
            (Kind::Changed(asked), &[key, ..]) => vec![vec![changed_note(key, &family, asked)?]],
            (Kind::TwoKeys(to), &[first, second]) => {
                if brief.key.fifths == to.fifths {
                    return Err(DrillError::SameSignature { from: brief.key.to_string(), to: to.to_string() });
                }
                vec![differing(first, second), differing(second, first)]
            }
            _ => vec![Vec::new()],
        };
        Ok(Theme { brief, ensemble, keys, targets })
    }

    /// The stretches of notes that are best for it: those in which most figures can be made, and about the widest.
    pub(super) fn stages(&self, vocabulary: &Vocabulary) -> Result<Vec<Stage>, DrillError> {
        let windows = self.ensemble.windows(vocabulary.span);
        let mut stages: Vec<Stage> = windows.iter().flat_map(|&window| self.stages_in(window, vocabulary)).collect();
        let figures = stages.iter().map(|stage| stage.figures.len()).max().unwrap_or(0);
        stages.retain(|stage| stage.figures.len() == figures);
        let widest = stages.iter().map(Stage::width).max().unwrap_or(0);
        stages.retain(|stage| stage.width() + 2 >= widest);
        if stages.is_empty() { Err(self.ensemble.no_common_range(vocabulary.span)) } else { Ok(stages) }
    }

    /// What a window has to offer, if it has what the drill cannot do without: the tonic to end on, the changed notes.
    /// A changed note that it has in two octaves makes two stages: figures go to one of them, since the way from the
    /// lower to the upper one is long.
    fn stages_in(&self, (low, high): Window, vocabulary: &Vocabulary) -> Vec<Stage> {
        let keys = self.keys.iter().zip(&self.targets).enumerate();
        let by_key: Vec<Vec<Tone>> =
            keys.map(|(segment, (&key, targets))| tones(key, targets, low, high, segment)).collect();
        let complete = by_key.iter().zip(&self.targets).all(|(tones, targets)| {
            let has_target = targets.is_empty() || tones.iter().any(|tone| tone.is_target);
            has_target && tones.iter().any(|tone| tone.degree == 0)
        });
        if !complete {
            return Vec::new();
        }
        let aims: Vec<i32> = match by_key.as_slice() {
            [tones] => tones.iter().filter(|tone| tone.is_target).map(|tone| tone.place).collect(),
            _ => Vec::new(),
        };
        let stage = |by_key: &[Vec<Tone>]| {
            let figures = by_key.iter().map(|tones| figure::possible(tones, vocabulary.widest));
            // What can be done in both keys.
            let figures = figures.reduce(|both, own| both.into_iter().filter(|figure| own.contains(figure)).collect());
            Stage { window: (low, high), tones: by_key.concat(), figures: figures.unwrap_or_default() }
        };
        if aims.len() < 2 {
            return vec![stage(&by_key)];
        }
        let aimed_at = |&aim: &i32| {
            let mut by_key = by_key.clone();
            for tone in by_key.iter_mut().flatten() {
                tone.is_aim &= tone.place == aim;
            }
            by_key.iter_mut().for_each(|tones| {
                tones.retain(|tone| tone.standing != Standing::Other || tone.place == aim);
            });
            stage(&by_key)
        };
        aims.iter().map(aimed_at).collect()
    }

    /// The changed note of a changed-note drill as a part has it.
    pub(super) fn changed_in(&self, part: &Part) -> Option<(Letter, i8)> {
        let target = self.targets.first()?.first().filter(|_| matches!(self.brief.kind, Kind::Changed(_)))?;
        let written = part.measures.first()?.key;
        let degree = i32::from(self.keys.first()?.degree(target.letter)) - 1;
        let letter = Letter::from_step(i32::from(written.tonic().0.step()) + degree);
        Some((letter, written.alter(letter)))
    }

    /// The title of the page; keys and letters are those of the part, or of concert pitch for a section.
    pub(super) fn title(&self) -> String {
        let concert = if self.brief.instruments.len() == 1 { "" } else { "concert " };
        let key = |index: usize| self.keys.get(index).map(ToString::to_string).unwrap_or_default();
        let about = match (self.brief.kind, self.targets.first().and_then(|targets| targets.first())) {
            (Kind::Changed(_), Some(target)) => {
                let alter = self.keys.first().map_or(0, |key| key.alter(target.letter));
                format!("Changed note {}{} in {concert}{}", target.letter, sign::symbol(alter), key(0))
            }
            (Kind::TwoKeys(_), _) => format!("From {concert}{} to {}", key(0), key(1)),
            _ => format!("Holds in {concert}{}", key(0)),
        };
        format!("{about}, drill {}", self.brief.seed)
    }
}

impl Stage {
    fn width(&self) -> i16 {
        self.window.1 - self.window.0
    }

    /// Whether a drill came to every way that this window has.
    pub(super) fn is_thorough(&self, tally: &Tally) -> bool {
        self.figures.iter().all(|figure| match figure {
            Figure::Step(_) => tally.by_step > 0,
            Figure::Leap(_) => tally.by_leap > 0,
            Figure::AfterOther | Figure::AfterOtherResolved | Figure::ThereAndBack => tally.after_other > 0,
        })
    }
}

/// The changed note that was asked for, or the one that changes most.
fn changed_note(key: Key, family: &[Key], asked: Option<Letter>) -> Result<Target, DrillError> {
    let changed = changed_notes(key, family);
    let found = match asked {
        Some(letter) => changed.iter().find(|changed| changed.letter == letter),
        None => changed.first(),
    };
    let name = |changed: &Changed| format!("{}{}", changed.letter, sign::symbol(changed.alter));
    match (found, asked) {
        (Some(found), _) => Ok(Target { letter: found.letter, other: other_form(key, family, found.letter) }),
        (None, Some(asked)) if !changed.is_empty() => Err(DrillError::NotChanged {
            asked,
            key: key.to_string(),
            changed: changed.iter().map(name).collect::<Vec<_>>().join(", "),
        }),
        (None, _) => Err(DrillError::NothingChanges { key: key.to_string() }),
    }
}

/// What the nearest key of the family that differs makes of a letter, if that is a semitone off.
fn other_form(key: Key, family: &[Key], letter: Letter) -> Option<i8> {
    let differs = |other: &&Key| (other.alter(letter) - key.alter(letter)).abs() == 1;
    family.iter().filter(differs).min_by_key(|other| key.distance(**other)).map(|other| other.alter(letter))
}

/// The letters that `key` alters otherwise than `other`.
fn differing(key: Key, other: Key) -> Vec<Target> {
    changed_notes(key, &[other]).into_iter().map(|changed| Target { letter: changed.letter, other: None }).collect()
}
