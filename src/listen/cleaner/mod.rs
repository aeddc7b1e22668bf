//! From the bytes of a stream of ports to the notes that players meant.
//!
//! In: arrivals in order of time. Out: [`NoteEvent`]s. Next is [`crate::follow`], or the list of
//! [`clean_notes`]. What a single channel does is in [`line`]; here are ports, bytes and deadlines.
//!
//! Nothing is allocated for an event once its port and channel have been heard.

mod line;
mod list;

use super::splitter::Splitter;
use super::{Input, NoteEvent, NoteId, Timed, What};
use crate::exercise::Micros;
use line::Line;
pub use list::{CleanNote, clean_notes};
use wmidi::MidiMessage;

/// What a dip of the breath does that strikes the same note again within 40 ms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Restrikes {
    /// It is one note: decided by time, where no part is at hand. Note-offs are told up to 40 ms later.
    Merged,
    /// Both notes are told, as the part decides; each note-off at once.
    Kept,
}

/// What is known of the instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Rules {
    /// Merge what is struck again?
    merged: bool,
    /// Struck instruments may send notes of any shortness, and let several ring.
    struck: bool,
}

/// With active sensing, so long without any byte and the line is dead. The specification's sender leaves at most
/// 300 ms (MIDI 1.0 Detailed Specification, "Active Sensing"); a tenth more for the way here.
pub(super) const DEAD: i64 = 330_000;
/// Notes of a dead line end so long after the last byte: the longest that a living line is silent.
const SENSING: i64 = 300_000;

/// Cleans a stream. Times told are those of the player; a decision that time alone brings is due at
/// [`Cleaner::next_deadline`], and the events are the same however often [`Cleaner::advance`] is called. Who wants to
/// know when each was certain advances from deadline to deadline.
///
/// Events of one channel come in order of their note-ons, for one note at a time with the end of the old before
/// the beginning of the new. Several notes at once pass through as they are.
#[derive(Debug)]
pub struct Cleaner {
    rules: Rules,
    ports: Vec<Port>,
    next_id: NoteId,
    now: Micros,
}

/// One port: its parser, its active sensing, and its channels once heard.
#[derive(Debug)]
struct Port {
    number: u32,
    splitter: Splitter,
    has_sensing: bool,
    last_byte: Micros,
    lines: [Option<Box<Line>>; 16],
    /// When time alone decides something next.
    due: Option<Micros>,
}

/// Where events go, and how notes are numbered.
struct Teller<'a> {
    next_id: &'a mut NoteId,
    out: &'a mut Vec<NoteEvent>,
}

impl Teller<'_> {
    fn on(&mut self, at: Micros, midi: u8, velocity: u8) -> NoteId {
        let id = *self.next_id;
        *self.next_id = id.wrapping_add(1);
        self.out.push(NoteEvent::On { id, at, midi, velocity });
        id
    }

    fn off(&mut self, id: NoteId, at: Micros) {
        self.out.push(NoteEvent::Off { id, at, is_cut_off: false });
    }

    fn cut_off(&mut self, id: NoteId, at: Micros) {
        self.out.push(NoteEvent::Off { id, at, is_cut_off: true });
    }
}

impl Cleaner {
    /// A cleaner of a stream that has not begun.
    pub fn new(restrikes: Restrikes) -> Cleaner {
        let rules = Rules { merged: restrikes == Restrikes::Merged, struck: false };
        Cleaner { rules, ports: Vec::new(), next_id: 0, now: Micros(i64::MIN) }
    }

    /// The same for an instrument that is struck (mallets, pads): short notes are meant, and a note that rings on
    /// is not ended by the next.
    #[must_use]
    pub fn of_struck_instrument(mut self) -> Cleaner {
        self.rules.struck = true;
        self
    }

    /// A cleaner that knows from the start which channels this one heard playing several notes at once.
    fn second_hearing(&self) -> Cleaner {
        let mut second = Cleaner { rules: self.rules, ports: Vec::new(), next_id: 0, now: Micros(i64::MIN) };
        for port in &self.ports {
            let place = second.place(port.number);
            let Some(again) = second.ports.get_mut(place) else { continue };
            for (line, heard) in again.lines.iter_mut().zip(&port.lines) {
                *line = heard.as_ref().map(|line| Box::new(line.second_hearing()));
            }
        }
        second
    }

    /// Takes in an arrival; one that is earlier than the last counts as of now.
    pub fn push(&mut self, input: &Timed<Input>, out: &mut Vec<NoteEvent>) {
        match &input.what.what {
            What::Bytes(bytes) if is_one_message(bytes) => self.push_bytes(input.what.port, bytes, input.at, out),
            // Several messages in one piece count as if each had come on its own.
            What::Bytes(bytes) => {
                bytes.chunks(1).for_each(|byte| self.push_bytes(input.what.port, byte, input.at, out));
            }
            What::Disconnect | What::Connect => self.unplug(input.what.port, input.at, out),
        }
    }

    /// Takes in bytes of a port.
    pub(crate) fn push_bytes(&mut self, port: u32, bytes: &[u8], at: Micros, out: &mut Vec<NoteEvent>) {
        let at = at.max(self.now);
        self.advance(at, out);
        let place = self.place(port);
        let (rules, mut teller) = (self.rules, Teller { next_id: &mut self.next_id, out });
        let Some(port) = self.ports.get_mut(place).filter(|_| !bytes.is_empty()) else { return };
        port.last_byte = at;
        let mut splitter = std::mem::take(&mut port.splitter);
        splitter.push(bytes, |message| port.message(message, at, rules, &mut teller));
        port.splitter = splitter;
        port.look_ahead();
    }

