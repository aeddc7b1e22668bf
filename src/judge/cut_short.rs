//! Notes let go before half their value with no rest to follow: `cut-short`.

use super::FlagKind;
use super::findings::{Amount, Finding, Scene, Sounded, Verdict};
use crate::exercise::FollowedBy;

/// A note that sounds for less than this share of its value is cut short (DESIGN.md §3).
const LEAST_SHARE: f64 = 0.5;

/// Judges a note released at `release`. It is measured by its value and, where the next note of the part
/// was played, by the time until then; both must say so.
pub(super) fn judge(scene: &Scene, sounded: &Sounded, release: f64) -> Verdict {
    let it = scene.note(sounded.note);
    if sounded.is_cut_off
        || !scene.settings.sustains()
        || it.followed_by != FollowedBy::Note
        || it.staccato
        || it.fermata
        || it.breath
    {
        return Verdict::NotJudged;
    }
    let Some(beat) = scene.frame.beat(sounded.note) else { return Verdict::NotJudged };
    let value = it.duration.in_beats(scene.part.beat_unit(it)).to_f64() * beat;
    let room = scene.frame.next_onset(sounded.note).map_or(value, |next| value.min(next - sounded.onset));
    let held = release - sounded.onset;
    let amount = Amount::Time { off: held - value, held, beat };
    let finding = Finding { note: sounded.note, kind: FlagKind::CutShort, amount };
    Verdict::beyond(finding, LEAST_SHARE * room - held, scene.frame.span_error())
}
