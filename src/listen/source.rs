//! Where MIDI comes from while people play: a trait, so that the session is the same for real ports
//! ([`super::SystemPorts`]) and for files and simulated players ([`super::Replay`]).
//!
//! In: names of ports. Out: arrivals with the time at which they happened. Next is the session.

use super::{Input, PortError, Timed};
use crate::exercise::Micros;

/// A source of MIDI with a clock of its own. Lanes are numbered from 0 in the order of [`MidiSource::open`];
/// [`Input::port`] is that number.
///
/// Pulling a cable and putting it back arrive in line with the music, as [`super::What::Disconnect`] and
/// [`super::What::Connect`], so that they keep their place among the notes.
pub trait MidiSource {
    /// The inputs that exist now, by name, in the system's order.
    fn list(&mut self) -> Result<Vec<String>, PortError>;

    /// Opens one input for each lane, named by part of its name (see [`super::choose`]), and returns the full
    /// names. From the return on nothing that arrives is missed.
    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError>;

    /// The next arrival, waiting for it until `deadline`. `None`: the deadline has passed, and nothing that
    /// happened before it is still on its way, but for what the system itself delays.
    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>>;

    /// The time on the source's clock, from its start.
    fn now(&self) -> Micros;

    /// A take begins: score time zero if there is a click. Simulated players start to play; ports do nothing.
    fn cue(&mut self, take: usize, score_zero: Option<Micros>) {
        let _ = (take, score_zero);
    }

    /// Who plays the take that is cued next, lane by lane. Simulated players need to know; ports do nothing.
    fn seated(&mut self, players: &[Option<usize>]) {
        let _ = players;
    }

    /// Seconds since 1970 of a time on the source's clock; `None` where that clock is made up.
    fn unix_seconds(&self, at: Micros) -> Option<f64> {
        let _ = at;
        None
    }

    /// How many arrivals did not fit the queue so far.
    fn lost(&self) -> u64 {
        0
    }

    /// What the source is, for the record of a take: `ports`, `replay`.
    fn backend(&self) -> &'static str;
}

/// A place to send MIDI to: thru, a click.
pub trait MidiSink: Send {
    /// Sends one message. What cannot be sent is dropped: a missing click must not stop a take.
    fn send(&mut self, message: &[u8]);
}