    /// The cable of a port was pulled or put back.
    fn unplug(&mut self, port: u32, at: Micros, out: &mut Vec<NoteEvent>) {
        let at = at.max(self.now);
        self.advance(at, out);
        let place = self.place(port);
        let (rules, mut teller) = (self.rules, Teller { next_id: &mut self.next_id, out });
        let Some(port) = self.ports.get_mut(place) else { return };
        port.end_all(at, rules, &mut teller);
        port.splitter.forget();
        port.has_sensing = false;
        port.look_ahead();
    }

    /// Tells what time alone makes certain, up to `now`.
    pub fn advance(&mut self, now: Micros, out: &mut Vec<NoteEvent>) {
        while let Some(due) = self.next_deadline().filter(|&due| due <= now) {
            let mut teller = Teller { next_id: &mut self.next_id, out };
            for port in self.ports.iter_mut().filter(|port| port.due.is_some_and(|port_due| port_due <= due)) {
                port.advance(due, self.rules, &mut teller);
            }
            self.now = self.now.max(due);
        }
        self.now = self.now.max(now);
    }

    /// When the next decision is due without any arrival.
    pub fn next_deadline(&self) -> Option<Micros> {
        self.ports.iter().filter_map(|port| port.due).min()
    }

    /// Whether a note sounds that is not told yet: it has just been struck, and may be a glitch.
    pub fn is_struck(&self) -> bool {
        self.ports.iter().flat_map(|port| port.lines.iter().flatten()).any(|line| line.is_struck())
    }

    /// The end of the stream: every note that still sounds ends at `now`.
    pub fn finish(&mut self, now: Micros, out: &mut Vec<NoteEvent>) {
        self.advance(now, out);
        let mut teller = Teller { next_id: &mut self.next_id, out };
        for port in &mut self.ports {
            port.lines.iter_mut().flatten().for_each(|line| line.finish(self.now, self.rules, &mut teller));
            port.look_ahead();
        }
    }

    /// Where a port is kept; a new one is added.
    fn place(&mut self, number: u32) -> usize {
        self.ports.iter().position(|port| port.number == number).unwrap_or_else(|| {
            self.ports.push(Port {
                number,
                splitter: Splitter::default(),
                has_sensing: false,
                last_byte: Micros(0),
                lines: Default::default(),
                due: None,
            });
            self.ports.len() - 1
        })
    }
}

impl Port {
    fn message(&mut self, bytes: &[u8], at: Micros, rules: Rules, teller: &mut Teller<'_>) {
        match MidiMessage::from_bytes(bytes) {
            Ok(MidiMessage::NoteOn(channel, note, velocity)) => {
                let slot = self.lines.get_mut(usize::from(channel.index()));
                if let Some(line) = slot.map(|slot| slot.get_or_insert_default()) {
                    line.note_on(note as u8, velocity.into(), at, rules, teller);
                }
            }
            Ok(MidiMessage::NoteOff(channel, note, _)) => {
                if let Some(Some(line)) = self.lines.get_mut(usize::from(channel.index())) {
                    line.note_off(note as u8, at, rules, teller);
                }
            }
            Ok(MidiMessage::ControlChange(channel, control, _)) if ends_notes(control.0.into()) => {
                if let Some(Some(line)) = self.lines.get_mut(usize::from(channel.index())) {
                    line.end_by_message(at, rules, teller);
                }
            }
            Ok(MidiMessage::ActiveSensing) => self.has_sensing = true,
            Ok(MidiMessage::Reset) => {
                self.has_sensing = false;
                self.end_all(at, rules, teller);
            }
            _ => {}
        }
    }

    fn end_all(&mut self, at: Micros, rules: Rules, teller: &mut Teller<'_>) {
        for line in self.lines.iter_mut().flatten() {
            line.end_all(at, rules, teller);
        }
    }

    /// When active sensing has been missed: the first microsecond after the longest silence.
    fn death(&self) -> Option<Micros> {
        self.has_sensing.then_some(self.last_byte + Micros(DEAD + 1))
    }

    fn look_ahead(&mut self) {
        let lines = self.lines.iter().flatten().filter_map(|line| line.next_deadline());
        self.due = lines.chain(self.death()).min();
    }

    fn advance(&mut self, due: Micros, rules: Rules, teller: &mut Teller<'_>) {
        for line in self.lines.iter_mut().flatten() {
            if line.next_deadline().is_some_and(|deadline| deadline <= due) {
                line.settle(due, rules, teller);
            }
        }
        if self.death().is_some_and(|death| death <= due) {
            self.has_sensing = false;
            self.end_all(self.last_byte + Micros(SENSING), rules, teller);
        }
        self.look_ahead();
    }
}

/// Whether at most one message that bears on notes ends in a piece: a status byte and what may follow it.
pub(crate) fn is_one_message(bytes: &[u8]) -> bool {
    bytes.len() <= 3 && bytes.iter().skip(1).all(|&byte| byte < 0x80) && bytes.first().is_some_and(|&byte| byte >= 0x80)
}

/// All sound off, all notes off and the four mode messages after it, which mean all notes off as well (MIDI 1.0
/// Detailed Specification, "Channel Mode Messages").
fn ends_notes(controller: u8) -> bool {
    controller == 120 || (123..=127).contains(&controller)
}
