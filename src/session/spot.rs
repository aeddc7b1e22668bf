//! Sees whether a note begins in raw bytes: a take without a click begins with the first one, a check note is heard
//! before one with a click.

/// Remembers the running status between pieces of a stream (MIDI 1.0).
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct NoteSpotter {
    status: u8,
    first: Option<u8>,
}

impl NoteSpotter {
    /// The MIDI number of the last note-on with a velocity above zero that ends in these bytes.
    pub(super) fn note_begins(&mut self, bytes: &[u8]) -> Option<u8> {
        let mut begins = None;
        for &byte in bytes {
            match byte {
                // Real-time messages may stand between the bytes of another.
                0xF8.. => {}
                0x80..0xF8 => (self.status, self.first) = (byte, None),
                _ => match self.first.take() {
                    None => self.first = Some(byte),
                    Some(midi) if self.status & 0xF0 == 0x90 && byte > 0 => begins = Some(midi),
                    Some(_) => {}
                },
            }
        }
        begins
    }
}

#[cfg(test)]
mod tests {
    use super::NoteSpotter;

    // Bytes as MIDI 1.0 defines them: 0x9n note-on, velocity 0 is a note-off, running status.
    #[test]
    fn only_a_note_on_is_a_note() {
        let mut spotter = NoteSpotter::default();
        assert_eq!(spotter.note_begins(&[0xB0, 2, 90]), None, "breath");
        assert_eq!(spotter.note_begins(&[0x90, 60, 0]), None, "velocity 0 ends a note");
        assert_eq!(spotter.note_begins(&[60]), None, "half a message");
        assert_eq!(spotter.note_begins(&[0xF8]), None, "clock");
        assert_eq!(spotter.note_begins(&[100]), Some(60), "the other half, running status");
        assert_eq!(spotter.note_begins(&[0x80, 60, 64, 0xD0, 100]), None, "pressure has one byte");
    }
}
