//! Entrances off the beat: `early-entrance`, `late-entrance`.

use super::FlagKind;
use super::findings::{Amount, Finding, Scene, Sounded, Verdict};

/// Judges where a note began.
pub(super) fn judge(scene: &Scene, sounded: &Sounded) -> Verdict {
    let Some((beat, (off, error))) =
        scene.frame.beat(sounded.note).zip(scene.frame.entrance_off(sounded.note, sounded.onset))
    else {
        return Verdict::NotJudged;
    };
    let kind = if off < 0.0 { FlagKind::EarlyEntrance } else { FlagKind::LateEntrance };
    let held = sounded.release.map_or(0.0, |release| release - sounded.onset);
    let finding = Finding { note: sounded.note, kind, amount: Amount::Time { off, held, beat } };
    Verdict::beyond(finding, off.abs() - scene.frame.entrance_limit(beat), error)
}
