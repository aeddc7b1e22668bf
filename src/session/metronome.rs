//! The click while time passes: each beat told ahead to whoever makes it sound, and said when it is there.

use super::{Beat, Click};
use crate::exercise::Micros;

/// How long before the beat the click is told of it.
const AHEAD: Micros = Micros(200_000);

/// The beats of one take, on the source's clock.
pub(super) struct Metronome<'a> {
    beats: &'a [Beat],
    score_zero: Micros,
    announced: usize,
    coming: usize,
}

impl<'a> Metronome<'a> {
    /// Beats around score time zero.
    pub(super) fn new(beats: &'a [Beat], score_zero: Micros) -> Metronome<'a> {
        Metronome { beats, score_zero, announced: 0, coming: 0 }
    }

    /// Makes heard and says what is due at `now`; when the next beat comes.
    pub(super) fn tick(&mut self, now: Micros, click: &mut dyn Click, mut say: impl FnMut(&Beat)) -> Option<Micros> {
        while let Some(beat) = self.beats.get(self.announced).filter(|beat| self.score_zero + beat.at <= now + AHEAD) {
            click.ahead(self.score_zero + beat.at - now, beat.accent());
            self.announced += 1;
        }
        while let Some(beat) = self.beats.get(self.coming).filter(|beat| self.score_zero + beat.at <= now) {
            click.beat(beat.accent());
            say(beat);
            self.coming += 1;
        }
        self.beats.get(self.coming).map(|beat| self.score_zero + beat.at)
    }
}
