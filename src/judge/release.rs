//! Releases where a rest begins: `early-release`, `late-release`.

use super::FlagKind;
use super::findings::{Amount, Finding, Scene, Sounded, Verdict};
use crate::exercise::FollowedBy;

/// Whether the release of a note is judged at all (DESIGN.md §3).
pub(super) fn is_judged(scene: &Scene, note: usize) -> bool {
    let it = scene.note(note);
    scene.settings.sustains() && it.followed_by != FollowedBy::Note && !it.fermata
}

/// Judges a release at `release`. With `extra_margin` (seconds) the fault must be that much larger, where
/// not all ways of measuring can be asked yet.
pub(super) fn judge(scene: &Scene, sounded: &Sounded, release: f64, extra_margin: f64) -> Verdict {
    let it = scene.note(sounded.note);
    if !is_judged(scene, sounded.note) {
        return Verdict::NotJudged;
    }
    let Some((beat, due)) = scene.frame.beat(sounded.note).zip(scene.frame.release_due(sounded.note, sounded.onset))
    else {
        return Verdict::NotJudged;
    };
    let tolerance = scene.frame.tolerance(beat) + extra_margin;
    let sooner = if it.breath { 0.5 * (due.earliest - sounded.onset).max(0.0) } else { 0.0 };
    let held = release - sounded.onset;
    let finding = |kind, off| Finding { note: sounded.note, kind, amount: Amount::Time { off, held, beat } };
    let too_soon = due.earliest - sooner - tolerance - release;
    if too_soon > 0.0 {
        let finding = finding(FlagKind::EarlyRelease, release - due.earliest);
        let error = due.earliest - due.surely_earliest;
        return if it.staccato || sounded.is_cut_off {
            Verdict::NotJudged
        } else {
            Verdict::beyond(finding, too_soon, error)
        };
    }
    let too_late = release - due.latest - tolerance;
    if it.followed_by == FollowedBy::Rest && too_late > 0.0 {
        let finding = finding(FlagKind::LateRelease, release - due.latest);
        return Verdict::beyond(finding, too_late, due.surely_latest - due.latest);
    }
    Verdict::Good
}
