//! Measuring the constant delay of a controller and a click: somebody plays one note on each click.
//!
//! In: a port and a tempo. Out: by how much the notes come after the click in the middle ([`Measured`]), or why that
//! cannot be said. Next is [`super::KeptDelays`].

use super::metronome::Metronome;
use super::{Beat, Stage, Told, steady};
use crate::exercise::{Meter, Micros, Quarters};
use crate::judge::Middle;
use crate::listen::take::LONGEST_DELAY;
use crate::listen::{PortError, Timed, What, clean_notes};

/// How often time alone is looked at.
const TICK: Micros = Micros(10_000);
/// From the start to the first beat of the count-in.
const LEAD: Micros = Micros(500_000);
/// Of the clicks so many must have a note.
const SHARE: f64 = 0.75;
/// Fewer notes say nothing.
const FEWEST: usize = 6;
/// A middle that may be off by more (one standard error) is not kept: of the usual eight notes six must
/// lie within 45 ms.
const LARGEST_ERROR: Micros = Micros(15_000);
/// With a longer delay it is not sure any more to which click a note belongs.
const LONGEST_BEATS: f64 = 1.0 / 3.0;

/// What was played along.
pub struct PlayedAlong {
    /// The full name of the port.
    pub port: String,
    /// The clicks to which one was to play.
    clicks: Vec<Micros>,
    /// When notes began.
    strikes: Vec<Micros>,
    /// Somebody asked for the end, or the cable was pulled.
    is_cut_off: bool,
}

/// A delay, measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measured {
    /// The middle of all notes after their clicks, to a whole millisecond; negative is before.
    pub delay: Micros,
    /// Within so much most of the notes lie: the middle half of many, six of eight.
    pub spread: Micros,
    /// So many notes were counted.
    pub notes: usize,
    /// On so many clicks.
    pub clicks: usize,
}

/// Why a delay could not be measured.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs)] // each says it in its sentence
pub enum NotMeasured {
    #[error("it was stopped before the end, so nothing was measured")]
    CutOff,
    #[error(
        "no note was heard. Look whether the controller is switched on and this is its port (restward ports), then \
         try again"
    )]
    Nothing,
    #[error(
        "only {notes} of {clicks} clicks had a note, which is too few. Play one note on every click, and try again"
    )]
    TooFew { notes: usize, clicks: usize },
    #[error(
        "the notes do not lie close enough together: most of them are spread over {spread_ms} ms. Try again, with one \
         short note on each click, or play along for longer: --measures {measures}"
    )]
    Scattered { spread_ms: i64, measures: usize },
    #[error(
        "the notes lie so far from the clicks (about {delay_ms} ms) that it is not sure to which click each belongs. \
         Try again with a slower click: --bpm {bpm}"
    )]
    TooFar { delay_ms: i64, bpm: i64 },
}

/// Clicks a measure of count-in and then `measures` of four beats, and hears what is played. `bpm` beats a minute.
pub fn play_along(port: &str, bpm: f64, measures: u32, stage: Stage<'_>) -> Result<PlayedAlong, PortError> {
    let Stage { source, commands, click, tell, .. } = stage;
    let ports = source.open(&[port.to_string()])?;
    let port = ports.first().cloned().unwrap_or_default();
    tell(Told::Listening { ports });
    let beats = beats(bpm, i64::from(measures));
    let first = beats.first().map_or(Micros(0), |beat| beat.at);
    let last = beats.last().map_or(Micros(0), |beat| beat.at);
    let zero = source.now() + LEAD - first;
    source.cue(1, Some(zero));
    let mut metronome = Metronome::new(&beats, zero);
    let mut heard: Vec<Timed<_>> = Vec::new();
    let mut is_cut_off = false;
    // The last note may come late, and must have outlived a glitch.
    let end = zero + last + LONGEST_DELAY + LONGEST_DELAY;
    while source.now() < end && !is_cut_off {
        is_cut_off = commands.try_recv().is_ok();
        let now = source.now();
        let beat = metronome.tick(now, click, |beat| tell(Told::Beat(beat.clone())));
        let deadline = beat.map_or(now + TICK, |beat| beat.min(now + TICK)).max(now);
        while let Some(arrival) = source.next(deadline) {
            if arrival.what.what == What::Disconnect {
                is_cut_off = true;
                tell(Told::Unplugged { lane: 0 });
            }
            heard.push(arrival);
        }
    }
    click.stop();
    let clicks = beats.iter().filter(|beat| !beat.is_count_in()).map(|beat| zero + beat.at).collect();
    Ok(PlayedAlong { port, clicks, strikes: clean_notes(&heard).iter().map(|note| note.on).collect(), is_cut_off })
}

/// A measure of count-in, then measures of common time.
fn beats(bpm: f64, measures: i64) -> Vec<Beat> {
    let tempo = steady(bpm, Meter::COMMON);
    let beat = |place: i64| Beat {
        at: tempo.micros_at(Quarters::new(place, 1)),
        number: place.rem_euclid(4) + 1,
        of: 4,
        measure: if place < 0 { String::new() } else { (place / 4 + 1).to_string() },
    };
    (-4..4 * measures).map(beat).collect()
}

