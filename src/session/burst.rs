//! The sound of the click: a short sine with an envelope, rendered sample by sample. Pure, so that the buffer can be
//! looked at without a sound device.

/// A click that will sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Strike {
    /// The frame on which it begins, counted as the buffers are.
    pub(super) frame: i64,
    /// Beat 1.
    pub(super) accent: bool,
}

/// How long a click sounds.
const SECONDS: f64 = 0.040;
/// How long it takes to rise: without it the loudspeaker cracks.
const RISE_SECONDS: f64 = 0.002;
/// How fast it dies away: to a third in 8 ms.
const DECAY_SECONDS: f64 = 0.008;
/// A fifth apart, where neither a tuba nor a piccolo hides them.
const PITCH_HZ: f64 = 1_000.0;
const ACCENT_HZ: f64 = 1_500.0;
const LEVEL: f64 = 0.35;
const ACCENT_LEVEL: f64 = 0.6;

impl Strike {
    /// The sample at `frame`, -1..=1; 0 before and after the click.
    fn sample(self, frame: i64, rate: f64) -> f64 {
        let seconds = (frame - self.frame) as f64 / rate;
        if !(0.0..SECONDS).contains(&seconds) {
            return 0.0;
        }
        let (pitch, level) = if self.accent { (ACCENT_HZ, ACCENT_LEVEL) } else { (PITCH_HZ, LEVEL) };
        let rise = (seconds / RISE_SECONDS).min(1.0);
        let fall = (-seconds / DECAY_SECONDS).exp() * (1.0 - seconds / SECONDS);
        level * rise * fall * (std::f64::consts::TAU * pitch * seconds).sin()
    }

    /// Whether it has sounded to its end before `frame`.
    pub(super) fn is_over(self, frame: i64, rate: f64) -> bool {
        (frame - self.frame) as f64 / rate >= SECONDS
    }
}

/// The sample of all strikes together at a frame of a stream with `rate` frames a second.
pub(super) fn sample(strikes: &[Strike], frame: i64, rate: f64) -> f32 {
    let sum: f64 = strikes.iter().map(|strike| strike.sample(frame, rate)).sum();
    sum.clamp(-1.0, 1.0) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 48_000.0;

    fn buffer(strikes: &[Strike], frames: i64) -> Vec<f32> {
        (0..frames).map(|frame| sample(strikes, frame, RATE)).collect()
    }

    #[test]
    fn it_is_silent_before_and_after() {
        let sound = buffer(&[Strike { frame: 1_000, accent: false }], 6_000);
        assert!(sound[..=1_000].iter().all(|&sample| sample == 0.0), "a sine begins at zero");
        assert!(sound[1_001..1_900].iter().any(|&sample| sample.abs() > 0.1));
        // 40 ms at 48 kHz are 1,920 frames.
        assert!(sound[2_920..].iter().all(|&sample| sample == 0.0));
    }

    #[test]
    fn it_does_not_crack() {
        let sound = buffer(&[Strike { frame: 0, accent: true }], 3_000);
        // The steepest step of a sine of amplitude 0.6 and 1,500 Hz at 48 kHz: 0.6 * 2π * 1500 / 48000 = 0.118.
        assert!(sound.windows(2).all(|pair| (pair[1] - pair[0]).abs() < 0.118));
        assert!(sound.iter().all(|sample| sample.abs() <= 0.6));
    }

    #[test]
    fn the_accent_is_louder_and_higher() {
        let loudest = |accent| {
            let sound = buffer(&[Strike { frame: 0, accent }], 2_000);
            let loudest = sound.iter().fold(0.0f32, |loudest, sample| loudest.max(sample.abs()));
            (loudest, sound.windows(2).filter(|pair| pair[0] < 0.0 && pair[1] >= 0.0).count())
        };
        let (plain, accent) = (loudest(false), loudest(true));
        assert!(accent.0 > 1.3 * plain.0 && accent.1 > plain.1, "{plain:?} {accent:?}");
    }

    #[test]
    fn chunks_do_not_change_the_sound() {
        let strikes = [Strike { frame: 100, accent: true }, Strike { frame: 1_300, accent: false }];
        let whole = buffer(&strikes, 4_000);
        let live: Vec<f32> = (0..4_000)
            .map(|frame| {
                let alive: Vec<_> = strikes.iter().copied().filter(|strike| !strike.is_over(frame, RATE)).collect();
                sample(&alive, frame, RATE)
            })
            .collect();
        assert_eq!(whole, live);
    }
}
