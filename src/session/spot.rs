//! Sees whether a note begins in raw bytes: a take without a click begins with the first one.

/// Remembers the running status between pieces of a stream (MIDI 1.0).
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct NoteSpotter {
    status: u8,
    first: Option<u8>,
}

impl NoteSpotter {
    /// Whether a note-on with a velocity above zero ends in these bytes.
    pub(super) fn note_begins(&mut self, bytes: &[u8]) -> bool {
        let mut begins = false;
        for &byte in bytes {
            match byte {
                // Real-time messages may stand between the bytes of another.
                0xF8.. => {}
                0x80..0xF8 => (self.status, self.first) = (byte, None),
                _ => match self.first.take() {
                    None => self.first = Some(byte),
                    Some(_) => begins |= self.status & 0xF0 == 0x90 && byte > 0,
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
        assert!(!spotter.note_begins(&[0xB0, 2, 90]), "breath");
        assert!(!spotter.note_begins(&[0x90, 60, 0]), "velocity 0 ends a note");
        assert!(!spotter.note_begins(&[60]), "half a message");
        assert!(!spotter.note_begins(&[0xF8]), "clock");
        assert!(spotter.note_begins(&[100]), "the other half, running status");
        assert!(!spotter.note_begins(&[0x80, 60, 64, 0xD0, 100]), "pressure has one byte");
    }
}