impl PlayedAlong {
    /// The delay that was played.
    pub fn measure(&self) -> Result<Measured, NotMeasured> {
        let clicks = self.clicks.len();
        let offsets = self.offsets();
        let needed = FEWEST.max((SHARE * clicks as f64).ceil() as usize);
        if self.is_cut_off {
            return Err(NotMeasured::CutOff);
        }
        let Some(middle) = Middle::of(&offsets) else { return Err(NotMeasured::Nothing) };
        if offsets.len() < needed {
            return Err(NotMeasured::TooFew { notes: offsets.len(), clicks });
        }
        if middle.error > LARGEST_ERROR.0 as f64 {
            return Err(NotMeasured::Scattered { spread_ms: whole_ms(middle.width), measures: clicks / 2 });
        }
        let beat = self.beat();
        if middle.at.abs() as f64 > LONGEST_BEATS * beat || middle.at.abs() > LONGEST_DELAY.0 {
            let bpm = (40.0 * 1e6 / beat).round() as i64;
            return Err(NotMeasured::TooFar { delay_ms: whole_ms(middle.at), bpm });
        }
        let delay = Micros(1_000 * whole_ms(middle.at));
        Ok(Measured { delay, spread: Micros(middle.width), notes: offsets.len(), clicks })
    }

    /// From one click to the next, in microseconds.
    fn beat(&self) -> f64 {
        match (self.clicks.first(), self.clicks.last()) {
            (Some(first), Some(last)) if last > first => (last.0 - first.0) as f64 / (self.clicks.len() - 1) as f64,
            _ => 0.0,
        }
    }

    /// Each click's own note: of those nearer to it than to any other click, the nearest.
    fn offsets(&self) -> Vec<i64> {
        let half = (self.beat() / 2.0) as i64;
        let own = |click: &Micros| {
            let near = self.strikes.iter().map(|strike| strike.0 - click.0).filter(|off| (-half..half).contains(off));
            near.min_by_key(|off| off.abs())
        };
        self.clicks.iter().filter_map(own).collect()
    }
}

fn whole_ms(micros: i64) -> i64 {
    (micros as f64 / 1e3).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight clicks at 80 a minute, 750 ms apart; a note so many milliseconds after each of which that is said.
    fn played(late_ms: &[i64]) -> PlayedAlong {
        let clicks: Vec<Micros> = (0..8).map(|place| Micros(1_000_000 + 750_000 * place)).collect();
        let strikes = clicks.iter().zip(late_ms).map(|(click, late)| *click + Micros(1_000 * late)).collect();
        PlayedAlong { port: "Wind".into(), clicks, strikes, is_cut_off: false }
    }

    #[test]
    fn the_middle_is_kept_however_far_off_one_note_is() {
        let measured = played(&[40, 44, 38, 43, 41, 300, 39, 42]).measure();
        // In order: 38 39 40 41 42 43 44 300. The middle is 41.5, the inner half from the second to the second last.
        let expected = Measured { delay: Micros(42_000), spread: Micros(5_000), notes: 8, clicks: 8 };
        assert_eq!(measured, Ok(expected));
    }

    #[test]
    fn who_plays_before_the_click_has_a_negative_delay() {
        assert_eq!(played(&[-20; 8]).measure().map(|measured| measured.delay), Ok(Micros(-20_000)));
    }

    #[test]
    fn each_click_has_one_note() {
        let mut twice = played(&[30; 8]);
        twice.strikes = twice.strikes.iter().flat_map(|&strike| [strike, strike + Micros(200_000)]).collect();
        assert_eq!(twice.measure().map(|measured| (measured.delay, measured.notes)), Ok((Micros(30_000), 8)));
    }

    #[test]
    fn a_note_on_the_count_in_is_no_note_of_the_first_click() {
        let mut early = played(&[30; 8]);
        early.strikes.insert(0, Micros(1_000_000 - 750_000 + 30_000));
        assert_eq!(early.measure().map(|measured| measured.notes), Ok(8));
    }

    #[test]
    fn too_few_notes_are_refused() {
        assert_eq!(played(&[]).measure(), Err(NotMeasured::Nothing));
        assert_eq!(played(&[30; 5]).measure(), Err(NotMeasured::TooFew { notes: 5, clicks: 8 }));
        assert!(played(&[30; 6]).measure().is_ok(), "three quarters of the clicks");
    }

    /// 0.929 * 45 / √8 = 14.8 ms is just sure enough, 0.929 * 46 / √8 = 15.1 ms is not.
    #[test]
    fn scattered_notes_are_refused() {
        let spread = |ms: i64| played(&[0, 0, 0, 0, ms, ms, ms, ms]).measure();
        assert_eq!(spread(45).map(|measured| measured.spread), Ok(Micros(45_000)));
        assert_eq!(spread(46), Err(NotMeasured::Scattered { spread_ms: 46, measures: 4 }));
    }

    /// A third of 750 ms.
    #[test]
    fn notes_between_two_clicks_are_refused() {
        assert_eq!(played(&[250; 8]).measure().map(|measured| measured.delay), Ok(Micros(250_000)));
        assert_eq!(played(&[260; 8]).measure(), Err(NotMeasured::TooFar { delay_ms: 260, bpm: 53 }));
    }

    #[test]
    fn what_was_stopped_is_not_measured() {
        assert_eq!(PlayedAlong { is_cut_off: true, ..played(&[30; 8]) }.measure(), Err(NotMeasured::CutOff));
    }
}
