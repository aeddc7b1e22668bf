//! Where the click sounds.

use crate::exercise::Micros;
use crate::listen::MidiSink;

/// Something that makes the click heard. Told ahead, so that sound can be prepared, and again on the beat.
pub trait Click {
    /// A beat will come in `left`.
    fn ahead(&mut self, left: Micros, accent: bool) {
        let _ = (left, accent);
    }

    /// A beat is now.
    fn beat(&mut self, accent: bool) {
        let _ = accent;
    }

    /// The take was stopped: what was told ahead is off.
    fn stop(&mut self) {}
}

/// No sound: the beat is seen only.
pub struct Silent;

impl Click for Silent {}

/// The click as notes of a drum kit on a MIDI output.
pub struct MidiClick(pub Box<dyn MidiSink>);

/// General MIDI Level 1: percussion on channel 10, key 76 high wood block, key 77 low wood block.
const NOTE_ON_CHANNEL_10: u8 = 0x99;
const NOTE_OFF_CHANNEL_10: u8 = 0x89;
const HIGH_WOOD_BLOCK: u8 = 76;
const LOW_WOOD_BLOCK: u8 = 77;

impl Click for MidiClick {
    fn beat(&mut self, accent: bool) {
        let (key, velocity) = if accent { (HIGH_WOOD_BLOCK, 120) } else { (LOW_WOOD_BLOCK, 90) };
        self.0.send(&[NOTE_ON_CHANNEL_10, key, velocity]);
        // A drum sounds on by itself; the note-off keeps synthesizers tidy that think otherwise.
        self.0.send(&[NOTE_OFF_CHANNEL_10, key, 0]);
    }
}
